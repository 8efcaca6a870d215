"""Numbers as documents keep them: in a display unit, at nine significant digits, null where there is none."""

from __future__ import annotations

import math
from collections.abc import Sequence
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


def shown(value_si: float, unit: str) -> float | None:
    """Return an SI number in a display unit; "" is a plain ratio."""
    return number(from_si(float(value_si), unit) if unit else float(value_si))
