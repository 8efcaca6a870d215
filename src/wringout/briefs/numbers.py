"""Numbers as they are printed: rounded with their uncertainty, with interval and unit, in the units of the brief."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from wringout import numerals
from wringout.briefs.catalogue import ntr, tr
from wringout.briefs.content import Units
from wringout.numerals import MINUS, metric, places_for, symbol
from wringout.units import from_si

__all__ = [
    "MINUS",
    "NO_BREAK",
    "THIN",
    "Scale",
    "Shown",
    "amount",
    "count",
    "number",
    "places_for",
    "quantity",
    "scale_of",
    "shown",
]

THIN: Final = "\N{NARROW NO-BREAK SPACE}"
NO_BREAK: Final = "\N{NO-BREAK SPACE}"


def amount(n: int) -> str:
    """Return a whole number in words up to ten, in digits beyond."""
    words = numerals.amount(n)
    return tr(words) if words.isalpha() else words


def count(n: int, singular: str, plural: str = "") -> str:
    """Return a count in words, such as "four runs" or "12 runs"."""
    return f"{amount(n)} {ntr(singular, plural or f'{singular}s', n)}"


def number(value: float, places: int = 0) -> str:
    """Return a number with this many decimals, or the words for one that is not known or never comes about."""
    text = numerals.number(value, places)
    return tr(text) if text[:1].isalpha() else text


_PLAIN: Final = {"": "", "%": "%", "1": ""}


@dataclass(frozen=True, slots=True)
class Scale:
    """How SI values of one quantity are printed: divide by ``size``, write ``symbol`` behind."""

    size: float
    symbol: str


def scale_of(unit: str, units: Units) -> Scale:
    """Return the scale for a unit as results name it ("kt", "ft2", "", ...), in the brief's system.

    Raises:
        BadInputError: a unit nobody knows.
    """
    if unit in _PLAIN:
        return Scale(1.0, _PLAIN[unit])
    spelling = metric(unit) if units == "metric" else unit
    return Scale(1.0 / float(from_si(1.0, spelling)), symbol(spelling))


@dataclass(frozen=True, slots=True)
class Shown:
    """A value with its central 50 and 95 % intervals, rounded alike, as texts without unit."""

    value: str
    half: tuple[str, str]
    most: tuple[str, str]
    symbol: str

    @property
    def unit(self) -> str:
        """The unit with the blank before it, or nothing for a plain ratio."""
        return f"{NO_BREAK}{self.symbol}" if self.symbol else ""

    @property
    def text(self) -> str:
        """Value and unit."""
        return f"{self.value}{self.unit}"

    @property
    def interval(self) -> str:
        """The 95 % interval and unit, such as "3.1 to 3.6 ft²"."""
        return tr("{low} to {high}{unit}", low=self.most[0], high=self.most[1], unit=self.unit)

    @property
    def full(self) -> str:
        """Value, unit and 95 % interval."""
        return f"{self.text} (95{NO_BREAK}%: {self.interval})"


def shown(value: float, half: tuple[float, float], most: tuple[float, float], scale: Scale) -> Shown:
    """Return a value and its intervals, SI, rounded to the place that the 95 % interval's half width asks for.

    The rule is that of :func:`wringout.rounding.round_with_uncertainty`; the uncertainty is 1/3.92 of the interval.
    """
    scaled = [x / scale.size for x in (value, *half, *most)]
    sd = (scaled[4] - scaled[3]) / 3.92
    places = places_for(sd)
    texts = [number(x, places) for x in scaled]
    return Shown(texts[0], (texts[1], texts[2]), (texts[3], texts[4]), scale.symbol)


def quantity(si: float, scale: Scale, places: int = 0) -> str:
    """Return a stated (not estimated) quantity with its unit, such as "7,000 ft"."""
    text = number(si / scale.size, places)
    return f"{text}{NO_BREAK}{scale.symbol}" if scale.symbol else text
