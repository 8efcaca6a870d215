"""From the user's airplane file to beliefs: units to SI, printed figures to priors, each with its source in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs, FlapSetting, Instrument, Parameter
from wringout.airplane.distribution import Prior
from wringout.airplane.document import AirplaneDocument
from wringout.airplane.field_reader import FILE_SAYS, FieldReader
from wringout.airplane.flap_priors import flap_parameters
from wringout.airplane.limits import Limits
from wringout.airplane.loading import Loading, Station
from wringout.airplane.textbook import (
    ALTITUDE_LAW_NORMAL,
    FLAT_RATED,
    PROPELLER_SLOPE,
    SPAN_EFFICIENCY,
    THRUST_BEND,
    lift_slope_per_rad,
    polar_from_best_glide,
)
from wringout.airspeed import PositionErrorRow, PositionErrorTable
from wringout.errors import BadInputError
from wringout.units import DEGREE, US_GALLON

CL_REFERENCE = 0.5
LEAN_SHARE = 0.6
"""Spread of the clean polar's lean per unit CL, as a share of the clean area (judged, no source). Three airplanes of
JSBSim's wheel lean by 1.6, 2.8 and -1.9 times their CD0 where they glide; a quarter, believed before, took their polars
for parabolas, and answers from glides, pairs and accelerations were then too sure."""
MOST_FLAP_RAD = 90.0 * DEGREE
_JUDGED = "not in the file; judged, no source"
_WIDE = "not in the file; judged, wide, no source"
_LEFT_OUT = {
    "gear_area": ("drag", "gear_area", _WIDE),
    "door_bump": ("drag", "door_bump", _JUDGED),
    "interaction": ("drag", "interaction", "not in the file; U.S. Naval Academy note on partial-span flaps, wide"),
    "disk_efficiency": ("propulsion", "disk_efficiency", _JUDGED),
    "gear_down_time": ("gear", "down_time", _WIDE),
    "gear_up_time": ("gear", "up_time", _WIDE),
    "flap_down_time": ("flap_travel", "down_time", _WIDE),
    "flap_up_time": ("flap_travel", "up_time", _WIDE),
    "ias_bias": ("instrument", "bias", _JUDGED),
    "mass_factor": ("instrument", "weight_error", _JUDGED),
}
"""Section and field behind a parameter, and where its belief comes from when the file leaves that field out."""


def airplane_from_document(document: AirplaneDocument, name: str = "airplane.toml") -> Beliefs:
    """Return the beliefs of a checked airplane document.

    Raises BadInputError (one sentence, file and field) for a wrong or missing unit, a number out of range, flap
    settings out of order or limits that contradict each other.
    """
    read = FieldReader(name)
    base = _base_row(document, read)
    settings = _settings(document, read)
    limits = _limits(document, read)
    parameters = _said_where_from(
        document,
        [
            *_drag_parameters(document, read),
            *flap_parameters(document, read, base, settings, limits.max_mass_kg),
            *_power_parameters(document, read),
            *_travel_parameters(document, read),
            *_instrument_parameters(document, read),
        ],
    )
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


def _said_where_from(document: AirplaneDocument, parameters: Sequence[Parameter]) -> list[Parameter]:
    """Return the parameters, those whose field the file leaves out with the source of what stands in its place."""
    out = []
    for parameter in parameters:
        section, field, instead = _LEFT_OUT.get(parameter.key, ("", "", ""))
        if field and field not in getattr(document, section).model_fields_set:
            parameter = replace(parameter, prior=replace(parameter.prior, source=instead))
        out.append(parameter)
    return out


def _base_row(document: AirplaneDocument, read: FieldReader) -> v.FloatArray:
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


def _settings(document: AirplaneDocument, read: FieldReader) -> tuple[FlapSetting, ...]:
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


def _limits(document: AirplaneDocument, read: FieldReader) -> Limits:
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


def _drag_parameters(document: AirplaneDocument, read: FieldReader) -> list[Parameter]:
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


def _clean_slope(document: AirplaneDocument, read: FieldReader, first: Prior) -> Prior:
    """Return the belief in how the clean area leans with CL: none, within LEAN_SHARE of the area, when not given.

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
    return Prior(0.0, LEAN_SHARE * area, "normal", "clean polars are not quite parabolas; width judged, no source")


def _power_parameters(document: AirplaneDocument, read: FieldReader) -> list[Parameter]:
    section = document.propulsion
    text = section.efficiency_slope
    slope = (
        PROPELLER_SLOPE[section.propeller]
        if text is None
        else read.prior(
            text, "number", "propulsion.efficiency_slope", "0.1 ± 0.15", PROPELLER_SLOPE[section.propeller].kind, 0.5
        )
    )
    bend = (
        THRUST_BEND
        if section.thrust_bend is None
        else read.prior(section.thrust_bend, "number", "propulsion.thrust_bend", "0 ± 0.6", "normal", 0.5)
    )
    rated = read.prior(section.rated_power, "power", "propulsion.rated_power", "230 ± 5 hp", "lognormal", 0.03)
    disk = read.efficiency(section.disk_efficiency, "propulsion.disk_efficiency", "0.82 ± 0.05", 0.06)
    return [
        Parameter("efficiency_slope", "propeller slope with speed", slope),
        Parameter("thrust_bend", "bend of thrust with speed", bend),
        Parameter("disk_efficiency", "propeller efficiency beyond the ideal disk", disk),
        Parameter("rated_power", "rated power", rated, "hp"),
    ]


def _travel_parameters(document: AirplaneDocument, read: FieldReader) -> list[Parameter]:
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


def _instrument_parameters(document: AirplaneDocument, read: FieldReader) -> list[Parameter]:
    section = document.instrument
    bias = read.prior(section.bias, "speed", "instrument.bias", "0 ± 2 kt", "normal")
    weight = read.not_negative(section.weight_error, "number", "instrument.weight_error", "0.01")
    return [
        Parameter("ias_bias", "airspeed indicator bias", bias, "kt"),
        Parameter(
            "mass_factor",
            "true weight over stated weight",
            Prior(1.0, max(weight, 1e-6), "normal", FILE_SAYS),
        ),
    ]


def _instrument(document: AirplaneDocument, read: FieldReader, settings: Sequence[FlapSetting]) -> Instrument:
    section = document.instrument
    return Instrument(
        reading_sd_mps=read.positive(section.reading, "speed", "instrument.reading", "1 kt"),
        clock_sd_s=read.positive(section.clock, "time", "instrument.clock", "0.5 s"),
        position_error=_position_error(document, read, settings),
    )


def _position_error(
    document: AirplaneDocument, read: FieldReader, settings: Sequence[FlapSetting]
) -> PositionErrorTable:
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


def _loading(document: AirplaneDocument, read: FieldReader) -> Loading | None:
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
