"""The quantities a recording may hold: the names they go by, what they measure and which values are plausible.

The plausible ranges are wide bounds for light piston airplanes (common practice, no source). They serve one purpose:
to question a unit that cannot be right. They are not limits of any airplane.
"""

from __future__ import annotations

import re
from dataclasses import KW_ONLY, dataclass, field

from wringout.units import DEGREE, FOOT, FOOT_PER_MINUTE, KNOT, LITRE, RPM


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity a channel may carry.

    Attributes:
        name: the name used in mappings and in `Recording.channels`.
        dimension: a key of `wringout.units.SI_UNIT`.
        low, high: plausible range of nearly all values of a flight [SI].
        names: column names it is recognised by, lower case, the most specific first.
        least_peak: the largest value of a flight is at least this [SI].
        usual_peak: more than this is possible but so unusual that the unit deserves a second look [SI].
        called_unit: the unit of hand-called readings that name none; empty where a unit must be written.
        negative: whether a negative value can be a reading at all.
        kin: the quantity meant instead when the unit measures another dimension.
    """

    name: str
    dimension: str
    low: float
    high: float
    names: tuple[str, ...]
    _: KW_ONLY
    least_peak: float = -1e30
    usual_peak: float = 1e30
    called_unit: str = ""
    negative: bool = False
    kin: dict[str, str] = field(default_factory=dict)


_SPEED_HIGH = 275.0 * KNOT
_SPEED_PEAK = 30.0 * KNOT
_SPEED_USUAL = 210.0 * KNOT
_ALTITUDE_USUAL = 18_000.0 * FOOT

_TABLE = (
    Quantity(
        "ias",
        "speed",
        0.0,
        _SPEED_HIGH,
        ("ias", "indicated airspeed", "indicated air speed", "airspeed indicated", "kias", "airspeed", "air speed"),
        least_peak=_SPEED_PEAK,
        usual_peak=_SPEED_USUAL,
        called_unit="kt",
    ),
    Quantity(
        "cas",
        "speed",
        0.0,
        _SPEED_HIGH,
        ("cas", "calibrated airspeed", "kcas"),
        least_peak=_SPEED_PEAK,
        usual_peak=_SPEED_USUAL,
        called_unit="kt",
    ),
    Quantity(
        "tas",
        "speed",
        0.0,
        _SPEED_HIGH,
        ("tas", "true airspeed", "true air speed", "ktas"),
        least_peak=_SPEED_PEAK,
        usual_peak=_SPEED_USUAL,
        called_unit="kt",
    ),
    Quantity(
        "ground_speed",
        "speed",
        0.0,
        325.0 * KNOT,
        ("ground speed", "groundspeed", "gs", "gps speed", "gps ground speed", "speed over ground", "sog", "gnd spd"),
        least_peak=_SPEED_PEAK,
        usual_peak=_SPEED_USUAL,
        called_unit="kt",
    ),
    Quantity(
        "altitude",
        "length",
        -500.0,
        8500.0,
        (
            "altitude",
            "indicated altitude",
            "altitude indicated",
            "alt",
            "baro altitude",
            "baro alt",
            "alt ind",
            "altimeter",
        ),
        usual_peak=_ALTITUDE_USUAL,
        called_unit="ft",
        negative=True,
    ),
    Quantity(
        "pressure_altitude",
        "length",
        -700.0,
        8500.0,
        ("pressure altitude", "press altitude", "pressure alt", "press alt", "palt"),
        usual_peak=_ALTITUDE_USUAL,
        called_unit="ft",
        negative=True,
    ),
    Quantity(
        "gps_altitude",
        "length",
        -500.0,
        8500.0,
        (
            "gps altitude",
            "gps alt",
            "altitude gps",
            "alt gps",
            "gnss altitude",
            "geometric altitude",
            "altitude msl",
            "msl altitude",
            "alt msl",
        ),
        usual_peak=_ALTITUDE_USUAL,
        called_unit="ft",
        negative=True,
    ),
    Quantity(
        "vertical_speed",
        "speed",
        -6000.0 * FOOT_PER_MINUTE,
        6000.0 * FOOT_PER_MINUTE,
        ("vertical speed", "vs", "vsi", "vspd", "vert speed", "rate of climb", "roc", "climb rate", "vert spd"),
        called_unit="ft/min",
        negative=True,
    ),
    Quantity(
        "oat",
        "temperature",
        213.15,
        328.15,
        (
            "oat",
            "outside air temperature",
            "outside air temp",
            "outside temperature",
            "ambient temperature",
            "air temperature",
            "air temp",
        ),
        called_unit="°C",
        negative=True,
    ),
    Quantity(
        "flap",
        "angle",
        -20.0 * DEGREE,
        65.0 * DEGREE,
        (
            "flap",
            "flaps",
            "flap angle",
            "flap position",
            "flaps position",
            "flap pos",
            "flaps pos",
            "flap setting",
            "flap deflection",
        ),
        called_unit="deg",
        negative=True,
        kin={"ratio": "flap_fraction"},
    ),
    Quantity("flap_fraction", "ratio", -0.05, 1.05, ("flap fraction", "flap travel")),
    Quantity(
        "gear",
        "ratio",
        -0.05,
        1.05,
        ("gear", "landing gear", "gear position", "gear pos", "undercarriage", "gear handle", "gear lever"),
    ),
    Quantity(
        "manifold_pressure",
        "pressure",
        5e3,
        1.65e5,
        ("manifold pressure", "manifold press", "man press", "manifold", "map", "mp"),
        least_peak=2e4,
        called_unit="inHg",
    ),
    Quantity(
        "rpm",
        "rotation rate",
        0.0,
        6500.0 * RPM,
        ("rpm", "engine rpm", "propeller rpm", "prop rpm", "engine speed", "propeller speed", "tachometer", "tach"),
        least_peak=500.0 * RPM,
        called_unit="rpm",
    ),
    Quantity(
        "fuel_flow",
        "volume flow",
        0.0,
        250.0 * LITRE / 3600.0,
        ("fuel flow", "fuelflow", "ff", "fuel flow rate"),
        least_peak=3.0 * LITRE / 3600.0,
        kin={"mass flow": "fuel_mass_flow"},
    ),
    Quantity("fuel_mass_flow", "mass flow", 0.0, 200.0 / 3600.0, ("fuel mass flow",), least_peak=2.0 / 3600.0),
    Quantity(
        "fuel_used",
        "volume",
        0.0,
        1000.0 * LITRE,
        ("fuel used", "fuel burned", "fuel burnt", "fuel burn"),
        kin={"mass": "fuel_mass_used"},
    ),
    Quantity("fuel_mass_used", "mass", 0.0, 800.0, ("fuel mass used",)),
    Quantity(
        "fuel_remaining",
        "volume",
        0.0,
        1000.0 * LITRE,
        ("fuel remaining", "fuel on board", "fob", "fuel quantity", "fuel qty", "fuel"),
        kin={"mass": "fuel_mass_remaining"},
    ),
    Quantity("fuel_mass_remaining", "mass", 0.0, 800.0, ("fuel mass remaining", "fuel mass")),
    Quantity(
        "pitch",
        "angle",
        -90.0 * DEGREE,
        90.0 * DEGREE,
        ("pitch", "pitch angle", "pitch attitude"),
        called_unit="deg",
        negative=True,
    ),
    Quantity(
        "roll",
        "angle",
        -180.0 * DEGREE,
        180.0 * DEGREE,
        ("roll", "roll angle", "bank", "bank angle"),
        called_unit="deg",
        negative=True,
    ),
    Quantity(
        "heading",
        "angle",
        -180.0 * DEGREE,
        360.0 * DEGREE,
        ("heading", "hdg", "magnetic heading", "true heading"),
        called_unit="deg",
        negative=True,
    ),
    Quantity(
        "track",
        "angle",
        -180.0 * DEGREE,
        360.0 * DEGREE,
        ("track", "ground track", "gps track", "true track", "course over ground", "cog", "trk"),
        called_unit="deg",
        negative=True,
    ),
    Quantity(
        "entry_rate",
        "acceleration",
        0.0,
        10.0 * KNOT,
        ("entry rate", "entry", "deceleration", "bleed rate", "rate"),
        called_unit="kt/s",
    ),
    Quantity(
        "mass",
        "mass",
        200.0,
        5700.0,
        ("mass", "weight", "gross weight", "airplane weight", "test weight"),
        usual_peak=2400.0,
    ),
    Quantity("power", "power", 0.0, 1.5e6, ("power", "shaft power", "brake power", "bhp"), called_unit="hp"),
    Quantity(
        "height_change",
        "length",
        -3000.0,
        3000.0,
        ("height change", "altitude change", "height gained", "altitude gained"),
        called_unit="ft",
        negative=True,
    ),
    Quantity(
        "warning",
        "speed",
        0.0,
        _SPEED_HIGH,
        ("warning", "stall warning", "warning speed", "horn", "stall horn", "buffet"),
        called_unit="kt",
    ),
    Quantity(
        "cg",
        "length",
        -2.0,
        10.0,
        ("cg", "c g", "cg arm", "centre of gravity", "center of gravity"),
        called_unit="in",
        negative=True,
    ),
    Quantity(
        "duration",
        "time",
        0.0,
        300.0,
        ("duration", "transit time", "travel time"),
        called_unit="s",
    ),
)

QUANTITIES: dict[str, Quantity] = {quantity.name: quantity for quantity in _TABLE}
"""Every quantity by name."""

ROLES: dict[str, tuple[str, ...]] = {
    "time": (
        "time",
        "t",
        "elapsed time",
        "elapsed",
        "time of day",
        "local time",
        "utc time",
        "utc",
        "utc time of day",
        "clock",
        "lcl time",
        "seconds",
        "sec",
        "secs",
        "timestamp",
        "date time",
        "datetime",
        "time s",
        "gps time",
    ),
    "date": ("date", "local date", "utc date", "lcl date", "day"),
    "zone": ("utc offset", "utcofst", "utc ofst", "gmt offset", "offset from utc", "time zone", "timezone"),
    "mark": ("mark", "marks", "marker", "event", "events", "call", "remark", "remarks"),
    "note": ("note", "notes", "comment", "comments"),
    "device": ("device", "item", "system"),
    "from": ("from", "start position"),
    "to": ("to", "end position"),
    "pair": ("pair", "pair number", "pair no"),
    "technique": ("technique", "way flown"),
    "ignore": (),
}
"""What a column may be other than a quantity, with the names it is recognised by."""

CALLED_SPEED_NAMES = ("speed", "kt", "kts", "knots", "mph", "spd", "stall speed")
"""Bare names that mean indicated airspeed in hand-called readings, where only an airspeed indicator can be meant."""


def plain_name(text: str) -> str:
    """Reduce a column name to lower-case words with single blanks between them."""
    words = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text.strip())
    return re.sub(r"[\W_]+", " ", words).strip().casefold()


def _by_name() -> dict[str, tuple[str, int]]:
    """Return every recognised name with its meaning and its rank (0 is the most specific)."""
    found: dict[str, tuple[str, int]] = {}
    for quantity in QUANTITIES.values():
        for rank, name in enumerate((*quantity.names, quantity.name.replace("_", " "))):
            found.setdefault(name, (quantity.name, rank))
    for role, names in ROLES.items():
        for rank, name in enumerate(names):
            found.setdefault(name, (role, rank))
    return found


MEANING_BY_NAME: dict[str, tuple[str, int]] = _by_name()
"""Recognised column name (as `plain_name` writes it) to (quantity or role, rank)."""


def meaning_of(name: str) -> tuple[str, int] | None:
    """Return (quantity or role, rank) for a column name, or None. "AirSpeed", "air_speed" and "AIR SPEED" agree."""
    found = MEANING_BY_NAME.get(plain_name(name))
    return found if found is not None else MEANING_BY_NAME.get(re.sub(r"[\W_]+", " ", name).strip().casefold())
