"""The reduction: findings hold the truth they were made from, and say what their doubt is made of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.estimate.invented import beliefs, blank_run, flown, small_study
from tests.estimate.test_fit import Line, LineRun, with_normal_line_priors
from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.estimate.findings import Evidence, device_areas, summarise
from wringout.estimate.fit import fit
from wringout.estimate.linear import linearise
from wringout.estimate.posterior import draw
from wringout.estimate.problem import StudyRun
from wringout.estimate.reduction import Reduction, reduce_runs
from wringout.recordings.types import Device
from wringout.units import DEGREE, SQUARE_FOOT


@pytest.fixture(scope="module")
def truth() -> np.ndarray:
    """An airplane that is not the prior: gear 4.9 ft2, flaps 8.2 ft2."""
    row = beliefs().prior_row()
    row[v.F_GEAR] = 4.9 * SQUARE_FOOT
    row[v.F_FLAPS + 2 :] = np.where(np.arange(row.size - v.F_FLAPS - 2) < 6, 8.2 * SQUARE_FOOT, row[v.F_FLAPS + 2 :])
    return row


@pytest.fixture(scope="module")
def reduction(truth: np.ndarray) -> Reduction:
    return reduce_runs(beliefs(), small_study(truth, 40), draws=1500, seed=3)


def test_intervals_hold_the_truth(reduction: Reduction, truth: np.ndarray) -> None:
    for key, gear, flap in (("gear", 1.0, 0.0), ("flaps.full", 0.0, 40 * DEGREE)):
        for place in ("entry", "middle", "end"):
            finding = reduction.finding(f"area.{key}.{place}")
            assert finding.at_speed_mps is not None
            true = device_areas(truth[None, :], reduction.mass_kg, np.array([finding.at_speed_mps]), gear, flap)[0, 0]
            assert finding.most[0] <= true <= finding.most[1], (key, place)
            assert finding.most[0] < finding.half[0] < finding.value < finding.half[1] < finding.most[1]


def test_runs_sharpen_what_was_believed(reduction: Reduction) -> None:
    finding = reduction.finding("area.gear.middle")
    assert finding.prior_most is not None
    assert finding.most[1] - finding.most[0] < 0.3 * (finding.prior_most[1] - finding.prior_most[0])
    assert finding.runs == ("G1", "G2")


def test_shares_are_shares(reduction: Reduction) -> None:
    for finding in reduction.findings:
        assert all(0.0 <= share <= 1.0 for share in finding.shares.values()), finding.key
        assert sum(finding.shares.values()) == pytest.approx(1.0, abs=0.006)


def test_every_strength_is_side_by_side_and_knots_lost_are_no_drag(truth: np.ndarray) -> None:
    known = beliefs()
    method = small_study(truth)[0].method
    long = blank_run("G1", Device.GEAR, 1.0, 120.0, seconds=240.0)
    run = StudyRun(method.simulate(long, truth, known, np.random.default_rng(4)), method)
    report = reduce_runs(known, [run], draws=300, seed=1).reports[0]
    assert {"start slope", "whole curve", "settled speeds", "knots lost"} <= {r.key for r in report.results}
    assert [r.strength for r in report.results] == sorted(r.strength for r in report.results)
    assert not next(r for r in report.results if r.key == "knots lost").is_drag
    assert report.why_they_differ.endswith(".")


def test_sources_that_cannot_matter_have_no_share(reduction: Reduction) -> None:
    # Drag from decelerations at frozen power never uses the rated power or any CLmax.
    finding = reduction.finding("area.gear.middle")
    assert max(finding.shares, key=lambda name: finding.shares[name]) in {"readings", "run-to-run scatter"}
    assert not [name for name in finding.shares if "rated power" in name or "CLmax" in name]


def test_the_budget_of_a_line_is_that_of_least_squares() -> None:
    # Source: GUM (JCGM 100:2008) 5.1.2. For y = a + b x with priors, a's variance splits into the part from a's prior,
    # the part from b's prior and the part from the readings, by the weights of the conjugate posterior.
    x = np.linspace(0.0, 1.0, 6)
    known = with_normal_line_priors()
    joint = fit(known, [StudyRun(LineRun("L", x, 1.0 + x, np.arange(6)), Line())])
    posterior = draw(joint, 60_000, 1)
    values = posterior.rows[:, v.DISK_EFFICIENCY]
    shares = summarise("a", "a", "", values, Evidence(joint, linearise(joint), posterior), []).shares
    design = np.column_stack([np.ones_like(x), x]) / 0.1 * np.array([2.0, 3.0])
    covariance = np.linalg.inv(design.T @ design + np.eye(2))
    weight = covariance[0]
    whole = weight[0] ** 2 + weight[1] ** 2 + np.sum((design @ weight) ** 2)
    assert whole == pytest.approx(covariance[0, 0])
    assert shares["readings"] == pytest.approx(np.sum((design @ weight) ** 2) / whole, abs=0.01)


def test_a_heavier_weight_error_widens_the_drag(truth: np.ndarray) -> None:
    # Drag from a deceleration is mass times acceleration, so its relative interval cannot be narrower than the
    # relative doubt of the weight (Newton's second law).
    known = beliefs()
    reduction = reduce_runs(known, small_study(truth, 60), draws=1500, seed=3)
    finding = reduction.finding("area.gear.middle")
    weight_sd = known.parameters[known.index("mass_factor")].prior.sd
    assert (finding.most[1] - finding.most[0]) / (2 * 1.96 * finding.value) > weight_sd


def test_one_run_alone_can_be_reduced(truth: np.ndarray) -> None:
    reduction = reduce_runs(beliefs(), [flown("G1", Device.GEAR, 1.0, 120.0, truth, 9)], draws=500, seed=1)
    assert [curve.device for curve in reduction.curves] == ["gear"]
    with pytest.raises(KeyError):
        reduction.finding("ratio.flaps_gear")


def test_both_devices_out_measure_the_interaction(truth: np.ndarray) -> None:
    known = beliefs()
    base = small_study(truth, 80)
    method = base[0].method

    both = []
    for i in range(3):
        blank = replace(blank_run(f"B{i}", Device.FLAPS, 40 * DEGREE, 100.0), entry_gear=1.0)
        both.append(StudyRun(method.simulate(blank, truth, known, np.random.default_rng(90 + i)), method))
    without = reduce_runs(known, base, draws=1500, seed=3).finding("interaction.area")
    with_both = reduce_runs(known, [*base, *both], draws=1500, seed=3).finding("interaction.area")
    assert with_both.most[1] - with_both.most[0] < 0.6 * (without.most[1] - without.most[0])
    true = forces.gear_area(truth, 1.0, 40 * DEGREE) - forces.gear_area(truth, 1.0, 0.0)
    assert with_both.most[0] <= true <= with_both.most[1]
    assert with_both.runs == ("B0", "B1", "B2")


def test_same_seed_same_answer(truth: np.ndarray) -> None:
    runs = small_study(truth, 40)
    one = reduce_runs(beliefs(), runs, draws=400, seed=8)
    two = reduce_runs(beliefs(), runs, draws=400, seed=8)
    assert one.findings == two.findings


def test_diagnostics_look_at_the_fit_from_all_sides(reduction: Reduction) -> None:
    seen = reduction.diagnostics
    assert {left.run for left in seen.left_out["drag area of gear"]} == {"G1", "G2", "F1", "F2"}
    assert seen.checks[0].method == "level deceleration"
    assert seen.checks[0].p_value > 0.001
    assert seen.disagreements == ()
    assert set(seen.run_to_run) == {"level deceleration, gear", "level deceleration, flaps"}
    assert all(abs(correlation.value) <= 1.0 for correlation in seen.correlations)
    assert seen.chain is None
