"""Where excess power peaks by the fitted airplane, its uncertainty widened by what the curve of speed alone says."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.atmosphere import density_kgm3
from wringout.methods.level_acceleration.run import AccelerationRun
from wringout.methods.level_deceleration.method import with_propeller
from wringout.methods.power_words import disk_power_w
from wringout.methods.types import FloatArray, HandResult
from wringout.propagation import Measured
from wringout.units import KNOT, STANDARD_GRAVITY

POINTS = 81
BELOW, ABOVE = 0.8, 1.1
"""How far beyond the speeds flown a peak is looked for, over the slowest and the fastest."""
APART_SDS = 2.0
DRAWS, LAWS = "airplane as fitted", "laws against the curve of speed alone"


def fitted_peak(
    run: AccelerationRun, rows: FloatArray, nuisances: FloatArray, by_hand: Sequence[HandResult]
) -> list[HandResult]:
    """Return the speed of best rate by draws of the fitted airplane; none where the curve alone gave no answer.

    ``rows`` (n, SIZE) and ``nuisances`` (n, 4) are draws of the joint fit. It and the answer by hand rest on the same
    readings and differ in the laws alone; so their difference is counted as an uncertainty of the laws, whole.
    """
    named = {result.key: result for result in by_hand}
    if "best-rate speed" not in named:
        return []
    alone = named["best-rate speed"].value.value
    flown = [named[f"excess power, {end} end"].speed_mps for end in ("slow", "fast")]
    speeds = np.linspace(BELOW * flown[0], ABOVE * flown[1], POINTS)
    peaks = np.array([_peak(run, *one, speeds) for one in zip(rows, nuisances, strict=True)]) / KNOT
    middle, sd = float(np.median(peaks)), float(np.std(peaks))
    apart = abs(middle - alone)
    value = Measured(middle, math.hypot(sd, apart), "kt", {DRAWS: sd, LAWS: apart})
    sentence = (
        "True airspeed where the excess power of the fitted airplane peaks; what it differs from the curve of speed "
        "alone is put to the laws and counted in its uncertainty."
    )
    if apart > APART_SDS * sd:
        sentence += " The laws do not follow this curve well: trust the curve alone."
    if not flown[0] < middle * KNOT < flown[1]:
        sentence += " It lies beyond the speeds flown."
    title = "Speed of best rate of climb, true, by the fitted airplane"
    return [HandResult("best-rate speed, fitted", title, 3, False, value, middle * KNOT, sentence)]


def _peak(run: AccelerationRun, row: FloatArray, nuisance: FloatArray, speeds: FloatArray) -> float:
    """Return the true airspeed, m/s, where thrust less drag times speed is greatest, for one airplane."""
    air = run.conditions
    density = float(density_kgm3(air.pressure_altitude_m, air.isa_deviation_k))
    weight = air.mass_kg * float(row[v.MASS_FACTOR]) * STANDARD_GRAVITY
    power = disk_power_w(row, run.power.kind, float(run.power.shaft_w[0]), density, float(nuisance[1]))
    moved = with_propeller(row, float(nuisance[3]))
    gear, flap = run.entry_gear, run.entry_flap_rad
    excess = np.array(
        [
            (forces.thrust(moved, power, s, density) - forces.drag(moved, s, density, weight, gear, flap)) * s
            for s in speeds.tolist()
        ]
    )
    top = int(np.clip(np.argmax(excess), 1, speeds.size - 2))
    low, middle, high = excess[top - 1 : top + 2]
    bend = low - 2.0 * middle + high
    inside = float(np.clip(0.5 * (low - high) / bend, -1.0, 1.0)) if bend < 0.0 else 0.0
    return float(speeds[top] + inside * (speeds[1] - speeds[0]))
