"""Air that moves: what it does to readings, how its strength is found, and that intervals then know of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import multivariate_normal

from tests.estimate.invented import beliefs, small_study
from wringout.estimate.fit import fit, noise_of
from wringout.estimate.noise import restated, whitened, with_common
from wringout.estimate.problem import StudyRun, pose
from wringout.estimate.reduction import reduce_runs
from wringout.estimate.unsteady import (
    MEAN_OVER_S,
    RETURNS,
    SMOOTH_MPS,
    kernel,
    likely_strength,
    log_evidence,
    still_air,
)
from wringout.units import FOOT_PER_MINUTE, STANDARD_GRAVITY

STIRRED_MPS = 60.0 * FOOT_PER_MINUTE


def stirred(runs: list[StudyRun], strength_mps: float, seed: int) -> list[StudyRun]:
    """The same study flown in moving air: small steps of a random walk that decays, in the test's own words."""
    rng = np.random.default_rng(seed)
    out = []
    for r in runs:
        if not hasattr(r.run, "time_s"):
            out.append(r)
            continue
        off, at, errors = 0.0, float(r.run.time_s[0]), []
        for time, speed in zip(r.run.time_s.tolist(), r.run.ias_mps.tolist(), strict=True):
            steps = round((time - at) / 0.1)
            for _ in range(steps):
                air = strength_mps * np.sqrt(MEAN_OVER_S / 0.1) * rng.standard_normal()
                off += 0.1 * STANDARD_GRAVITY / speed * (air - off / RETURNS)
            at += 0.1 * steps
            errors.append(off)
        out.append(StudyRun(replace(r.run, ias_mps=r.run.ias_mps + np.array(errors)), r.method))
    return out


def test_the_covariance_is_that_of_an_ornstein_uhlenbeck_process_let_go_at_nought() -> None:
    # Source: closed form of dx = -x/T dt + s dW with x(0) = 0, s^2 T/2 (exp(-|t-u|/T) - exp(-(t+u)/T)) (any textbook
    # of stochastic processes); at constant speed T = RETURNS V/g and s = g/V sqrt(MEAN_OVER_S).
    times, speed = np.array([0.0, 4.0, 10.0, 17.5, 60.0, 200.0]), 55.0
    back, size = RETURNS * speed / STANDARD_GRAVITY, (STANDARD_GRAVITY / speed) ** 2 * MEAN_OVER_S
    t, u = np.meshgrid(times, times)
    expected = size * back / 2.0 * (np.exp(-np.abs(t - u) / back) - np.exp(-(t + u) / back))
    np.testing.assert_allclose(kernel(times, np.full(6, speed)), expected, atol=1e-12)


def test_noise_that_hangs_together_is_whitened_and_restated() -> None:
    rng = np.random.default_rng(2)
    times = np.arange(0.0, 60.0, 6.0)
    own, covariance = rng.uniform(0.3, 0.7, 10), 0.04 * kernel(times, np.full(10, 50.0))
    together, values = with_common(own, covariance), rng.normal(size=(10, 3))
    np.testing.assert_allclose(np.linalg.inv(together.T @ together), covariance + np.diag(own**2), rtol=1e-9)
    np.testing.assert_allclose(restated(whitened(values, together), together, own), values / own[:, np.newaxis])
    np.testing.assert_allclose(restated(values[:, 0] / own, own, together), together @ values[:, 0])


def test_the_evidence_is_the_density_of_the_readings_with_everything_integrated_out() -> None:
    # Source: scipy.stats.multivariate_normal on the dense covariance of all readings, C + J J'.
    known = beliefs()
    problem = pose(known, small_study(known.prior_row()))
    z = np.random.default_rng(3).normal(0.0, 0.3, problem.size)
    sds, air = problem.reading_sds(z), still_air(problem)
    found, expected = [], []
    for strength in (0.0, 0.1, 0.4):
        noise = air.of(strength).noises(sds)
        linear = problem.linear(z, noise)
        found.append(log_evidence(linear, z, noise))
        plain = problem.linear(z, sds)
        slopes = plain.dense() * np.concatenate(sds)[:, np.newaxis]
        seen = np.concatenate([r * sd for r, sd in zip(plain.residuals, sds, strict=True)]) - slopes @ z
        covariance, at = slopes @ slopes.T, 0
        for sd, spread in zip(sds, air.spread, strict=True):
            part = slice(at, at + sd.size)
            covariance[part, part] += np.diag(sd**2) + (0.0 if spread is None else strength**2 * spread)
            at += sd.size
        expected.append(multivariate_normal.logpdf(seen, np.zeros(seen.size), covariance))
    np.testing.assert_allclose(np.diff(found), np.diff(expected), rtol=1e-6)


@pytest.mark.parametrize("top", [0.15, 0.35])
def test_the_strength_used_is_the_root_mean_square_of_what_is_likely(top: float) -> None:
    def log_likelihood(strength: float) -> float:
        return -0.5 * ((strength - top) / 0.08) ** 2

    def weight(strength: float) -> float:
        return float(np.exp(log_likelihood(strength) - strength / SMOOTH_MPS))

    mean = quad(lambda s: s**2 * weight(s), 0.0, 1.0)[0] / quad(weight, 0.0, 1.0)[0]
    assert likely_strength(log_likelihood) == pytest.approx(np.sqrt(mean), rel=0.08)


def test_moving_air_is_found_and_intervals_widen_while_still_air_costs_little() -> None:
    known = beliefs()
    runs = small_study(known.prior_row())
    still, rough = fit(known, runs), fit(known, stirred(runs, STIRRED_MPS, 1))
    assert still.air.strength_mps < 0.5 * STIRRED_MPS
    assert rough.air.strength_mps == pytest.approx(STIRRED_MPS, rel=0.5)
    assert rough.noise_factor["level deceleration"] < 1.3  # what hangs together is not taken for scatter
    i = known.index("gear_area")
    assert rough.covariance[i, i] > 1.3 * still.covariance[i, i]
    assert rough.air.rough
    assert not still.air.rough
    said = reduce_runs(known, stirred(runs, STIRRED_MPS, 1), 200).remarks
    assert any("The air moved up and down" in remark for remark in said)
    assert reduce_runs(known, runs, 200).remarks == ()
    assert [one.ndim for one in noise_of(rough)] == [2 if one is not None else 1 for one in rough.air.spread]


def test_in_moving_air_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """Ten studies, gear and flap area of each: 20 standardised errors, their mean square below 2 (P = 0.005 by chance).

    Taken one by one, readings in this air would give intervals too narrow by half.
    """
    known = beliefs()
    squares = []
    for seed in range(10):
        joint = fit(known, stirred(small_study(known.prior_row(), 100 + seed), STIRRED_MPS, seed))
        for key in ("gear_area", "flap_area"):
            i = known.index(key)
            squares.append(joint.z[i] ** 2 / joint.covariance[i, i])
    assert np.mean(squares) < 2.0
