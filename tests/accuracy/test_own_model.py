"""The estimator on its own model: intervals hold as often as they say when the model is exactly right.

A self-test, no outside truth: airplanes are drawn from the very belief that the fit starts from, their runs are made by
the methods' own ``simulate``. It tells a wrong covariance or a lost nuisance from a wrong model, which the other files
here look at.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence

import numpy as np
import pytest

from tests.accuracy.outside_airplane import taken_in
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.estimate.findings import device_areas
from wringout.estimate.fit import fit
from wringout.estimate.posterior import draw
from wringout.estimate.problem import StudyRun
from wringout.units import KNOT, POUND

REPEATS = 30
MASS_KG = 3000.0 * POUND

# Invented, and narrower than a user would write, so that drawn airplanes fly and settle.
AIRPLANE = """\
format = "wringout airplane, version 1"
name = "Quillback 230 (invented)"
invented = true

[geometry]
wing_area = "174 ft2"
span = "33.5 ft"

[propulsion]
propeller = "constant speed"
diameter = "76 in"
rated_power = "230 ± 5 hp"
efficiency_slope = "0.1 ± 0.1"

[drag]
best_glide = { ratio = "11.0 ± 0.4", speed = "93 ± 2 kt", weight = "3200 lb" }
clean_slope = "0 ± 0.5 ft2"
gear_area = "4.5 ± 0.9 ft2"
interaction = "0.3 ± 0.1"

[[flaps]]
name = "half"
angle = "20 deg"
area = "2.2 ± 0.4 ft2"
area_slope = "-1 ± 0.7 ft2"

[[flaps]]
name = "full"
angle = "40 deg"
area = "6 ± 1.2 ft2"
area_slope = "-3 ± 1.5 ft2"

[flap_travel]
down_time = "6 ± 1 s"
up_time = "6 ± 1 s"

[gear]
down_time = "7 ± 1 s"
up_time = "7 ± 1 s"

[limits]
max_weight = "3200 lb"

[instrument]
bias = "0 ± 0.7 kt"
"""

DECELERATION = """\
# method: level deceleration
# altitude: 6000 ft
# weight: 3000 lb
# altitude held: 40 ft
time, speed, mark
"""
TIMINGS = "# method: transit timing\ndevice, from, to, seconds\n" + "gear, up, down, 7.1\nflaps, up, full, 6.1\n" * 3


def planned(beliefs: Beliefs) -> list[StudyRun]:
    """Return the runs as planned, their readings still blank: everything at the entry speed."""
    runs = []
    for key, said, entry in (("G1", "gear down", 120), ("F1", "flaps full", 106)):
        rows = [f"{t}, {entry}{f', {said}' if t == 12 else ''}" for t in range(0, 115, 6)]
        runs.append(taken_in(key, DECELERATION + "\n".join(rows) + "\n", beliefs))
    return [*runs, taken_in("T1", TIMINGS, beliefs)]


@functools.cache
def ranks() -> dict[str, np.ndarray]:
    """Return, for each quantity, the share of posterior draws below the truth, one for each repeat."""
    beliefs = airplane_from_document(parse_airplane(AIRPLANE))
    runs = planned(beliefs)
    full = beliefs.settings[-1].angle_rad
    found: dict[str, list[float]] = {}
    for seed in range(REPEATS):
        rng = np.random.default_rng(seed)
        truth = beliefs.row_from_latent(rng.standard_normal(len(beliefs.parameters)))
        flown = [StudyRun(r.method.simulate(r.run, truth, beliefs, rng), r.method) for r in runs]
        rows = draw(fit(beliefs, flown), 800, seed).rows
        for name, gear, flap, knots in (
            ("gear at 100 kt", 1.0, 0.0, 100.0),
            ("full flap at 100 kt", 0.0, full, 100.0),
            ("full flap at 80 kt", 0.0, full, 80.0),
        ):
            at = np.array([knots * KNOT])
            mine = device_areas(rows, MASS_KG, at, gear, flap)[:, 0]
            real = device_areas(truth[np.newaxis], MASS_KG, at, gear, flap)[0, 0]
            found.setdefault(name, []).append(float(np.mean(mine < real)))
    return {name: np.array(values) for name, values in found.items()}


QUANTITIES: Sequence[str] = ("gear at 100 kt", "full flap at 100 kt", "full flap at 80 kt")


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_intervals_hold_as_often_as_they_say(quantity: str) -> None:
    """Bounds are where a right estimator falls in all but 1 of about 500 tries (binomial, 30 repeats)."""
    rank = ranks()[quantity]
    inside_most = int(np.sum((rank > 0.025) & (rank < 0.975)))
    inside_half = int(np.sum((rank > 0.25) & (rank < 0.75)))
    assert inside_most >= 24, inside_most  # P(X <= 23 | 30, 0.95) = 0.0006
    assert 7 <= inside_half <= 23, inside_half  # P outside = 0.0014


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_truths_fall_on_both_sides_alike(quantity: str) -> None:
    assert 0.3 < np.mean(ranks()[quantity]) < 0.7  # a uniform rank has mean 0.5 ± 0.053, so four of those
