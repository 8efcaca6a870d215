"""How much repeats scatter: held against the likelihood it should be the top of, by a general-purpose optimiser."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from tests.estimate.invented import beliefs
from tests.estimate.test_fit import Line, LineRun
from wringout.estimate.fit import fit
from wringout.estimate.posterior import draw
from wringout.estimate.problem import StudyRun
from wringout.estimate.widths import SCATTER_PRIOR_RUNS
from wringout.methods.types import Nuisance

STATED, READING = 0.02, 0.1


class Shifted(Line):
    """A toy method: every reading of a run is off by the run's own shift, and nothing else is seen."""

    def nuisances(self, run: Any, beliefs: Any) -> tuple[Nuisance, ...]:  # type: ignore[override]
        return (Nuisance("shift", 0.0, STATED, "run-to-run scatter", "shifts"),)

    def predict(self, run: LineRun, row: np.ndarray, nuisance: np.ndarray, beliefs: Any) -> np.ndarray:
        return np.full(run.x.size, nuisance[0])


def likeliest(shifts: np.ndarray, readings: int) -> float:
    """The width of greatest marginal likelihood, with the stated one counting as SCATTER_PRIOR_RUNS runs.

    Source: random-effects model; a run's mean is normal with variance w^2 + sigma^2 / n, and the scaled inverse chi
    square prior of w^2 has SCATTER_PRIOR_RUNS degrees of freedom.
    """

    def cost(log_width: float) -> float:
        square = float(np.exp(2.0 * log_width))
        spread = square + READING**2 / readings
        prior = SCATTER_PRIOR_RUNS * (0.5 * np.log(square) + 0.5 * STATED**2 / square)
        return float(np.sum(0.5 * np.log(spread) + 0.5 * shifts**2 / spread) + prior)

    found = minimize_scalar(cost, bounds=(np.log(0.2 * STATED), np.log(20.0 * STATED)), options={"xatol": 1e-9})
    return float(np.exp(found.x))


@pytest.mark.parametrize(
    "shifts", [[0.25, -0.22, 0.1, -0.28], [0.02, -0.01, 0.03], [0.2, -0.2], [0.28, -0.2, 0.1, -0.25, 0.28, -0.15]]
)
def test_the_scatter_of_repeats_is_the_likeliest_one_and_not_a_step_towards_it(shifts: list[float]) -> None:
    x = np.arange(4.0)
    runs = [StudyRun(LineRun(f"R{i}", x, np.full(4, shift), np.arange(4)), Shifted()) for i, shift in enumerate(shifts)]
    joint = fit(beliefs(), runs)
    assert joint.noise_factor == {"line": 1.0}
    assert joint.flags == ()
    assert joint.run_to_run["shifts"] == pytest.approx(likeliest(np.array(shifts), 4), rel=0.01)


def test_without_repeats_nothing_is_estimated() -> None:
    x = np.arange(4.0)
    assert fit(beliefs(), [StudyRun(LineRun("L", x, 1.0 + x, np.arange(4)), Line())]).run_to_run == {}


@pytest.mark.parametrize("shifts", [[0.05, -0.03], [0.25, -0.22, 0.1], [0.02, -0.01, 0.03, 0.0]])
def test_the_doubt_about_the_scatter_is_counted(shifts: list[float]) -> None:
    """The spread of one repeat and of the next, held against numerical integration over the scatter.

    Source: scipy.integrate.quad over the log width of the random-effects model of `likeliest`; given a width w, a
    repeat read n times with noise s is normal with mean m w^2 / (w^2 + s^2/n) and variance w^2 s^2/n / (w^2 + s^2/n).
    """
    x, noise = np.arange(4.0), READING**2 / 4
    runs = [StudyRun(LineRun(f"R{i}", x, np.full(4, m), np.arange(4)), Shifted()) for i, m in enumerate(shifts)]
    joint = fit(beliefs(), runs)
    seen = np.array(shifts)

    def weight(log_width: float) -> float:
        square = float(np.exp(2.0 * log_width))
        prior = SCATTER_PRIOR_RUNS * (0.5 * np.log(square) + 0.5 * STATED**2 / square)
        spread = square + noise
        return float(np.exp(-prior - np.sum(0.5 * np.log(spread) + 0.5 * seen**2 / spread)))

    def averaged(value: Callable[[float], float]) -> float:
        low, high = np.log(STATED) - 4.0, np.log(STATED) + 6.0
        whole = quad(weight, low, high, limit=200)[0]
        return float(quad(lambda t: value(float(np.exp(2.0 * t))) * weight(t), low, high, limit=200)[0] / whole)

    mean = averaged(lambda square: seen[0] * square / (square + noise))
    second = averaged(lambda w: w * noise / (w + noise) + (seen[0] * w / (w + noise)) ** 2)
    unit, place = joint.run_to_run["shifts"], joint.problem.offsets[0]
    draws = draw(joint, 20000, 3).z[:, place] * unit
    sd = np.sqrt(second - mean**2)
    assert np.mean(draws) == pytest.approx(mean, abs=0.08 * sd)
    assert np.std(draws) == pytest.approx(sd, rel=0.08)
    assert np.sqrt(joint.covariance[place, place]) * unit == pytest.approx(sd, rel=0.08)
