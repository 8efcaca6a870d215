"""Finding the head of a logger's table: separator, comments, rows of names, a row of units, the first row of data."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from wringout.recordings.clocks import read_time
from wringout.recordings.columns.plan import is_unit_cell, knows_name
from wringout.recordings.columns.quantities import plain_name
from wringout.recordings.tables.lines import COMMENT_SIGNS, SourceLine, split_cells, take_apart
from wringout.recordings.types import Notice, Severity

HEAD_LINES = 300
"""How many lines at the top of a file are looked at to find its head."""

_DATED = re.compile(r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}([T ].*)?|\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4}")
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?|nan", re.IGNORECASE)
_PAIR = re.compile(r"\s*([A-Za-z][\w \-/.()]{0,58}?)\s*[:=]\s*(\S.*)")


@dataclass(frozen=True, slots=True)
class TableHead:
    """What stands above the data of a logger's table.

    Attributes:
        separator: one character.
        names: column names, joined with the name of their group where there are two rows of names.
        units: unit spellings, aligned with ``names``; empty without a units row.
        names_row: 1-based row of the names; 0 without one.
        data_row: 1-based row of the first data.
        header: ``key: value`` lines.
        notices: what was noticed.
        dated: the first row of data holds a date.
    """

    separator: str
    names: tuple[str, ...]
    units: tuple[str, ...]
    names_row: int
    data_row: int
    header: dict[str, str]
    notices: tuple[Notice, ...]
    dated: bool = False


def find_head(top: str, file: str) -> TableHead | None:
    """Return the head of a table from the text of its first `HEAD_LINES` lines; None if no line holds data.

    Raises:
        BadInputError: a line is too long to be a row.
    """
    source = take_apart(top, file)
    separator = _separator(source.lines)
    if not separator:
        return None
    above: list[SourceLine] = []
    for line in source.lines:
        cells = split_cells(line.text, separator)
        if _is_data(cells):
            head = _head(separator, above, line, len(cells), source.comments, dict(source.header), source.notices)
            return replace(head, dated=any(_DATED.fullmatch(cell) for cell in cells))
        above.append(line)
    return None


def _head(
    separator: str,
    above: Sequence[SourceLine],
    first: SourceLine,
    width: int,
    comments: Sequence[SourceLine],
    header: dict[str, str],
    notices: tuple[Notice, ...],
) -> TableHead:
    candidates = [(line.row, split_cells(line.text, separator)) for line in above]
    for _row, cells in candidates:
        if len(cells) <= 2 < width:
            _keep_pair(cells, header)
    rows = [(row, cells) for row, cells in candidates if 2 * len(cells) > width or width <= 2]
    if not any(_names_known(cells) for _, cells in rows):
        rows = _commented_rows(comments, first.row, separator, width) + rows
    units_row, unit_cells = next(((row, cells) for row, cells in reversed(rows) if _is_units_row(cells)), (0, []))
    rows = [(row, cells) for row, cells in rows if row != units_row]
    names_row, names = _best_names(rows)
    group = next((cells for row, cells in reversed(rows) if row < names_row), [])
    names = _with_group(names, group)
    while names and not names[-1]:
        names.pop()
    unused = [line for line in above if names_row < line.row and line.row != units_row] if names_row else []
    notices += tuple(
        Notice(Severity.CAUTION, f"row {line.row} above the data is not used: {line.text.strip()[:60]!r}", line.row)
        for line in unused
    )
    return TableHead(separator, tuple(names), tuple(unit_cells), names_row, first.row, header, notices)


def _separator(lines: Sequence[SourceLine]) -> str:
    """Return the first of tab, semicolon and comma that stands in most of the lines."""
    sample = lines[len(lines) // 2 :]
    for separator in ("\t", ";", ","):
        if sample and 5 * sum(separator in line.text for line in sample) >= 4 * len(sample):
            return separator
    return ""


def _is_data(cells: Sequence[str]) -> bool:
    """Return whether cells are measurements: most are numbers or times, or a time comes first and a number follows."""
    filled = [cell for cell in cells if cell]
    numbers = sum(is_number(cell) for cell in filled)
    return len(filled) >= 1 and (2 * numbers > len(filled) or (numbers >= 2 and bool(cells[0]) and is_number(cells[0])))


def is_number(cell: str) -> bool:
    """Return whether a cell of a table holds a number, a clock time or a date."""
    if _NUMBER.fullmatch(cell) or _DATED.fullmatch(cell):
        return True
    return read_time(re.sub(r"(?i)\s*([ap]\.?m\.?|z|utc)$", "", cell)) is not None


def _keep_pair(cells: Sequence[str], header: dict[str, str]) -> None:
    """Keep a line such as ``Serial,104`` or ``Serial: 104`` above the table as a header value."""
    match = _PAIR.fullmatch(cells[0]) if len(cells) == 1 else None
    if match:
        header.setdefault(plain_name(match.group(1)), match.group(2).strip())
    elif len(cells) == 2 and cells[0] and cells[1]:
        header.setdefault(plain_name(cells[0]), cells[1])


def _names_known(cells: Sequence[str]) -> int:
    return sum(knows_name(cell) for cell in cells if cell)


def _is_units_row(cells: Sequence[str]) -> bool:
    """Return whether most filled cells are units, and more are units than names."""
    filled = [cell for cell in cells if cell]
    units = sum(is_unit_cell(cell) for cell in filled)
    return bool(filled) and 2 * units >= len(filled) and units > _names_known(cells)


def _best_names(rows: Sequence[tuple[int, list[str]]]) -> tuple[int, list[str]]:
    """Return the row with the most names that are known; among equals the lowest one."""
    if not rows:
        return 0, []
    return max(rows, key=lambda pair: (_names_known(pair[1]), pair[0]))


def _with_group(names: Sequence[str], group: Sequence[str]) -> list[str]:
    """Join each name with the group above it where only the two together, or together better, are a known name."""
    joined, current = [], ""
    for i, name in enumerate(names):
        current = group[i] if i < len(group) and group[i] else current
        both = f"{current} {name}".strip()
        turned = f"{name} {current}".strip()
        better = next((text for text in (both, turned) if current and name and knows_name(text)), name)
        joined.append(better)
    return joined


def _commented_rows(
    comments: Sequence[SourceLine], before_row: int, separator: str, width: int
) -> list[tuple[int, list[str]]]:
    """Return comment lines directly above the data that have as many cells as it has."""
    rows = []
    for line in comments:
        if line.row >= before_row:
            break
        text = line.text
        for sign in COMMENT_SIGNS:
            text = text.removeprefix(sign) if text.startswith(sign) else text
        cells = split_cells(text, separator)
        if len(cells) == width and width >= 2:
            rows.append((line.row, cells))
    return rows
