"""The conditions of a map as people write them: a range to vary over, or one value to hold.

``"2,600 to 3,200 lb in 7"`` varies over seven values; ``"2,900 lb"`` holds one. What is not written stays as the plan
of the study has it: one value, or sampled over its range.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from wringout.airplane.quantity import parse_measured
from wringout.errors import BadInputError
from wringout.techniques.flying.layout import entry_is_factor
from wringout.techniques.judging.maps import PLAUSIBLE, Axis, Condition
from wringout.techniques.stated.types import Domain, Situation
from wringout.units import FOOT, KNOT, POUND, find_unit

VALUES = 8
"""Values on an axis unless a number is asked for."""
MOST_VALUES = 60
LONGEST = 200
"""Characters that are read of one condition."""
_RANGE: Final = re.compile(r"^\s*(?P<low>.+?)\s+to\s+(?P<high>.+?)(?:\s+in\s+(?P<count>\S+))?\s*$", re.IGNORECASE)
_NUMBER: Final = re.compile(r"^[-+.,\d]+$")
_TIMES: Final = re.compile(r"\s*(?:×|times(?:\s+(?:the\s+)?(?:measured|VS0?|stall speed))?)\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Kind:
    """How a condition is written: its name in options and forms, its dimension, its unit in documents, an example."""

    slug: str
    title: str
    dimension: str
    unit: str
    size: float
    example: str
    short: str


KINDS: Final[Mapping[Condition, Kind]] = {
    Condition.WEIGHT: Kind("weight", "weight", "mass", "lb", POUND, "2,600 to 3,200 lb in 8", "weight"),
    Condition.DENSITY_ALTITUDE: Kind(
        "density-altitude", "density altitude", "length", "ft", FOOT, "0 to 8,000 ft in 9", "altitude"
    ),
    Condition.ENTRY_SPEED: Kind("entry-speed", "entry speed", "number", "times VS", 1.0, "1.2 to 1.4 in 5", "entry"),
    Condition.GEAR_TRANSIT: Kind("gear-transit", "gear transit", "number", "× measured", 1.0, "0.5 to 2 in 7", "gear"),
    Condition.FLAP_TRANSIT: Kind("flap-transit", "flap transit", "number", "× measured", 1.0, "0.5 to 2 in 7", "flap"),
    Condition.DELAY: Kind("delay", "pilot delay", "time", "s", 1.0, "1 to 5 s in 9", "delay"),
}
_KNOTS: Final = Kind("entry-speed", "entry speed", "speed", "kt", KNOT, "65 to 80 kt in 6", "entry")
Written = Mapping[Condition, str]
"""What is written for each condition; what is blank or missing stays as the plan has it."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is written, read: axes to vary over and conditions to hold, SI."""

    axes: tuple[Axis, ...]
    held: Mapping[Condition, float]


def kind_of(condition: Condition, situation: Situation) -> Kind:
    """Return how a condition is written for a situation: entry speeds are multiples of the stall speed, or speeds."""
    if condition is Condition.ENTRY_SPEED and not entry_is_factor(situation):
        return _KNOTS
    return KINDS[condition]


def condition_named(slug: str) -> Condition:
    """Return the condition an option or a field is named after; raises BadInputError where there is none."""
    for condition, kind in KINDS.items():
        if slug in (kind.slug, kind.title):
            return condition
    raise BadInputError(
        f"'{slug[:40]}' is no condition of a map", "map", f"one of {', '.join(kind.slug for kind in KINDS.values())}"
    )


def read_written(written: Written, situation: Situation) -> Wanted:
    """Return what is written as axes, in the order written, and held values.

    Raises:
        BadInputError: something cannot be read, naming the condition.
    """
    axes: list[Axis] = []
    held: dict[Condition, float] = {}
    for condition, text in written.items():
        if not text.strip():
            continue
        if len(text) > LONGEST:
            raise BadInputError(
                "that is too long to be a range", f"map, {kind_of(condition, situation).title}", "a line"
            )
        kind = kind_of(condition, situation)
        found = _RANGE.match(text)
        if found is None:
            held[condition] = _quantity(text, kind)
            _check(condition, kind, held[condition])
        else:
            values = _values(found["low"], found["high"], found["count"], kind)
            _check(condition, kind, values[0])
            _check(condition, kind, values[-1])
            axes.append(Axis(condition, values))
    return Wanted(tuple(axes), held)


def _check(condition: Condition, kind: Kind, value: float) -> None:
    low, high = PLAUSIBLE[condition]
    if not low <= value <= high:
        shown = [f"{x / kind.size:,.4g}" for x in (value, low, high)]
        raise BadInputError(
            f"{shown[0]} {kind.unit} cannot be flown", f"map, {kind.title}", f"{shown[1]} to {shown[2]} {kind.unit}"
        )


def _values(low: str, high: str, count: str | None, kind: Kind) -> tuple[float, ...]:
    where = f"map, {kind.title}"
    digits = count is not None and count.isascii() and count.isdigit() and len(count) < 6
    wanted = VALUES if count is None else int(count) if digits else -1
    if not 2 <= wanted <= MOST_VALUES:
        raise BadInputError(
            f"'{(count or '')[:12]}' is no number of values", where, f"2 to {MOST_VALUES}, as in '{kind.example}'"
        )
    first, last = _quantity(_with_unit_of(low, high), kind), _quantity(high, kind)
    if not last > first:
        raise BadInputError(f"{low[:40]} is not below {high[:40]}", where, f"lowest first, as in '{kind.example}'")
    return tuple(float(value) for value in np.linspace(first, last, wanted))


def _with_unit_of(text: str, other: str) -> str:
    """Return a bare number with the unit of the other end of its range."""
    if not _NUMBER.match(text.strip()):
        return text
    return f"{text} {other.strip().lstrip('+-.,0123456789 ')}".strip()


def _quantity(text: str, kind: Kind) -> float:
    plain = _TIMES.sub("", text) if kind.dimension == "number" else text
    return parse_measured(plain, kind.dimension, f"map, {kind.title}", kind.example)[0]


def written_axis(axis: Axis, situation: Situation) -> str:
    """Return an axis as it would be written."""
    kind = kind_of(axis.condition, situation)
    low, high = (f"{value / kind.size:,.6g}" for value in (axis.values[0], axis.values[-1]))
    unit = f" {kind.unit}" if find_unit(kind.unit) is not None else ""
    return f"{low} to {high}{unit} in {len(axis.values)}"


def usual_ranges(domain: Domain) -> dict[str, str]:
    """Return what a form begins with, by slug: the plan's weights over the air up to 8,000 ft; the rest as planned."""
    low, high = (f"{mass / POUND:,.0f}" for mass in domain.mass_kg)
    found = {kind.slug: "" for kind in KINDS.values()}
    found["weight"] = f"{low} to {high} lb in {VALUES}" if low != high else f"{low} lb"
    found["density-altitude"] = KINDS[Condition.DENSITY_ALTITUDE].example
    return found
