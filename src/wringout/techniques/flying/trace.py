"""One trajectory in time, for figures and for looking closely: the batch kernel's own path with its nodes kept."""

from __future__ import annotations

import math

import numpy as np

from wringout.airplane.forces import flap_area, gear_area, parasite_area
from wringout.airplane.vector import LIFT_SLOPE, MASS_FACTOR, WING_AREA
from wringout.airspeed import calibrated_from_equivalent
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3
from wringout.techniques.flying import kernel as n
from wringout.techniques.flying.batch import Batch, Precision, fly_cases
from wringout.techniques.flying.checks import check_study
from wringout.techniques.flying.conditions import conditions_row
from wringout.techniques.flying.layout import C_ALTITUDE, C_DENSITY, C_TEMPERATURE
from wringout.techniques.flying.limits import NO_LIMITS
from wringout.techniques.flying.pace import STEP_S
from wringout.techniques.flying.start import air_series
from wringout.techniques.stated.go_arounds import go_around
from wringout.techniques.stated.procedure import Procedure
from wringout.techniques.stated.types import (
    MAX_ACTIONS,
    Conditions,
    Domain,
    FlightLimits,
    FloatArray,
    GoAround,
    Law,
    Technique,
    Trace,
)
from wringout.units import STANDARD_GRAVITY

BATCH_STEP_S = STEP_S
"""Longest step of a matchup, s."""
FIGURE_STEP_S = 0.1
"""Longest step of a trajectory that is drawn, s."""


def fly_one(
    row: FloatArray,
    situation: GoAround | Procedure,
    conditions: Conditions,
    technique: Technique,
    law: Law = Law.HOLD_SPEED,
    limits: FlightLimits = NO_LIMITS,
    longest_step_s: float = FIGURE_STEP_S,
) -> Trace:
    """Fly one technique on one airplane and keep its time history.

    Args:
        row: parameter row, shape (SIZE,).
        situation: the approach and the pilot, or any procedure.
        conditions: mass, air, entry speed (in the situation's unit) and reaction delays.
        technique: what the hands do.
        law: how pitch is flown in a go-around; a procedure has stages of its own.
        limits: limit speeds for the score of exceedances.
        longest_step_s: longest integration step; nodes are at most this far apart.

    Raises:
        BadInputError: something that cannot be flown, with the offending action or field named.
    """
    at = conditions
    domain = Domain(
        (at.mass_kg, at.mass_kg),
        (at.pressure_altitude_m, at.pressure_altitude_m),
        (at.isa_deviation_k, at.isa_deviation_k),
        (at.entry_speed, at.entry_speed),
    )
    check_study(row[np.newaxis], situation, domain, (technique,), limits)
    return trace_of(row, situation, conditions_row(situation, at), technique, law, limits, longest_step_s)


def trace_of(
    row: FloatArray,
    situation: GoAround | Procedure,
    conditions: FloatArray,
    technique: Technique,
    law: Law,
    limits: FlightLimits,
    longest_step_s: float,
) -> Trace:
    """Fly one technique on one row of conditions, already checked, and keep its time history."""
    procedure = go_around(situation, law) if isinstance(situation, GoAround) else situation
    batch = Batch.paired(row[np.newaxis], (procedure,), conditions[np.newaxis], (technique,), limits)
    corners = 400
    room = np.empty((math.ceil(procedure.duration_s / longest_step_s) + corners, n.NODE_SIZE))
    made = np.empty(MAX_ACTIONS)
    scores, count = fly_cases(batch, 0, 1, longest_step_s, precision=Precision.FLOAT64, made=made, trace=room)
    nodes = room[:count]
    speed, path, height, distance = nodes[:, n.NODE_STATE : n.NODE_STATE + 4].T
    first, second = air_series(conditions[C_TEMPERATURE], 1.0)
    density = conditions[C_DENSITY] * (1.0 + height * (first + height * second))
    eas = speed * np.sqrt(density / SEA_LEVEL_DENSITY_KGM3)
    lift, most, asked = nodes[:, n.NODE_LIFT], nodes[:, n.NODE_MOST], nodes[:, n.NODE_ASKED]
    pressure_area = 0.5 * density * speed**2 * row[WING_AREA]
    areas = _areas(row, nodes[:, n.NODE_GEAR], nodes[:, n.NODE_FLAP], lift / pressure_area)
    weight = lift_weight(row, conditions)
    return Trace(
        technique=technique.key,
        law=law,
        t_s=nodes[:, n.NODE_TIME],
        height_m=height,
        distance_m=distance,
        tas_mps=speed,
        cas_mps=np.asarray(calibrated_from_equivalent(eas, conditions[C_ALTITUDE] + height)),
        energy_height_m=np.asarray(height + (speed**2 - speed[0] ** 2) / (2.0 * STANDARD_GRAVITY)),
        climb_rate_mps=nodes[:, n.NODE_CLIMB],
        stall_ratio=np.sqrt(most / np.maximum(lift, 1e-3 * most)),
        load_factor=lift / weight,
        path_rad=path,
        pitch_rad=path + (asked / pressure_area - nodes[:, n.NODE_SHIFT]) / row[LIFT_SLOPE],
        gear=nodes[:, n.NODE_GEAR],
        flap_rad=nodes[:, n.NODE_FLAP],
        thrust_n=nodes[:, n.NODE_THRUST],
        drag_n=nodes[:, n.NODE_DRAG],
        clean_area_m2=areas[0],
        gear_area_m2=areas[1],
        flap_area_m2=areas[2],
        action_times_s=made[: len(technique.actions)],
        scores=scores[0],
        power=nodes[:, n.NODE_POWER],
        weight_n=weight,
    )


def lift_weight(row: FloatArray, conditions: FloatArray) -> float:
    """Return the weight, N, of a row of conditions: stated mass times the airplane's mass factor."""
    return float(conditions[0] * row[MASS_FACTOR] * STANDARD_GRAVITY)


def _areas(row: FloatArray, gear: FloatArray, flap: FloatArray, cl: FloatArray) -> FloatArray:
    """Return the drag areas of the clean airplane, the gear and the flaps at each node, shape (3, nodes), m2."""
    found = np.array(
        [
            (parasite_area(row, g, f, c), gear_area(row, g, f), flap_area(row, f, c))
            for g, f, c in zip(gear, flap, cl, strict=True)
        ]
    ).reshape(-1, 3)
    return np.array([found[:, 0] - found[:, 1] - found[:, 2], found[:, 1], found[:, 2]])
