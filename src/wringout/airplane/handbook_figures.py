"""What a handbook prints, in SI units: from the user's words to calibrated and true airspeeds, each with its doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wringout.airplane.handbook_document import HandbookDocument
from wringout.airplane.quantity import parse_measured
from wringout.airspeed import PositionErrorTable, calibrated_from_indicated, true_from_calibrated
from wringout.errors import BadInputError
from wringout.typed_quantity import parse_quantity
from wringout.units import DEGREE, FOOT, FOOT_PER_MINUTE, HORSEPOWER, KNOT

STALL_SHARES = {"calibrated": 0.025, "indicated": 0.05}
SPEED_SHARES = {"calibrated": 0.01, "indicated": 0.02}
"""Relative standard uncertainty of printed stall speeds and other airspeeds, by what they are (judged, no source): near
the stall the position error of a light airplane is several knots."""
CORRECTED = "calibrated"
RATE_SHARE = 0.05
RATE_SD_MPS = 30.0 * FOOT_PER_MINUTE
CRUISE_SPEED_SHARE = 0.02
POWER_SHARE = 0.02
"""How well printed climb rates, cruise speeds and cruise powers describe the very airplane printed for (judged)."""


@dataclass(frozen=True, slots=True)
class PrintedStall:
    """A stall speed at maximum mass, m/s calibrated, and its standard uncertainty."""

    setting: str
    angle_rad: float
    speed_mps: float
    sd_mps: float


@dataclass(frozen=True, slots=True)
class PrintedGlide:
    """The printed best glide: ratio, calibrated airspeed m/s, mass kg, and what the propeller did."""

    ratio: float
    speed_mps: float
    mass_kg: float
    propeller: str


@dataclass(frozen=True, slots=True)
class PrintedPoint:
    """A printed steady flight, clean: climb (``climb_mps`` above 0, full throttle) or cruise (at ``power_w``).

    ``power_w`` is None for full throttle. ``words`` names the point in print; ``rate_sd_mps`` and ``speed_share`` are
    the doubts of its rate and speed.
    """

    words: str
    altitude_m: float
    isa_deviation_k: float
    true_mps: float
    calibrated_mps: float
    mass_kg: float
    climb_mps: float
    power_w: float | None
    rate_sd_mps: float
    speed_share: float


@dataclass(frozen=True, slots=True)
class Figures:
    """All printed figures of one handbook, SI. ``stalls`` begins with clean where that is printed."""

    wing_area_m2: float
    span_m: float
    diameter_m: float
    rated_power_w: float
    max_mass_kg: float
    stalls: tuple[PrintedStall, ...]
    glide: PrintedGlide | None
    points: tuple[PrintedPoint, ...]
    flap_angles_rad: tuple[float, ...]
    flap_kind: str
    flap_chord_share: float
    flap_area_share: float
    flap_limits_mps: tuple[float | None, ...]
    maneuvering_mps: float | None
    gear_limits_mps: tuple[float | None, float | None, float | None]
    retractable: bool

    @property
    def disk_area_m2(self) -> float:
        """Area of the propeller disk."""
        return math.pi * self.diameter_m**2 / 4.0


class _Reader:
    def __init__(self, name: str) -> None:
        self.name = name

    def positive(self, text: object, dimension: str, field: str, example: str) -> float:
        value, _ = parse_measured(text, dimension, f"{self.name}, {field}", example)
        if value <= 0.0:
            raise BadInputError(f"{text!r} is not above zero", f"{self.name}, {field}", f'write "{example}"')
        return value

    def optional(self, text: object | None, dimension: str, field: str, example: str) -> float | None:
        return None if text is None else self.positive(text, dimension, field, example)

    def share(self, text: object, field: str) -> float:
        value = self.positive(text, "number", field, "0.2")
        if value > 1.0:
            raise BadInputError(f"{text!r} is more than 1", f"{self.name}, {field}", 'write "0.2"')
        return value

    def altitude(self, text: object, field: str) -> float:
        value, _ = parse_measured(text, "length", f"{self.name}, {field}", "6000 ft")
        if not -2000.0 * FOOT <= value <= 30_000.0 * FOOT:
            raise BadInputError(f"{text!r} is not a likely altitude", f"{self.name}, {field}", 'write "6000 ft"')
        return value

    def deviation(self, text: object, field: str) -> float:
        value, _ = parse_measured(text, "number", f"{self.name}, {field}", "+10")
        if abs(value) > 50.0:
            raise BadInputError(f"{text!r} is not a likely deviation", f"{self.name}, {field}", 'write "+10"')
        return value


def figures_of(document: HandbookDocument, table: PositionErrorTable, name: str = "handbook.toml") -> Figures:
    """Return the printed figures in SI units; raises BadInputError naming file and field.

    Indicated airspeeds go through ``table``; where it has no rows they are taken as calibrated, with more doubt.
    """
    read = _Reader(name)
    speeds = _Speeds(document.airspeeds, table)
    max_mass = read.positive(document.limits.max_weight, "mass", "limits.max_weight", "3200 lb")
    angles = tuple(
        read.positive(flap.angle, "angle", f"flaps / number {i} / angle", "20 deg")
        for i, flap in enumerate(document.flaps, start=1)
    )
    rated = read.positive(document.propulsion.rated_power, "power", "propulsion.rated_power", "230 hp")
    gear, design = document.gear, document.flap_design
    return Figures(
        wing_area_m2=read.positive(document.geometry.wing_area, "area", "geometry.wing_area", "174 ft2"),
        span_m=read.positive(document.geometry.span, "length", "geometry.span", "33.5 ft"),
        diameter_m=read.positive(document.propulsion.diameter, "length", "propulsion.diameter", "76 in"),
        rated_power_w=rated,
        max_mass_kg=max_mass,
        stalls=_stalls(document, read, speeds, angles, max_mass),
        glide=_glide(document, read, speeds, max_mass),
        points=(*_climbs(document, read, speeds, max_mass), *_cruises(document, read, max_mass, rated)),
        flap_angles_rad=angles,
        flap_kind=design.kind,
        flap_chord_share=read.share(design.chord_share, "flap_design.chord_share"),
        flap_area_share=read.share(design.area_share, "flap_design.area_share"),
        flap_limits_mps=tuple(
            read.optional(flap.limit_speed, "speed", f"flaps / number {i} / limit_speed", "110 kt")
            for i, flap in enumerate(document.flaps, start=1)
        ),
        maneuvering_mps=read.optional(document.limits.maneuvering, "speed", "limits.maneuvering", "120 kt"),
        gear_limits_mps=(
            read.optional(gear and gear.operate_limit, "speed", "gear.operate_limit", "140 kt"),
            read.optional(gear and gear.retract_limit, "speed", "gear.retract_limit", "125 kt"),
            read.optional(gear and gear.extended_limit, "speed", "gear.extended_limit", "150 kt"),
        ),
        retractable=gear is not None,
    )


@dataclass(frozen=True, slots=True)
class _Speeds:
    """How printed airspeeds become calibrated ones, and how far they are then to be trusted."""

    kind: str
    table: PositionErrorTable

    @property
    def known_as(self) -> str:
        return CORRECTED if self.kind == "calibrated" or self.table.rows else self.kind

    def calibrated(self, printed_mps: float, flap_rad: float = 0.0) -> float:
        if self.kind == "calibrated":
            return printed_mps
        return float(calibrated_from_indicated(printed_mps, self.table, flap_rad / DEGREE, 0.0))


def _mass(text: object | None, read: _Reader, field: str, max_mass_kg: float) -> float:
    mass = max_mass_kg if text is None else read.positive(text, "mass", field, "3200 lb")
    if not 0.2 * max_mass_kg <= mass <= 1.2 * max_mass_kg:
        raise BadInputError(
            f"{text!r} is not a likely weight for this airplane", f"{read.name}, {field}", "check it and its unit"
        )
    return mass


def _stalls(
    document: HandbookDocument, read: _Reader, speeds: _Speeds, angles: tuple[float, ...], max_mass_kg: float
) -> tuple[PrintedStall, ...]:
    mass = _mass(document.stalls.weight, read, "stalls.weight", max_mass_kg)
    printed = [("up", 0.0, document.stalls.clean, "stalls.clean")]
    printed += [
        (flap.name, angle, flap.stall_speed, f"flaps / number {i} / stall_speed")
        for i, (flap, angle) in enumerate(zip(document.flaps, angles, strict=True), start=1)
    ]
    share = STALL_SHARES[speeds.known_as]
    out = []
    for setting, angle, text, field in printed:
        if text is None:
            continue
        speed = speeds.calibrated(read.positive(text, "speed", field, "55 kt"), angle)
        speed *= math.sqrt(max_mass_kg / mass)
        out.append(PrintedStall(setting, angle, speed, share * speed))
    return tuple(out)


def _glide(document: HandbookDocument, read: _Reader, speeds: _Speeds, max_mass_kg: float) -> PrintedGlide | None:
    glide = document.glide
    if glide is None:
        return None
    ratio = read.positive(glide.ratio, "number", "glide.ratio", "10.5")
    if not 3.0 <= ratio <= 60.0:
        raise BadInputError(f"{glide.ratio!r} is not a likely glide ratio", f"{read.name}, glide.ratio", 'write "10.5"')
    return PrintedGlide(
        ratio,
        speeds.calibrated(read.positive(glide.speed, "speed", "glide.speed", "92 kt")),
        _mass(glide.weight, read, "glide.weight", max_mass_kg),
        glide.propeller,
    )


def _climbs(document: HandbookDocument, read: _Reader, speeds: _Speeds, max_mass_kg: float) -> list[PrintedPoint]:
    out = []
    for i, climb in enumerate(document.climb, start=1):
        field = f"climb / number {i}"
        altitude = read.altitude(climb.altitude, f"{field} / altitude")
        deviation = read.deviation(climb.isa_deviation, f"{field} / isa_deviation")
        rate = read.positive(climb.rate, "speed", f"{field} / rate", "1000 ft/min")
        printed = read.positive(climb.speed, "speed", f"{field} / speed", "90 kt")
        if rate > 0.5 * printed:
            raise BadInputError(
                f"a climb of {climb.rate!r} at {climb.speed!r} is steeper than any light airplane's",
                f"{read.name}, {field} / rate",
                'write the rate with its unit, such as "1000 ft/min"',
            )
        calibrated = speeds.calibrated(printed)
        out.append(
            PrintedPoint(
                words=(
                    f"climb of {rate / FOOT_PER_MINUTE:,.0f} ft/min at {printed / KNOT:.0f} kt at "
                    f"{altitude / FOOT:,.0f} ft"
                ),
                altitude_m=altitude,
                isa_deviation_k=deviation,
                true_mps=true_from_calibrated(calibrated, altitude, deviation),
                calibrated_mps=calibrated,
                mass_kg=_mass(climb.weight, read, f"{field} / weight", max_mass_kg),
                climb_mps=rate,
                power_w=None,
                rate_sd_mps=math.hypot(RATE_SHARE * rate, RATE_SD_MPS),
                speed_share=SPEED_SHARES[speeds.known_as],
            )
        )
    return out


def _cruises(document: HandbookDocument, read: _Reader, max_mass_kg: float, rated_w: float) -> list[PrintedPoint]:
    out = []
    for i, cruise in enumerate(document.cruise, start=1):
        field = f"cruise / number {i}"
        altitude = read.altitude(cruise.altitude, f"{field} / altitude")
        deviation = read.deviation(cruise.isa_deviation, f"{field} / isa_deviation")
        true = read.positive(cruise.true_airspeed, "speed", f"{field} / true_airspeed", "150 kt")
        power = _power(cruise.power, rated_w, f"{read.name}, {field} / power")
        out.append(
            PrintedPoint(
                words=(f"cruise of {true / KNOT:.0f} kt with {power / HORSEPOWER:.0f} hp at {altitude / FOOT:,.0f} ft"),
                altitude_m=altitude,
                isa_deviation_k=deviation,
                true_mps=true,
                calibrated_mps=math.nan,
                mass_kg=_mass(cruise.weight, read, f"{field} / weight", max_mass_kg),
                climb_mps=0.0,
                power_w=power,
                rate_sd_mps=0.0,
                speed_share=CRUISE_SPEED_SHARE,
            )
        )
    return out


def _power(text: object, rated_w: float, where: str) -> float:
    """Return a cruise power, W, from ``"75 %"`` of rated power or ``"170 hp"``."""
    if isinstance(text, str) and "%" in text:
        power = parse_quantity(text, "ratio", where=where) * rated_w
    else:
        power, _ = parse_measured(text, "power", where, "170 hp")
    if not 0.0 < power <= 1.05 * rated_w:
        raise BadInputError(
            f"{text!r} is not a power between 0 and the rated power", where, 'write "75 %" of rated power, or "170 hp"'
        )
    return power
