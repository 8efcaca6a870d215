"""Numbers as pages print them: rounded with their interval, unit beside them, in the units results are kept in."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wringout.units import round_with_uncertainty

_PRINTED = {"ft2": "ft²", "m2": "m²", "m/s2": "m/s²", "1": "", "deg": "°"}
MINUS = "\N{MINUS SIGN}"


def unit_name(unit: str) -> str:
    """Return a unit as it is printed."""
    return _PRINTED.get(unit, unit)


def places_for(uncertainty: float) -> int:
    """Return the decimals a number of this standard uncertainty is printed with."""
    if not math.isfinite(uncertainty) or uncertainty <= 0.0:
        return 2
    _, text = round_with_uncertainty(0.0, uncertainty)
    return len(text.partition(".")[2])


def shown(value: float | None, places: int = 0) -> str:
    """Return a number with fixed decimals, thousands apart; "never" and "not known" where there is none."""
    if value is None or math.isnan(value):
        return "not known"
    if math.isinf(value):
        return "never"
    text = f"{abs(value):,.{places}f}"
    return f"{MINUS}{text}" if value < 0 and text.strip("0.,") else text


def place(most: Sequence[float | None]) -> int:
    """Return the decimals that the width of a 95 % interval asks for."""
    low, high = most[0], most[-1]
    if low is None or high is None:
        return 2
    return places_for((high - low) / 3.92)


def interval(most: Sequence[float | None], unit: str = "") -> str:
    """Return a 95 % interval as words, such as "3.1 to 3.6 ft²"."""
    low, high = most[0], most[-1]
    if low is None or high is None:
        return "not known"
    places = place(most)
    name = unit_name(unit)
    return f"{shown(low, places)} to {shown(high, places)}{f' {name}' if name else ''}"
