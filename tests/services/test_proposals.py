"""Proposals, candidates and clocks as use cases: offered, answered, made into runs and recordings."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest

from wringout.errors import BadInputError
from wringout.services.flights.candidates import (
    answer_candidates,
    answer_likely,
    caption_candidates,
    readings_from_captions,
)
from wringout.services.flights.clocks import align_recordings, compare_clocks, join_recordings
from wringout.services.flights.proposals import accept_proposal, offered_runs, turn_down_proposal
from wringout.services.flights.recordings import take_in_recording
from wringout.store import Store

CAPTIONS = Path(__file__).parents[1] / "recordings" / "captions" / "gear-and-flaps.vtt"


def a_log(shift_s: float = 0.0) -> bytes:
    """Return an invented log: level at 120 kt, gear down at 60 s, settling at 98 kt, then a slow climb away."""
    times = np.arange(0.0, 260.0)
    fall = 22.0 * (1.0 - np.exp(-np.maximum(times + shift_s - 60.0, 0.0) / 14.0))
    knots = 120.0 - fall + 0.2 * np.sin(times)
    gear = np.clip((times + shift_s - 60.0) / 6.0, 0.0, 1.0)
    rows = "".join(f"{t:.0f},{v:.1f},6500,22.0,{g:.2f}\n" for t, v, g in zip(times, knots, gear, strict=True))
    return f"# kind: logger\nTime (s),IAS (kt),Pressure Altitude (ft),MAP (inHg),Gear\n{rows}".encode()


def take(store: Store, data: bytes, name: str) -> None:
    take_in_recording(store, None, io.BytesIO(data), name, make_run=False)


def test_a_proposal_becomes_a_run_once(store: Store) -> None:
    take(store, a_log(), "log.csv")
    offered = offered_runs(store, None, "log.csv")
    assert [(one.found.kind, one.found.device, one.state) for one in offered] == [
        ("level deceleration", "gear", "open")
    ]
    assert offered[0].found.from_row < offered[0].found.to_row
    with pytest.raises(BadInputError, match="does not say its weight"):
        accept_proposal(store, None, "log.csv", 1)
    run = accept_proposal(store, None, "log.csv", 1, setup={"weight": "2500 lb"})
    assert run.title == "gear down"
    again = offered_runs(store, None, "log.csv")[0]
    assert (again.state, again.run, again.overlapping) == ("accepted", run.stored.key, (run.stored.key,))
    with pytest.raises(BadInputError, match="nothing may count twice"):
        accept_proposal(store, None, "log.csv", 1, setup={"weight": "2500 lb"})
    with pytest.raises(BadInputError, match="there is no proposal 9; proposals are numbered 1 to 1"):
        accept_proposal(store, None, "log.csv", 9)


def test_a_proposal_turned_down_stays_in_the_list(store: Store) -> None:
    take(store, a_log(), "log.csv")
    one = turn_down_proposal(store, None, "log.csv", 1, "traffic")
    assert (one.state, one.reason) == ("turned down", "traffic")
    assert len(offered_runs(store, None, "log.csv")) == 1


def test_what_was_said_becomes_readings_only_after_a_yes(store: Store) -> None:
    take(store, CAPTIONS.read_bytes(), "flight.vtt")
    with pytest.raises(BadInputError, match="no reading was accepted yet"):
        readings_from_captions(store, None, "flight.vtt")
    before = caption_candidates(store, None, "flight.vtt")
    assert before.revision == 0
    assert before.waiting == len(before.candidates)
    first = next(one.found for one in before.candidates if one.found.kind == "reading")
    answered = answer_candidates(store, None, "flight.vtt", {first.key: "no"}, 0)
    assert answered.waiting == before.waiting - 1
    done = answer_likely(store, None, "flight.vtt")
    assert done.waiting == 0
    arrival = readings_from_captions(store, None, "flight.vtt", {"altitude": "3500 ft"})
    read = arrival.recording
    assert read is not None
    assert read.kind == "called"
    assert read.header["captions hash"] == before.item.recording.sha256
    yes = [one.found for one in done.candidates if one.answer == "yes"]
    assert len(read.marks) == sum(one.kind == "mark" for one in yes)
    assert int(np.isfinite(read.channels["ias"].values).sum()) == sum(one.kind == "reading" for one in yes)
    assert [mark.event for mark in read.marks] == [one.event for one in yes if one.kind == "mark"]
    assert arrival.item.name == "flight-readings.csv"


def test_answers_that_make_no_sense_are_refused(store: Store) -> None:
    take(store, CAPTIONS.read_bytes(), "flight.vtt")
    take(store, a_log(), "log.csv")
    with pytest.raises(BadInputError, match=r"there is no candidate '99\.9'"):
        answer_candidates(store, None, "flight.vtt", {"99.9": "yes"})
    with pytest.raises(BadInputError, match="'maybe' is no answer"):
        answer_candidates(store, None, "flight.vtt", {"35.1": "maybe"})
    with pytest.raises(BadInputError, match="holds no captions"):
        caption_candidates(store, None, "log.csv")


def test_marks_of_another_device_come_onto_the_log_with_their_doubt(store: Store) -> None:
    take(store, a_log(), "log.csv")
    take(store, a_log(12.0), "second.csv")
    found = compare_clocks(store, None, "log.csv", "second.csv")
    assert found.fit.offset_s == pytest.approx(12.0, abs=4.0 * found.fit.offset_sd_s)
    arrival = align_recordings(store, None, "log.csv", "second.csv")
    assert arrival.recording is not None
    assert arrival.recording.header["clock uncertainty"].endswith(" s")
    assert arrival.item.name == "log+second.csv"


def test_the_doubt_of_two_clocks_reaches_the_fit(store: Store) -> None:
    words = "# method: level deceleration\n# altitude: 6500 ft\n# weight: 2500 lb\n# clock uncertainty: 2 s\n"
    rows = "".join(f"{6 * i},{120 - 22 * (1 - 2.718 ** (-max(6 * i - 6, 0) / 14)):.0f},\n" for i in range(9))
    text = words + "time,speed,mark\n" + rows.replace("6,120,\n", "6,120,gear down\n", 1)
    arrival = take_in_recording(store, None, io.BytesIO(text.encode()), "run.csv")
    assert arrival.run is not None, arrival.no_run
    item = arrival.run.built[0]
    assert item.run.clock_sd_s == 2.0


def test_parts_join(store: Store) -> None:
    lines = a_log().decode().splitlines(keepends=True)
    take(store, "".join(lines[:100]).encode(), "one.csv")
    take(store, "".join([*lines[:2], *lines[100:]]).encode(), "two.csv")
    with pytest.raises(BadInputError, match="there is nothing to join"):
        join_recordings(store, None, ["one.csv"])
    arrival = join_recordings(store, None, ["two.csv", "one.csv"])
    assert arrival.recording is not None
    assert len(arrival.recording) == 260
