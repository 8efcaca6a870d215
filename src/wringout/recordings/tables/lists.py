"""Hand-written tables without a time column: stalls, transit timings, legs of ground speed, pairs of go-arounds."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wringout.errors import BadInputError
from wringout.recordings.columns.plan import ColumnPlan, split_unit, unknown_columns_notice
from wringout.recordings.columns.quantities import plain_name
from wringout.recordings.tables.cells import BLANKS, channel_cells
from wringout.recordings.tables.lines import Layout, Source, split_cells
from wringout.recordings.types import Notice, Recording, Severity

_TEXT_COLUMNS = {
    "flap": "flap",
    "gear": "gear",
    "device": "device",
    "from": "from",
    "to": "to",
    "note": "note",
    "mark": "note",
    "pair": "pair",
    "technique": "technique",
}
_IN_WORDS = frozenset({"legs", "pairs"})
"""Kinds whose columns that are not known are kept as words, for the method to read."""


def is_list(plans: Sequence[ColumnPlan]) -> bool:
    """Return whether columns make a list of one of the kinds of `_kind_of`."""
    return _kind_of(plans) != ""


def _kind_of(plans: Sequence[ColumnPlan]) -> str:
    """Return the kind of list, or "".

    ``pairs`` have a pair and a technique, ``legs`` a ground speed and a track but no time, ``transits`` a device but no
    speed, ``stalls`` a speed but no time.
    """
    meanings = {plan.meaning for plan in plans}
    if {"pair", "technique"} <= meanings:
        return "pairs"
    if {"ground_speed", "track"} <= meanings and "time" not in meanings:
        return "legs"
    if "device" in meanings and "ias" not in meanings:
        return "transits" if meanings & {"time", "duration"} else ""
    stalls = "time" not in meanings and "ias" in meanings and bool(meanings & {"flap", "gear", "entry_rate"})
    return "stalls" if stalls else ""


def read_list(
    source: Source, layout: Layout, plans: Sequence[ColumnPlan], notices: Sequence[Notice], file: str, sha256: str
) -> Recording:
    """Read a list of stalls, transit timings, legs or pairs.

    Returns:
        A recording of kind ``stalls`` (channels ``ias`` and, where written, ``entry_rate`` and ``mass``),
        ``transits`` (channel ``duration``), ``legs`` (channels ``ground_speed`` and ``track``) or ``pairs`` (texts
        ``pair`` and ``technique``), with ``time_s`` None. In legs and pairs a column that is not known is kept as
        words under its plain name, the unit of its head put behind each number that has none.

    Raises:
        BadInputError: the header is followed by no row.
    """
    kind = _kind_of(plans)
    plans = [_as_duration(plan, plans) if kind == "transits" else plan for plan in plans]
    lines = source.lines[layout.header_at + 1 :]
    header_row = source.lines[layout.header_at].row
    if not lines:
        raise BadInputError(
            "there are column names but no rows", file, "write one row for each stall, timing, leg or go-around"
        )
    table: list[list[str]] = []
    more: list[Notice] = []
    for line in lines:
        cells = split_cells(line.text, layout.separator, len(plans))
        extra = ", ".join(cell for cell in cells[len(plans) :] if cell)
        if extra:
            more.append(
                Notice(
                    Severity.CAUTION,
                    f"row {line.row}: {extra!r} stands behind the last column and is not used; put words "
                    "that hold a separator in quotes",
                    line.row,
                )
            )
        table.append((cells + [""] * len(plans))[: len(plans)])
    rows = np.array([line.row for line in lines], dtype=np.int64)
    texts = {
        _TEXT_COLUMNS[plan.meaning]: tuple(cells[plan.position] for cells in table)
        for plan in plans
        if plan.meaning in _TEXT_COLUMNS
    }
    numbers = [plan for plan in plans if plan.is_quantity and plan.meaning not in _TEXT_COLUMNS]
    channels, in_cells = channel_cells(numbers, table, rows, layout.separator)
    if kind in _IN_WORDS:
        texts |= _other_words(plans, table, layout.separator, set(texts))
        plans = [plan for plan in plans if plan.meaning]
    everything = (*source.notices, *notices, *unknown_columns_notice(plans, header_row), *more, *in_cells)
    return Recording(file, sha256, kind, rows, None, channels, texts, (), source.header, everything)


def _as_duration(plan: ColumnPlan, plans: Sequence[ColumnPlan]) -> ColumnPlan:
    """Take the time column of a list of timings as the time a device took."""
    if plan.meaning != "time" or any(other.meaning == "duration" for other in plans):
        return plan
    return replace(plan, meaning="duration", unit=plan.unit or "s")


def _other_words(
    plans: Sequence[ColumnPlan], table: Sequence[Sequence[str]], separator: str, taken: set[str]
) -> dict[str, tuple[str, ...]]:
    """Return the columns that are not known, as words under their plain names."""
    found: dict[str, tuple[str, ...]] = {}
    for plan in plans:
        name, unit = split_unit(plan.column)
        if plan.meaning in {"", "time"} and plain_name(name) not in taken | set(found):
            found[plain_name(name)] = tuple(_with_unit(row[plan.position], unit, separator) for row in table)
    return found


def _with_unit(cell: str, unit: str, separator: str) -> str:
    """Put the unit of the head behind a number without one; a decimal comma becomes a point where it can be meant."""
    if cell.casefold() in BLANKS:
        return ""
    if separator != "," and re.fullmatch(r"[+-]?\d+,\d{1,2}(?:\s*[^\d\s].*)?", cell):
        cell = cell.replace(",", ".", 1)
    return f"{cell} {unit}" if unit and re.fullmatch(r"[+-]?[\d.,]+", cell) else cell
