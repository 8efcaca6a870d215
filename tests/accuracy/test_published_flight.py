"""A published flight measurement: its areas predict settled speeds, and runs made from them give its areas back.

Source: the U.S. Naval Academy technical note named in published_flight.py; there the runs are integrated independently.
The note's own points scatter by about half a square foot, which is the tolerance here.
"""

from __future__ import annotations

import functools

import numpy as np
import pytest

from tests.accuracy import published_flight as flight
from tests.accuracy.outside_airplane import taken_in
from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.estimate.findings import device_areas
from wringout.estimate.fit import fit
from wringout.estimate.posterior import draw
from wringout.units import DEGREE, KNOT, SQUARE_FOOT, STANDARD_GRAVITY

SCATTER_FT2 = 0.5
SEEDS = (0, 1, 2)
FULL = 32.0 * DEGREE
# With the assumed span efficiency this airplane glides best at 109 kt, so a run must be entered fast to settle at all.
PLANS = {
    "G1": flight.Plan(145.0, False, "gear"),
    "G2": flight.Plan(140.0, False, "gear"),
    "F1": flight.Plan(142.0, False, "flaps"),
    "F2": flight.Plan(138.0, False, "flaps"),
    "B1": flight.Plan(112.0, True, "flaps"),
    "B2": flight.Plan(108.0, True, "flaps"),
}

# Priors as wide as for any airplane: gear 4 ± 3 ft2; flaps from the textbook; and for the interaction nothing at all,
# since the usual belief of 0.3 comes from this very measurement.
AIRPLANE = """\
format = "wringout airplane, version 1"
name = "the retractable single of the note"

[geometry]
wing_area = "174 ft2"
span = "33.5 ft"

[propulsion]
propeller = "constant speed"
diameter = "76 in"
rated_power = "285 hp"

[drag]
best_glide = { ratio = "13.0 ± 0.4", speed = "109 ± 3 kt", weight = "3300 lb" }
gear_area = "4 ± 3 ft2"
interaction = "0 ± 0.5"

[[flaps]]
name = "half"
angle = "20 deg"

[[flaps]]
name = "full"
angle = "32 deg"

[gear]

[limits]
max_weight = "3300 lb"

[instrument]
reading = "1 kt"
clock = "0.5 s"
bias = "0 ± 0.5 kt"
"""


def beliefs() -> Beliefs:
    return airplane_from_document(parse_airplane(AIRPLANE))


def note_row() -> v.FloatArray:
    """Return the note's airplane as a parameter row: its areas, and a disk without losses."""
    row = beliefs().prior_row()
    row[v.F_CLEAN], row[v.CLEAN_SLOPE] = flight.CLEAN_FT2 * SQUARE_FOOT, 0.0
    row[v.OSWALD] = flight.EFFICIENCY
    row[v.F_GEAR], row[v.GEAR_BUMP] = flight.GEAR_FT2 * SQUARE_FOOT, 0.0
    row[v.KAPPA] = (flight.GEAR_FT2 + flight.FLAP_FT2 - flight.BOTH_FT2) / flight.GEAR_FT2
    row[v.EFFICIENCY_SLOPE] = 0.0
    full = flight.FLAP_FT2 * SQUARE_FOOT
    return v.with_flap_tables(row, [0.0, 20.0 * DEGREE, FULL], [0.0, full * (20.0 / 32.0) ** 2, full], [1.4, 1.8, 2.0])


@pytest.mark.parametrize("key", PLANS)
def test_the_published_areas_predict_the_settled_speed(key: str) -> None:
    plan, row = PLANS[key], note_row()
    weight, entry = flight.MASS_KG * STANDARD_GRAVITY, plan.entry_kt * KNOT
    gear = 1.0 if plan.gear_before else 0.0
    power = forces.reference_disk_power(row, forces.drag(row, entry, 1.225, weight, gear, 0.0), entry, 1.225)
    after = (1.0, 0.0) if plan.device == "gear" else (gear, FULL)
    settled = flight.settled_kt(plan) * KNOT
    thrust = forces.thrust(row, power, settled, 1.225)
    assert thrust == pytest.approx(forces.drag(row, settled, 1.225, weight, *after), rel=1e-6)
    assert flight.speeds_kt(plan, np.array([0.0, 600.0]))[-1] * KNOT == pytest.approx(settled, abs=0.05 * KNOT)


@functools.cache
def recovered() -> tuple[np.ndarray, np.ndarray]:
    """Return posterior medians (seeds, 4) and 95 % limits (seeds, 4, 2): gear, full flap, both, both less their sum."""
    before = beliefs()
    medians, limits = [], []
    for seed in SEEDS:
        rng = np.random.default_rng(seed)
        runs = [taken_in(key, flight.written_down(plan, rng), before) for key, plan in PLANS.items()]
        runs.append(taken_in("T1", flight.travel_times(rng), before))
        rows = draw(fit(before, runs), 1500, seed).rows
        at = np.array([95.0 * KNOT])
        gear, flap, both = (
            device_areas(rows, flight.MASS_KG, at, g, f)[:, 0] / SQUARE_FOOT
            for g, f in ((1.0, 0.0), (0.0, FULL), (1.0, FULL))
        )
        drawn = np.array([gear, flap, both, both - gear - flap])
        low, middle, high = np.percentile(drawn, [2.5, 50.0, 97.5], axis=1)
        medians.append(middle)
        limits.append(np.array([low, high]).T)
    return np.array(medians), np.array(limits)


PUBLISHED = {
    "gear": flight.GEAR_FT2,
    "full flap": flight.FLAP_FT2,
    "both": flight.BOTH_FT2,
    "both less their sum": flight.BOTH_FT2 - flight.GEAR_FT2 - flight.FLAP_FT2,
}


def test_the_published_differences_are_the_ones_used() -> None:
    assert list(PUBLISHED.values()) == pytest.approx([4.286, 6.700, 9.592, -1.394], abs=0.006)


@pytest.mark.parametrize("i", range(4), ids=list(PUBLISHED))
def test_runs_made_from_the_published_areas_give_them_back(i: int) -> None:
    truth = list(PUBLISHED.values())[i]
    medians, limits = recovered()
    assert abs(np.mean(medians[:, i]) - truth) < SCATTER_FT2, medians[:, i]
    assert np.all(np.abs(medians[:, i] - truth) < 2.0 * SCATTER_FT2), medians[:, i]
    assert np.all((limits[:, i, 0] <= truth) & (truth <= limits[:, i, 1])), limits[:, i]


def test_gear_and_flap_do_not_add() -> None:
    _, limits = recovered()
    assert np.all(limits[:, 3, 1] < 0.0), limits[:, 3]
