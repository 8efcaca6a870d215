"""Reading the number in one hand-written cell, and the cells of a column as a channel."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from wringout.recordings.clocks import read_time
from wringout.recordings.columns.plan import ColumnPlan
from wringout.recordings.columns.plausible import channel_from
from wringout.recordings.columns.quantities import QUANTITIES, Quantity
from wringout.recordings.tables.lines import quoted
from wringout.recordings.types import Channel, IntArray, Notice, Severity
from wringout.units import Unit, find_unit

BLANKS = frozenset({"", "-", "--", "---", "–", "—", "n/a", "na", "none", "nil", "?", "x", "..."})
"""What people write for "no reading", lower case."""

_NUMBER = re.compile(r"([+\-−]?)(\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d{1,12}(?:[.,]\d{1,12})?)\s*(\D.*)?")
_THOUSANDS = re.compile(r"[1-9]\d{0,2}(,\d{3})+(\.\d+)?")
LARGE = frozenset({"length", "mass", "rotation rate"})
"""Dimensions whose hand-written numbers run to thousands."""

_NEVER_THOUSANDS = frozenset({"time", "acceleration", "ratio", "angle"})


def read_number(text: str, quantity: Quantity, unit: Unit | None) -> float | None:
    """Return the number in a cell, in ``unit``; None if it cannot be read.

    A unit behind the number (``118 kt``) is honoured if it measures the quantity. A comma is a decimal comma, except
    in front of three digits ("7,000"): nobody calls out thousandths of a knot, a foot or a pound.
    """
    if quantity.dimension == "time" and ":" in text:
        clock = read_time(text)
        return None if clock is None else clock.seconds / (unit.factor if unit else 1.0)
    match = _NUMBER.fullmatch(text.strip())
    if match is None:
        return None
    sign, digits, suffix = match.groups()
    if quantity.dimension not in _NEVER_THOUSANDS and _THOUSANDS.fullmatch(digits):
        digits = digits.replace(",", "")
    if digits.count(",") > 1 or ("," in digits and "." in digits):
        return None
    value = float(digits.replace(",", ".")) * (-1.0 if sign in {"-", "−"} else 1.0)
    if suffix is None:
        return value
    own = find_unit(suffix)
    if own is None or own.dimension != quantity.dimension or unit is None:
        return None
    return value if own == unit else (value * own.factor + own.offset - unit.offset) / unit.factor


def channel_cells(
    plans: Sequence[ColumnPlan], table: Sequence[Sequence[str]], rows: IntArray, separator: str
) -> tuple[dict[str, Channel], list[Notice]]:
    """Read the quantity columns of a hand-written table.

    Args:
        plans: the quantity columns.
        table: cells of every row, n rows.
        rows: 1-based lines, shape (n,).
        separator: of the file; only behind a comma can no decimal comma be meant.
    """
    channels: dict[str, Channel] = {}
    notices: list[Notice] = []
    for plan in plans:
        quantity, cells = QUANTITIES[plan.meaning], [row[plan.position] for row in table]
        plan, own_unit = _with_unit_of_cells(plan, quantity, cells)
        unit = find_unit(plan.unit) if plan.unit else own_unit
        raw = np.full(len(cells), np.nan)
        for i, cell in enumerate(cells):
            if cell.casefold() in BLANKS:
                continue
            value = read_number(cell, quantity, unit)
            if value is None:
                notices.append(_unreadable(int(rows[i]), plan, cell, separator))
            else:
                raw[i] = value
        channel, more = channel_from(plan, raw, rows, cells.__getitem__)
        notices += more
        if channel is not None:
            channels[channel.quantity] = channel
    return channels, notices


def _with_unit_of_cells(plan: ColumnPlan, quantity: Quantity, cells: Sequence[str]) -> tuple[ColumnPlan, Unit | None]:
    """Give a column without a unit the unit its cells carry, if every number carries one."""
    if plan.unit:
        return plan, None
    units = []
    for cell in cells:
        match = _NUMBER.fullmatch(cell.strip())
        if match is not None:
            unit = find_unit(match.group(3)) if match.group(3) else None
            units.append(unit if unit is not None and unit.dimension == quantity.dimension else None)
    first = units[0] if units and None not in units else None
    if first is None:
        return plan, None
    return ColumnPlan(plan.position, plan.column, plan.meaning, first.symbol, plan.confirmed, plan.rank), first


def _unreadable(row: int, plan: ColumnPlan, cell: str, separator: str) -> Notice:
    hint = "write digits only" if separator == "," else "write digits only, with a point or a comma for decimals"
    return Notice(
        Severity.CAUTION,
        f"row {row}, {plan.column}: {quoted(cell)} is not a number and is left blank; {hint}",
        row,
        plan.column,
    )
