"""Numbers as pages print them: rounded with their interval, unit beside them, in the units results are kept in."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wringout.numerals import decimals_for, symbol
from wringout.numerals import number as shown
from wringout.web.units import number_in, places_for_unit, unit_in

__all__ = ["bare", "interval", "limit", "place", "quantity", "shown", "unit_name", "whole"]


def bare(value: float | None, unit: str, places: int = 0) -> str:
    """Return a number in ``unit`` in the reader's units, no coarser than with ``places`` in that unit, without sign."""
    found = number_in(value, unit)
    large = places == 0 and found is not None and abs(found) >= LARGE
    return shown(found, 0 if large else places_for_unit(places, unit))


_NO_DECIMALS = {"m": 1, "m/s": 2, "m2": 1, "cm": 0}
"""Decimals in metric units of what has none in units of the trade."""
LARGE = 50.0
"""From this size on a decimal says nothing where the unit of the trade had none."""


def whole(unit: str, *values: float | None) -> int:
    """Return the decimals, in ``unit``, of numbers that have none in units of the trade; large ones need none."""
    large = any(value is not None and abs(value) >= LARGE for value in values)
    return 0 if large else _NO_DECIMALS.get(unit, 0)


def limit(value: float, unit: str) -> str:
    """Return a limit in ``unit`` in the reader's units, whole and never higher than it is."""
    return f"{shown(math.floor(float(number_in(value, unit)) + 1e-6))} {unit_name(unit_in(unit))}"


def quantity(value: float | None, unit: str, places: int = 0) -> str:
    """Return the same with its unit, such as "118 kt"."""
    return f"{bare(value, unit, places)} {unit_name(unit_in(unit))}"


def unit_name(unit: str) -> str:
    """Return a unit as a page prints it."""
    return "°" if unit == "deg" else symbol(unit)


def place(most: Sequence[float | None]) -> int:
    """Return the decimals that the width of a 95 % interval asks for."""
    low, high = most[0], most[-1]
    if low is None or high is None:
        return 2
    return decimals_for((high - low) / 3.92)


def interval(most: Sequence[float | None], unit: str = "") -> str:
    """Return a 95 % interval as words, such as "3.1 to 3.6 ft²"."""
    low, high = most[0], most[-1]
    if low is None or high is None:
        return "not known"
    places = place(most)
    name = unit_name(unit)
    return f"{shown(low, places)} to {shown(high, places)}{f' {name}' if name else ''}"
