"""The one front door: bytes in, a recording out, or one sentence saying why not."""

from __future__ import annotations

import io
import re
from collections.abc import Callable

from wringout.errors import BadInputError
from wringout.recordings.columns.mapping import MappedColumn, Mapping, make_mapping
from wringout.recordings.columns.plan import HeaderPlace, plan_columns
from wringout.recordings.columns.quantities import CALLED_SPEED_NAMES, meaning_of, plain_name
from wringout.recordings.decoding import decode
from wringout.recordings.hashing import SIZE_LIMIT_BYTES, sha256_of
from wringout.recordings.spoken.captions import looks_captioned, read_captions
from wringout.recordings.tables.called import read_called
from wringout.recordings.tables.head import HEAD_LINES, TableHead, find_head
from wringout.recordings.tables.lines import find_layout, take_apart
from wringout.recordings.tables.lists import is_list
from wringout.recordings.tables.logged import read_table
from wringout.recordings.taps.captured import looks_captured, read_captured
from wringout.recordings.tracks.gpx import looks_like_gpx, read_gpx
from wringout.recordings.tracks.igc import looks_like_igc, read_igc
from wringout.recordings.tracks.nmea import looks_like_nmea, read_nmea
from wringout.recordings.types import Recording

_OPEN_FORMATS: tuple[tuple[Callable[[str], bool], Callable[[str, str, str], Recording]], ...] = (
    (looks_captioned, read_captions),
    (looks_like_gpx, read_gpx),
    (looks_like_igc, read_igc),
    (looks_like_nmea, read_nmea),
)
_LOOK_CHARACTERS = 20_000
_TOP_CHARACTERS = 1_000_000
_MOST_PLAIN_CALLS = 300  # half an hour of calls every 6 s; longer tables with names only are a logger's
_MOST_CALLS = 2000
_MOST_CALLED_COLUMNS = 6


def read_recording(
    data: bytes, name: str, mapping: Mapping | None = None, *, limit_bytes: int = SIZE_LIMIT_BYTES
) -> Recording:
    """Read a recording from the bytes of its file.

    Args:
        data: the whole file.
        name: its name, for sentences and for `Recording.name`.
        mapping: says what columns are; see `wringout.recordings.columns.mapping`.
        limit_bytes: the largest size accepted [bytes].

    Returns:
        The recording. Its notices say everything that was noticed; a notice of severity QUESTION stands for a column
        that is not used until its question is answered with a mapping.

    Raises:
        BadInputError: the file is empty, binary, too large, or nothing in it reads as a recording.
    """
    sha256, _ = sha256_of(io.BytesIO(data), name=name, limit_bytes=limit_bytes)
    text, head = _open(data, name)
    if looks_captured(text[:2000]):
        return read_captured(text, name, sha256)
    for looks, read in _OPEN_FORMATS:
        if looks(text[:_LOOK_CHARACTERS]):
            return read(text, name, sha256)
    if head is not None and not _reads_as_called(text, name, head, mapping):
        return read_table(text, name, sha256, head, mapping)
    return read_called(text, name, sha256, mapping)


def propose_mapping(data: bytes, name: str) -> Mapping:
    """Return what the columns of a logger's table are taken to be, for a user to correct and save.

    Columns that are not known, or whose unit is in doubt, are mapped to ``ignore``.

    Raises:
        BadInputError: as `read_recording`, and if the file has no table with column names.
    """
    text, head = _open(data, name)
    if head is None or not head.names:
        raise BadInputError("there are no column names to map", name, "take in a table with a first row of names")
    called = _reads_as_called(text, name, head, None)
    plans, _ = plan_columns(head.names, head.units, None, HeaderPlace(name, head.names_row), called=called)
    lines = []
    taken = set()
    for plan in plans:
        key = plain_name(plan.column)
        column = f"#{plan.position + 1}" if not key or key in taken else plan.column
        taken.add(key)
        usable = plan.meaning and (plan.unit or not plan.is_quantity or plan.meaning in {"flap", "gear"})
        lines.append(MappedColumn(column, plan.meaning if usable else "ignore", plan.unit if usable else ""))
    return make_mapping(name, tuple(lines), where=name)


def _open(data: bytes, name: str) -> tuple[str, TableHead | None]:
    text = decode(data, name)
    if not text.strip("\x1a\ufeff \t\r\n\f"):
        raise BadInputError("the file is empty", name, "take in a file with readings or a logger's table")
    return text, find_head(_top(text), name)


def _top(text: str) -> str:
    """Return the first lines of a text, without cutting one in two."""
    part = text[:_TOP_CHARACTERS]
    lines = re.split(r"\r\n|\n|\r", part, maxsplit=HEAD_LINES)
    if len(part) < len(text) and len(lines) <= HEAD_LINES and len(lines) > 1:
        lines = lines[:-1]
    return "\n".join(lines[:HEAD_LINES])


def _reads_as_called(text: str, name: str, head: TableHead, mapping: Mapping | None) -> bool:
    """Return whether a table is hand-called readings or a hand-written list rather than a logger's.

    A units row, many columns or very many rows are a logger's; a ``# kind: called`` or ``# kind: logger`` line decides.
    """
    said = head.header.get("kind", "").casefold()
    if said in {"called", "logger"}:
        return said == "called"
    if {"pair", "technique"} <= {found[0] for name in head.names if (found := meaning_of(name))}:
        return True  # techniques called A and B, or s and m, are no units
    if any(head.units) or (mapping is not None and any(line.column.startswith("#") for line in mapping.columns)):
        return False
    if not any(head.names):
        return True
    if _is_hand_list(text, name, mapping):
        return True
    plans, _ = plan_columns(head.names, (), mapping, HeaderPlace(name, head.names_row), called=False)
    dated = head.dated or any(plan.meaning == "date" for plan in plans)
    if dated or len(head.names) > _MOST_CALLED_COLUMNS or text.count("\n") > _MOST_CALLS:
        return False
    spoken = any(plain_name(cell.partition("(")[0]) in CALLED_SPEED_NAMES for cell in head.names)
    marked = any(plan.meaning in {"mark", "note"} for plan in plans)
    return spoken or (text.count("\n") <= _MOST_PLAIN_CALLS and (marked or len(head.names) <= 4))


def _is_hand_list(text: str, name: str, mapping: Mapping | None) -> bool:
    """Return whether a table, read the way hand-called readings are, is a list without times."""
    layout = find_layout(take_apart(_top(text), name).lines)
    if layout is None or layout.header_at < 0:
        return False
    try:
        plans, _ = plan_columns(layout.names, (), mapping, HeaderPlace(name), called=True)
    except BadInputError:
        return False
    return is_list(plans)
