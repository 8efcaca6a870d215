"""A test plan in SI, every point with its moment, weight, balance and height above ground."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.loading import Balance, balance
from wringout.airplane.quantity import parse_measured
from wringout.atmosphere import SEA_LEVEL_PRESSURE_PA, pressure_altitude_from_setting_m
from wringout.errors import BadInputError
from wringout.methods.register import method
from wringout.methods.types import Method
from wringout.planning.document import FlightSection, PointSection, TestPlanDocument
from wringout.units import FOOT, POUND

USUAL_SHARE_OF_MAXIMUM = 0.92
"""Weight assumed, as a share of the maximum, where no loading is stated (judged, no source)."""


@dataclass(frozen=True, slots=True)
class Flight:
    """When and where a plan is flown. Times in s, masses of fuel as volumes in m3; None where it is not stated."""

    start: datetime | None
    latitude_deg: float | None
    longitude_deg: float | None
    ground_elevation_m: float | None
    floor_m: float
    isa_deviation_k: float
    climb_s: float
    back_s: float
    fuel_m3: float | None
    fuel_flow_m3ps: float | None
    fuel_reserve_m3: float | None
    load_kg: Mapping[str, float]
    recording: Literal["called", "logger"]
    air: Literal["smooth", "rough"]
    setting_pa: float


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment of the flight: ``elapsed_s`` since engine start, fuel left, and the balance; None where not known."""

    elapsed_s: float
    at: datetime | None
    fuel_m3: float | None
    balance: Balance | None


@dataclass(frozen=True, slots=True)
class Point:
    """A planned point. ``words`` are the user's, completed with what the plan knows (weight, height above ground)."""

    key: str
    method: Method
    words: Mapping[str, str]
    altitude_m: float | None
    above_ground_m: float | None
    mass_kg: float
    mass_is_stated: bool
    start: Moment
    end: Moment
    bank_rad: float
    remark: str


@dataclass(frozen=True, slots=True)
class TestPlan:
    """A plan in SI with the document it came from; ``takeoff`` and ``landing`` are the ends of the flight."""

    __test__ = False

    document: TestPlanDocument
    flight: Flight
    points: tuple[Point, ...]
    takeoff: Moment
    landing: Moment

    def point(self, key: str) -> Point:
        """Return the point of that key; raises BadInputError."""
        for point in self.points:
            if point.key.lower() == key.strip().lower():
                return point
        known = ", ".join(point.key for point in self.points) or "it has no points"
        raise BadInputError(f"{key!r} is no point of the plan", "point", f"one of: {known}")


def plan_in_si(document: TestPlanDocument, beliefs: Beliefs, name: str = "test plan") -> TestPlan:
    """Return a plan in SI. Raises BadInputError naming the field that cannot be read, or a key that stands twice."""
    flight = _flight(document.flight, beliefs, name)
    elapsed, points = flight.climb_s, []
    seen: set[str] = set()
    for section in document.points:
        if section.key.lower() in seen:
            raise BadInputError(f"the point {section.key!r} stands twice", f"{name}, points", "give each its own key")
        seen.add(section.key.lower())
        points.append(_point(section, flight, elapsed, beliefs, name))
        elapsed += 60.0 * section.minutes
    takeoff = _moment(0.0, flight, beliefs)
    return TestPlan(document, flight, tuple(points), takeoff, _moment(elapsed + flight.back_s, flight, beliefs))


def _flight(section: FlightSection, beliefs: Beliefs, name: str) -> Flight:
    where = f"{name}, flight"

    def read(field: str, dimension: str, example: str) -> float | None:
        value = getattr(section, field)
        if value is None or value == "":
            return None
        return parse_measured(value, dimension, f"{where}.{field}", example)[0]

    flow, floor = read("fuel_flow", "volume flow", "11 gal/h"), read("floor", "length", "3000 ft")
    climb, back = read("climb", "time", "20 min"), read("back", "time", "20 min")
    setting = read("altimeter_setting", "pressure", "29.92 inHg")
    return Flight(
        start=_start(section.start, where),
        latitude_deg=section.latitude,
        longitude_deg=section.longitude,
        ground_elevation_m=read("ground_elevation", "length", "800 ft"),
        floor_m=0.0 if floor is None else floor,
        isa_deviation_k=section.isa_deviation,
        climb_s=_not_negative(climb, f"{where}.climb"),
        back_s=_not_negative(back, f"{where}.back"),
        fuel_m3=read("fuel", "volume", "50 gal"),
        fuel_flow_m3ps=flow,
        fuel_reserve_m3=read("fuel_reserve", "volume", "10 gal"),
        load_kg=_load(section, beliefs, where),
        recording=section.recording,
        air=section.air,
        setting_pa=SEA_LEVEL_PRESSURE_PA if setting is None else setting,
    )


def _not_negative(value: float | None, where: str) -> float:
    if value is not None and value < 0.0:
        raise BadInputError("the time is negative", where, 'write for example "20 min"')
    return value or 0.0


def _start(text: str, where: str) -> datetime | None:
    if not text:
        return None
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        found = None
    if found is None or found.tzinfo is None:
        advice = 'write date and time with its offset, such as "2027-05-09T14:00+02:00"'
        raise BadInputError(f"{text!r} is not a moment with its offset", f"{where}.start", advice)
    return found


def _load(section: FlightSection, beliefs: Beliefs, where: str) -> dict[str, float]:
    """Return the mass on every station, kg: as planned, else as the airplane file has it."""
    if beliefs.loading is None:
        if section.load:
            raise BadInputError(
                "the airplane file has no loading", f"{where}.load", "add a [loading] section to it (docs/airplane.md)"
            )
        return {}
    known = {station.name: station.mass_kg for station in beliefs.loading.stations}
    for station, value in section.load.items():
        if station not in known:
            names = ", ".join(known) or "it has none"
            raise BadInputError(f"{station!r} is no station of the airplane", f"{where}.load", f"one of: {names}")
        known[station] = parse_measured(value, "mass", f"{where}.load, {station}", "340 lb")[0]
        if known[station] < 0.0:
            raise BadInputError(f"the load {value!r} is negative", f"{where}.load, {station}", "give 0 lb or more")
    return known


def _moment(elapsed_s: float, flight: Flight, beliefs: Beliefs) -> Moment:
    at = None if flight.start is None else flight.start + timedelta(seconds=elapsed_s)
    if flight.fuel_m3 is None:
        return Moment(elapsed_s, at, None, None)
    left = max(flight.fuel_m3 - (flight.fuel_flow_m3ps or 0.0) * elapsed_s, 0.0)
    found = None if beliefs.loading is None else balance(beliefs.loading, flight.load_kg, left)
    return Moment(elapsed_s, at, left, found)


def _point(section: PointSection, flight: Flight, elapsed_s: float, beliefs: Beliefs, name: str) -> Point:
    where = f"{name}, point {section.key}"
    try:
        flown = method(section.method)
    except BadInputError as error:
        raise BadInputError(error.what, f"{where}, method", error.expected) from None
    words = {key.strip().lower(): value for key, value in section.words.items() if value.strip()}
    start = _moment(elapsed_s, flight, beliefs)
    end = _moment(elapsed_s + 60.0 * section.minutes, flight, beliefs)
    mass, stated = _mass(words, start, end, beliefs, where)
    altitude, above = _heights(words, flight, where)
    words.setdefault("weight", f"{mass / POUND:.0f} lb")
    if above is not None:
        words.setdefault("height above ground", f"{above / FOOT:.0f} ft")
    bank, _ = parse_measured(section.bank, "angle", f"{where}, bank", "30 deg")
    return Point(section.key, flown, words, altitude, above, mass, stated, start, end, bank, section.remark)


def _mass(words: Mapping[str, str], start: Moment, end: Moment, beliefs: Beliefs, where: str) -> tuple[float, bool]:
    """Return the mass at the point, kg: stated, else from loading and fuel, else a usual one; and if it is known."""
    if "weight" in words:
        return parse_measured(words["weight"], "mass", f"{where}, weight", "2900 lb")[0], True
    if start.balance is not None and end.balance is not None:
        return 0.5 * (start.balance.mass_kg + end.balance.mass_kg), True
    return USUAL_SHARE_OF_MAXIMUM * beliefs.limits.max_mass_kg, False


def _heights(words: Mapping[str, str], flight: Flight, where: str) -> tuple[float | None, float | None]:
    """Return pressure altitude and height above ground, m, where they are known.

    Height above ground is taken from the indicated altitude at the flight's altimeter setting, less the elevation; the
    altitude words of a plan are pressure altitudes. What the words themselves state of the height counts first.
    """
    altitude = (
        parse_measured(words["altitude"], "length", f"{where}, altitude", "7000 ft")[0] if "altitude" in words else None
    )
    if "height above ground" in words:
        above = parse_measured(words["height above ground"], "length", f"{where}, height above ground", "4500 ft")[0]
        if altitude is None and flight.ground_elevation_m is not None:
            altitude = above + flight.ground_elevation_m
        return altitude, above
    if altitude is None or flight.ground_elevation_m is None:
        return altitude, None
    off = float(pressure_altitude_from_setting_m(0.0, flight.setting_pa))  # pressure altitude of sea level
    off = 0.0 if abs(off) < 1.0 else off  # 29.92 inHg is the standard setting
    return altitude, altitude - off - flight.ground_elevation_m
