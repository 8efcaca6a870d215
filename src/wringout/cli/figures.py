"""Numbers as a command prints them: rounded with their interval, in the units that were asked for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from wringout.units import find_unit, from_si, round_with_uncertainty, to_si

_METRIC = {
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
}
_PRINTED = {"ft2": "ft²", "m2": "m²", "m/s2": "m/s²", "": "", "1": ""}


@dataclass(frozen=True, slots=True)
class Figure:
    """A number as text with its 95 % interval and unit."""

    value: str
    most: str
    unit: str


def target(unit: str, metric: bool) -> str:
    """Return the unit a number in ``unit`` is printed in."""
    return _METRIC.get(unit, unit) if metric else unit


def unit_name(unit: str, metric: bool) -> str:
    """Return the unit a number in ``unit`` is printed in, as it is printed."""
    found = target(unit, metric)
    return _PRINTED.get(found, found)


def in_units(value: float, unit: str, metric: bool) -> float:
    """Return a number in ``unit`` in the unit it is printed in."""
    wanted = target(unit, metric)
    return value if wanted == unit or find_unit(unit) is None else float(from_si(to_si(float(value), unit), wanted))


def places_for(uncertainty: float) -> int:
    """Return the decimals a number of this standard uncertainty is printed with."""
    if not math.isfinite(uncertainty) or uncertainty <= 0.0:
        return 2
    _, text = round_with_uncertainty(0.0, uncertainty)
    return len(text.partition(".")[2])


def fixed(value: float | None, places: int) -> str:
    """Return a number with fixed decimals, thousands apart; "never" and "-" where there is none."""
    if value is None or math.isnan(value):
        return "-"
    text = f"{value:,.{places}f}"
    return text.removeprefix("-") if float(text.replace(",", "")) == 0.0 else text


def interval(value: float | None, most: Sequence[float | None], unit: str, metric: bool) -> Figure:
    """Return a number in ``unit`` with its 95 % interval, rounded together."""
    if value is None or None in most:
        return Figure("-", "-", unit_name(unit, metric))
    low, middle, high = (in_units(float(x or 0.0), unit, metric) for x in (most[0], value, most[1]))
    places = places_for((high - low) / 3.92)
    return Figure(fixed(middle, places), f"{fixed(low, places)} to {fixed(high, places)}", unit_name(unit, metric))
