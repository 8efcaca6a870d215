"""A study with a run of every flight-test method: taken in, listed, reduced, said and printed."""

from __future__ import annotations

import dataclasses
import io
import json
import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from tests.services.every_method import BY_METHOD, FLAPS, GEAR_AND_BACK, LEGS, PAIRS
from tests.services.texts import AIRPLANE, MOMENT
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.briefs.content import BriefContent
from wringout.briefs.document import Document, Paragraph, text_of
from wringout.briefs.html import html_of
from wringout.briefs.story.build import build_document
from wringout.methods.go_around_pairs.entry import corrections
from wringout.methods.go_around_pairs.run import GoAroundRun
from wringout.methods.register import METHODS
from wringout.recordings.reader import read_recording
from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.findings.flown_entries import entry_model
from wringout.services.findings.go_arounds import go_around_documents
from wringout.services.findings.reduce import Reduced, reduce_study
from wringout.services.flights.documents import observed_documents, run_document
from wringout.services.flights.recordings import Arrival, take_in_recording
from wringout.services.flights.runs import add_run_to, study_run, study_runs
from wringout.services.opening import open_studies
from wringout.services.study.studies import make_study
from wringout.store import Store

BELIEFS = airplane_from_document(parse_airplane(AIRPLANE))
KEYS = {
    "airspeed calibration": "C1",
    "climb": "CL1",
    "glide": "GL1",
    "go around pairs": "GA1",
    "level acceleration": "LA1",
    "level deceleration": "G1",
    "level power": "LP1",
    "out and back": "OB1",
    "slow down": "SD1",
    "stall series": "S1",
    "transit timing": "T1",
}


def take(store: Store, name: str, text: str, **more: Any) -> Arrival:
    return take_in_recording(store, None, io.BytesIO(text.encode()), name, **more)


@pytest.fixture(scope="module")
def everything(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, dict[str, Arrival], Reduced]]:
    with open_studies(tmp_path_factory.mktemp("every") / "study.db", lambda: MOMENT) as opened:
        make_study(opened, "Every method", "Which costs more?", {"smallest": "25 ft"}, invented=True)
        put_airplane_file(opened, None, AIRPLANE.encode(), "airplane.toml")
        arrivals = {key: take(opened, *file) for key, file in BY_METHOD.items()}
        take(opened, *FLAPS)
        yield opened, arrivals, reduce_study(opened, None, draws=400, seed=3)


Everything = tuple[Store, dict[str, Arrival], Reduced]


def body_of(found: Everything) -> dict[str, Any]:
    body: dict[str, Any] = json.loads(json.dumps(found[2].result.body))
    return body


def test_there_is_a_recording_of_every_method() -> None:
    assert set(BY_METHOD) == set(METHODS) == set(KEYS)


@pytest.mark.parametrize("method", KEYS)
def test_a_recording_of_each_method_makes_its_run_at_once(everything: Everything, method: str) -> None:
    arrival = everything[1][method]
    assert arrival.no_run == ""
    assert arrival.run is not None
    assert arrival.run.stored.method == method
    assert arrival.run.stored.key == KEYS[method]
    assert arrival.run.readings > 3
    assert arrival.run.title


@pytest.mark.parametrize(("text", "method"), [(LEGS, "airspeed calibration"), (PAIRS, "go around pairs")])
def test_a_list_of_its_kind_needs_no_method_word(store: Store, text: str, method: str) -> None:
    assert "# method" not in text
    arrival = take(store, "list.csv", text)
    assert arrival.run is not None
    assert arrival.run.stored.method == method


@pytest.mark.parametrize("method", KEYS)
def test_a_run_can_be_added_by_hand_for_each_method(store: Store, method: str) -> None:
    name, text = BY_METHOD[method]
    bare = "\n".join(line for line in text.splitlines() if not line.startswith("# method")) + "\n"
    take(store, name, bare, make_run=False)
    added = add_run_to(store, None, name, method)
    assert added.stored.method == method
    assert added.built


def test_methods_are_named_as_people_spell_them(store: Store) -> None:
    for number, word in enumerate(("Out and back", "out_and_back", "out-and-back")):
        text = GEAR_AND_BACK.replace("# method: out-and-back", f"# method: {word}\n# note: {number}")
        arrival = take(store, f"pair-{number}.csv", text)
        assert arrival.run is not None
        assert arrival.run.stored.key == f"OB{number + 1}"


def test_go_arounds_are_shown_as_what_they_are(everything: Everything) -> None:
    found, _ = study_run(everything[0], None, "GA1")
    document = run_document(found)
    assert (document["readings"], document["in_fit"]) == (12, False)
    assert observed_documents(found) == []
    flown = [one for item in found.built for one in go_around_documents(item)]
    assert len(flown) == 12
    # Row 6 of the file: 1, gear first, 77, 550, 101, 5.7, 265
    assert flown[0] == {
        "row": 5,
        "pair": "1",
        "technique": "gear first",
        "entry_speed": {"value": 77.0, "unit": "kt"},
        "entry_descent": {"value": 550.0, "unit": "ft/min"},
        "scores": {
            "height lost": {"value": 101.0, "unit": "ft"},
            "time to climb": {"value": 5.7, "unit": "s"},
            "height at 30 s": {"value": 265.0, "unit": "ft"},
        },
    }
    assert all(item.is_fitted for item in study_runs(everything[0], None) if item.stored.key != "GA1")


def test_pairs_are_brought_to_one_entry_by_the_fitted_airplane(everything: Everything) -> None:
    run = next(run for run in body_of(everything)["runs"] if run["method"] == "go around pairs")
    results = {one["key"]: one for one in run["results"]}
    assert "by flying the fitted airplane at other entries" in results["height at 30 s, at equal entry"]["sentence"]
    assert results["height lost, at equal entry"]["budget"]["entry correction"] >= 0.0
    assert min(one["strength"] for one in run["results"]) == 1


def pairs_run(text: str = PAIRS, beliefs: Beliefs = BELIEFS) -> GoAroundRun:
    recording = read_recording(text.encode(), "pairs.csv")
    (run,) = METHODS["go around pairs"].from_recording("GA1", recording, {}, beliefs)
    assert isinstance(run, GoAroundRun)
    return run


def test_a_faster_entry_is_worth_at_most_its_energy() -> None:
    run, row = pairs_run(), BELIEFS.prior_row()
    model = entry_model(run, row, BELIEFS)
    assert model is not None
    speed, descent = float(run.entry_speed_mps.mean()), float(run.entry_descent_mps.mean())
    for technique in run.techniques:
        usual = model.scores(technique, speed, descent)["height at 30 s"]
        gained = model.scores(technique, speed + 1.0, descent)["height at 30 s"] - usual
        # One m/s more is V/g = 4.1 m of energy height; one law keeps it as speed, the other makes it height.
        assert 0.2 * speed / 9.80665 < gained < 0.8 * speed / 9.80665
        # A steeper entry of 1 m/s costs at least the second until the power comes and the two it takes to rise.
        steeper = model.scores(technique, speed, descent + 1.0)["height at 30 s"] - usual
        assert -6.0 < steeper < -1.0
    assert 0.25 <= model.share_sd <= 1.0


def test_the_same_entry_needs_no_correction() -> None:
    run = pairs_run()
    n = run.pair.size
    even = dataclasses.replace(
        run, entry_speed_mps=np.full(n, run.entry_speed_mps.mean()), entry_descent_mps=np.full(n, 2.8)
    )
    model = entry_model(even, BELIEFS.prior_row(), BELIEFS)
    assert model is not None
    assert np.abs(corrections(even, model)).max() < 1e-9


@pytest.mark.parametrize(
    "text",
    [
        PAIRS.replace("1, gear first, 77, 550,", "1, gear first, 77, ,"),  # an entry is not written
        PAIRS.replace(" 7", " 4"),  # below the stall speed in the landing configuration
    ],
)
def test_without_an_entry_that_can_be_flown_energy_arguments_stay(text: str) -> None:
    assert entry_model(pairs_run(text), BELIEFS.prior_row(), BELIEFS) is None


def test_a_score_that_was_not_read_is_null(store: Store) -> None:
    arrival = take(store, "pairs.csv", PAIRS.replace("77, 550, 101, 5.7, 265", "77, , 101, , 265"))
    assert arrival.run is not None
    flown = go_around_documents(arrival.run.built[0])
    assert flown[0]["entry_descent"] is None
    assert flown[0]["scores"]["time to climb"] is None


@pytest.mark.parametrize(
    ("method", "result", "unit"),
    [
        ("airspeed calibration", "position correction", "kt"),
        ("climb", "best-rate speed, clean", "kt"),
        ("climb", "best-angle speed, clean", "kt"),
        ("glide", "drag area, clean", "ft2"),
        ("glide", "best glide ratio, clean", ""),
        ("level acceleration", "excess power, middle", "ft/min"),
        ("level power", "drag area, clean", "ft2"),
        ("out and back", "out and back", "ft2"),
        ("out and back", "start slope", "ft2"),
        ("slow down", "time", "s"),
        ("go around pairs", "height lost, at equal entry", "ft"),
        ("go around pairs", "height lost, as flown", "ft"),
    ],
)
def test_what_each_method_gives_by_hand_is_in_the_document(
    everything: Everything, method: str, result: str, unit: str
) -> None:
    runs = [run for run in body_of(everything)["runs"] if run["method"] == method]
    results = {one["key"]: one for one in runs[0]["results"]}
    assert result in results
    assert results[result]["unit"] == unit
    low, high = results[result]["interval_95"]
    assert low < results[result]["value"] < high


def test_the_pair_says_its_gain_over_the_single_deceleration(everything: Everything) -> None:
    run = next(run for run in body_of(everything)["runs"] if run["method"] == "out and back")
    results = {one["key"]: one for one in run["results"]}

    def width(key: str) -> float:
        low, high = results[key]["interval_95"]
        return float(high - low)

    gain = width("out and back") / width("start slope")
    assert gain < 1.0
    assert (
        f"The interval is {gain:.2f} of that of the start slope on the first leg alone."
        in (results["out and back"]["sentence"])
    )


@pytest.fixture(scope="module")
def document(everything: Everything) -> Document:
    reduction = everything[2].reduction
    return build_document(BriefContent("Every method", "Which?", "25 ft", True, reduction.beliefs.name, reduction))


def test_the_brief_prints_pairs_of_go_arounds_apart_from_the_fitted_runs(
    everything: Everything, document: Document
) -> None:
    sections = {section.anchor: section for section in document.sections}
    first = next(block for block in sections["pairs"].blocks if isinstance(block, Paragraph))
    said = text_of(first.line)
    # The mean of the six differences of height lost, gear first less flaps first, is 18 ft as flown.
    assert said.startswith("Height lost: gear first less flaps first. Flaps first is ahead by")
    assert "less than the 25 ft that matter" in said
    assert "GA1" not in "".join(text_of(b.line) for b in sections["runs"].blocks if isinstance(b, Paragraph))
    page = html_of(document)
    assert "6 pairs of go-arounds" in page
    assert not re.search(r"(?<![\w+/])nan(?![\w+/=])", page)


def test_every_run_has_its_readings_in_the_brief(everything: Everything, document: Document) -> None:
    page = html_of(document)
    for key in ("C1.1", "CL1", "GL1", "LA1", "LP1", "OB1", "SD1", "GA1"):
        assert f">{key}<" in page
