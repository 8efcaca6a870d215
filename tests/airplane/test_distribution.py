"""Beliefs: latents go out and come back, and stay where such a number can be."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from wringout.airplane.distribution import Prior
from wringout.airplane.textbook import polar_from_best_glide

LATENT = st.floats(-4.0, 4.0)


@given(LATENT, st.floats(0.05, 0.95), st.floats(0.05, 0.3))
def test_a_share_stays_between_its_ends_and_comes_back(z: float, value: float, sd: float) -> None:
    prior = Prior(value, sd * value * (1.0 - value), "share")
    there = prior.from_latent(z)
    assert 0.0 < there < 1.0
    assert prior.to_latent(there) == pytest.approx(z, abs=1e-6)
    assert prior.from_latent(0.0) == pytest.approx(value)


@given(LATENT, st.floats(0.1, 50.0), st.floats(0.05, 1.0))
def test_a_lognormal_is_positive_and_comes_back(z: float, value: float, share: float) -> None:
    prior = Prior(value, share * value, "lognormal")
    assert prior.from_latent(z) > 0.0
    assert prior.to_latent(prior.from_latent(z)) == pytest.approx(z, abs=1e-6)


def test_the_median_of_a_lognormal_and_its_spread() -> None:
    # Source: the lognormal's coefficient of variation is sqrt(exp(s^2) - 1) (any statistics textbook).
    prior = Prior(4.0, 2.0, "lognormal")
    assert math.sqrt(math.expm1(prior.log_sd**2)) == pytest.approx(0.5)


@given(st.floats(8.0, 15.0), st.floats(38.0, 55.0), st.floats(-0.15, 0.15))
def test_a_leaning_polar_keeps_the_printed_best_glide(ratio: float, speed: float, lean: float) -> None:
    # The best glide of the polar built must be the one it was built from: least CD/CL by direct search (scipy).

    mass, span, wing, reference = 1450.0, 10.2, 16.2, 0.5
    area, efficiency = polar_from_best_glide(ratio, speed, mass, span, wing, lean, reference)
    cl_at = 2.0 * mass * 9.80665 / (1.225 * speed**2 * wing)

    def drag_over_lift(cl: float) -> float:
        return ((area + lean * (cl - reference)) / wing + wing * cl * cl / (math.pi * efficiency * span**2)) / cl

    best = minimize_scalar(drag_over_lift, bounds=(0.05, 4.0), method="bounded", options={"xatol": 1e-9})
    assert best.x == pytest.approx(cl_at, rel=1e-3)
    assert 1.0 / best.fun == pytest.approx(ratio, rel=1e-6)
