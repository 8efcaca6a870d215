"""From the user's airplane file to beliefs: units to SI, printed figures to priors, each with its source in words."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs, FlapSetting, Instrument, Parameter
from wringout.airplane.distribution import Kind, Prior
from wringout.airplane.document import AirplaneDocument, FlapSection
from wringout.airplane.limits import Limits
from wringout.airplane.loading import Loading, Station
from wringout.airplane.quantity import parse_measured
from wringout.airplane.textbook import (
    ALTITUDE_LAW_NORMAL,
    FLAT_RATED,
    PROPELLER_SLOPE,
    SPAN_EFFICIENCY,
    STALL_RATE_SLOPE,
    lift_coefficient_at,
    lift_slope_per_rad,
    polar_from_best_glide,
)
from wringout.airspeed import PositionErrorRow, PositionErrorTable
from wringout.errors import BadInputError
from wringout.units import DEGREE, US_GALLON

CL_REFERENCE = 0.5
MOST_FLAP_RAD = 90.0 * DEGREE
_FILE_SAYS = "airplane file"


class _Reader:
    """Reads quantities of one file, so that every complaint names the file and the field."""

    def __init__(self, name: str) -> None:
        self.name = name

    def where(self, field: str) -> str:
        return f"{self.name}, {field}"

    def measured(self, text: object, dimension: str, field: str, example: str) -> tuple[float, float | None]:
        return parse_measured(text, dimension, self.where(field), example)

    def positive(self, text: object, dimension: str, field: str, example: str) -> float:
        value, _ = self.measured(text, dimension, field, example)
        if value <= 0.0:
            raise BadInputError(f"{text!r} is not above zero", self.where(field), f'write "{example}"')
        return value

    def not_negative(self, text: object, dimension: str, field: str, example: str) -> float:
        value, _ = self.measured(text, dimension, field, example)
        if value < 0.0:
            raise BadInputError(f"{text!r} is negative", self.where(field), f'write "{example}"')
        return value

    def efficiency(self, text: object, field: str, example: str, default_share: float) -> Prior:
        prior = self.prior(text, "number", field, example, "lognormal", default_share)
        if prior.value > 1.0:
            raise BadInputError(f"{text!r} is more than 1", self.where(field), f'write "{example}"')
        return prior

    def optional(self, text: object | None, dimension: str, field: str, example: str) -> float | None:
        return None if text is None else self.positive(text, dimension, field, example)

    def prior(
        self, text: object, dimension: str, field: str, example: str, kind: Kind, default_share: float = 0.1
    ) -> Prior:
        """Read a belief; without a stated spread it is ``default_share`` of the value."""
        value, sd = self.measured(text, dimension, field, example)
        if kind == "lognormal" and value <= 0.0:
            raise BadInputError(f"{text!r} is not above zero", self.where(field), f'write "{example}"')
        width = sd if sd is not None else abs(value) * default_share
        return Prior(value, max(width, 1e-9 * max(abs(value), 1.0)), kind, _FILE_SAYS)


def airplane_from_document(document: AirplaneDocument, name: str = "airplane.toml") -> Beliefs:
    """Return the beliefs of a checked airplane document.

    Raises BadInputError (one sentence, file and field) for a wrong or missing unit, a number out of range, flap
    settings out of order or limits that contradict each other.
    """
    read = _Reader(name)
    base = _base_row(document, read)
    settings = _settings(document, read)
    limits = _limits(document, read)
    parameters = [
        *_drag_parameters(document, read),
        *_flap_parameters(document, read, base, settings, limits.max_mass_kg),
        *_power_parameters(document, read),
        *_travel_parameters(document, read),
        *_instrument_parameters(document, read),
    ]
    glide = document.drag.best_glide
    return Beliefs(
        name=document.name,
        invented=document.invented,
        base=base,
        parameters=tuple(parameters),
        settings=settings,
        retractable=document.gear is not None,
        limits=limits,
        instrument=_instrument(document, read, settings),
        loading=_loading(document, read),
        glide_mass_kg=None
        if glide is None
        else read.positive(glide.weight, "mass", "drag.best_glide.weight", "3100 lb"),
    )


def _base_row(document: AirplaneDocument, read: _Reader) -> v.FloatArray:
    a = np.zeros(v.SIZE)
    a[v.WING_AREA] = read.positive(document.geometry.wing_area, "area", "geometry.wing_area", "174 ft2")
    a[v.SPAN] = read.positive(document.geometry.span, "length", "geometry.span", "33.5 ft")
    diameter = read.positive(document.propulsion.diameter, "length", "propulsion.diameter", "76 in")
    a[v.DISK_AREA] = math.pi * diameter**2 / 4.0
    a[v.CL_REFERENCE] = CL_REFERENCE
    a[v.PROPELLER_LAW] = 1.0 if document.propulsion.propeller == "fixed pitch" else 0.0
    a[v.EFFICIENCY_SPEED] = v.EFFICIENCY_REFERENCE_MPS
    a[v.ALTITUDE_LAW] = ALTITUDE_LAW_NORMAL if document.propulsion.aspiration == "normal" else FLAT_RATED
    a[v.LIFT_SLOPE] = lift_slope_per_rad(a[v.SPAN] ** 2 / a[v.WING_AREA])
    a[v.MASS_FACTOR] = 1.0
    return a


def _settings(document: AirplaneDocument, read: _Reader) -> tuple[FlapSetting, ...]:
    settings = [FlapSetting("up", 0.0)]
    for i, flap in enumerate(document.flaps, start=1):
        angle = read.positive(flap.angle, "angle", f"flaps / number {i} / angle", "20 deg")
        if angle > MOST_FLAP_RAD:
            raise BadInputError(
                f"{flap.angle!r} is more than a flap travels",
                read.where(f"flaps / number {i} / angle"),
                'write degrees, such as "20 deg"',
            )
        if angle <= settings[-1].angle_rad:
            raise BadInputError(
                f"{flap.angle!r} is not more than the setting before it",
                read.where(f"flaps / number {i} / angle"),
                "list the settings in order of travel, without up",
            )
        if any(flap.name.lower() == s.name.lower() for s in settings):
            raise BadInputError(
                f"the name {flap.name!r} stands twice",
                read.where(f"flaps / number {i} / name"),
                "give each setting its own name",
            )
        settings.append(FlapSetting(flap.name, angle))
    return tuple(settings)


def _limits(document: AirplaneDocument, read: _Reader) -> Limits:
    gear, limits = document.gear, document.limits
    vfe = {
        flap.name: speed
        for i, flap in enumerate(document.flaps, start=1)
        if (speed := read.optional(flap.limit_speed, "speed", f"flaps / number {i} / limit_speed", "110 kt"))
        is not None
    }
    result = Limits(
        never_exceed_mps=read.optional(limits.never_exceed, "speed", "limits.never_exceed", "190 kt"),
        maneuvering_mps=read.optional(limits.maneuvering, "speed", "limits.maneuvering", "125 kt"),
        gear_operate_mps=read.optional(gear and gear.operate_limit, "speed", "gear.operate_limit", "140 kt"),
        gear_retract_mps=read.optional(gear and gear.retract_limit, "speed", "gear.retract_limit", "125 kt"),
        gear_extended_mps=read.optional(gear and gear.extended_limit, "speed", "gear.extended_limit", "150 kt"),
        flaps_extended_mps=vfe,
        max_mass_kg=read.positive(limits.max_weight, "mass", "limits.max_weight", "3200 lb"),
    )
    for label, speed in (
        ("a flap limit speed", max(vfe.values(), default=None)),
        ("the gear limit", result.gear_operate_mps),
    ):
        if speed is not None and result.never_exceed_mps is not None and speed > result.never_exceed_mps:
            raise BadInputError(
                f"{label} is above the never-exceed speed",
                read.where("limits.never_exceed"),
                "check both against the manual",
            )
    return result


def _drag_parameters(document: AirplaneDocument, read: _Reader) -> list[Parameter]:
    section, out = document.drag, []
    if section.best_glide is not None:
        if section.clean_area is not None or section.span_efficiency is not None:
            raise BadInputError(
                "the clean drag is given twice",
                read.where("drag"),
                "give best_glide, or clean_area with span_efficiency",
            )
        glide = section.best_glide
        ratio = read.prior(glide.ratio, "number", "drag.best_glide.ratio", "10.5 ± 0.5", "lognormal", 0.05)
        speed = read.prior(glide.speed, "speed", "drag.best_glide.speed", "92 ± 3 kt", "lognormal", 0.04)
        out += [
            Parameter("glide_ratio", "best glide ratio", ratio),
            Parameter("glide_speed", "best glide speed", speed, "kt"),
        ]
    else:
        area_text = section.clean_area
        if area_text is None:
            raise BadInputError(
                "the clean drag is missing",
                read.where("drag"),
                'write clean_area = "3.9 ± 0.6 ft2", or a [drag.best_glide] section',
            )
        area = read.prior(area_text, "area", "drag.clean_area", "3.9 ± 0.6 ft2", "lognormal", 0.15)
        text = section.span_efficiency
        span = SPAN_EFFICIENCY if text is None else read.efficiency(text, "drag.span_efficiency", "0.75 ± 0.08", 0.1)
        out += [
            Parameter("clean_area", "clean drag area", area, "ft2"),
            Parameter("span_efficiency", "span efficiency", span),
        ]
    out.append(
        Parameter(
            "clean_slope", "lean of the clean polar per unit CL", _clean_slope(document, read, out[0].prior), "ft2"
        )
    )
    if document.gear is not None:
        gear = read.prior(section.gear_area, "area", "drag.gear_area", "4 ± 3 ft2", "lognormal", 0.5)
        bump = read.prior(section.door_bump, "number", "drag.door_bump", "0.1 ± 0.1", "normal")
        shield = read.prior(section.interaction, "number", "drag.interaction", "0.3 ± 0.2", "normal", 0.5)
        out += [
            Parameter("gear_area", "gear drag area", gear, "ft2"),
            Parameter("door_bump", "door bump in transit", bump),
            Parameter("interaction", "gear-flap interaction", shield),
        ]
    return out


def _clean_slope(document: AirplaneDocument, read: _Reader, first: Prior) -> Prior:
    """Return the belief in how the clean area leans with CL: none, within a quarter of the area, when not given.

    ``first`` is the belief in the clean area, or in the best glide ratio when the polar is given that way.
    """
    section = document.drag
    if section.clean_slope is not None:
        return read.prior(section.clean_slope, "area", "drag.clean_slope", "0 ± 1 ft2", "normal", 0.5)
    area = first.value
    if section.best_glide is not None:
        speed = read.positive(section.best_glide.speed, "speed", "drag.best_glide.speed", "92 ± 3 kt")
        mass = read.positive(section.best_glide.weight, "mass", "drag.best_glide.weight", "3100 lb")
        area, _ = polar_from_best_glide(
            first.value, speed, mass, read.positive(document.geometry.span, "length", "geometry.span", "33.5 ft")
        )
    return Prior(0.0, 0.25 * area, "normal", "clean polars are not quite parabolas; width judged, no source")


def _flap_parameters(
    document: AirplaneDocument,
    read: _Reader,
    base: v.FloatArray,
    settings: Sequence[FlapSetting],
    max_mass_kg: float,
) -> list[Parameter]:
    wing = float(base[v.WING_AREA])
    areas = [_flap_area(flap, read, i, settings[i].angle_rad, wing) for i, flap in enumerate(document.flaps, start=1)]
    lifts = _lift_maxima(document, read, wing, max_mass_kg)
    out: list[Parameter] = []
    previous = 0.0
    for i, area in enumerate(areas, start=1):
        step = area.value - previous
        if step <= 0.0:
            raise BadInputError(
                "the drag area is not more than that of the setting before it",
                read.where(f"flaps / number {i} / area"),
                "give areas that grow with travel",
            )
        out.append(
            Parameter(
                f"flap_area.{i}",
                f"flap drag area, {settings[i - 1].name} to {settings[i].name}",
                Prior(step, step * area.sd / area.value, "lognormal", area.source),
                "ft2",
            )
        )
        previous = area.value
    for i, (flap, area) in enumerate(zip(document.flaps, areas, strict=True), start=1):
        slope = _area_slope(flap, read, i, area)
        out.append(Parameter(f"flap_lift_slope.{i}", f"flap area change per unit CL, {settings[i].name}", slope, "ft2"))
    for i, lift in enumerate(lifts):
        step = lift.value if i == 0 else max(lift.value - lifts[i - 1].value, 0.04)
        label = "CLmax clean" if i == 0 else f"CLmax gain, {settings[i - 1].name} to {settings[i].name}"
        out.append(Parameter(f"cl_max.{i}", label, Prior(step, lift.sd, "lognormal", lift.source)))
    out.append(Parameter("stall_rate_slope", "stall speed change with entry rate", STALL_RATE_SLOPE))
    return out


def _area_slope(flap: FlapSection, read: _Reader, i: int, area: Prior) -> Prior:
    """Return the belief in how a setting's area changes per unit CL: unknown within twice the area when not given."""
    if flap.area_slope is None:
        return Prior(-0.5 * area.value, 2.0 * area.value, "normal", "a flap moves the polar; width judged, no source")
    return read.prior(flap.area_slope, "area", f"flaps / number {i} / area_slope", "-3 ± 4 ft2", "normal", 0.5)


def _flap_area(flap: FlapSection, read: _Reader, i: int, angle_rad: float, wing_m2: float) -> Prior:
    """Return the belief for one setting; without a stated area, the textbook form with half its value as spread.

    ``lambda (cf/c)^1.38 (Sf/S) sin^2(delta)`` with lambda 1.3 (between slotted 0.9 and plain 1.7), cf/c 0.2,
    Sf/S 0.5: textbook flap-drag formula for profile drag.
    """
    if flap.area is not None:
        return read.prior(flap.area, "area", f"flaps / number {i} / area", "2.5 ± 1.5 ft2", "lognormal", 0.5)
    value = 1.3 * 0.2**1.38 * 0.5 * math.sin(angle_rad) ** 2 * wing_m2
    return Prior(value, 0.6 * value, "lognormal", "textbook flap-drag formula with invented-by-us typical flap, wide")


def _lift_maxima(document: AirplaneDocument, read: _Reader, wing_m2: float, max_mass_kg: float) -> list[Prior]:
    """Return CLmax beliefs, up first, from printed stall speeds at maximum weight; else typical values, wide."""
    texts = [("stall_speed_clean", document.stall_speed_clean)]
    texts += [(f"flaps / number {i} / stall_speed", flap.stall_speed) for i, flap in enumerate(document.flaps, start=1)]
    out: list[Prior] = []
    for i, (field, text) in enumerate(texts):
        if text is None:
            value = 1.4 if i == 0 else out[0].value + 0.55 * (i / (len(texts) - 1)) ** 0.5
            out.append(Prior(value, 0.2, "lognormal", "typical of light airplanes; from memory, no source"))
            continue
        speed, sd = read.measured(text, "speed", field, "55 ± 2 kt")
        if speed <= 0.0:
            raise BadInputError(f"{text!r} is not above zero", read.where(field), 'write "55 ± 2 kt"')
        lift = lift_coefficient_at(max_mass_kg, speed, wing_m2)
        out.append(Prior(lift, 2.0 * lift * (sd if sd is not None else 0.03 * speed) / speed, "lognormal", _FILE_SAYS))
    return out


def _power_parameters(document: AirplaneDocument, read: _Reader) -> list[Parameter]:
    section = document.propulsion
    text = section.efficiency_slope
    slope = (
        PROPELLER_SLOPE[section.propeller]
        if text is None
        else read.prior(
            text, "number", "propulsion.efficiency_slope", "0.1 ± 0.15", PROPELLER_SLOPE[section.propeller].kind, 0.5
        )
    )
    rated = read.prior(section.rated_power, "power", "propulsion.rated_power", "230 ± 5 hp", "lognormal", 0.03)
    disk = read.efficiency(section.disk_efficiency, "propulsion.disk_efficiency", "0.82 ± 0.05", 0.06)
    return [
        Parameter("efficiency_slope", "propeller slope with speed", slope),
        Parameter("disk_efficiency", "propeller efficiency beyond the ideal disk", disk),
        Parameter("rated_power", "rated power", rated, "hp"),
    ]


def _travel_parameters(document: AirplaneDocument, read: _Reader) -> list[Parameter]:
    entries: list[tuple[str, str, object]] = [
        ("flap_down_time", "flap travel, up to full", document.flap_travel.down_time),
        ("flap_up_time", "flap travel, full to up", document.flap_travel.up_time),
    ]
    if document.gear is not None:
        entries += [
            ("gear_down_time", "gear travel down", document.gear.down_time),
            ("gear_up_time", "gear travel up", document.gear.up_time),
        ]
    return [
        Parameter(key, label, read.prior(text, "time", key.replace("_", " "), "7 ± 2 s", "lognormal", 0.3), "s")
        for key, label, text in entries
    ]


def _instrument_parameters(document: AirplaneDocument, read: _Reader) -> list[Parameter]:
    section = document.instrument
    bias = read.prior(section.bias, "speed", "instrument.bias", "0 ± 2 kt", "normal")
    weight = read.not_negative(section.weight_error, "number", "instrument.weight_error", "0.01")
    return [
        Parameter("ias_bias", "airspeed indicator bias", bias, "kt"),
        Parameter(
            "mass_factor",
            "true weight over stated weight",
            Prior(1.0, max(weight, 1e-6), "normal", _FILE_SAYS),
        ),
    ]


def _instrument(document: AirplaneDocument, read: _Reader, settings: Sequence[FlapSetting]) -> Instrument:
    section = document.instrument
    return Instrument(
        reading_sd_mps=read.positive(section.reading, "speed", "instrument.reading", "1 kt"),
        clock_sd_s=read.positive(section.clock, "time", "instrument.clock", "0.5 s"),
        position_error=_position_error(document, read, settings),
    )


def _position_error(document: AirplaneDocument, read: _Reader, settings: Sequence[FlapSetting]) -> PositionErrorTable:
    rows = []
    for i, entry in enumerate(document.instrument.position_error, start=1):
        field = f"instrument / position_error / number {i}"
        angles = {setting.name.lower(): setting.angle_rad for setting in settings}
        if entry.flaps.lower() not in angles:
            raise BadInputError(
                f"{entry.flaps!r} is not a flap setting of this airplane",
                read.where(f"{field} / flaps"),
                f"use one of: {', '.join(setting.name for setting in settings)}",
            )
        if len(entry.indicated) != len(entry.calibrated) or not entry.indicated:
            raise BadInputError(
                "indicated and calibrated are not equally long",
                read.where(field),
                "give one calibrated speed for each indicated speed",
            )
        indicated = [read.positive(x, "speed", f"{field} / indicated", "90 kt") for x in entry.indicated]
        calibrated = [read.positive(x, "speed", f"{field} / calibrated", "91 kt") for x in entry.calibrated]
        corrections = tuple(c - x for c, x in zip(calibrated, indicated, strict=True))
        try:
            rows.append(
                PositionErrorRow(
                    flap_deg=angles[entry.flaps.lower()] / DEGREE,
                    gear=1.0 if entry.gear == "down" and document.gear is not None else 0.0,
                    indicated_mps=tuple(indicated),
                    correction_mps=corrections,
                )
            )
        except BadInputError as error:
            raise error.at(read.where(field)) from None
    if rows and not any(row.flap_deg == 0.0 and row.gear == 0.0 for row in rows):
        raise BadInputError(
            "no block covers the clean airplane",
            read.where("instrument / position_error"),
            'add a block with flaps = "up" and gear = "up"',
        )
    return PositionErrorTable(tuple(rows))


def _loading(document: AirplaneDocument, read: _Reader) -> Loading | None:
    section = document.loading
    if section is None:
        return None
    fuel = read.positive(section.fuel_weight_per_gallon, "mass", "loading.fuel_weight_per_gallon", "6.0 lb")

    names = [station.name for station in section.stations]
    for name in names:
        if names.count(name) > 1:
            raise BadInputError(
                f"the station {name!r} stands twice", read.where("loading / stations"), "give each its own name"
            )
    if 0 < len(section.envelope) < 3:
        raise BadInputError(
            f"an envelope of {len(section.envelope)} corners holds nothing",
            read.where("loading / envelope"),
            "give at least three corners, in order around it",
        )

    def arm(text: object, field: str) -> float:
        return read.measured(text, "length", field, "96 in")[0]

    return Loading(
        empty_mass_kg=read.positive(section.empty_weight, "mass", "loading.empty_weight", "2100 lb"),
        empty_arm_m=arm(section.empty_arm, "loading.empty_arm"),
        fuel_arm_m=arm(section.fuel_arm, "loading.fuel_arm"),
        fuel_density_kgm3=fuel / US_GALLON,
        stations=tuple(
            Station(
                s.name,
                arm(s.arm, f"loading / stations / {s.name}"),
                read.not_negative(s.weight, "mass", f"loading / stations / {s.name}", "170 lb"),
            )
            for s in section.stations
        ),
        envelope=tuple(
            (
                arm(x, f"loading / envelope / number {i}"),
                read.positive(m, "mass", f"loading / envelope / number {i}", "3200 lb"),
            )
            for i, (x, m) in enumerate(section.envelope, start=1)
        ),
    )
