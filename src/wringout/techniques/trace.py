"""One trajectory in time, for figures and for looking closely: the batch kernel's own path with its nodes kept."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from wringout.airplane.forces import flap_area, gear_area, lift_coefficient, parasite_area
from wringout.airplane.vector import LIFT_SLOPE, WING_AREA
from wringout.airspeed import calibrated_from_equivalent
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3
from wringout.techniques import layout as k
from wringout.techniques.checks import check_study
from wringout.techniques.conditions import conditions_row
from wringout.techniques.kernel import MAX_EVENTS, fly
from wringout.techniques.laws import density_at
from wringout.techniques.limits import NO_LIMITS, limits_row
from wringout.techniques.scores import SCORE_COUNT, stall_ratio
from wringout.techniques.start import prepare
from wringout.techniques.types import (
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

BATCH_STEP_S = 0.5
"""Longest step of a matchup, s."""
FIGURE_STEP_S = 0.1
"""Longest step of a trajectory that is drawn, s."""

_DENSITY, _STALL_RATIO, _PITCH, _CLEAN_AREA, _GEAR_AREA, _FLAP_AREA, _DERIVED = range(7)


def fly_one(
    row: FloatArray,
    situation: GoAround,
    conditions: Conditions,
    technique: Technique,
    law: Law,
    limits: FlightLimits = NO_LIMITS,
    longest_step_s: float = FIGURE_STEP_S,
) -> Trace:
    """Fly one technique on one airplane and keep its time history.

    Args:
        row: parameter row, shape (SIZE,).
        situation: the approach and the pilot.
        conditions: mass, air, entry speed (in the situation's unit) and reaction delays.
        technique: what the hands do.
        law: how pitch is flown.
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
    situation: GoAround,
    conditions: FloatArray,
    technique: Technique,
    law: Law,
    limits: FlightLimits,
    longest_step_s: float,
) -> Trace:
    """Fly one technique on one row of conditions, already checked, and keep its time history."""
    g, s, score = k.situation_row(situation), np.empty(k.S_SIZE), np.empty(SCORE_COUNT)
    made = np.empty(len(technique.actions))
    corners = 4 * MAX_EVENTS + 64
    nodes = np.empty((math.ceil(situation.duration_s / longest_step_s) + corners, k.N_SIZE))
    prepare(row, g, conditions, s)
    actions, law_stages = k.action_rows(technique), k.law_rows(law)
    count = fly(row, g, conditions, s, actions, law_stages, limits_row(limits, row), longest_step_s, score, made, nodes)
    nodes = nodes[:count]
    derived = np.empty((len(nodes), _DERIVED))
    _derive(row, s, nodes, derived)
    eas = nodes[:, k.N_SPEED] * np.sqrt(derived[:, _DENSITY] / SEA_LEVEL_DENSITY_KGM3)
    altitude = conditions[k.C_ALTITUDE] + nodes[:, k.N_HEIGHT]
    return Trace(
        technique=technique.key,
        law=law,
        t_s=nodes[:, k.N_TIME],
        height_m=nodes[:, k.N_HEIGHT],
        distance_m=nodes[:, k.N_DISTANCE],
        tas_mps=nodes[:, k.N_SPEED],
        cas_mps=np.asarray(calibrated_from_equivalent(eas, altitude)),
        energy_height_m=_energy_height(nodes),
        climb_rate_mps=nodes[:, k.N_CLIMB],
        stall_ratio=derived[:, _STALL_RATIO],
        load_factor=nodes[:, k.N_LIFT] / s[k.S_WEIGHT],
        path_rad=nodes[:, k.N_PATH],
        pitch_rad=derived[:, _PITCH],
        gear=nodes[:, k.N_GEAR],
        flap_rad=nodes[:, k.N_FLAP],
        thrust_n=nodes[:, k.N_THRUST],
        drag_n=nodes[:, k.N_DRAG],
        clean_area_m2=derived[:, _CLEAN_AREA],
        gear_area_m2=derived[:, _GEAR_AREA],
        flap_area_m2=derived[:, _FLAP_AREA],
        action_times_s=made,
        scores=score,
    )


def _energy_height(nodes: FloatArray) -> FloatArray:
    """Return the gain of ``h + V^2 / 2g`` since the start, m."""
    speed = nodes[:, k.N_SPEED]
    return np.asarray(nodes[:, k.N_HEIGHT] + (speed**2 - speed[0] ** 2) / (2.0 * STANDARD_GRAVITY))


@njit(cache=True, error_model="numpy")
def _derive(a: FloatArray, s: FloatArray, nodes: FloatArray, out: FloatArray) -> None:
    """Fill density, V/Vs, pitch and device areas for each node."""
    for i in range(len(nodes)):
        node = nodes[i]
        density = density_at(s, node[k.N_HEIGHT])
        dynamic_area = 0.5 * density * node[k.N_SPEED] * node[k.N_SPEED] * a[WING_AREA]
        cl, asked = node[k.N_LIFT] / dynamic_area, node[k.N_LIFT_ASKED] / dynamic_area
        out[i, _DENSITY] = density
        out[i, _STALL_RATIO] = stall_ratio(node)
        out[i, _PITCH] = node[k.N_PATH] + (asked - lift_coefficient(a, 0.0, node[k.N_FLAP])) / a[LIFT_SLOPE]
        out[i, _GEAR_AREA] = gear_area(a, node[k.N_GEAR], node[k.N_FLAP])
        out[i, _FLAP_AREA] = flap_area(a, node[k.N_FLAP], cl)
        whole = parasite_area(a, node[k.N_GEAR], node[k.N_FLAP], cl)
        out[i, _CLEAN_AREA] = whole - out[i, _GEAR_AREA] - out[i, _FLAP_AREA]
