"""Numbers as documents keep them: in a display unit, at nine significant digits, null where there is none."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from wringout.units import from_si

DIGITS = 9
"""Significant digits kept; far more than any reading carries, few enough to be the same on every machine."""


def number(value: float) -> float | None:
    """Return a number at the digits that are kept, None where there is none (not finite)."""
    return float(f"{value:.{DIGITS}g}") if math.isfinite(value) else None


def numbers(values: Sequence[float] | Any) -> list[float | None]:
    """Return numbers at the digits that are kept."""
    return [number(float(value)) for value in values]


def exact_numbers(reduction: Mapping[str, Any]) -> tuple[tuple[float, str], ...]:
    """Return the numbers, with their units, that the sentences of a reduction's document may have rounded."""
    at = [item[key] for item in reduction["findings"] for key in ("at_speed", "at_weight")]
    lost = [(float(item["value"]), "kt") for item in reduction["knots_lost"]]
    return (*((float(one["value"]), str(one["unit"])) for one in at if one is not None), *lost)


def shown(value_si: float, unit: str) -> float | None:
    """Return an SI number in a display unit; "" is a plain ratio."""
    return number(from_si(float(value_si), unit) if unit else float(value_si))
