"""Reducing and comparing: the same inputs and seed give the same document; stale results are told apart."""

from __future__ import annotations

import dataclasses
import io
import json
from pathlib import Path

import numpy as np
import pytest

from tests.services.texts import AIRPLANE, GEAR_RUN, MOMENT, RUNS
from wringout.errors import BadInputError, FitError, NotFoundError
from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.findings.reduce import Reduced, airplane_rows, findings, npy_bytes, npy_rows, reduce_study
from wringout.services.flights.recordings import take_in_recording
from wringout.services.flights.runs import add_run_to, put_run_back, set_run_aside
from wringout.services.matchups.compare import compare_techniques, verdict
from wringout.services.matchups.plans import PlanDocument, checked_plan, parse_plan
from wringout.services.opening import open_studies
from wringout.services.study.inputs import inputs_hash
from wringout.services.study.studies import make_study, summary
from wringout.store import Store, edit_study, get_study

SMALL = checked_plan({"situation": {"duration": "31 s"}, "domain": {"pressure_altitude": ["0 ft", "2000 ft"]}}, "test")


def test_every_number_of_the_document_has_its_unit_beside_it(reduced: tuple[Store, Reduced]) -> None:
    body = json.loads(json.dumps(reduced[1].result.body))
    assert body["format"] == "wringout reduction, version 1"
    units = {item["key"]: item["unit"] for item in body["findings"]}
    assert units["area.gear.middle"] == "ft2"
    assert units["stall.full"] == "kt"
    assert units["ratio.flaps_gear"] == ""
    for item in body["findings"]:
        low, high = item["interval_95"]
        near, far = item["interval_50"]
        assert low <= near <= item["value"] <= far <= high
    assert {run["key"] for run in body["runs"]} == {"G1", "F1", "S1", "T1"}
    for run in body["runs"]:
        assert len(run["rows"]) == len(run["observed"]) == len(run["fitted"]) == len(run["reading_sd"])


def test_the_document_agrees_with_the_reduction_it_came_from(reduced: tuple[Store, Reduced]) -> None:
    found = reduced[1].reduction.finding("area.gear.middle")
    body = json.loads(json.dumps(reduced[1].result.body))
    shown = next(item for item in body["findings"] if item["key"] == "area.gear.middle")
    # 1 ft2 = 0.09290304 m2, exact (NIST SP 811)
    assert shown["value"] == pytest.approx(found.value / 0.09290304, rel=1e-8)
    gear = next(run for run in body["runs"] if run["key"] == "G1")
    assert gear["observed"][:3] == pytest.approx([121.0, 121.0, 117.0], abs=1e-6)
    assert gear["rows"][:3] == [6, 7, 8]


def test_knots_lost_are_never_called_a_drag(reduced: tuple[Store, Reduced]) -> None:
    body = json.loads(json.dumps(reduced[1].result.body))
    assert [item["is_drag"] for item in body["knots_lost"]] == [False, False]
    # 121 kt at entry; the mean of the last three calls is 92.3 kt
    assert body["knots_lost"][0]["value"] == pytest.approx(121.0 - (93 + 92 + 92) / 3 + 1 / 3, abs=0.5)
    assert any("not a drag" in sentence and "ratio of the drags" in sentence for sentence in body["support"])
    hand = [result for run in body["runs"] for result in run["results"] if result["key"] == "knots lost"]
    assert hand
    assert not any(result["is_drag"] for result in hand)


def test_the_same_inputs_and_seed_give_the_same_document_elsewhere(
    reduced: tuple[Store, Reduced], tmp_path: Path
) -> None:
    with open_studies(tmp_path / "other.db", lambda: MOMENT) as other:
        make_study(other, "Another title", "", {})
        put_airplane_file(other, None, AIRPLANE.encode(), "renamed.toml")
        for name, text in RUNS.items():
            take_in_recording(other, None, io.BytesIO(text.encode()), name)
        again = reduce_study(other, None, draws=400, seed=7).result
    first = reduced[1].result
    assert json.dumps(again.body, sort_keys=True) == json.dumps(first.body, sort_keys=True)
    assert again.inputs_hash == first.inputs_hash
    assert again.draws == first.draws


def test_reducing_again_keeps_one_result_and_another_seed_keeps_two(reduced: tuple[Store, Reduced]) -> None:
    store, first = reduced
    assert reduce_study(store, None, draws=400, seed=7).result.id == first.result.id
    other = reduce_study(store, None, draws=400, seed=8).result
    assert other.id != first.result.id
    assert other.inputs_hash == first.result.inputs_hash
    assert other.body != first.result.body


def test_the_draws_are_kept_as_rows(reduced: tuple[Store, Reduced]) -> None:
    kept = npy_rows(reduced[1].result.draws or b"")
    np.testing.assert_array_equal(kept, reduced[1].reduction.posterior.rows)
    with pytest.raises(BadInputError, match="reduce the study again"):
        npy_rows(b"nothing")
    assert np.array_equal(airplane_rows(npy_bytes(kept)), kept)
    with pytest.raises(BadInputError, match="reduce the study again"):  # an earlier version knew one number less
        airplane_rows(npy_bytes(kept[:, :-1]))


def test_progress_rises_to_the_end(store: Store) -> None:
    take_in_recording(store, None, io.BytesIO(GEAR_RUN.encode()), "G1.csv")
    seen: list[float] = []
    reduce_study(store, None, draws=400, progress=lambda share, _: seen.append(share))
    assert seen == sorted(seen)
    assert all(0.0 <= share <= 1.0 for share in seen)
    assert len(seen) > 3


def test_a_method_that_reads_something_else_needs_no_change_here(store: Store) -> None:
    glides = "flap, gear, speed, vertical speed\nup, up, 80, -790\nup, up, 95, -915\nup, up, 110, -1150\n"
    words = "# method: glide\n# altitude: 6000 ft\n# weight: 2900 lb\n# power: zero thrust\n"
    take_in_recording(store, None, io.BytesIO((words + glides).encode()), "L1.csv")
    body = json.loads(json.dumps(reduce_study(store, None, draws=400).result.body))
    assert body["runs"][0]["observed_unit"] == "ft/min"
    assert body["runs"][0]["observed"] == pytest.approx([-790.0, -915.0, -1150.0])
    assert body["runs"][0]["time_s"] is None


def test_what_changes_the_inputs_hash_and_what_does_not(store: Store) -> None:
    take_in_recording(store, None, io.BytesIO(GEAR_RUN.encode()), "G1.csv")
    take_in_recording(store, None, io.BytesIO(f"// flown again\n{GEAR_RUN}".encode()), "G2.csv", make_run=False)

    def now() -> str:
        with store.reading() as view:
            return inputs_hash(view, 1)

    seen = [now()]
    with store.writing() as work:
        edit_study(work, dataclasses.replace(get_study(work, "gear-or-flaps"), title="Renamed", question="Other?"))
    assert now() == seen[0]
    add_run_to(store, None, "G2.csv", None, (0.0, 62.0), None, "G2")
    seen.append(now())
    set_run_aside(store, None, "G2", "gust")
    assert now() == seen[0]
    put_run_back(store, None, "G2")
    assert now() == seen[1]
    put_airplane_file(store, None, AIRPLANE.replace("230 ± 5 hp", "231 ± 5 hp").encode(), "airplane.toml")
    seen.append(now())
    assert len(set(seen)) == 3


def test_a_study_without_runs_cannot_be_reduced(store: Store) -> None:
    with pytest.raises(FitError, match="no run is in use"):
        reduce_study(store, None)
    with pytest.raises(NotFoundError, match="has not been reduced"):
        findings(store, None)
    with pytest.raises(NotFoundError, match="has not been reduced"):
        compare_techniques(store, None)


def test_a_run_that_can_no_longer_be_built_is_named(store: Store) -> None:
    take_in_recording(store, None, io.BytesIO(RUNS["F1-flaps.csv"].encode()), "F1.csv")
    one_setting = AIRPLANE.replace('angle = "40 deg"', 'angle = "35 deg"').replace('"full"', '"landing"')
    put_airplane_file(store, None, one_setting.encode(), "airplane.toml")
    reduce_study(store, None, draws=400)  # "full" is the last setting whatever it is called
    fixed = RUNS["F1-flaps.csv"].replace("flaps full", "flaps 17")
    take_in_recording(store, None, io.BytesIO(fixed.encode()), "F2.csv", make_run=False)
    with pytest.raises(BadInputError, match="not a flap setting"):
        add_run_to(store, None, "F2.csv")


@pytest.mark.parametrize(("draws", "seed"), [(10, 1), (10**7, 1), (400, -1), (400, 2**63)])
def test_draws_and_seed_out_of_range_are_refused(store: Store, draws: int, seed: int) -> None:
    with pytest.raises(BadInputError, match=r"draws|seed"):
        reduce_study(store, None, draws=draws, seed=seed)


@pytest.fixture(scope="module")
def compared(reduced: tuple[Store, Reduced]) -> dict[str, object]:
    store = reduced[0]
    done = compare_techniques(store, None, SMALL, draws=100, seed=3)
    assert done.result.settings["reduction_seed"] in {7, 8}
    return {"store": store, "done": done}


def test_a_matchup_is_kept_with_its_plan_and_flown_the_same_again(compared: dict[str, object]) -> None:
    store, done = compared["store"], compared["done"]
    again = compare_techniques(store, None, None, draws=100, seed=3, threads=1)  # type: ignore[arg-type]
    assert again.result.id == done.result.id  # type: ignore[attr-defined]
    assert again.plan.situation.duration_s == 31.0
    body = json.loads(json.dumps(again.result.body))
    assert [law["law"] for law in body["laws"]] == ["hold attitude", "hold speed", "level, then climb"]
    assert body["thresholds"]["smallest_difference"] == {"value": 25.0, "unit": "ft"}
    assert body["domain"]["pressure_altitude"] == {"low": 0.0, "high": 2000.0, "unit": "ft"}
    for law in body["laws"]:
        for technique in law["techniques"]:
            assert {score["key"] for score in technique["scores"]} >= {"energy_height_30s", "stall_ratio"}


def test_a_matchup_goes_stale_with_the_difference_that_matters(compared: dict[str, object]) -> None:
    store: Store = compared["store"]  # type: ignore[assignment]
    assert verdict(store, None)[2]
    assert summary(store, None).matchup.current
    with store.writing() as work:
        study = get_study(work, "gear-or-flaps")
        edit_study(work, dataclasses.replace(study, difference_that_matters={"smallest": "40 ft"}))
    assert not verdict(store, None)[2]
    assert not summary(store, None).matchup.current
    assert summary(store, None).reduction.current
    with store.writing() as work:
        edit_study(work, study)
    assert verdict(store, None)[2]


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        ({"situation": {"start_flaps": "43"}}, "not a flap setting"),
        ({"situation": {"entry_speed": 0.9}}, "at or below the stall speed"),
        ({"situation": {"entry_speed": "150 kt"}}, "above V"),
        ({"situation": {"descent": "3 ft"}}, "situation.descent"),
        ({"domain": {"weight": ["2800 lb", "3400 lb"]}}, "above the maximum mass"),
        ({"domain": {"weight": ["3000 lb", "2800 lb"]}}, "lowest first"),
        ({"domain": {"entry_speed": ["75 kt", "80 kt"]}}, "not of one kind"),
        ({"domain": {"entry_speed": [1.4, 1.5]}}, "not in the range"),
    ],
)
def test_a_plan_that_cannot_be_flown_is_named(compared: dict[str, object], plan: dict[str, object], words: str) -> None:
    with pytest.raises(BadInputError, match=words):
        compare_techniques(compared["store"], None, checked_plan(plan, "plan.toml"), draws=100)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("plan", "field"),
    [
        ({"situation": {"speed": 70}}, r"plan\.toml, situation\.speed: this field is not known"),
        ({"situation": {"start_gear": "half"}}, r"plan\.toml, situation\.start_gear"),
        ({"domain": {"weight": ["2800 lb"]}}, r"plan\.toml, domain\.weight"),
    ],
)
def test_a_plan_of_the_wrong_shape_is_named(plan: dict[str, object], field: str) -> None:
    with pytest.raises(BadInputError, match=field):
        checked_plan(plan, "plan.toml")


def test_the_usual_plan_is_what_an_empty_one_says() -> None:
    assert checked_plan({}, "plan.toml") == PlanDocument()


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("entry_speed = true", "situation.entry_speed: 'True' is not a quantity"),
        ("height = []", "situation.height: '[]' is not a quantity"),
        ("start_flaps = 20", "situation.start_flaps: '20' is not text; write it in quotation marks"),
        ("[domain]\nweight = 3000", "domain.weight: '3000' is not a pair; write two values"),
        ('[domain]\nweight = ["3000 lb"]', "domain.weight.number 2: this field is missing"),
        ("hight = 3", "situation.hight: this field is not known; check the spelling against docs/plan.md"),
    ],
)
def test_a_plan_that_cannot_be_used_is_told_in_plain_words(written: str, says: str) -> None:
    with pytest.raises(BadInputError) as caught:
        parse_plan(f'format = "wringout plan, version 1"\n[situation]\n{written}\n', "plan.toml")
    assert str(caught.value).startswith(f"plan.toml, {says}")
    assert "input should" not in str(caught.value)
