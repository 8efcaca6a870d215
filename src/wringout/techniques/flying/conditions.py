"""The conditions of each draw: sampled once, used for every technique and every pilot law (common random numbers)."""

from __future__ import annotations

import math

import numpy as np

from wringout.airspeed import equivalent_from_calibrated
from wringout.atmosphere import density_kgm3, temperature_k
from wringout.techniques.flying import layout as k
from wringout.techniques.stated.procedure import Procedure
from wringout.techniques.stated.types import MAX_ACTIONS, Conditions, Domain, FloatArray, GoAround, Range

_REFERENCE_CAS_MPS = 40.0
"""Speed at which EAS over CAS is taken for gates and limits: within 0.02 m/s from 25 to 60 m/s below 3,000 m."""


def sample_conditions(situation: GoAround | Procedure, domain: Domain, draws: int, seed: int) -> FloatArray:
    """Return conditions for every draw, shape (draws, ``len(CONDITION_NAMES)``).

    Mass, pressure altitude, ISA deviation and entry speed are uniform over the domain; reaction delays are lognormal
    with the situation's mean and standard deviation, one for each place in the order of actions.
    """
    rng = np.random.default_rng(seed)
    shares = rng.random((draws, 4))
    normals = rng.standard_normal((draws, MAX_ACTIONS))
    ranges = (domain.mass_kg, domain.pressure_altitude_m, domain.isa_deviation_k, domain.entry_speed)
    stated = np.column_stack([low + (high - low) * shares[:, j] for j, (low, high) in enumerate(ranges)]).reshape(
        draws, 4
    )
    return conditions_at(situation, stated, _lognormal(situation.reaction_s, normals))


def conditions_row(situation: GoAround | Procedure, conditions: Conditions) -> FloatArray:
    """Return the conditions of one trajectory as a row, shape (``len(CONDITION_NAMES)``,)."""
    stated = np.array(
        [
            [
                conditions.mass_kg,
                conditions.pressure_altitude_m,
                conditions.isa_deviation_k,
                conditions.entry_speed,
            ]
        ]
    )
    reactions = np.zeros((1, MAX_ACTIONS))
    reactions[0, : len(conditions.reactions_s)] = conditions.reactions_s
    return np.asarray(conditions_at(situation, stated, reactions)[0])


def conditions_of(row: FloatArray) -> Conditions:
    """Return one row of conditions as a value."""
    reactions = tuple(float(x) for x in row[k.C_REACTIONS :])
    mass, altitude, deviation, entry = (float(x) for x in row[:4])
    return Conditions(mass, altitude, deviation, entry, reactions)


def conditions_at(situation: GoAround | Procedure, stated: FloatArray, reactions: FloatArray) -> FloatArray:
    """Return rows of conditions; ``stated``: mass, pressure altitude, ISA deviation, entry speed, SI, (rows, 4)."""
    out = np.empty((len(stated), k.C_SIZE))
    out[:, :4] = stated
    altitude, deviation = stated[:, k.C_ALTITUDE], stated[:, k.C_ISA_DEVIATION]
    out[:, k.C_DENSITY] = density_kgm3(altitude, deviation)
    out[:, k.C_TEMPERATURE] = temperature_k(altitude, deviation)
    out[:, k.C_ENTRY_EAS] = math.nan
    if not k.entry_is_factor(situation):
        out[:, k.C_ENTRY_EAS] = equivalent_from_calibrated(stated[:, k.C_ENTRY], altitude)
    reference = np.full(len(stated), _REFERENCE_CAS_MPS)
    out[:, k.C_EAS_PER_CAS] = equivalent_from_calibrated(reference, altitude) / reference
    out[:, k.C_REACTIONS :] = reactions
    return out


def _lognormal(mean_and_sd: Range, normals: FloatArray) -> FloatArray:
    """Return lognormal values of a mean and standard deviation from standard normal ones; a mean of 0 gives 0."""
    mean, sd = mean_and_sd
    if mean == 0.0:
        return np.zeros_like(normals)
    variance = math.log1p((sd / mean) ** 2)
    return np.asarray(mean * np.exp(math.sqrt(variance) * normals - 0.5 * variance))
