"""Hand-written tables without a time column: a list of stalls, a list of transit timings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wringout.errors import BadInputError
from wringout.recordings.cells import channel_cells
from wringout.recordings.columns import ColumnPlan, unknown_columns_notice
from wringout.recordings.lines import Layout, Source, split_cells
from wringout.recordings.types import Notice, Recording, Severity

_TEXT_COLUMNS = {
    "flap": "flap",
    "gear": "gear",
    "device": "device",
    "from": "from",
    "to": "to",
    "note": "note",
    "mark": "note",
}


def is_list(plans: Sequence[ColumnPlan]) -> bool:
    """Return whether columns make a list: stalls (a speed, no time) or timings (a device, no speed)."""
    meanings = {plan.meaning for plan in plans}
    if "device" in meanings and "ias" not in meanings:
        return bool(meanings & {"time", "duration"})
    return "time" not in meanings and "ias" in meanings and bool(meanings & {"flap", "gear", "entry_rate"})


def read_list(
    source: Source, layout: Layout, plans: Sequence[ColumnPlan], notices: Sequence[Notice], file: str, sha256: str
) -> Recording:
    """Read a list of stalls or of transit timings.

    Returns:
        A recording of kind ``stalls`` (channels ``ias`` and, where written, ``entry_rate`` and ``mass``) or
        ``transits`` (channel ``duration``), with ``time_s`` None.

    Raises:
        BadInputError: the header is followed by no row.
    """
    plans = [_as_duration(plan, plans) for plan in plans]
    kind = "stalls" if any(plan.meaning == "ias" for plan in plans) else "transits"
    lines = source.lines[layout.header_at + 1 :]
    header_row = source.lines[layout.header_at].row
    if not lines:
        raise BadInputError("there are column names but no rows", file, "write one row for each stall or timing")
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
    everything = (*source.notices, *notices, *unknown_columns_notice(plans, header_row), *more, *in_cells)
    return Recording(file, sha256, kind, rows, None, channels, texts, (), source.header, everything)


def _as_duration(plan: ColumnPlan, plans: Sequence[ColumnPlan]) -> ColumnPlan:
    """Take the time column of a list of timings as the time a device took."""
    if plan.meaning != "time" or any(other.meaning == "duration" for other in plans):
        return plan
    return replace(plan, meaning="duration", unit=plan.unit or "s")
