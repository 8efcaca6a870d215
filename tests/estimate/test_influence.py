"""Which runs pull, what is left without one, and whether methods agree: against refits and exact linear answers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import kstest

from tests.estimate.invented import beliefs, flown, small_study
from tests.estimate.test_fit import Line, LineRun, with_normal_line_priors
from wringout.airplane import vector as v
from wringout.estimate.fit import JointFit, fit
from wringout.estimate.influence import leave_one_out, method_checks, pulls, tensions
from wringout.estimate.linear import linearise
from wringout.estimate.problem import StudyRun
from wringout.recordings.types import Device


def gear_area(row: np.ndarray) -> float:
    return float(row[v.F_GEAR])


@pytest.fixture(scope="module")
def joint() -> JointFit:
    return fit(beliefs(), small_study(beliefs().prior_row(), 5))


def test_leaving_a_run_out_in_a_line_is_exact() -> None:
    # In a linear problem one Newton step is the exact answer: compare with fitting the rest.
    rng = np.random.default_rng(2)
    x = np.linspace(0.0, 1.0, 6)
    runs = [StudyRun(LineRun(f"L{i}", x, 1 + x + rng.normal(0, 0.05, 6), np.arange(6)), Line()) for i in range(3)]
    known = with_normal_line_priors()
    whole = fit(known, runs)
    for left in leave_one_out(whole, linearise(whole), lambda row: float(row[v.EFFICIENCY_SLOPE]), refit=True):
        assert left.refitted == pytest.approx(left.value, abs=1e-6)


def test_leaving_a_deceleration_out_agrees_with_refitting(joint: JointFit) -> None:
    for left in leave_one_out(joint, linearise(joint), gear_area, refit=True):
        assert left.refitted == pytest.approx(left.value, abs=0.35 * left.sd), left.run


def test_only_gear_runs_widen_the_gear_when_left_out(joint: JointFit) -> None:
    wider = {(pull.run, pull.parameter): pull.wider for pull in pulls(joint, linearise(joint))}
    assert wider[("G1", "gear_area")] > 1.2
    assert wider.get(("F1", "gear_area"), 1.0) < 1.1


def test_a_run_that_disagrees_pulls_the_hardest() -> None:
    known = beliefs()
    truth = known.prior_row()
    heavy = truth.copy()
    heavy[v.F_GEAR] *= 1.5
    runs = [*small_study(truth, 5), flown("G3", Device.GEAR, 1.0, 119.0, heavy, 77)]
    found = fit(known, runs)
    strongest = max(
        (p for p in pulls(found, linearise(found)) if p.parameter == "gear_area"), key=lambda p: abs(p.shift_sds)
    )
    assert strongest.run == "G3"
    assert strongest.shift_sds > 1.0


class OtherLine(Line):
    """A second method that sees the same line."""

    key = "other line"


def two_methods(offset: float, seed: int) -> JointFit:
    rng = np.random.default_rng(seed)
    x = np.linspace(0.0, 1.0, 6)
    one = LineRun("A", x, 1 + x + rng.normal(0, 0.1, 6), np.arange(6))
    two = LineRun("B", x, 1 + offset + x + rng.normal(0, 0.1, 6), np.arange(6))
    return fit(with_normal_line_priors(), [StudyRun(one, Line()), StudyRun(replace(two), OtherLine())])


def level(row: np.ndarray) -> float:
    return float(row[v.DISK_EFFICIENCY])


def test_tension_is_standard_normal_when_methods_agree() -> None:
    sigmas = []
    for seed in range(60):
        found = two_methods(0.0, seed)
        sigmas.append(next(t.sigma for t in tensions(found, linearise(found), {"level": level}) if t.method == "line"))
    assert kstest(sigmas, "norm").pvalue > 0.01


def test_tension_and_predictive_check_see_methods_that_disagree() -> None:
    found = two_methods(0.6, 1)
    line = linearise(found)
    assert max(abs(t.sigma) for t in tensions(found, line, {"level": level})) > 3.0
    assert min(check.p_value for check in method_checks(found, line)) < 0.01
    agree = two_methods(0.0, 1)
    assert min(check.p_value for check in method_checks(agree, linearise(agree))) > 0.01


def test_one_method_alone_has_nothing_to_disagree_with(joint: JointFit) -> None:
    assert tensions(joint, linearise(joint), {"gear": gear_area}) == []
