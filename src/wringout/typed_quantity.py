"""A quantity as a person typed it into a field, such as ``"118 kt"`` or ``"7,000 ft"``, read as an SI float."""

from __future__ import annotations

import math
import re

from wringout.errors import BadInputError
from wringout.units import SI_UNIT, Unit, find_unit

_NUMBER = re.compile(r"[+-]?(?:\d{1,3}(?:,\d{3})+(?![\d,])|\d+)?(?:\.\d*)?(?:[eE][+-]?\d+)?")
_EXAMPLE = {
    "speed": "118 kt",
    "length": "7,000 ft",
    "angle": "10 deg",
    "mass": "2,300 lb",
    "force": "400 lbf",
    "power": "180 hp",
    "pressure": "29.92 inHg",
    "temperature": "8 °C",
    "temperature difference": "12 °C",
    "time": "20 s",
    "rotation rate": "2,400 rpm",
    "area": "180 ft2",
    "volume": "40 gal",
    "volume flow": "12 gal/h",
}


def parse_quantity(text: str, dimension: str, *, default_unit: str | None = None, where: str = "") -> float:
    """Read a quantity that a person typed, such as ``"118 kt"``, ``"8 C"`` or ``"7,000 ft"``, as an SI float.

    A comma is taken only as a mark between thousands; a decimal comma is refused rather than guessed at.

    Args:
        text: the number and, unless `default_unit` is given, its unit.
        dimension: what the field holds, a key of `SI_UNIT`. Degrees of temperature typed where a *temperature
            difference* is wanted are read as a difference.
        default_unit: the unit of a number typed without one.
        where: file, row and field, put in front of the error.

    Raises:
        BadInputError: not a number, not finite, no unit, an unknown unit, or a unit of another dimension.
    """
    hint = _EXAMPLE.get(dimension, f"a number in {SI_UNIT[dimension]}")
    clean = text.strip().replace("−", "-").replace("\u00a0", " ").replace("\u202f", " ")
    match = _NUMBER.match(clean)
    digits = match.group(0) if match else ""
    rest = clean[len(digits) :].strip()
    if not re.match(r"[+-]?\.?\d", digits) or rest.startswith((",", ".")) or rest[:1].isdigit():
        raise _not_a_number(text, rest, where, hint)
    value = float(digits.replace(",", ""))
    if not math.isfinite(value):
        raise BadInputError(f"{text!r} is too large to be a {dimension}", where, f"write for example {hint}")
    name = rest or default_unit
    if name is None:
        raise BadInputError(f"{text!r} has no unit", where, f"write one after the number, for example {hint}")
    unit = _unit_for(name, dimension, text, where, hint)
    return value * unit.factor + unit.offset


def _not_a_number(text: str, rest: str, where: str, hint: str) -> BadInputError:
    if not text.strip():
        return BadInputError("nothing is written here", where, f"write for example {hint}")
    if rest.startswith(","):
        what = f"{text!r} has a comma that is not between thousands"
        return BadInputError(what, where, "write decimals with a point, for example 29.92")
    return BadInputError(f"{text!r} is not a number", where, f"write it in digits, for example {hint}")


def _unit_for(name: str, dimension: str, text: str, where: str, hint: str) -> Unit:
    """Return the unit `name` stands for, checked against the dimension that is wanted."""
    unit = find_unit(name)
    if unit is None:
        raise BadInputError(f"the unit {name!r} in {text!r} is not known", where, f"write for example {hint}")
    if dimension == "temperature difference" and unit.dimension == "temperature":
        return Unit(unit.symbol, dimension, unit.factor)
    if unit.dimension != dimension:
        what = f"{text!r} is in {unit.symbol}, which measures {unit.dimension}, not {dimension}"
        raise BadInputError(what, where, f"write for example {hint}")
    return unit
