"""Numbers as pages print them: rounded with their interval, unit beside them, in the units results are kept in."""

from __future__ import annotations

from collections.abc import Sequence

from wringout.numerals import decimals_for, symbol
from wringout.numerals import number as shown

__all__ = ["interval", "place", "shown", "unit_name"]


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
