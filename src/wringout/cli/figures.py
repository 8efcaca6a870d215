"""Numbers as a command prints them: rounded with their interval, in the units that were asked for."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from wringout.briefs.cards.metric import metric_words
from wringout.briefs.metric_words import Exact, in_metric
from wringout.numerals import decimals_for as places_for
from wringout.numerals import metric as metric_unit
from wringout.numerals import symbol
from wringout.units import find_unit, from_si, to_si

__all__ = [
    "Figure",
    "cautions",
    "counted",
    "fixed",
    "in_units",
    "interval",
    "places_for",
    "sentence",
    "sentences",
    "target",
    "unit_name",
]


@dataclass(frozen=True, slots=True)
class Figure:
    """A number as text with its 95 % interval and unit."""

    value: str
    most: str
    unit: str


def counted(n: int, singular: str, plural: str = "") -> str:
    """Return a count in digits with its noun, such as "1 point" or "1,200 points"."""
    return f"{n:,} {singular if n == 1 else plural or f'{singular}s'}"


def target(unit: str, metric: bool) -> str:
    """Return the unit a number in ``unit`` is printed in."""
    return metric_unit(unit) if metric else unit


def unit_name(unit: str, metric: bool) -> str:
    """Return the unit a number in ``unit`` is printed in, as it is printed."""
    return symbol(target(unit, metric))


def in_units(value: float, unit: str, metric: bool) -> float:
    """Return a number in ``unit`` in the unit it is printed in."""
    wanted = target(unit, metric)
    return value if wanted == unit or find_unit(unit) is None else float(from_si(to_si(float(value), unit), wanted))


def fixed(value: float | None, places: int) -> str:
    """Return a number with fixed decimals, thousands apart; "never" and "-" where there is none."""
    if value is None or math.isnan(value):
        return "-"
    text = f"{value:,.{places}f}"
    return text.removeprefix("-") if float(text.replace(",", "")) == 0.0 else text


def sentence(text: str, metric: bool, exact: Exact = ()) -> str:
    """Return a sentence that is kept in the units of the trade in those asked for; ``exact`` as of `in_metric`."""
    return in_metric(text, exact) if metric else text


def sentences(texts: Iterable[str], metric: bool, exact: Exact = ()) -> list[str]:
    """Return sentences in the units asked for."""
    return [sentence(text, metric, exact) for text in texts]


def cautions(texts: Iterable[str], metric: bool) -> list[str]:
    """Return cautions in the units asked for; what they limit never comes out wider."""
    return [metric_words(text) if metric else text for text in texts]


def interval(value: float | None, most: Sequence[float | None], unit: str, metric: bool) -> Figure:
    """Return a number in ``unit`` with its 95 % interval, rounded together."""
    if value is None or None in most:
        return Figure("-", "-", unit_name(unit, metric))
    low, middle, high = (in_units(float(x or 0.0), unit, metric) for x in (most[0], value, most[1]))
    places = places_for((high - low) / 3.92)
    return Figure(fixed(middle, places), f"{fixed(low, places)} to {fixed(high, places)}", unit_name(unit, metric))
