"""Exact unit conversions, and the unit spellings found in log headers and handbooks.

Everything inside the project is a float in SI units. This module is where other units come in and go out.

Factors are exact by definition (NIST Special Publication 811, 2008 edition, Appendix B) except
`INCH_OF_MERCURY`, which is the conventional value printed there.

The SI unit of each dimension is in `SI_UNIT`. Two need a word: a *rotation rate* (rpm) is kept in revolutions
per second, because propeller formulas use it so, and an *angular rate* (deg/s) in radians per second.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from wringout.errors import BadInputError

FloatArray = NDArray[np.float64]
# One value or an array of values. With several arguments the first one decides the shape of the answer.
Values = TypeVar("Values", float, FloatArray)

STANDARD_GRAVITY = 9.80665  # m/s2, exact
FOOT = 0.3048  # m, exact
INCH = 0.0254  # m, exact
NAUTICAL_MILE = 1852.0  # m, exact
STATUTE_MILE = 1609.344  # m, exact
KNOT = 1852.0 / 3600.0  # m/s, exact
MILE_PER_HOUR = 0.44704  # m/s, exact
KILOMETRE_PER_HOUR = 1.0 / 3.6  # m/s, exact
FOOT_PER_MINUTE = FOOT / 60.0  # m/s, exact
POUND = 0.45359237  # kg, exact (avoirdupois)
POUND_FORCE = POUND * STANDARD_GRAVITY  # N, exact
SLUG = POUND_FORCE / FOOT  # kg
HORSEPOWER = 550.0 * FOOT * POUND_FORCE  # W, the horsepower of 550 ft lbf/s
HECTOPASCAL = 100.0  # Pa, exact; the same as a millibar
INCH_OF_MERCURY = 3386.389  # Pa, conventional, as printed
POUND_PER_SQUARE_INCH = POUND_FORCE / INCH**2  # Pa
POUND_PER_SQUARE_FOOT = POUND_FORCE / FOOT**2  # Pa
SLUG_PER_CUBIC_FOOT = SLUG / FOOT**3  # kg/m3
SQUARE_FOOT = FOOT**2  # m2, exact
US_GALLON = 231.0 * INCH**3  # m3, exact
LITRE = 1e-3  # m3, exact
DEGREE = math.pi / 180.0  # rad
RPM = 1.0 / 60.0  # rev/s
CELSIUS_ZERO_K = 273.15  # K, exact


def shaped_like(result: FloatArray, like: Values) -> Values:
    """Return a result as a plain float if it and the argument it came from are single numbers."""
    single = np.ndim(result) == 0 and np.ndim(like) == 0
    return cast("Values", float(result) if single else np.asarray(result, dtype=np.float64))


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of measure: ``value_si = value * factor + offset``.

    Attributes:
        symbol: the spelling used when the project prints the unit.
        dimension: a key of `SI_UNIT`.
        factor: SI units in one of this unit.
        offset: SI value at zero of this unit (temperatures only).
    """

    symbol: str
    dimension: str
    factor: float
    offset: float = 0.0


# symbol, factor to SI, other spellings; spellings are compared as `_key` reduces them.
_TABLE: dict[str, tuple[tuple[str, float, str], ...]] = {
    "speed": (
        ("kt", KNOT, "kts|knot|knots|kn|kias|kcas|ktas|keas|knots indicated|nm/h"),
        ("mph", MILE_PER_HOUR, "mi/h|miles per hour|mile/h"),
        ("km/h", KILOMETRE_PER_HOUR, "kmh|kph|kmph|km/hr"),
        ("m/s", 1.0, "mps|m/sec|ms-1|metres per second|meters per second|metre/s"),
        ("ft/s", FOOT, "fps|ft/sec|feet per second"),
        ("ft/min", FOOT_PER_MINUTE, "fpm|feet per minute|feet/min"),
    ),
    "length": (
        ("m", 1.0, "metre|metres|meter|meters|mtr"),
        ("ft", FOOT, "foot|feet|'|ft msl|ft agl|ft wgs|feet msl|feet agl|ft baro|ft amsl"),
        ("in", INCH, 'inch|inches|"'),
        ("mm", 1e-3, "millimetre|millimetres|millimeter|millimeters"),
        ("cm", 1e-2, "centimetre|centimetres|centimeter|centimeters"),
        ("km", 1e3, "kilometre|kilometres|kilometer|kilometers"),
        ("NM", NAUTICAL_MILE, "nmi|nautical mile|nautical miles"),
        ("mi", STATUTE_MILE, "mile|miles|sm|statute mile|statute miles"),
    ),
    "angle": (
        ("deg", DEGREE, "degree|degrees|°|deg true|deg mag|degt|degm"),
        ("rad", 1.0, "radian|radians"),
    ),
    "mass": (
        ("lb", POUND, "lbs|pound|pounds|lbm|#"),
        ("kg", 1.0, "kgs|kilogram|kilograms|kilo|kilos"),
        ("slug", SLUG, "slugs"),
    ),
    "force": (
        ("lbf", POUND_FORCE, "pound-force|pounds-force"),
        ("N", 1.0, "newton|newtons"),
    ),
    "power": (
        ("hp", HORSEPOWER, "bhp|shp|thp|horsepower"),
        ("kW", 1e3, "kilowatt|kilowatts"),
        ("W", 1.0, "watt|watts"),
    ),
    "pressure": (
        ("inHg", INCH_OF_MERCURY, 'in hg|inch hg|inches hg|hg|inches of mercury|inch of mercury|"hg'),
        ("hPa", HECTOPASCAL, "mb|mbar|millibar|millibars|hectopascal|hectopascals"),
        ("Pa", 1.0, "pascal|pascals"),
        ("kPa", 1e3, "kilopascal|kilopascals"),
        ("psi", POUND_PER_SQUARE_INCH, "lb/in2|lbf/in2|lb/sq in"),
        ("psf", POUND_PER_SQUARE_FOOT, "lb/ft2|lbf/ft2|lb/sq ft|lbs/sq ft"),
    ),
    "temperature difference": (
        ("delta C", 1.0, "delta °c|delta degc|Δ°c|Δc|delta k|Δk"),
        ("delta F", 5.0 / 9.0, "delta °f|delta degf|Δ°f|Δf"),
    ),
    "time": (
        ("s", 1.0, "sec|secs|second|seconds"),
        ("min", 60.0, "mins|minute|minutes"),
        ("h", 3600.0, "hr|hrs|hour|hours"),
        ("ms", 1e-3, "msec|millisecond|milliseconds"),
    ),
    "rotation rate": (
        ("rpm", RPM, "rev/min|revs/min|r/min"),
        ("rev/s", 1.0, "rps|revs/s"),
    ),
    "angular rate": (
        ("deg/s", DEGREE, "dps|deg/sec|°/s|degrees per second"),
        ("rad/s", 1.0, "rad/sec"),
    ),
    "area": (
        ("ft2", SQUARE_FOOT, "sq ft|sqft|square feet|square foot"),
        ("m2", 1.0, "sq m|sqm|square metres|square metre|square meters|square meter"),
    ),
    "volume": (
        ("gal", US_GALLON, "gals|gallon|gallons|us gal|usg|us gallon|us gallons"),
        ("L", LITRE, "l|litre|litres|liter|liters|ltr"),
        ("m3", 1.0, "cubic metre|cubic metres|cubic meter|cubic meters"),
    ),
    "volume flow": (
        ("gal/h", US_GALLON / 3600.0, "gph|gal/hr|us gal/h|usg/h|gallons per hour"),
        ("L/h", LITRE / 3600.0, "lph|l/hr|ltr/h|litres per hour|liters per hour"),
        ("m3/s", 1.0, ""),
    ),
    "mass flow": (
        ("lb/h", POUND / 3600.0, "pph|lbs/h|lb/hr|lbs/hr"),
        ("kg/h", 1.0 / 3600.0, "kg/hr"),
        ("kg/s", 1.0, ""),
    ),
    "density": (
        ("kg/m3", 1.0, ""),
        ("slug/ft3", SLUG_PER_CUBIC_FOOT, "slugs/ft3"),
        ("lb/gal", POUND / US_GALLON, "lbs/gal|lb/us gal"),
        ("kg/L", 1.0 / LITRE, "kg/litre|kg/liter"),
    ),
    "acceleration": (
        ("m/s2", 1.0, "m/sec2|mps2"),
        ("ft/s2", FOOT, "ft/sec2"),
        ("kt/s", KNOT, "kts/s|kt/sec|knots per second"),
        ("g", STANDARD_GRAVITY, "gs|g's|gee"),
    ),
    "moment": (
        ("lb in", POUND * INCH, "in lb|lbs in|in lbs"),
        ("kg m", 1.0, "m kg"),
    ),
    "ratio": (
        ("1", 1.0, "ratio"),
        ("%", 0.01, "percent|pct|per cent"),
    ),
    "voltage": (("V", 1.0, "volt|volts"),),
    "current": (("A", 1.0, "amp|amps|ampere|amperes"),),
}

SI_UNIT: dict[str, str] = {
    dimension: next(symbol for symbol, factor, _ in rows if factor == 1.0) for dimension, rows in _TABLE.items()
} | {"temperature": "K", "temperature difference": "K"}
"""The SI unit in which values of each dimension are kept, by the name of the dimension."""

_TEMPERATURES: tuple[tuple[Unit, str], ...] = (
    (
        Unit("°C", "temperature", 1.0, CELSIUS_ZERO_K),
        "c|degc|celsius|deg celsius|degrees c|degrees celsius|centigrade",
    ),
    (
        Unit("°F", "temperature", 5.0 / 9.0, CELSIUS_ZERO_K - 32.0 * 5.0 / 9.0),
        "f|degf|fahrenheit|deg fahrenheit|degrees f|degrees fahrenheit",
    ),
    (Unit("K", "temperature", 1.0), "kelvin|degk|°k"),
    (Unit("°R", "temperature", 5.0 / 9.0), "degr|rankine"),
)


def _key(name: str) -> str:
    """Reduce a spelling to the form in which spellings are compared."""
    name = unicodedata.normalize("NFKC", name.replace("º", "°").replace("˚", "°")).casefold()
    return re.sub(r"[\s._^·*()\[\]-]", "", name)


def _spellings() -> dict[str, Unit]:
    """Return every known spelling with its unit; one that means two units is a mistake in the table."""
    pairs = [
        (Unit(symbol, dimension, factor), spellings)
        for dimension, rows in _TABLE.items()
        for symbol, factor, spellings in rows
    ]
    found: dict[str, Unit] = {}
    for unit, spellings in [*pairs, *_TEMPERATURES]:
        for spelling in [unit.symbol, *(s for s in spellings.split("|") if s)]:
            if found.setdefault(_key(spelling), unit) != unit:
                raise ValueError(f"the unit spelling {spelling!r} stands for two units")
    return found


UNITS = _spellings()
"""Every spelling understood (reduced form), with its unit."""


def find_unit(name: str) -> Unit | None:
    """Return the unit a spelling stands for, or None if it is not known.

    Case, blanks, dots, hyphens and brackets do not matter: ``"KTS"``, ``"(kt)"`` and ``"Knots"`` are the
    same. ``nm`` is a nautical mile, ``kn`` a knot and ``Hg`` an inch of mercury, as in flight logs.
    """
    return UNITS.get(_key(name))


def _known_unit(name: str) -> Unit:
    unit = find_unit(name)
    if unit is None:
        raise BadInputError(f"the unit {name!r} is not known", "", "use a spelling such as kt, ft, lb or °C")
    return unit


def to_si(value: Values, unit_name: str) -> Values:
    """Convert a value or an array from the named unit to SI.

    Raises:
        BadInputError: the unit name is not known.
    """
    unit = _known_unit(unit_name)
    return value * unit.factor + unit.offset


def from_si(value: Values, unit_name: str) -> Values:
    """Convert a value or an array in SI to the named unit.

    Raises:
        BadInputError: the unit name is not known.
    """
    unit = _known_unit(unit_name)
    return (value - unit.offset) / unit.factor
