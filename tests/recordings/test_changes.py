"""Marks from gear and flap columns, against movements whose true moments are known. All invented."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wringout.recordings.changes import marks_from_channels
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Device, EventKind, Mark, Recording

GEAR, FLAPS = Device.GEAR, Device.FLAPS
SELECTED, ARRIVED = EventKind.SELECTED, EventKind.ARRIVED


def ramp(time_s: np.ndarray, *legs: tuple[float, float, float]) -> np.ndarray:
    """Position over time: from 0, each leg (start [s], end [s], new position) an even travel."""
    points, values = [time_s[0] - 1.0], [0.0]
    for start, end, new in legs:
        points += [start, end]
        values += [values[-1], new]
    return np.interp(time_s, points, values)


def recording_of(column: str, unit: str, time_s: np.ndarray, values: np.ndarray, decimals: int) -> Recording:
    rows = "".join(f"{t:.2f},{v:.{decimals}f},120\n" for t, v in zip(time_s, values, strict=True))
    return read_recording(f"Time,{column},IAS\ns,{unit},kt\n{rows}".encode(), "log.csv")


def facts(marks: tuple[Mark, ...]) -> list[tuple[EventKind, Device | None, str]]:
    return [(mark.event.kind, mark.event.device, mark.event.target) for mark in marks]


@pytest.mark.parametrize("step_s", [0.1, 0.2, 0.5, 1.0])
def test_flaps_out_and_back(step_s: float) -> None:
    time_s = np.arange(0.0, 60.0, step_s)
    values = ramp(time_s, (10.3, 18.6, 30.0), (40.2, 47.9, 0.0))
    marks = marks_from_channels(recording_of("Flaps", "deg", time_s, values, 2))
    assert facts(marks) == [
        (SELECTED, FLAPS, "30"),
        (ARRIVED, FLAPS, "30"),
        (SELECTED, FLAPS, "0"),
        (ARRIVED, FLAPS, "0"),
    ]
    assert [mark.time_s for mark in marks] == pytest.approx([10.3, 18.6, 40.2, 47.9], abs=0.02)


@pytest.mark.parametrize("step_s", [0.1, 0.5, 1.0])
def test_gear_with_noise(step_s: float) -> None:
    time_s = np.arange(0.0, 40.0, step_s)
    noise = np.random.default_rng(7).normal(0.0, 0.004, time_s.size)
    values = np.clip(ramp(time_s, (12.4, 18.9, 1.0)) + noise, 0.0, None)
    marks = marks_from_channels(recording_of("Gear", "1", time_s, values, 3))
    assert facts(marks) == [(SELECTED, GEAR, "down"), (ARRIVED, GEAR, "down")]
    assert [mark.time_s for mark in marks] == pytest.approx([12.4, 18.9], abs=0.35)


@given(
    st.floats(5.0, 15.0),
    st.floats(3.0, 12.0),
    st.floats(10.0, 40.0),
    st.sampled_from([0.1, 0.25, 1.0]),
)
def test_an_even_travel_is_found_to_a_fraction_of_a_step(
    start: float, lasts: float, angle: float, step_s: float
) -> None:
    time_s = np.arange(0.0, 45.0, step_s)
    values = ramp(time_s, (start, start + lasts, angle))
    marks = marks_from_channels(recording_of("Flaps", "deg", time_s, values, 3))
    assert [kind for kind, _, _ in facts(marks)] == [SELECTED, ARRIVED]
    tolerance = 0.03 * lasts + 0.02
    assert [mark.time_s for mark in marks] == pytest.approx([start, start + lasts], abs=tolerance)


def test_a_jump_is_a_handle() -> None:
    time_s = np.arange(0.0, 20.0, 1.0)
    marks = marks_from_channels(recording_of("Gear", "", time_s, (time_s >= 8.0).astype(float), 0))
    assert facts(marks) == [(SELECTED, GEAR, "down")]
    assert marks[0].time_s == pytest.approx(7.5)
    assert marks[0].row == 3 + 8
    assert marks[0].label == "Gear leaves up"


def test_a_travel_that_the_recording_does_not_see_end() -> None:
    time_s = np.arange(0.0, 14.0, 0.5)
    marks = marks_from_channels(recording_of("Flaps", "deg", time_s, ramp(time_s, (10.0, 20.0, 40.0)), 2))
    assert facts(marks)[0][:2] == (SELECTED, FLAPS)
    assert marks[0].time_s == pytest.approx(10.0, abs=0.05)


def test_nothing_moves() -> None:
    time_s = np.arange(0.0, 30.0, 0.5)
    noise = np.random.default_rng(3).normal(0.0, 0.05, time_s.size)
    assert marks_from_channels(recording_of("Flaps", "deg", time_s, 20.0 + noise, 2)) == ()


def test_a_spike_is_no_movement() -> None:
    time_s = np.arange(0.0, 30.0, 0.5)
    values = np.zeros(time_s.size)
    values[20] = 30.0
    assert marks_from_channels(recording_of("Flaps", "deg", time_s, values, 1)) == ()


@pytest.mark.parametrize("moving", ["TRANSIT", "Trans", "in transit", "MOVING"])
def test_words_with_a_transit(moving: str) -> None:
    rows = ["UP", "UP", moving, moving, "", "DOWN", "DOWN", moving, "UP"]
    text = "Time,Gear,IAS\ns,,kt\n" + "".join(f"{2 * i},{word},120\n" for i, word in enumerate(rows))
    marks = marks_from_channels(read_recording(text.encode(), "log.csv"))
    assert facts(marks) == [
        (SELECTED, GEAR, "down"),
        (ARRIVED, GEAR, "down"),
        (SELECTED, GEAR, "up"),
        (ARRIVED, GEAR, "up"),
    ]
    assert [mark.time_s for mark in marks] == [3.0, 8.0, 13.0, 15.0]
    assert [mark.row for mark in marks] == [5, 8, 10, 11]


def test_words_of_a_handle() -> None:
    text = "time,speed,flap,mark\n0,120,up,\n6,118,up,\n12,113,half,\n18,105,full,\n"
    marks = marks_from_channels(read_recording(text.encode(), "calls.csv"))
    assert facts(marks) == [(SELECTED, FLAPS, "half"), (SELECTED, FLAPS, "full")]


def test_a_list_has_no_movement() -> None:
    text = "flap,speed,gear\nup,59,up\nfull,48,down\n"
    assert marks_from_channels(read_recording(text.encode(), "stalls.csv")) == ()


@given(st.lists(st.sampled_from([0.0, 0.3, 0.5, 1.0]), min_size=1, max_size=60))
def test_any_sequence_gives_marks_in_order(values: list[float]) -> None:
    time_s = np.arange(len(values), dtype=float)
    marks = marks_from_channels(recording_of("Gear", "1", time_s, np.array(values), 1))
    times = [mark.time_s for mark in marks]
    assert times == sorted(times)
    assert all(0.0 <= time <= time_s[-1] for time in times)


def test_a_recording_that_ends_in_the_middle_of_a_travel_gives_no_arrival() -> None:
    time_s = np.arange(0.0, 20.0, 0.1)
    marks = marks_from_channels(recording_of("Gear", "1", time_s, ramp(time_s, (18.5, 25.0, 1.0)), 3))
    assert facts(marks)[0] == (SELECTED, GEAR, "")
    assert [kind for kind, _, _ in facts(marks)] == [SELECTED]


def test_a_partial_travel_has_its_share_as_target() -> None:
    time_s = np.arange(0.0, 20.0, 0.5)
    marks = marks_from_channels(recording_of("Gear", "1", time_s, ramp(time_s, (5.0, 9.0, 0.6)), 3))
    assert [target for _, _, target in facts(marks)] == ["60%", "60%"]
