"""Taking a text apart into header lines, comments, rows and cells, keeping the line number of each."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass

from wringout.errors import BadInputError
from wringout.recordings.clocks import read_time
from wringout.recordings.columns.plan import knows_name
from wringout.recordings.columns.quantities import meaning_of, plain_name
from wringout.recordings.types import Notice, Severity

COMMENT_SIGNS = ("#", "//", "%")
ONE_BLANK = " "
"""The separator that stands for any white space."""
LINE_LIMIT = 100_000
"""Longest line taken apart [characters]."""

LONGEST_QUOTED = 60
"""Longest text of a file quoted whole in a sentence [characters]."""

_HEADER_LINE = re.compile(r"(?:#|//|%)+\s*([A-Za-z][\w \-/.()]{0,58}?)\s*:(?:\s+|(?<!\d:)(?=\S)|$)(.*)")
_TWO_BLANKS = "  "


@dataclass(frozen=True, slots=True)
class SourceLine:
    """One line of the file that is neither blank nor a comment, with its 1-based number."""

    row: int
    text: str


@dataclass(frozen=True, slots=True)
class Source:
    """A text taken apart: header values, the lines that remain, comments that are not header lines, and notices."""

    header: dict[str, str]
    lines: tuple[SourceLine, ...]
    comments: tuple[SourceLine, ...]
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """How rows are written: the separator, the position of the header line in ``lines`` (-1 = none), and its cells."""

    separator: str
    header_at: int
    names: tuple[str, ...]


def read_header_line(text: str) -> tuple[str, str] | None:
    """Return (key, value) of a ``# key: value`` line, the key in lower-case words, or None for any other line."""
    match = _HEADER_LINE.fullmatch(text.strip())
    if match is None:
        return None
    return plain_name(match.group(1)), match.group(2).strip()


def take_apart(text: str, file: str) -> Source:
    """Separate header lines, comments and rows.

    Raises:
        BadInputError: a line is longer than `LINE_LIMIT`.
    """
    header: dict[str, str] = {}
    lines: list[SourceLine] = []
    comments: list[SourceLine] = []
    notices: list[Notice] = []
    for row, line in enumerate(re.split(r"\r\n|\n|\r", text), start=1):
        if len(line) > LINE_LIMIT:
            raise BadInputError(
                f"the line is longer than {LINE_LIMIT:,} characters",
                f"{file}, row {row}",
                "write one reading on each line",
            )
        stripped = line.strip()
        if not stripped.strip(",;"):
            continue
        if not stripped.startswith(COMMENT_SIGNS):
            lines.append(SourceLine(row, line))
            continue
        pair = read_header_line(stripped)
        if pair is None:
            comments.append(SourceLine(row, stripped))
            continue
        notices += add_to_header(header, *pair, row)
    return Source(header, tuple(lines), tuple(comments), tuple(notices))


def add_to_header(header: dict[str, str], key: str, value: str, row: int) -> list[Notice]:
    """Put a header line into ``header``; the later of two lines with one key counts, and a notice keeps the earlier."""
    earlier = header.get(key)
    header[key] = value
    if earlier is None or earlier == value:
        return []
    return [Notice(Severity.CAUTION, f"row {row}, {key}: written twice, {value!r} replaces {earlier!r}", row, key)]


def split_cells(text: str, separator: str, width: int = 0) -> list[str]:
    """Split a line into stripped cells.

    Args:
        text: one line.
        separator: one character, two blanks (two or more blanks or tabs separate) or one blank (any white space).
        width: with one blank as separator, the last of this many cells takes the rest of the line; 0 for no bound.

    Quotes around a cell may hold the separator; where quotes do not come in pairs they are taken for dirt.
    """
    if separator == _TWO_BLANKS:
        return [cell.strip() for cell in re.split(r"\s{2,}|\t", text.strip())]
    if separator == ONE_BLANK:
        return re.split(r"\s+(?![(\[])", text.strip(), maxsplit=max(width - 1, 0))
    if text.count('"') % 2:
        return [cell.strip(' "\t') for cell in text.split(separator)]
    return [cell.strip() for cell in next(csv.reader([text], delimiter=separator, skipinitialspace=True), [])]


def find_layout(lines: Sequence[SourceLine]) -> Layout | None:
    """Return how hand-written rows are laid out, or None if no way of reading them makes sense."""
    sample = lines[:200]
    for separator in ("\t", ";", ",", _TWO_BLANKS, ONE_BLANK):
        if not _is_used(separator, sample):
            continue
        for at, line in enumerate(lines[:5]):
            cells = split_cells(line.text, separator)
            if _is_header(cells):
                return Layout(separator, at, tuple(cells))
        fitting = sum(_fits(split_cells(line.text, separator, 3)) for line in sample)
        if 2 * fitting >= len(sample):
            return Layout(separator, -1, ("time", "speed", "mark"))
    return None


def _is_used(separator: str, sample: Sequence[SourceLine]) -> bool:
    return 2 * sum(len(split_cells(line.text, separator)) > 1 for line in sample) >= len(sample)


def _is_header(cells: Sequence[str]) -> bool:
    """Return whether cells are column names: at least two are known, none is a number or a time.

    Half of them must be known, but in a list of pairs, whose other columns are in the words of what was scored.
    """
    known = sum(knows_name(cell) for cell in cells)
    pairs = {"pair", "technique"} <= {found[0] for cell in cells if (found := meaning_of(cell))}
    return known >= 2 and (2 * known >= len(cells) or pairs) and not any(read_time(cell) for cell in cells)


def _fits(cells: Sequence[str]) -> bool:
    """Return whether cells read as a time followed by a speed, another time, a blank or the words of a mark."""
    if len(cells) < 2 or read_time(cells[0]) is None:
        return False
    return re.fullmatch(r"[+-]?\d+(?:[.,:]\d+){0,2}\s*[A-Za-z/]*|[^\d+].*|", cells[1]) is not None


def quoted(text: str) -> str:
    """Return a text of the file as it stands in a sentence: in quotation marks, shortened."""
    text = text.strip()
    return repr(text if len(text) <= LONGEST_QUOTED else text[: LONGEST_QUOTED - 3] + "...")
