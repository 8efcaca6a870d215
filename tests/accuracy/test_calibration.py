"""Simulation-based calibration of the estimator, short: places of the truth among posterior draws are uniform.

See calibration.py for what is drawn. The airplanes are the same in every run of the test, so it does not come and go by
chance; a posterior half as wide as it should be, or a standard deviation off, is shown to fail it.
"""

from __future__ import annotations

import functools

import numpy as np
from scipy.stats import norm

from tests.accuracy.calibration import LEAST_P, Array, ranks, together, uniformity

REPEATS = 60


@functools.cache
def found() -> dict[str, Array]:
    return ranks(REPEATS)


def test_truths_stand_in_every_place_alike() -> None:
    """p above 0.01 for all quantities and both tests together (Bonferroni)."""
    assert together(uniformity(found())) > LEAST_P


def spoiled(places: Array, factor: float, shift: float) -> Array:
    """Return the places there would be, had every posterior been ``factor`` as wide and ``shift`` sds off."""
    return np.asarray(norm.cdf(norm.ppf(places) / factor + shift))


def test_a_posterior_half_as_wide_would_be_noticed() -> None:
    assert together(uniformity({name: spoiled(places, 0.5, 0.0) for name, places in found().items()})) < LEAST_P


def test_a_posterior_a_standard_deviation_off_would_be_noticed() -> None:
    assert together(uniformity({name: spoiled(places, 1.0, 1.0) for name, places in found().items()})) < LEAST_P


def test_no_quantity_is_outside_its_intervals_more_often_than_chance_allows() -> None:
    """Of 60 truths at least 48 inside 95 % (P(X <= 47 | 60, 0.95) = 7e-6) and 16 to 44 inside 50 % (P outside = 1e-4).

    With some 30 quantities the two together happen by chance once in some 250 sets of airplanes.
    """
    for one in uniformity(found()):
        assert round(one.inside_most * REPEATS) >= 48, one.quantity
        assert 16 <= round(one.inside_half * REPEATS) <= 44, one.quantity
