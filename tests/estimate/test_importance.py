"""Draws weighed by their exact density: against quadrature, and the tail of weights against a known distribution."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import genpareto

from tests.estimate.test_chain import line_fit
from tests.estimate.test_fit import Line, LineRun, with_normal_line_priors
from wringout.airplane import vector as v
from wringout.airplane.distribution import Prior
from wringout.estimate.chain import better_draws, check_by_weights, second_opinion
from wringout.estimate.fit import fit
from wringout.estimate.importance import smoothed, weigh
from wringout.estimate.problem import StudyRun


class Logged(Line):
    """Sees the exponential of the first number, read badly: a posterior with one long side."""

    key = "logged"

    def predict(self, run: LineRun, row: np.ndarray, nuisance: np.ndarray, beliefs: Any) -> np.ndarray:
        return np.full(run.x.size, np.exp(row[v.DISK_EFFICIENCY]))


def test_a_lopsided_posterior_is_weighed_right() -> None:
    # The exact marginal by scipy.integrate.quad: prior N(0, 1), two readings 0.15 of exp(a), sd 0.1.
    known = with_normal_line_priors()
    first = replace(known.parameters[known.index("disk_efficiency")], prior=Prior(0.0, 1.0, "normal"))
    known = replace(known, parameters=tuple(first if p.key == first.key else p for p in known.parameters))
    joint = fit(known, [StudyRun(LineRun("B", np.zeros(2), np.full(2, 0.15), np.arange(2)), Logged())])
    i = known.index("disk_efficiency")

    def density(a: float) -> float:
        return float(np.exp(-0.5 * a * a - 0.5 * 2 * ((0.15 - np.exp(a)) / 0.1) ** 2))

    mass = quad(density, -6.0, 3.0)[0]
    mean = quad(lambda a: a * density(a), -6.0, 3.0)[0] / mass
    sd = np.sqrt(quad(lambda a: (a - mean) ** 2 * density(a), -6.0, 3.0)[0] / mass)
    check = check_by_weights(joint, seed=2, draws=8000)
    assert check.usable
    assert check.differs
    assert abs(joint.z[i] - mean) > 0.3 * sd, "the Gaussian approximation is off, or there is nothing to mend"
    assert check.z[:, i].mean() == pytest.approx(mean, abs=0.08 * sd)
    assert check.z[:, i].std() == pytest.approx(sd, rel=0.08)
    used = better_draws(joint, check, 3000, 1).rows[:, v.DISK_EFFICIENCY]
    assert used.mean() == pytest.approx(mean, abs=0.1 * sd)


def test_a_linear_problem_leaves_every_weight_alike() -> None:
    weighing = weigh(line_fit(), 500, 1)
    assert weighing.independent == pytest.approx(500, rel=1e-3)
    told: list[str] = []
    check = second_opinion(line_fit(), 1, lambda _, words: told.append(words))
    assert check.how == "weights"
    assert not check.differs
    assert told == ["second opinion: weighing the draws"]


@pytest.mark.parametrize("shape", [0.3, 0.6, 1.1])
def test_the_shape_of_the_tail_is_found(shape: float) -> None:
    # Source: scipy.stats.genpareto as the distribution the weights are drawn from.
    weights = 1.0 + genpareto(shape).rvs(20000, random_state=np.random.default_rng(4))
    assert smoothed(weights)[1] == pytest.approx(shape, abs=0.2)
