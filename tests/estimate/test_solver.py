"""The solver of the joint fit, held against a general-purpose one on the same residuals, and its eliminations."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from tests.estimate.invented import beliefs, small_study
from wringout.errors import FitError
from wringout.estimate.fit import EXACTLY, Weighted
from wringout.estimate.problem import pose
from wringout.estimate.solver import Linear, solve, step

KNOWN = beliefs()
RUNS = small_study(KNOWN.prior_row(), 40)


def random_linear(seed: int) -> tuple[np.ndarray, Linear]:
    """Three runs with 4 common unknowns and 2, 0 and 3 of their own."""
    rng = np.random.default_rng(seed)
    sizes = ((7, 2), (3, 0), (2, 3))
    return rng.normal(size=9), Linear(
        tuple(rng.normal(size=n) for n, _ in sizes),
        tuple(rng.normal(size=(n, 4)) for n, _ in sizes),
        tuple(rng.normal(size=(n, m)) for n, m in sizes),
    )


def test_a_step_by_elimination_is_the_step_of_the_whole_matrix() -> None:
    # Source: numpy.linalg.lstsq on the stacked rows [J; I; sqrt(damping)].
    z, here = random_linear(1)
    damping = np.linspace(0.0, 2.0, 9)
    rows = np.vstack((here.dense(), np.eye(9), np.diag(np.sqrt(damping))))
    right = -np.concatenate((*here.residuals, z, np.zeros(9)))
    assert step(z, here, 1.0, damping) == pytest.approx(np.linalg.lstsq(rows, right, rcond=None)[0], abs=1e-10)


def test_information_and_pull_are_those_of_the_whole_matrix() -> None:
    z, here = random_linear(2)
    dense, residual = here.dense(), np.concatenate(here.residuals)
    assert here.information() == pytest.approx(dense.T @ dense)
    assert here.pull(z) == pytest.approx(dense.T @ (dense @ z - residual))
    assert here.squares() == pytest.approx(np.sum(dense**2, axis=0))


def test_the_answer_is_that_of_a_general_purpose_solver() -> None:
    """scipy.optimize.least_squares (MINPACK) on the same residuals: within 0.05 posterior standard deviations.

    Slopes are differences of an integration whose steps meet bends of the flap drag, so no solver stands stiller.
    """
    problem = pose(KNOWN, RUNS)
    sds = problem.reading_sds(np.zeros(problem.size))
    ours, linear = solve(Weighted(problem, sds), np.zeros(problem.size), EXACTLY)
    theirs = least_squares(
        lambda z: problem.residuals(z, sds), np.zeros(problem.size), jac=lambda z: problem.jacobian(z, sds), method="lm"
    )
    deviations = np.sqrt(np.diag(np.linalg.inv(linear.information() + np.eye(problem.size))))
    assert np.max(np.abs(ours - theirs.x) / deviations) < 0.05
    assert float(np.sum(problem.residuals(ours, sds) ** 2)) == pytest.approx(2.0 * theirs.cost, abs=0.01)


def test_many_candidates_at_once_are_predicted_as_one_by_one() -> None:
    problem = pose(KNOWN, RUNS)
    rng = np.random.default_rng(3)
    for i, run in enumerate(problem.runs):
        zs = rng.normal(0.0, 0.3, (5, problem.size))
        rows = np.array([problem.row(z) for z in zs])
        nuisances = np.array([problem.nuisance(z, i) for z in zs])
        single = [run.method.predict(run.run, a, n, KNOWN) for a, n in zip(rows, nuisances, strict=True)]
        assert problem.predict_all(i, rows, nuisances) == pytest.approx(np.array(single), rel=1e-12)


class Cliff:
    """A system that has no finite residual anywhere."""

    prior = 1.0

    def residuals(self, z: np.ndarray) -> list[np.ndarray]:
        return [np.full(2, np.nan)]

    def linear(self, z: np.ndarray) -> Linear:
        return Linear((np.full(2, np.nan),), (np.zeros((2, 1)),), (np.zeros((2, 0)),))


def test_a_fit_that_runs_away_is_said() -> None:
    with pytest.raises(FitError, match="ran away"):
        solve(Cliff(), np.zeros(1), EXACTLY)
