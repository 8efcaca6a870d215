"""The chain: equal to the Gaussian where that is exact, better where it is not (checked by quadrature)."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

from tests.estimate.test_fit import Line, LineRun, with_normal_line_priors
from wringout.airplane import vector as v
from wringout.airplane.distribution import Prior
from wringout.estimate.chain import better_draws, check_with_chain
from wringout.estimate.fit import JointFit, fit
from wringout.estimate.problem import StudyRun


class Bent(Line):
    """Sees only the square of the first number, so that its posterior is far from Gaussian when the data are near 0."""

    key = "bent"

    def predict(self, run: LineRun, row: np.ndarray, nuisance: np.ndarray, beliefs: Any) -> np.ndarray:
        return np.full(run.x.size, row[v.DISK_EFFICIENCY] ** 2)


def line_fit() -> JointFit:
    x = np.linspace(-1.0, 2.0, 9)
    y = 0.4 + 0.7 * x + np.random.default_rng(5).normal(0.0, 0.05, x.size)
    return fit(with_normal_line_priors(), [StudyRun(LineRun("L", x, y, np.arange(9)), Line())])


def bent_fit() -> JointFit:
    y = np.full(4, 0.03)
    known = with_normal_line_priors()
    lifted = replace(known.parameters[known.index("disk_efficiency")], prior=Prior(0.3, 2.0, "normal"))
    known = replace(known, parameters=tuple(lifted if p.key == "disk_efficiency" else p for p in known.parameters))
    return fit(known, [StudyRun(LineRun("B", np.zeros(4), y, np.arange(4)), Bent())])


def test_a_linear_problem_gives_the_same_answer() -> None:
    check = check_with_chain(line_fit(), seed=3)
    assert check.usable
    assert not check.differs, check.opinions
    assert "same answer" in check.sentence()


def test_a_bent_problem_is_seen_and_the_chain_is_right() -> None:
    joint = bent_fit()
    check = check_with_chain(joint, seed=3, steps=2500, burn=500)
    i = joint.problem.beliefs.index("disk_efficiency")

    # The exact marginal by numerical integration (scipy.integrate.quad): prior N(0.3, 2), four readings of a^2, sd 0.1.
    def density(a: float) -> float:
        return float(np.exp(-0.5 * ((a - 0.3) / 2.0) ** 2 - 0.5 * 4 * ((0.03 - a * a) / 0.1) ** 2))

    mass = quad(density, -3.0, 3.0)[0]
    mean = quad(lambda a: a * density(a), -3.0, 3.0)[0] / mass
    variance = quad(lambda a: (a - mean) ** 2 * density(a), -3.0, 3.0)[0] / mass
    assert check.usable
    assert check.differs
    assert 2.0 * check.z[:, i].std() == pytest.approx(np.sqrt(variance), rel=0.08)
    rows = better_draws(joint, check, 2000, 1).rows
    assert rows[:, v.DISK_EFFICIENCY].std() == pytest.approx(np.sqrt(variance), rel=0.1)


def test_the_chain_repeats_with_its_seed() -> None:
    joint = line_fit()
    one, two = check_with_chain(joint, 4, 100, 50), check_with_chain(joint, 4, 100, 50)
    assert np.array_equal(one.z, two.z)
    assert not np.array_equal(one.z, check_with_chain(joint, 5, 100, 50).z)


def test_a_short_chain_is_not_trusted() -> None:
    joint = line_fit()
    check = check_with_chain(joint, 4, 30, 20)
    assert not check.usable
    assert np.array_equal(better_draws(joint, check, 50, 1).rows, better_draws(joint, check, 50, 1).rows)
    assert "kept" in check.sentence()
