"""Turning the numbers of a column into a channel, and questioning a unit that its values contradict."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from wringout.recordings.columns.plan import ColumnPlan
from wringout.recordings.columns.quantities import QUANTITIES, Quantity
from wringout.recordings.types import Channel, FloatArray, IntArray, Notice, Severity
from wringout.units import UNITS, Unit, find_unit, from_si

_SHOWN_ONE_BY_ONE = 5


def channel_from(
    plan: ColumnPlan, raw: FloatArray, rows: IntArray, quote: Callable[[int], str]
) -> tuple[Channel | None, list[Notice]]:
    """Return the channel of a column, or None and a question where its unit is missing or cannot be right.

    A column without any reading gives no channel either, and a note.

    Args:
        plan: the column; ``plan.unit`` is "" or a known unit of the quantity's dimension.
        raw: numbers as written, shape (n,), NaN where blank.
        rows: 1-based lines of the file, shape (n,).
        quote: returns the text of the cell at a position, for the sentence about it.
    """
    quantity = QUANTITIES[plan.meaning]
    if not np.any(np.isfinite(raw)):
        return None, [Notice(Severity.NOTE, f"column {plan.column!r} holds no reading and is not used", 0, plan.column)]
    values, notices = _without_negatives(plan, quantity, raw, rows, quote)
    unit = find_unit(plan.unit) if plan.unit else None
    if unit is None:
        return None, [*notices, _missing_unit(plan, quantity, values)]
    si = values * unit.factor + unit.offset
    if not plan.confirmed and not _believable(si, quantity):
        return None, [*notices, _contradiction(plan, quantity, values, unit)]
    notices += _spikes(plan, quantity, si, rows, quote) + _unusual(plan, quantity, values, unit)
    return Channel(quantity.name, si, plan.column, unit.symbol), notices


def alternatives(quantity: Quantity, raw: FloatArray) -> list[Unit]:
    """Return the units, the most usual first, in which values as written would be believable."""
    units = [unit for unit in dict.fromkeys(UNITS.values()) if unit.dimension == quantity.dimension]
    return [unit for unit in units if _believable(raw * unit.factor + unit.offset, quantity)]


def summary_notices(
    positions: IntArray, rows: IntArray, field: str, one: Callable[[int], str], many: Callable[[int, int], str]
) -> list[Notice]:
    """Return one caution for each position if they are few, else a single one with their number and the first."""
    if positions.size <= _SHOWN_ONE_BY_ONE:
        return [Notice(Severity.CAUTION, one(i), int(rows[i]), field) for i in positions.tolist()]
    first = int(positions[0])
    return [Notice(Severity.CAUTION, many(int(positions.size), first), int(rows[first]), field)]


def _without_negatives(
    plan: ColumnPlan, quantity: Quantity, raw: FloatArray, rows: IntArray, quote: Callable[[int], str]
) -> tuple[FloatArray, list[Notice]]:
    """Blank what is below zero where the quantity cannot be."""
    if quantity.negative or quantity.dimension == "temperature":
        return raw, []
    below = np.flatnonzero(raw < 0.0)
    notices = summary_notices(
        below,
        rows,
        plan.column,
        lambda i: f"row {rows[i]}, {plan.column}: {quote(i)!r} is negative and is left blank",
        lambda n, i: f"{plan.column}: {n} negative values are left blank, the first is {quote(i)!r} in row {rows[i]}",
    )
    values = raw.copy()
    values[below] = np.nan
    return values, notices


def _outside(si: FloatArray, quantity: Quantity) -> IntArray:
    """Return the positions of finite values outside the plausible range."""
    slack = 1e-9 * (abs(quantity.low) + abs(quantity.high))
    return np.flatnonzero((si < quantity.low - slack) | (si > quantity.high + slack)).astype(np.int64)


def _believable(si: FloatArray, quantity: Quantity) -> bool:
    """Return whether values can be this quantity: hardly any outside its range, and not all far too small."""
    finite = si[np.isfinite(si)]
    if finite.size == 0:
        return True
    allowed = max(min(finite.size, 2), math.ceil(0.2 * finite.size)) if finite.size < 25 else max(5, finite.size // 100)
    if _outside(finite, quantity).size >= allowed:
        return False
    return not np.any(finite != 0.0) or float(np.max(finite)) >= quantity.least_peak


def _range_words(raw: FloatArray) -> str:
    finite = raw[np.isfinite(raw)]
    if finite.size == 0:
        return "no values"
    low, high = float(np.min(finite)), float(np.max(finite))
    return f"values from {low:.4g} to {high:.4g}" if high > low else f"the value {low:.4g}"


def _fitting_words(quantity: Quantity, raw: FloatArray) -> str:
    units = alternatives(quantity, raw)
    return f"{_listed(units)} would fit" if units else "no unit would make them plausible"


def _listed(units: Sequence[Unit]) -> str:
    symbols = [unit.symbol for unit in units][:3]
    return " or ".join([", ".join(symbols[:-1]), symbols[-1]] if len(symbols) > 1 else symbols)


def _unusual(plan: ColumnPlan, quantity: Quantity, raw: FloatArray, unit: Unit) -> list[Notice]:
    """Doubt a unit in which the values are possible but unusually large, where another one would make them usual."""
    finite = raw[np.isfinite(raw)]
    if plan.confirmed or finite.size == 0:
        return []
    if float(np.max(finite)) * unit.factor + unit.offset <= quantity.usual_peak:
        return []
    peak = float(np.quantile(finite, 0.95))
    if peak * unit.factor + unit.offset <= quantity.usual_peak:
        return []
    others = [
        other for other in alternatives(quantity, raw) if peak * other.factor + other.offset <= quantity.usual_peak
    ]
    if not others:
        return []
    usual = others[0]
    as_usual = f" ({from_si(peak * unit.factor + unit.offset, usual.symbol):,.0f} {usual.symbol})"
    sentence = (
        f"column {plan.column!r} ({quantity.name}) reaches {peak:.4g} {unit.symbol}{as_usual}, which is unusual for a "
        f"light airplane, while {_listed(others)} would be usual; it is used as written, check the unit"
    )
    return [Notice(Severity.CAUTION, sentence, 0, plan.column)]


def _missing_unit(plan: ColumnPlan, quantity: Quantity, raw: FloatArray) -> Notice:
    return Notice(
        Severity.QUESTION,
        f"column {plan.column!r} ({quantity.name}) has no unit and {_range_words(raw)}; "
        f"{_fitting_words(quantity, raw)}; say its unit, it is not used until then",
        0,
        plan.column,
    )


def _contradiction(plan: ColumnPlan, quantity: Quantity, raw: FloatArray, unit: Unit) -> Notice:
    return Notice(
        Severity.QUESTION,
        f"column {plan.column!r} ({quantity.name}) is said to be in {unit.symbol}, but {_range_words(raw)} "
        f"{unit.symbol} are not plausible for a light airplane; {_fitting_words(quantity, raw)}; "
        "correct the unit or confirm it, the column is not used until then",
        0,
        plan.column,
    )


def _spikes(
    plan: ColumnPlan, quantity: Quantity, si: FloatArray, rows: IntArray, quote: Callable[[int], str]
) -> list[Notice]:
    """Name single values outside the plausible range; they are kept."""
    if plan.confirmed:
        return []
    return summary_notices(
        _outside(si, quantity),
        rows,
        plan.column,
        lambda i: f"row {rows[i]}, {plan.column}: {quote(i)!r} is not plausible as {quantity.name}; it is kept",
        lambda n, i: (
            f"{plan.column}: {n} values are not plausible as {quantity.name} and are kept, "
            f"the first is {quote(i)!r} in row {rows[i]}"
        ),
    )
