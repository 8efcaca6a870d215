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

from tests.accuracy.known_airplane import MASS_KG, decelerations, known_airplane
from tests.accuracy.outside_airplane import taken_in
from wringout.airplane.beliefs import Beliefs
from wringout.estimate.findings import device_areas
from wringout.estimate.fit import fit
from wringout.estimate.posterior import draw
from wringout.estimate.problem import StudyRun
from wringout.units import KNOT

REPEATS = 30

TIMINGS = "# method: transit timing\ndevice, from, to, seconds\n" + "gear, up, down, 7.1\nflaps, up, full, 6.1\n" * 3


def planned(beliefs: Beliefs) -> list[StudyRun]:
    """Return the runs as planned, their readings still blank: everything at the entry speed."""
    runs = decelerations(beliefs, (("G1", "gear down", 120), ("F1", "flaps full", 106)), 114)
    return [*runs, taken_in("T1", TIMINGS, beliefs)]


@functools.cache
def ranks() -> dict[str, np.ndarray]:
    """Return, for each quantity, the share of posterior draws below the truth, one for each repeat."""
    beliefs = known_airplane(with_stall_speeds=False)
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
