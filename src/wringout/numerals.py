"""Numbers as text: how many places, thousands apart, a true minus sign, symbols of units, counts in words.

Every face prints numbers through this file, so that a number looks the same in a page, on paper and at a prompt.
"""

from __future__ import annotations

import math
from typing import Final

from wringout.rounding import round_with_uncertainty

MINUS: Final = "\N{MINUS SIGN}"
NOT_KNOWN: Final = "not known"
NEVER: Final = "never"

_SYMBOLS: Final = {"ft2": "ft²", "m2": "m²", "m/s2": "m/s²", "1": ""}
_METRIC: Final = {
    "kt": "km/h",
    "ft2": "m2",
    "ft": "m",
    "lb": "kg",
    "in": "cm",
    "hp": "kW",
    "kt/s": "m/s2",
    "ft/min": "m/s",
    "NM": "km",
    "lbf": "N",
    "gal": "L",
    "gal/h": "L/h",
}
_COUNTS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def symbol(unit: str) -> str:
    """Return a unit of :mod:`wringout.units` as it is printed; a plain ratio has none."""
    return _SYMBOLS.get(unit, unit)


def metric(unit: str) -> str:
    """Return the metric unit that stands for a unit of the trade; one that is metric already stays."""
    return _METRIC.get(unit, unit)


def places_for(uncertainty: float) -> int:
    """Return how many decimals a value with this standard uncertainty is printed with (negative: rounded to tens).

    The rule is that of :func:`wringout.rounding.round_with_uncertainty`.
    """
    if not math.isfinite(uncertainty) or uncertainty <= 0.0:
        return 2
    _, text = round_with_uncertainty(uncertainty, uncertainty)
    if "." in text:
        return len(text.partition(".")[2])
    return -(len(text) - len(text.rstrip("0"))) if len(text) > 1 else 0


def decimals_for(uncertainty: float) -> int:
    """Return the same for a place where whole numbers keep their last digit: never fewer than none."""
    return max(places_for(uncertainty), 0)


def number(value: float | None, places: int = 0) -> str:
    """Return a number with this many decimals (negative: rounded to tens), thousands set apart by commas.

    A value that is not there prints as "not known", one that never comes about as "never".
    """
    if value is None or math.isnan(value):
        return NOT_KNOWN
    if math.isinf(value):
        return NEVER
    rounded = round(value, places) if places < 0 else value
    text = f"{abs(rounded):,.{max(places, 0)}f}"
    return f"{MINUS}{text}" if rounded < 0.0 and text.strip("0.,") else text


def amount(n: int) -> str:
    """Return a whole number in words up to ten, in digits beyond."""
    return _COUNTS[n] if n < len(_COUNTS) else f"{n:,}"


def count(n: int, singular: str, plural: str = "") -> str:
    """Return a count in words, such as "four runs" or "12 runs"."""
    return f"{amount(n)} {singular if n == 1 else plural or f'{singular}s'}"
