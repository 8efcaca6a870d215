"""Recordings are kept before anything parses them; what can be read is read, what cannot is said in one sentence."""

from __future__ import annotations

import hashlib
import io

import pytest

from tests.services.texts import AIRPLANE, BINARY, FLAP_RUN, GEAR_RUN, MOMENT, ODD_UNIT, RUNS, STALLS, SWAPPED
from wringout.errors import BadInputError, NotFoundError
from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.flights.recordings import (
    Arrival,
    study_recording,
    study_recordings,
    take_in_recording,
    use_mapping,
)
from wringout.services.flights.runs import add_run_to, put_run_back, set_run_aside, study_run, study_runs
from wringout.services.opening import open_studies
from wringout.services.study.studies import history, make_study
from wringout.store import RunState, Store, read_recording_bytes


def take(store: Store, text: str | bytes, name: str = "run.csv", **more: object) -> Arrival:
    data = text if isinstance(text, bytes) else text.encode()
    return take_in_recording(store, None, io.BytesIO(data), name, **more)  # type: ignore[arg-type]


def test_a_complete_header_makes_a_run_at_once(store: Store) -> None:
    arrival = take(store, GEAR_RUN, "G7-gear.csv")
    assert arrival.run is not None
    assert (arrival.run.stored.key, arrival.run.title, arrival.no_run) == ("G7", "gear down", "")
    assert arrival.item.recording.sha256 == hashlib.sha256(GEAR_RUN.encode()).hexdigest()
    assert arrival.item.recording.kind == ""  # known once it has been read
    assert study_recordings(store, None)[0].item.recording.kind == "called"


@pytest.mark.parametrize(("name", "key"), [("evening.csv", "G1"), ("x-ray.csv", "G1"), ("G12.csv", "G12")])
def test_a_run_gets_a_short_name(store: Store, name: str, key: str) -> None:
    arrival = take(store, GEAR_RUN, name)
    assert arrival.run is not None
    assert arrival.run.stored.key == key


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (BINARY, "this is an image, not a table"),
        (SWAPPED.encode(), "columns look swapped"),
        (b"lunch\nwas\ngood\n", ""),
    ],
)
def test_what_cannot_be_read_stays_kept(store: Store, data: bytes, words: str) -> None:
    arrival = take(store, data, "odd.csv")
    assert arrival.recording is None
    assert arrival.run is None
    assert words in arrival.problem
    assert arrival.problem.startswith("odd.csv")
    assert arrival.problem.endswith(".")
    with store.reading() as view:
        assert read_recording_bytes(view, arrival.item.recording.sha256) == data


def test_an_empty_file_is_refused_and_nothing_is_kept(store: Store) -> None:
    with pytest.raises(BadInputError, match=r"empty\.csv.*empty"):
        take(store, b"", "empty.csv")
    assert study_recordings(store, None) == ()


def test_the_same_bytes_are_noticed_and_make_no_second_run(store: Store) -> None:
    first, again = take(store, GEAR_RUN, "a.csv"), take(store, GEAR_RUN, "b.csv")
    assert not first.already_in_study
    assert again.already_in_study
    assert again.item.name == "a.csv"
    assert again.run is None
    assert again.no_run == "It has the run G1 already."
    told = take(store, GEAR_RUN, "c.csv", setup={"weight": "2800 lb"})
    assert told.no_run == "It has the run G1 already. It keeps its set-up words; those given now are not used."
    assert len(study_runs(store, None)) == 1


def test_a_recording_before_the_airplane_waits(tmp_path: object) -> None:
    with open_studies(tmp_path / "s.db", lambda: MOMENT) as store:  # type: ignore[operator]
        make_study(store, "Bare", "", {})
        arrival = take(store, GEAR_RUN)
        assert arrival.recording is not None
        assert "no airplane yet" in arrival.no_run
        with pytest.raises(NotFoundError, match="no airplane yet"):
            add_run_to(store, None, "run.csv")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (GEAR_RUN.replace("# method: level deceleration\n", ""), "says what was flown"),
        (GEAR_RUN.replace("# weight: 3000 lb\n", ""), "does not say its weight"),
        (GEAR_RUN.replace("level deceleration", "level deceleratoin"), "'level deceleratoin' is not a method"),
        (GEAR_RUN.replace(", gear down", ""), "no mark says when the device moved"),
    ],
)
def test_an_incomplete_header_is_read_and_says_what_is_missing(store: Store, text: str, words: str) -> None:
    arrival = take(store, text)
    assert arrival.recording is not None
    assert arrival.run is None
    assert arrival.no_run.startswith("No run was made")
    assert words in arrival.no_run
    assert arrival.run_refused == ("says what was flown" not in words)


def test_a_user_completes_what_the_header_lacks(store: Store) -> None:
    take(store, GEAR_RUN.replace("# weight: 3000 lb\n", "").replace("# method: level deceleration\n", ""))
    added = add_run_to(store, None, "run.csv", "level deceleration", None, {"Weight": "1,360.8 kg"}, "G9")
    assert added.stored.key == "G9"
    assert added.built[0].run.conditions.mass_kg == pytest.approx(1360.8)


def test_a_run_cut_from_its_recording_keeps_the_rows_and_the_clock(store: Store) -> None:
    take(store, GEAR_RUN, make_run=False)
    added = add_run_to(store, None, "run.csv", None, (0.0, 44.0))
    run = added.built[0].run
    assert list(run.rows) == list(range(6, 14))
    assert (added.stored.from_s, added.stored.to_s) == (0.0, 44.0)
    with pytest.raises(BadInputError, match="no row lies between"):
        add_run_to(store, None, "run.csv", None, (500.0, 600.0))


def test_no_reading_counts_twice(store: Store) -> None:
    take(store, GEAR_RUN, make_run=False)
    add_run_to(store, None, "run.csv", None, (0.0, 62.0))
    with pytest.raises(BadInputError, match=r"run\.csv: run G1 has these readings already.*set G1 aside first"):
        add_run_to(store, None, "run.csv")
    with pytest.raises(BadInputError, match="run G1 has these readings already"):
        add_run_to(store, None, "run.csv", None, (0.0, 44.0))
    set_run_aside(store, None, "G1", "wrong weight")
    assert add_run_to(store, None, "run.csv", None, None, {"weight": "2900 lb"}).stored.key == "G2"
    with pytest.raises(BadInputError, match="run G2 has these readings already"):
        put_run_back(store, None, "G1")


def test_recordings_of_one_name_are_told_apart_by_their_hashes(store: Store) -> None:
    first = take(store, GEAR_RUN).item.recording.sha256
    again = take(store, f"// corrected\n{GEAR_RUN}")
    assert again.earlier_runs == ("G1",)
    second = again.item.recording.sha256
    with pytest.raises(NotFoundError, match="name it by its hash, newest first: ") as told:
        study_recording(store, None, "run.csv")
    assert {first[:12], second[:12]} <= set(told.value.advice.replace(",", "").split())
    assert study_recording(store, None, second[:12]).item.recording.sha256 == second


def test_a_run_cut_short_is_still_a_run(store: Store) -> None:
    short = "\n".join(GEAR_RUN.splitlines()[:11]) + "\n"
    arrival = take(store, short)
    assert arrival.run is not None
    assert len(arrival.run.built[0].run.time_s) == 6


def test_too_few_readings_are_said_to_be_too_few(store: Store) -> None:
    arrival = take(store, "\n".join(GEAR_RUN.splitlines()[:8]) + "\n")
    assert arrival.run is None
    assert "needs at least four" in arrival.no_run


def test_a_gap_is_noticed(store: Store) -> None:
    arrival = take(store, "\n".join(line for line in GEAR_RUN.splitlines() if line[:4] not in {"0:26", "0:32", "0:38"}))
    assert arrival.recording is not None
    assert any("nothing is called for 24 s" in notice.sentence for notice in arrival.recording.notices)


def test_a_limit_exceedance_is_reported_and_the_run_is_still_built(store: Store) -> None:
    fast = (
        FLAP_RUN.replace("0:00, 107", "0:00, 117").replace("0:06, 107", "0:06, 117").replace("0:12, 102", "0:12, 113")
    )
    arrival = take(store, fast)
    assert arrival.run is not None
    sentences = [found.sentence() for found in arrival.run.exceedances]
    assert sentences == [
        "VFE (full) is 110 kt and 117 kt was read on row 7: a limit exceedance; the run is still reduced."
    ]
    assert len(arrival.run.built) == 1


def test_setting_a_run_aside_needs_a_reason_and_can_be_undone(store: Store) -> None:
    take(store, GEAR_RUN)
    with pytest.raises(BadInputError, match="needs a reason"):
        set_run_aside(store, None, "G1", "  ")
    assert set_run_aside(store, None, "G1", "gust front").state is RunState.SET_ASIDE
    assert study_run(store, None, "G1")[0].stored.reason == "gust front"
    assert put_run_back(store, None, "G1").state is RunState.IN_USE
    assert [entry.what for entry in history(store, None)][-2:] == ["run edited", "run edited"]
    with pytest.raises(NotFoundError, match=r"no run .G2.*there is G1"):
        set_run_aside(store, None, "G2", "why")


def test_a_question_of_the_reader_must_be_answered(store: Store) -> None:
    asked = take(store, ODD_UNIT, "logger.csv")
    assert [notice.field for notice in asked.questions] == ["ias"]
    assert asked.recording is not None
    assert "ias" not in asked.recording.channels
    with pytest.raises(BadInputError, match="no column 'iaz'"):
        use_mapping(store, None, "logger.csv", None, (("iaz", "kt"),))
    use_mapping(store, None, "logger.csv", None, (("ias", "kt"),))
    found = study_recordings(store, None)[0].recording
    assert found is not None
    assert found.channels["ias"].unit == "kt"
    assert found.channels["ias"].values[0] == pytest.approx(238.5 * 1852 / 3600)
    assert "altitude" in found.channels


def test_answers_can_be_given_while_taking_in(store: Store) -> None:
    arrival = take(store, ODD_UNIT, "logger.csv", answers=(("ias", "km/h"), ("altitude", "ignore")))
    assert arrival.questions == ()
    assert arrival.recording is not None
    assert sorted(arrival.recording.channels) == ["ias"]


@pytest.mark.parametrize(
    ("answer", "words"),
    [("ft", "'ft' measures length"), ("spoons", "the unit 'spoons' is not")],
)
def test_an_answer_that_cannot_be_used_changes_nothing(store: Store, answer: str, words: str) -> None:
    take(store, ODD_UNIT, "logger.csv")
    with pytest.raises(BadInputError, match=words):
        use_mapping(store, None, "logger.csv", None, (("ias", answer),))
    assert study_recordings(store, None)[0].item.mapping is None


def test_a_list_needs_no_method_word(store: Store) -> None:
    arrival = take(store, STALLS.replace("# method: stall series\n", ""))
    assert arrival.run is not None
    assert arrival.run.stored.method == "stall series"


def test_a_list_that_is_not_plainly_of_stalls_needs_one(store: Store) -> None:
    rows = "flap, gear, speed, vertical speed\nup, up, 80, -790\nup, up, 95, -915\nup, up, 110, -1150\n"
    words = "# altitude: 6000 ft\n# weight: 2900 lb\n# power: zero thrust\n"
    assert "says what was flown" in take(store, words + rows, "glides.csv").no_run
    arrival = take(store, f"# method: glide\n{words}{rows}", "named.csv")
    assert arrival.run is not None
    assert (arrival.run.stored.key, arrival.run.stored.method) == ("GL1", "glide")


def test_every_sample_makes_its_run(store: Store) -> None:
    for name, text in RUNS.items():
        arrival = take(store, text, name)
        assert arrival.run is not None, arrival.no_run
        assert arrival.run.stored.key == name.partition("-")[0]


def test_a_changed_airplane_shows_in_the_runs_and_hurts_none(store: Store) -> None:
    take(store, FLAP_RUN)
    renamed = AIRPLANE.replace('name = "full"', 'name = "landing"').replace('flaps = "full"', 'flaps = "landing"')
    put_airplane_file(store, None, renamed.encode(), "airplane.toml")
    assert study_runs(store, None)[0].title == "flaps landing"
