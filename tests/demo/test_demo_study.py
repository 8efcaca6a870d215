"""The demo study is what its tool makes, reads as its maker meant, and gives back the airplane that hid behind it.

The truth is ours (``TRUTH`` in tools/make_demo_study.py, invented), so this checks the chain, not the model: the
outside checks of the model stand in tests/accuracy.
"""

from __future__ import annotations

import functools
import tomllib
from dataclasses import replace

import numpy as np
import pytest

from tools import make_demo_study as tool
from wringout.airplane import forces
from wringout.airplane.vector import ANGLES
from wringout.estimate.problem import StudyRun
from wringout.estimate.reduction import Reduction, reduce_runs
from wringout.methods.register import method
from wringout.recordings.changes import marks_from_channels
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Recording, Severity
from wringout.units import DEGREE, KNOT, SQUARE_FOOT, STANDARD_GRAVITY

BELIEFS = tool.believed()
DOCUMENT = tomllib.loads((tool.STUDY / "study.toml").read_text(encoding="utf-8"))
LISTED = DOCUMENT["recordings"]


def _recording(entry: dict[str, str]) -> Recording:
    recording = read_recording((tool.STUDY / "recordings" / entry["file"]).read_bytes(), entry["file"])
    if entry.get("marks") == "columns":
        recording = replace(recording, marks=marks_from_channels(recording))
    return recording


@functools.cache
def _runs() -> dict[str, StudyRun]:
    runs = {}
    for entry in LISTED:
        recording = _recording(entry)
        found = method(recording.header["method"])
        (run,) = found.from_recording(entry["run"], recording, {}, BELIEFS)
        runs[entry["run"]] = StudyRun(run, found)
    return runs


@functools.cache
def _reduced() -> Reduction:
    return reduce_runs(BELIEFS, list(_runs().values()), draws=2000)


def test_the_files_are_what_the_tool_makes_now() -> None:
    for name, text in tool.all_files().items():
        assert (tool.STUDY / name).read_text(encoding="utf-8") == text, name


def test_the_study_lists_every_recording_once() -> None:
    there = sorted(path.name for path in (tool.STUDY / "recordings").iterdir())
    assert sorted(entry["file"] for entry in LISTED) == there
    assert len({entry["run"] for entry in LISTED}) == len(LISTED)


def test_everything_says_that_it_is_invented() -> None:
    assert DOCUMENT["invented"] is True
    assert BELIEFS.invented
    assert "invented" in DOCUMENT["title"]
    for entry in LISTED:
        assert "(invented)" in (tool.STUDY / "recordings" / entry["file"]).read_text(encoding="utf-8").split("\n")[0]


@pytest.mark.parametrize("entry", LISTED, ids=lambda entry: entry["run"])
def test_a_recording_reads_without_a_complaint(entry: dict[str, str]) -> None:
    recording = _recording(entry)
    assert [n.sentence for n in recording.notices if n.severity is not Severity.NOTE] == []
    assert _runs()[entry["run"]].method.exceedances(_runs()[entry["run"]].run, BELIEFS) == []


def test_the_runs_are_the_ones_the_study_is_about() -> None:
    titles = {key: r.run.title for key, r in _runs().items()}
    assert titles["G1"] == "gear down, then gear up"
    assert [titles[k] for k in ("G2", "G3")] == ["gear down"] * 2
    assert [titles[k] for k in ("F1", "F2", "F3", "B1")] == ["flaps full"] * 4
    assert [titles[k] for k in ("H1", "H2")] == ["flaps half"] * 2
    runs = {key: r.run for key, r in _runs().items()}
    assert runs["G2"].time_s[-1] < 60.0, "cut short"
    assert np.ptp(runs["G3"].altitude_m) > 25.0, "altitude wanders and was read"
    assert runs["B1"].entry_gear == 1.0
    per_setting = [np.sum(np.abs(runs["S1"].flap_rad - s.angle_rad) < 1e-6) for s in BELIEFS.settings]
    assert per_setting == [3, 3, 3]


def test_the_wrong_call_is_flagged_and_nothing_else_is() -> None:
    ((run, row),) = [(flag.run, flag.row) for flag in _reduced().joint.flags]
    assert run == "F2"
    text = (tool.STUDY / "recordings" / "F2-full-flaps-a-wrong-call.txt").read_text(encoding="utf-8")
    (wrong,) = next(called.wrong for called in tool.RUNS if called.file == "F2-full-flaps-a-wrong-call.txt")
    assert text.split("\n")[row - 1].startswith(tool.minutes(58 * 60 + 48 + wrong))


def _true_area(gear: float, flap_deg: float, speed_mps: float, mass_kg: float) -> float:
    """Return the truth's device area, ft2, at a calibrated speed near sea level, where it is the equivalent one."""
    truth = BELIEFS.row(tool.TRUTH)
    cl = mass_kg * STANDARD_GRAVITY / (0.5 * 1.225 * speed_mps**2 * truth[0])
    area = forces.gear_area(truth, gear, 0.0) + forces.flap_area(truth, flap_deg * DEGREE, cl)
    return float(area / SQUARE_FOOT)


DEVICES = (("gear", 1.0, 0.0), ("flaps.half", 0.0, 20.0), ("flaps.full", 0.0, 40.0))


def test_the_hidden_drag_areas_are_found() -> None:
    """None of nine numbers may miss the truth by far, and of three devices at most one 95 % interval may miss it.

    A device's three speeds rise and fall together, so only the middle one is counted: three about independent intervals
    of 95 % hold the truth at least twice in 99.3 % of studies (binomial). At 70 kt, 20 kt below the middle, full flaps
    are known to 62 % of their area between the ends of the interval: what they keep at high lift is one more unknown.
    """
    inside = 0
    for device, gear, flap_deg in DEVICES:
        for place in ("entry", "middle", "end"):
            finding = _reduced().finding(f"area.{device}.{place}")
            assert finding.at_speed_mps is not None
            assert finding.at_mass_kg is not None
            truth = _true_area(gear, flap_deg, finding.at_speed_mps, finding.at_mass_kg)
            low, high = (x / SQUARE_FOOT for x in finding.most)
            inside += place == "middle" and low <= truth <= high
            reach = 0.75 * (high - low)
            assert abs(truth - finding.value / SQUARE_FOOT) < reach, finding.label
            assert high - low < (0.35 if place == "middle" else 0.65) * truth, finding.label
    assert inside >= 2


def test_the_shielding_of_the_gear_by_the_flaps_is_seen() -> None:
    finding = _reduced().finding("interaction.area")
    assert "B1" in finding.runs
    low, high = (x / SQUARE_FOOT for x in finding.most)
    truth = -tool.TRUTH["interaction"] * tool.TRUTH["gear_area"] / SQUARE_FOOT
    assert low <= truth <= high < 0.0


def test_the_hidden_stall_speeds_lie_in_their_intervals() -> None:
    truth = BELIEFS.row(tool.TRUTH)
    for setting in BELIEFS.settings:
        finding = _reduced().finding(f"stall.{setting.name}")
        weight = BELIEFS.limits.max_mass_kg * STANDARD_GRAVITY
        speed = forces.stall_speed(truth, weight, 1.225, setting.angle_rad)
        assert finding.most[0] - 0.3 * KNOT <= speed <= finding.most[1] + 0.3 * KNOT, setting.name


def test_the_truth_is_not_what_was_believed() -> None:
    prior = BELIEFS.prior_row()
    truth = BELIEFS.row(tool.TRUTH)
    differs = np.abs(truth - prior) > 0.01 * np.abs(prior)
    assert differs[:ANGLES].sum() >= 10
    for parameter in BELIEFS.parameters:
        z = parameter.prior.to_latent(tool.TRUTH[parameter.key])
        assert 0.0 < abs(z) < 2.0, parameter.key
