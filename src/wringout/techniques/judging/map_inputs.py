"""The uncertain inputs of a map's cell by name, and the ranking of what would settle it."""

from __future__ import annotations

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import SCALAR_COLUMNS
from wringout.errors import BadInputError
from wringout.techniques.flying import layout as k
from wringout.techniques.flying.scores import SCORE_INDEX, SCORES
from wringout.techniques.judging.maps import MapStudy, fly_at, inputs_at
from wringout.techniques.judging.sensitivity import Share, ranking
from wringout.techniques.stated.types import FloatArray

_FELT = (
    "clean_area",
    "span_efficiency",
    "clean_slope",
    "gear_area",
    "door_bump",
    "interaction",
    "disk_efficiency",
    "efficiency_slope",
    "thrust_bend",
    "rated_power",
    "gear_up_time",
    "flap_up_time",
    "mass_factor",
)
_COLUMNS = {key: SCALAR_COLUMNS[key] for key in _FELT} | {"cl_max": v.CL_MAXES}
_CONDITIONS = {"weight": k.C_MASS, "isa_deviation": k.C_ISA_DEVIATION, "entry_speed": k.C_ENTRY}


def named_inputs(rows: FloatArray, conditions: FloatArray, actions: int) -> dict[str, FloatArray]:
    """Return the inputs of the draws by name; ``flap_area.1`` is the first setting from up, ``reaction.1`` a delay."""
    found = {key: rows[:, column] for key, column in _COLUMNS.items()}
    for setting in range(1, int(rows[0, v.SETTINGS])):
        found[f"flap_area.{setting}"] = rows[:, v.F_FLAPS + setting]
        found[f"flap_lift_slope.{setting}"] = rows[:, v.FLAP_SLOPES + setting]
        found[f"flap_floor.{setting}"] = rows[:, v.FLAP_FLOORS + setting]
        found[f"cl_gain.{setting}"] = rows[:, v.CL_MAXES + setting] - rows[:, v.CL_MAXES]
    found |= {key: conditions[:, column] for key, column in _CONDITIONS.items()}
    found["density_altitude"] = conditions[:, k.C_ALTITUDE]
    for place in range(actions):
        found[f"reaction.{place + 1}"] = conditions[:, k.C_REACTIONS + place]
    return found


def cell_sensitivity(study: MapStudy, cell: int, first: int, second: int) -> list[Share]:
    """Return what would settle two techniques in a cell, by their numbers; see :func:`sensitivity.ranking`.

    Raises:
        BadInputError: a technique the map does not have, or a difference that is not finite in all draws.
    """
    if not (0 <= first < len(study.techniques) and 0 <= second < len(study.techniques)) or first == second:
        raise BadInputError("two different techniques are needed", "sensitivity", "name them by their place")
    at = study.at(cell)
    pair = (study.techniques[first], study.techniques[second])
    index = SCORE_INDEX[study.thresholds.score]
    values = fly_at(study, at, pair)[:, :, index]
    both = np.isinf(values).all(axis=1)
    values[both] = 0.0
    gain = (values[:, 0] - values[:, 1]) * (1.0 if SCORES[index].larger_is_better else -1.0)
    rows, conditions = inputs_at(study, at)
    inputs = named_inputs(rows, conditions, max(len(t.actions) for t in pair))
    return ranking(inputs, gain, study.thresholds.difference, study.thresholds.probability)
