"""Numbers as they are printed: rounded with their uncertainty, with interval and unit, in the units of the brief."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from wringout.briefs.content import Units
from wringout.units import from_si, round_with_uncertainty

MINUS: Final = "\N{MINUS SIGN}"
THIN: Final = "\N{NARROW NO-BREAK SPACE}"
NO_BREAK: Final = "\N{NO-BREAK SPACE}"

# name of a unit as results carry it -> what each system prints: spelling of wringout.units, printed symbol
_SYSTEMS: Final[dict[Units, dict[str, tuple[str, str]]]] = {
    "aviation": {
        "kt": ("kt", "kt"),
        "ft": ("ft", "ft"),
        "ft2": ("ft2", "ft²"),
        "lb": ("lb", "lb"),
        "hp": ("hp", "hp"),
        "s": ("s", "s"),
        "kt/s": ("kt/s", "kt/s"),
        "ft/min": ("ft/min", "ft/min"),
        "NM": ("NM", "NM"),
        "lbf": ("lbf", "lbf"),
    },
    "metric": {
        "kt": ("km/h", "km/h"),
        "ft": ("m", "m"),
        "ft2": ("m2", "m²"),
        "lb": ("kg", "kg"),
        "hp": ("kW", "kW"),
        "s": ("s", "s"),
        "kt/s": ("m/s2", "m/s²"),
        "ft/min": ("m/s", "m/s"),
        "NM": ("km", "km"),
        "lbf": ("N", "N"),
    },
}
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
    spelling, symbol = _SYSTEMS[units].get(unit, (unit, unit))
    return Scale(1.0 / float(from_si(1.0, spelling)), symbol)


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
        return f"{self.most[0]} to {self.most[1]}{self.unit}"

    @property
    def full(self) -> str:
        """Value, unit and 95 % interval."""
        return f"{self.text} (95{NO_BREAK}%: {self.interval})"


def shown(value: float, half: tuple[float, float], most: tuple[float, float], scale: Scale) -> Shown:
    """Return a value and its intervals, SI, rounded to the place that the 95 % interval's half width asks for.

    The rule is that of :func:`wringout.units.round_with_uncertainty`, with 1/3.92 of the 95 % interval as uncertainty.
    """
    scaled = [x / scale.size for x in (value, *half, *most)]
    sd = (scaled[4] - scaled[3]) / 3.92
    places = places_for(sd)
    texts = [number(x, places) for x in scaled]
    return Shown(texts[0], (texts[1], texts[2]), (texts[3], texts[4]), scale.symbol)


def places_for(uncertainty: float) -> int:
    """Return how many decimals a value with this standard uncertainty is printed with (negative: rounded to tens)."""
    if not math.isfinite(uncertainty) or uncertainty <= 0.0:
        return 2
    _, text = round_with_uncertainty(uncertainty, uncertainty)
    if "." in text:
        return len(text.partition(".")[2])
    return -(len(text) - len(text.rstrip("0"))) if len(text) > 1 else 0


def number(value: float, places: int = 0) -> str:
    """Return a number with this many decimals, thousands set apart by commas, minus as a minus sign.

    A value that never comes about prints as "never".
    """
    if math.isnan(value):
        return "not known"
    if math.isinf(value):
        return "never"
    rounded = round(value, places) if places < 0 else value
    text = f"{abs(rounded):,.{max(places, 0)}f}"
    return f"{MINUS}{text}" if rounded < 0.0 and text.strip("0.,") else text


def quantity(si: float, scale: Scale, places: int = 0) -> str:
    """Return a stated (not estimated) quantity with its unit, such as "7,000 ft"."""
    text = number(si / scale.size, places)
    return f"{text}{NO_BREAK}{scale.symbol}" if scale.symbol else text


_COUNTS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def count(n: int, singular: str, plural: str = "") -> str:
    """Return a count in words, such as "four runs" or "12 runs"."""
    return f"{amount(n)} {singular if n == 1 else plural or f'{singular}s'}"


def amount(n: int) -> str:
    """Return a whole number in words up to ten, in digits beyond."""
    return _COUNTS[n] if n < len(_COUNTS) else f"{n:,}"
