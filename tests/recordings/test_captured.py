"""Logs of taps, read as called readings: what stands, when it was, and what a damaged log says."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wringout.errors import BadInputError
from wringout.recordings.reader import read_recording
from wringout.recordings.taps.clock import Comparison, Moment, best_offset, times_of
from wringout.recordings.types import EventKind, Recording
from wringout.units import KNOT

NOON_MS = 1_780_000_000_000.0


def log_of(*events: dict[str, Any], device: str = "a1", epoch: str = "e1", start: float = NOON_MS) -> str:
    """Return a log; each event gives ``s``, seconds after the start, and what it is."""
    lines = [json.dumps({"format": "wringout taps, version 1", "flight": "f1", "device": device})]
    for i, event in enumerate(events, 1):
        words = {"sequence": i, "epoch": epoch, **event}
        seconds = words.pop("s")
        words.setdefault("wall_ms", start + 1000.0 * seconds)
        words.setdefault("mono_ms", 5000.0 + 1000.0 * seconds)
        lines.append(json.dumps(words))
    return "\n".join(lines) + "\n"


def reading(s: float, value: float, **more: Any) -> dict[str, Any]:
    return {"s": s, "kind": "reading", "value": value, "unit": "kt", **more}


def mark(s: float, label: str) -> dict[str, Any]:
    return {"s": s, "kind": "mark", "label": label}


def read(text: str) -> Recording:
    return read_recording(text.encode(), "flight.taps")


def test_readings_and_marks_come_in_their_order_with_their_rows() -> None:
    found = read(
        log_of(
            {"s": 0.0, "kind": "open"},
            reading(2.0, 120),
            mark(3.5, "gear down"),
            reading(8.0, 113),
            {"s": 9.0, "kind": "timer", "label": "gear", "phase": "start"},
            {"s": 15.5, "kind": "timer", "label": "gear", "phase": "stop"},
            {"s": 16.0, "kind": "note", "text": "a bump"},
        )
    )
    assert found.time_s is not None
    assert found.kind == "called"
    np.testing.assert_allclose(found.time_s, [0.0, 1.5, 6.0, 7.0, 13.5, 14.0])
    assert found.rows.tolist() == [3, 4, 5, 6, 7, 8]
    speeds = found.channels["ias"].values / KNOT
    np.testing.assert_allclose(speeds[[0, 2]], [120.0, 113.0])
    assert np.isnan(speeds[[1, 3, 4, 5]]).all()
    kinds = [(event.label, event.event.kind) for event in found.marks]
    assert kinds == [
        ("gear down", EventKind.SELECTED),
        ("gear moving", EventKind.SELECTED),
        ("gear stopped", EventKind.ARRIVED),
        ("a bump", EventKind.NOTE),
    ]
    assert found.clock_zero_s == pytest.approx(NOON_MS / 1000.0 + 2.0)


def test_a_tap_taken_back_is_left_out_and_said() -> None:
    found = read(log_of(reading(0.0, 120), reading(6.0, 311), {"s": 7.0, "kind": "undo", "of": 2}, reading(8.0, 113)))
    np.testing.assert_allclose(found.channels["ias"].values / KNOT, [120.0, 113.0])
    assert [notice.sentence for notice in found.notices] == ["row 3 (311 kt) was taken back on the device and left out"]


def test_a_clock_that_is_set_in_flight_is_not_believed() -> None:
    stepped = [reading(0.0, 120), reading(6.0, 113, wall_ms=NOON_MS + 3_606_000.0), mark(12.0, "stable")]
    stepped[2]["wall_ms"] = NOON_MS + 3_612_000.0
    found = read(log_of(*stepped))
    assert found.time_s is not None
    np.testing.assert_allclose(found.time_s, [0.0, 6.0, 12.0])
    assert [notice.row for notice in found.notices] == [3]
    assert "was set by +3600.0 s here" in found.notices[0].sentence


def test_a_device_that_slept_is_believed_by_its_date_and_time() -> None:
    asleep = [
        reading(0.0, 120),
        {"s": 1.0, "kind": "sight", "visible": False},
        {"s": 1.5, "kind": "sight", "visible": True, "wall_ms": NOON_MS + 61_500.0},
        reading(2.0, 113, wall_ms=NOON_MS + 62_000.0),
    ]
    found = read(log_of(*asleep))
    assert found.time_s is not None
    np.testing.assert_allclose(found.time_s, [0.0, 62.0])
    assert not found.notices


def test_openings_are_joined_by_date_and_time() -> None:
    found = read(log_of(reading(0.0, 120), reading(30.0, 100, epoch="e2", mono_ms=10.0)))
    assert found.time_s is not None
    np.testing.assert_allclose(found.time_s, [0.0, 30.0])


def test_two_devices_are_brought_to_one_clock_by_their_quickest_comparison() -> None:
    clock = {"s": 1.0, "kind": "clock", "offset_ms": -2000.0, "round_trip_ms": 40.0}
    worse = {"s": 2.0, "kind": "clock", "offset_ms": -2500.0, "round_trip_ms": 900.0}
    none = {"s": 1.0, "kind": "clock", "offset_ms": 0.0, "round_trip_ms": 10.0}
    first = log_of(mark(0.0, "gear down"), none)
    second = log_of(reading(5.0, 110), clock, worse, device="b2").split("\n", 1)[1]
    second = "\n".join(json.dumps({**json.loads(line), "device": "b2"}) for line in second.splitlines())
    found = read(first + second + "\n")
    assert found.time_s is not None
    np.testing.assert_allclose(found.time_s, [0.0, 3.0])
    assert "corrected by -2.00 ± 0.02 s" in " ".join(notice.sentence for notice in found.notices)


def test_the_same_event_handed_over_twice_counts_once() -> None:
    text = log_of(reading(0.0, 120), reading(6.0, 113))
    assert len(read(text + "\n".join(text.splitlines()[1:]) + "\n")) == 2


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('{"format": "wringout taps, version 9"}\n', "row 1.*this version reads"),
        (log_of({"s": 0.0, "kind": "open"}), "no tap in this log stands"),
        (log_of(reading(0.0, 120, unit="ft"), reading(1.0, 118)), "row 2, value.*kt, mph or km/h"),
        (log_of(reading(0.0, 120, sequence="x"), reading(1.0, 118)), "row 2.*lacks a place"),
        (log_of(reading(0.0, 120), reading(1.0, 118, sequence=1)), "row 3.*given twice and differs from row 2"),
        (log_of(reading(0.0, 120)).replace('"kind"', "kind", 1) + "{}\n", "row 2.*not one JSON object"),
    ],
)
def test_a_damaged_log_says_where(text: str, says: str) -> None:
    with pytest.raises(BadInputError, match="(?s)^(?=.*" + ")(?=.*".join(says.split(".*")) + ")"):
        read(text)


def test_a_log_cut_short_keeps_all_but_the_torn_line() -> None:
    found = read(log_of(reading(0.0, 120), reading(6.0, 113), reading(12.0, 107))[:-20])
    assert len(found) == 2
    assert "row 4: the line is cut short" in found.notices[0].sentence


@given(
    st.lists(st.tuples(st.floats(0.0, 30.0), st.booleans(), st.floats(-7200.0, 7200.0)), min_size=1, max_size=30),
)
def test_steps_of_the_clock_never_move_a_tap(gaps: list[tuple[float, bool, float]]) -> None:
    """Taps of one opening with the page in sight lie where the running clock says, however the clock was set."""
    mono, wall, moments = 0.0, NOON_MS, []
    for gap, stepped, by_s in gaps:
        mono += 1000.0 * gap
        wall += 1000.0 * gap + (1000.0 * by_s if stepped and moments else 0.0)
        moments.append(Moment(wall, mono, "e"))
    times, _ = times_of(moments)
    expected = np.array([moment.mono_ms for moment in moments])
    small = sum(abs(by) < 0.25 for _, stepped, by in gaps if stepped)
    np.testing.assert_allclose(np.array(times) - times[0], expected - expected[0], atol=1e-3 + 250.0 * small)


def test_the_quickest_comparison_bounds_the_offset() -> None:
    """The worked reckoning of RFC 5905, section 8: t1 0, t2 105, t3 105, t4 10 ms give offset 100 and delay 10 ms."""
    t1, t2, t3, t4 = 0.0, 105.0, 105.0, 10.0
    offset, delay = ((t2 - t1) + (t3 - t4)) / 2.0, (t4 - t1) - (t3 - t2)
    assert (offset, delay) == (100.0, 10.0)
    assert best_offset([Comparison(offset, delay), Comparison(180.0, 300.0)]) == (100.0, 5.0)
    assert best_offset([]) is None


@given(st.text(max_size=300))
def test_anything_else_is_refused_in_one_sentence(text: str) -> None:
    with pytest.raises(BadInputError):
        read('{"format": "wringout taps, version 1"}\n{"kind": 1}\n' + text.replace("\x00", "") + "\n{}\n{}\n")
