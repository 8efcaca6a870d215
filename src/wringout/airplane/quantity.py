"""Numbers as people write them in an airplane file: ``"174 ft2"``, ``"4.0 ± 1.5 ft2"``, ``"0.75 +/- 0.08"``."""

from __future__ import annotations

import math
import re

from wringout.errors import BadInputError
from wringout.units import find_unit

# A comma only between thousands: a decimal comma is refused rather than read as ten times the number.
_NUMBER = r"[-+]?(?:(?:\d{1,3}(?:,\d{3})+(?![\d,])|\d+(?!,\d))\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_NOT_MORE_DIGITS = r"(?![,.\d])"
_PATTERN = re.compile(
    rf"^\s*({_NUMBER})\s*({_NOT_MORE_DIGITS}[^±+]*?)"
    rf"\s*(?:(?:±|\+/-|\+-)\s*({_NUMBER})\s*({_NOT_MORE_DIGITS}.*?))?\s*$"
)


def _number(text: str) -> float:
    return float(text.replace(",", ""))


def parse_measured(text: object, dimension: str, where: str, example: str) -> tuple[float, float | None]:
    """Return ``(value, standard deviation or None)`` in SI from ``"value unit"`` or ``"value ± sd unit"``.

    ``dimension`` is a dimension name of :mod:`wringout.units`, or "number" for a plain ratio. ``where`` names the
    file and field, ``example`` is what a right entry looks like. Raises BadInputError with one sentence.
    """
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise BadInputError(what=f"{text!r} is not a quantity", where=where, expected=f'write "{example}"')
    found = _PATTERN.match(str(text))
    if found is None:
        raise _not_a_quantity(str(text), where, example)
    value_text, first_unit, sd_text, last_unit = found.groups()
    unit_name = (last_unit or first_unit or "").strip()
    value, sd = _number(value_text), None if sd_text is None else _number(sd_text)
    if sd is not None and not math.isfinite(sd):
        problem = f"the spread in {str(text)!r} is not finite"
        raise BadInputError(what=problem, where=where, expected=f'write "{example}"')
    if sd is not None and sd < 0.0:
        raise BadInputError(what=f"the spread in {str(text)!r} is negative", where=where, expected=f'write "{example}"')
    if dimension == "number":
        if unit_name:
            raise BadInputError(what=f"{str(text)!r} has a unit", where=where, expected=f'write "{example}"')
        return _finite(value, where, example), sd
    unit = find_unit(unit_name) if unit_name else None
    if unit is None or unit.dimension != dimension:
        problem = f"{str(text)!r} has no unit" if not unit_name else f"{unit_name!r} is not a unit of {dimension}"
        raise BadInputError(what=problem, where=where, expected=f'write "{example}"')
    factor, offset = unit.factor, unit.offset
    si = _finite(value * factor + offset, where, example)
    return si, None if sd is None else sd * factor


def _not_a_quantity(text: str, where: str, example: str) -> BadInputError:
    if not text.strip():
        return BadInputError(what="nothing is stated", where=where, expected=f'write "{example}"')
    pointed = re.sub(r"(?<=\d),(?=\d)", ".", text)
    advice = f'write "{example}"'
    if pointed != text and _PATTERN.match(pointed):
        advice = f'write a point for the decimals, "{pointed}"; commas stand between thousands only'
    return BadInputError(what=f"{text!r} is not a quantity", where=where, expected=advice)


def _finite(value: float, where: str, example: str) -> float:
    if not math.isfinite(value):
        raise BadInputError(what="the number is not finite", where=where, expected=f'write "{example}"')
    return value
