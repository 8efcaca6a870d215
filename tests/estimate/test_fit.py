"""The joint fit: exact answers where there are any, and what it does with readings that do not belong."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest

from tests.estimate.invented import beliefs, flown, small_study
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Parameter
from wringout.airplane.distribution import Prior
from wringout.errors import BadInputError, FitError
from wringout.estimate.fit import FLAG_AT, fit
from wringout.estimate.posterior import draw, learned
from wringout.estimate.problem import StudyRun, pose
from wringout.recordings.types import Device
from wringout.units import KNOT


@dataclass(frozen=True, slots=True)
class LineRun:
    key: str
    x: np.ndarray
    y: np.ndarray
    rows: np.ndarray
    title: str = "line"
    method: str = "line"


class Line:
    """A toy method: y = disk efficiency + propeller slope * x, noise 0.1: a straight-line regression with priors."""

    key = "line"
    title = "line"
    observed_unit = ""
    ignores: frozenset[int] = frozenset()

    def nuisances(self, run: Any, beliefs: Any) -> tuple[()]:
        return ()

    def observed(self, run: LineRun) -> np.ndarray:
        return run.y

    def predict(self, run: LineRun, row: np.ndarray, nuisance: np.ndarray, beliefs: Any) -> np.ndarray:
        return np.asarray(row[v.DISK_EFFICIENCY] + row[v.EFFICIENCY_SLOPE] * run.x)

    def reading_sd(self, run: LineRun, row: np.ndarray, nuisance: np.ndarray, beliefs: Any) -> np.ndarray:
        return np.full(run.x.size, 0.1)


def with_normal_line_priors() -> Any:
    """Beliefs whose two line parameters have normal priors: mean 0, sd 2 and 3."""
    known = beliefs()
    swapped = {
        "disk_efficiency": Parameter("disk_efficiency", "a", Prior(0.0, 2.0, "normal")),
        "efficiency_slope": Parameter("efficiency_slope", "b", Prior(0.0, 3.0, "normal")),
    }
    return replace(known, parameters=tuple(swapped.get(p.key, p) for p in known.parameters))


def test_linear_regression_equals_the_conjugate_posterior() -> None:
    # Source: Bayesian linear regression with known variance, closed form (Gelman et al., Bayesian Data Analysis, 3rd
    # ed., section 14.8): precision = X'X/s^2 + P0, mean = precision^-1 X'y/s^2 for a zero prior mean.
    rng = np.random.default_rng(5)
    x = np.linspace(-1.0, 2.0, 9)
    y = 0.4 + 0.7 * x + rng.normal(0.0, 0.05, x.size)
    known = with_normal_line_priors()
    joint = fit(known, [StudyRun(LineRun("L", x, y, np.arange(9)), Line())])
    design = np.column_stack([np.ones_like(x), x])
    precision = design.T @ design / 0.1**2 + np.diag([1 / 2.0**2, 1 / 3.0**2])
    mean = np.linalg.solve(precision, design.T @ y / 0.1**2)
    covariance = np.linalg.inv(precision)
    ia, ib = known.index("disk_efficiency"), known.index("efficiency_slope")
    assert joint.noise_factor == {"line": 1.0}
    assert joint.z[ia] * 2.0 == pytest.approx(mean[0], abs=1e-6)
    assert joint.z[ib] * 3.0 == pytest.approx(mean[1], abs=1e-6)
    assert joint.covariance[ia, ia] * 4.0 == pytest.approx(covariance[0, 0], rel=1e-5)
    assert joint.covariance[ia, ib] * 6.0 == pytest.approx(covariance[0, 1], rel=1e-5)


def test_parameters_no_run_speaks_of_keep_their_prior() -> None:
    x = np.linspace(0.0, 1.0, 5)
    joint = fit(with_normal_line_priors(), [StudyRun(LineRun("L", x, 1.0 + x, np.arange(5)), Line())])
    by_key = {item.key: item for item in learned(joint)}
    assert by_key["gear_area"].verdict == "still the prior"
    assert by_key["gear_area"].shift == pytest.approx(0.0, abs=1e-9)
    assert by_key["efficiency_slope"].verdict == "measured"


def test_jacobian_is_the_slope_of_the_residuals() -> None:
    known = beliefs()
    problem = pose(known, small_study(known.prior_row()))
    z = np.random.default_rng(3).normal(0.0, 0.2, problem.size)
    sds = problem.reading_sds(z)
    jacobian = problem.jacobian(z, sds)
    for j in (known.index("gear_area"), known.index("gear_down_time"), problem.offsets[2] + 1):
        step = np.zeros(problem.size)
        step[j] = 2e-3
        numeric = (problem.residuals(z + step, sds) - problem.residuals(z - step, sds)) / 4e-3
        np.testing.assert_allclose(jacobian[:, j], numeric, atol=2e-3)


class Flighty(Line):
    """A line that has no answer far from the middle of what is believed."""

    def predict(self, run: LineRun, row: np.ndarray, nuisance: np.ndarray, beliefs: Any) -> np.ndarray:
        if abs(row[v.EFFICIENCY_SLOPE]) > 0.5:
            raise BadInputError("Mach number 1.6 is not subsonic", "a line", "keep it below 1")
        return super().predict(run, row, nuisance, beliefs)


def test_what_a_run_heeds_is_found_though_it_has_no_answer_for_some_airplanes() -> None:
    x = np.linspace(0.0, 1.0, 5)
    known = with_normal_line_priors()
    problem = pose(known, [StudyRun(LineRun("L", x, 1.0 + x, np.arange(5)), Flighty())])
    assert set(problem.heeded[0]) == {known.index("disk_efficiency"), known.index("efficiency_slope")}


def wrong_call(runs: list[StudyRun], knots: float) -> list[StudyRun]:
    """The same study with one airspeed of F1 called ``knots`` too high."""
    run = runs[2].run
    speeds = run.ias_mps.copy()
    speeds[9] += knots * KNOT
    return [*runs[:2], StudyRun(replace(run, ias_mps=speeds), runs[2].method), *runs[3:]]


def test_a_wrong_call_is_flagged_kept_and_hardly_moves_the_answer() -> None:
    known = beliefs()
    runs = small_study(known.prior_row())
    clean = fit(known, runs)
    spoiled = fit(known, wrong_call(runs, 20.0))
    assert [(flag.run, flag.index, flag.row) for flag in spoiled.flags] == [("F1", 9, 11)]
    assert spoiled.flags[0].sds > FLAG_AT
    assert spoiled.flags[0].deviation == pytest.approx(20 * KNOT, abs=3 * KNOT)
    assert spoiled.runs[2].observed.size == clean.runs[2].observed.size
    i = known.index("flap_area")
    sd = float(np.sqrt(clean.covariance[i, i]))
    assert abs(spoiled.z[i] - clean.z[i]) < 0.7 * sd


def test_honest_noise_is_not_flagged() -> None:
    known = beliefs()
    flagged = [len(fit(known, small_study(known.prior_row(), seed)).flags) for seed in (11, 21, 31)]
    assert sum(flagged) == 0


def test_more_scatter_than_stated_widens_and_less_does_not_narrow() -> None:
    known = beliefs()
    runs = small_study(known.prior_row())
    rng = np.random.default_rng(7)
    rough = [
        StudyRun(replace(r.run, ias_mps=r.run.ias_mps + rng.normal(0.0, 2.5 * KNOT, r.run.ias_mps.size)), r.method)
        for r in runs
    ]
    quiet = [
        StudyRun(
            replace(r.run, ias_mps=r.method.curve(r.run, f.problem.row(f.z), f.runs[i].nuisance, known, r.run.time_s)),
            r.method,
        )
        for f in [fit(known, runs)]
        for i, r in enumerate(runs)
    ]
    key = "level deceleration"
    assert fit(known, rough).noise_factor[key] > 1.5
    assert fit(known, quiet).noise_factor[key] == 1.0


def test_draws_repeat_with_their_seed_and_follow_the_covariance() -> None:
    known = beliefs()
    joint = fit(known, small_study(known.prior_row()))
    first, again, other = draw(joint, 3000, 4), draw(joint, 3000, 4), draw(joint, 3000, 5)
    assert np.array_equal(first.rows, again.rows)
    assert not np.array_equal(first.rows, other.rows)
    ours = joint.problem.airplane_size
    np.testing.assert_allclose(first.z.mean(axis=0)[:ours], joint.z[:ours], atol=0.08)
    spread = np.cov(first.z.T)
    np.testing.assert_allclose(spread[:ours, :ours], joint.covariance[:ours, :ours], atol=0.1)
    np.testing.assert_allclose(np.diag(spread), np.diag(joint.covariance), rtol=0.12)


def test_nothing_to_fit_is_said() -> None:
    with pytest.raises(FitError, match="no runs in use"):
        fit(beliefs(), [])


def test_run_to_run_scatter_is_estimated_not_assumed() -> None:
    known = beliefs()
    truth = known.prior_row()
    rng = np.random.default_rng(12)

    def gear_runs(spread: float) -> list[StudyRun]:
        out = []
        for i in range(8):
            row = truth.copy()
            row[v.F_GEAR] *= np.exp(rng.normal(0.0, spread))
            out.append(flown(f"G{i}", Device.GEAR, 1.0, 120.0, row, 300 + i))
        return out

    name = "level deceleration, gear"
    alike, scattered = fit(known, gear_runs(0.0)), fit(known, gear_runs(0.15))
    assert alike.run_to_run[name] < 0.045
    assert 0.07 < scattered.run_to_run[name] < 0.25
    i = known.index("gear_area")
    assert scattered.covariance[i, i] > 1.5 * alike.covariance[i, i]


def test_full_flap_flown_alone_does_not_drift_from_its_most_probable_value() -> None:
    # With only full flap flown, the draws' median must sit at the most probable full area: the middle share is
    # free, but it must not pull the sum (a ridge in the sum of two wide lognormal steps would).
    known = beliefs()
    runs = [run for run in small_study(known.prior_row(), 500) if run.run.key.startswith("F")]
    joint = fit(known, runs)
    full = draw(joint, 4000, 1).rows[:, v.F_FLAPS + 2]
    assert np.median(full) == pytest.approx(joint.row[v.F_FLAPS + 2], rel=0.015)
