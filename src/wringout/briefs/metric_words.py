"""Sentences that were made in knots, feet and pounds, said in metric units: the one place where words are converted.

Numbers of results are converted as numbers; this is for sentences that are kept in the units of the trade and for those
that a method makes of one run. Limits and cautions, where a rounding must never widen, have their own rule in
:mod:`wringout.briefs.cards.metric`.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Final

from wringout.briefs.cards.metric import metric_words
from wringout.numerals import metric, symbol
from wringout.units import from_si, to_si

_UNITS: Final = {"ft²": "ft2", "ft2": "ft2"} | {
    u: u for u in ("kt/s", "ft/min", "kt", "ft", "lbf", "lb", "hp", "NM", "gal/h", "gal")
}
_NUMBER: Final = r"[-\N{MINUS SIGN}]?\d[\d,]*(?:\.\d+)?"
_JOINED: Final = r"(?: to |\u00a0to\u00a0| and | or | ± |, )"
_QUANTITY: Final = re.compile(
    rf"(?<![\w.,])({_NUMBER}(?:{_JOINED}{_NUMBER})*)([ \u00a0])({'|'.join(map(re.escape, _UNITS))})(?![\w²/])"
)
_INCHES: Final = re.compile(rf"(?<![\w.,])({_NUMBER}) in(?= at \d| inside| outside| aft|[.,;)]|$)")
"""Inches, whose sign is a word as well: only with a number before, and where no word would follow."""
_PLAIN: Final = re.compile(_NUMBER)
_QUOTED: Final = re.compile("(“[^”]*”)")
_TITLE: Final = re.compile(r"“(?:Gear|Flaps|Nothing|Power)\b")
_LARGE: Final = 50.0
"""From this size on a decimal more than the quantity had says nothing."""
_LAST_DIGIT: Final = {"ft/min": 10.0, "kt/s": 0.1}
"""What the last digit of a whole number is worth in units where one is never read, or where it is a stated rate."""


Exact = Collection[tuple[float, str]]


def in_metric(text: str, exact: Exact = ()) -> str:
    """Return a sentence with its knots, feet, pounds and horsepower as km/h, m, kg and kW, no coarser than it was.

    What stands in quotation marks stays as it was typed, but for titles of techniques, which the program makes.

    Args:
        text: the sentence.
        exact: numbers with their unit that the sentence may have rounded; one of them is converted in place of the
            rounded one, so that a sentence and a table say the same.
    """
    parts = _QUOTED.split(text)
    return "".join(
        (title_in_metric(part) if _TITLE.match(part) else part)
        if i % 2
        else _INCHES.sub(_in_centimetres, _QUANTITY.sub(lambda found: _converted(found, exact), part))
        for i, part in enumerate(parts)
    )


def title_in_metric(title: str) -> str:
    """Return the title of a technique in metric units; its speeds may be limits, so they are never rounded up."""
    return metric_words(title)


def _converted(found: re.Match[str], exact: Exact) -> str:
    numbers, blank, unit = found.groups()
    spelling = _UNITS[unit]
    texts = _PLAIN.findall(numbers)
    values = [_value(text, spelling, exact) for text in texts]
    places = max(_places(text, spelling) for text in texts)
    if max(map(abs, values)) >= _LARGE or not any(values):
        places = 0
    shown = (_as_text(value, places, numbers) for value in values)
    return f"{_PLAIN.sub(lambda _: next(shown), numbers)}{blank}{symbol(metric(spelling))}"


def _in_centimetres(found: re.Match[str]) -> str:
    value = _value(found[1], "in", ())
    return f"{_as_text(value, _places(found[1], 'in'), found[1])} cm"


def _value(text: str, unit: str, exact: Exact) -> float:
    plain = text.replace(",", "").replace("\N{MINUS SIGN}", "-")
    decimals = len(plain.partition(".")[2])
    known = next((x for x, of in exact if of == unit and f"{x:.{decimals}f}" == plain), float(plain))
    return float(from_si(to_si(known, unit), metric(unit)))


def _places(text: str, unit: str) -> int:
    """Return the fewest decimals whose last digit is no coarser than that of the text was."""
    decimals = len(text.partition(".")[2])
    last = 10.0**-decimals if decimals else _LAST_DIGIT.get(unit, 1.0)
    step = float(from_si(to_si(last, unit), metric(unit)))
    return next(places for places in range(9) if 10.0**-places <= 1.1 * step)


def places_in(places: int, unit: str) -> int:
    """Return the fewest decimals, in the metric unit, whose last digit is no coarser than ``places`` in ``unit``."""
    step = float(from_si(to_si(10.0**-places, unit), metric(unit)))
    return next(count for count in range(-6, 9) if 10.0**-count <= 1.1 * step)


def _as_text(value: float, places: int, like: str) -> str:
    minus = "\N{MINUS SIGN}" if "\N{MINUS SIGN}" in like else "-"
    text = f"{abs(value):,.{places}f}"
    return f"{minus}{text}" if value < 0.0 and text.strip("0.,") else text
