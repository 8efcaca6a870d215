"""Quantities in the sentences of a card, turned into metric ones; upper limits round down, lower ones up."""

from __future__ import annotations

import math
import re

from wringout.units import from_si, to_si

_TARGETS = {
    "kt": ("km/h", 1.0),
    "ft": ("m", 1.0),
    "lb": ("kg", 1.0),
    "gal": ("l", 0.1),
    "in": ("cm", 0.1),
    "ft/min": ("m/s", 0.1),
    "kt/s": ("km/h each second", 0.1),
    "degF": ("°C", 1.0),
}
_NAMES = {"l": "L"}
_PATTERN = re.compile(r"(?<![\w.])(\d[\d,]*(?:\.\d+)?(?:, \d[\d,]*(?:\.\d+)?)*) (kt/s|ft/min|kt|ft|lb|gal)(?![\w/])")
_ALTIMETER = re.compile(r"(?<=altimeter )(\d{2}(?:\.\d+)?) inHg\b")
_HELD = re.compile(r"\b(hold|held|keep)\b[^.;,]*\bwithin $", re.IGNORECASE)
_PROSE = (("whole knots", "whole km/h"),)
_KNOTS_SECOND = 1.852


def metric_words(text: str) -> str:
    """Return a sentence with knots, feet, pounds and gallons as km/h, m, kg and litres, altimeter settings as hPa.

    Speeds are rounded down, so that a limit or an entry speed never comes out higher than it was; heights, and whatever
    stands after "within", "stop" or "least", are rounded up; what must not be more, and within what something is to be
    held, down; weights, fuel and settings to the nearest. Manifold pressure stays in inches, as its gauge does.
    """
    converted = _ALTIMETER.sub(_setting, _PATTERN.sub(_converted, text))
    for knots, metric in _PROSE:
        converted = converted.replace(knots, metric)
    return converted


def _setting(found: re.Match[str]) -> str:
    return f"{from_si(to_si(float(found[1]), 'inHg'), 'hPa'):.0f} hPa"


def _converted(found: re.Match[str]) -> str:
    unit = found[2]
    target, step = _TARGETS[unit]
    before = found.string[max(0, found.start() - 16) : found.start()].lower()
    held = bool(_HELD.search(found.string[: found.start()]))
    up = not held and _rounds_up(before, unit)
    values = [_value(float(part.replace(",", "")), unit, target) for part in re.split(r", (?=\d)", found[1])]
    places = 0 if step >= 1.0 else 1
    return f"{', '.join(f'{_round(value, step, unit, up):,.{places}f}' for value in values)} {_shown(target)}"


def _rounds_up(before: str, unit: str) -> bool:
    return any(word in before for word in ("within", "stop", "least")) or (unit == "ft" and "more than" not in before)


def _value(value: float, unit: str, target: str) -> float:
    if unit == "kt/s":
        return value * _KNOTS_SECOND
    return float(from_si(to_si(value, unit), "L" if target == "l" else target))


def _shown(target: str) -> str:
    return _NAMES.get(target, target)


def _round(value: float, step: float, unit: str, up: bool) -> float:
    scaled = value / step
    if up:
        return step * math.ceil(scaled - 1e-6)
    if unit in ("kt", "ft"):
        return step * math.floor(scaled + 1e-6)
    return step * round(scaled)
