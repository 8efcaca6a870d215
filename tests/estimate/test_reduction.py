"""The reduction: findings hold the truth they were made from, and say what their doubt is made of."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from tests.estimate.invented import beliefs, blank_run, flown, small_study
from tests.estimate.test_fit import Line, LineRun, with_normal_line_priors
from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airspeed import (
    PositionErrorRow,
    PositionErrorTable,
    calibrated_from_true,
    equivalent_from_calibrated,
)
from wringout.estimate.findings import Evidence, device_areas, summarise
from wringout.estimate.fit import fit
from wringout.estimate.linear import linearise
from wringout.estimate.posterior import draw
from wringout.estimate.problem import StudyRun
from wringout.estimate.reduction import Reduction, reduce_runs
from wringout.methods.level_deceleration.run import Move
from wringout.methods.out_and_back.run import OutAndBackRun
from wringout.methods.register import method as method_of
from wringout.recordings.types import Device
from wringout.units import DEGREE, KNOT, SQUARE_FOOT


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


FULL = 40 * DEGREE
HALF = 20 * DEGREE


@pytest.mark.parametrize(
    ("device", "before", "after", "entry_kt", "gear", "flap_rad"),
    [
        (Device.GEAR, 1.0, 0.0, 90.0, 1.0, 0.0),
        (Device.FLAPS, HALF, FULL, 100.0, 0.0, HALF),
        (Device.FLAPS, FULL, HALF, 80.0, 0.0, FULL),
        (Device.FLAPS, 0.0, FULL, 105.0, 1.0, 0.0),
    ],
    ids=["gear up", "half to full", "full to half", "full flaps with the gear down"],
)
def test_the_whole_curve_speaks_of_what_moved(
    device: Device, before: float, after: float, entry_kt: float, gear: float, flap_rad: float
) -> None:
    # The strengths stand side by side, so each must be the same quantity: the area between the two configurations.
    known = beliefs()
    row = known.prior_row()
    blank = blank_run("X1", device, after, entry_kt)
    blank = replace(
        blank, moves=(Move(device, 12.0, before, after, None, 4),), entry_gear=gear, entry_flap_rad=flap_rad
    )
    method = small_study(row)[0].method
    run = method.simulate(blank, row, known, np.random.default_rng(1))
    report = reduce_runs(known, [StudyRun(run, method)], draws=300, seed=1).reports[0]
    whole = next(r for r in report.results if r.key == "whole curve")
    air = run.conditions
    calibrated = float(calibrated_from_true(whole.speed_mps, air.pressure_altitude_m, air.isa_deviation_k))
    at = np.array([float(equivalent_from_calibrated(calibrated, air.pressure_altitude_m))])
    ends = (gear, flap_rad), (after, flap_rad) if device is Device.GEAR else (gear, after)
    areas = [device_areas(row[None, :], air.mass_kg, at, *end)[0, 0] / SQUARE_FOOT for end in ends]
    true = abs(areas[1] - areas[0])
    assert true > 2.0
    assert 0.0 < whole.value.standard_uncertainty < 0.6 * true
    low, high = whole.value.interval()
    assert low <= true <= high


def test_pairs_out_and_back_measure_a_device_as_single_runs_do(truth: np.ndarray) -> None:
    known, pair = beliefs(), method_of("out and back")
    single = blank_run("P1", Device.GEAR, 1.0, 120.0, seconds=240.0)
    moves = (*single.moves, Move(Device.GEAR, 126.0, 1.0, 0.0, None, 23))
    given = {field.name: getattr(single, field.name) for field in fields(single) if field.name != "method"}
    blank = OutAndBackRun(**{**given, "moves": moves}, return_mass_kg=single.conditions.mass_kg)
    run = pair.simulate(blank, truth, known, np.random.default_rng(5))
    reduction = reduce_runs(known, [StudyRun(run, pair)], draws=400, seed=1)
    finding = reduction.finding("area.gear.middle")
    assert finding.runs == ("P1",)
    assert reduction.mass_kg == pytest.approx(run.conditions.mass_kg)
    assert finding.most[0] <= 4.9 * SQUARE_FOOT <= finding.most[1]


def test_drag_is_quoted_at_the_calibrated_speed(truth: np.ndarray) -> None:
    # A dial that reads 6 kt low at every speed: what was read as 120 kt was flown at 126 kt calibrated.
    low = PositionErrorTable((PositionErrorRow(0.0, 0.0, (20.0, 100.0), (6.0 * KNOT, 6.0 * KNOT)),))
    known = replace(beliefs(), instrument=replace(beliefs().instrument, position_error=low))
    run = flown("G1", Device.GEAR, 1.0, 120.0, truth, 9)
    plain = reduce_runs(beliefs(), [run], draws=300, seed=1).finding("area.gear.entry").at_speed_mps
    corrected = reduce_runs(known, [run], draws=300, seed=1).finding("area.gear.entry").at_speed_mps
    assert plain is not None
    assert corrected is not None
    assert corrected - plain == pytest.approx(6.0 * KNOT, abs=0.01)


def test_where_flap_travel_buys_lift_and_drag_names_the_runs_that_tell(reduction: Reduction) -> None:
    # Decelerations say nothing of CLmax and stalls nothing of drag, so neither stands beside the other's share.
    assert reduction.finding("share.drag").runs == ("G1", "G2", "F1", "F2")
    assert reduction.finding("share.lift").runs == ()
