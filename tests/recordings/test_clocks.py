from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wringout.recordings.clocks import (
    TimeStyle,
    likelier_astray,
    missing_time,
    out_of_order,
    read_time,
    unroll,
    write_time,
)


@pytest.mark.parametrize(
    ("text", "seconds", "style"),
    [
        ("72", 72.0, TimeStyle.SECONDS),
        ("72.5", 72.5, TimeStyle.SECONDS),
        ("72,5", 72.5, TimeStyle.SECONDS),
        ("72 s", 72.0, TimeStyle.SECONDS),
        ("-3", -3.0, TimeStyle.SECONDS),
        ("1:12", 72.0, TimeStyle.MINUTES),
        ("1:12.5", 72.5, TimeStyle.MINUTES),
        ("01:12", 72.0, TimeStyle.MINUTES),
        ("61:12", 3672.0, TimeStyle.MINUTES),
        ("1:01:12", 3672.0, TimeStyle.HOURS),
        ("23:59:59.9", 86399.9, TimeStyle.HOURS),
        ("11:59:54 AM", 43194.0, TimeStyle.HOURS),
        ("12:00:06 p.m.", 43206.0, TimeStyle.HOURS),  # noon begins the afternoon, midnight the morning
        ("12:00:06am", 6.0, TimeStyle.HOURS),
        ("1:00:06 PM", 46806.0, TimeStyle.HOURS),
    ],
)
def test_times_as_people_write_them(text: str, seconds: float, style: TimeStyle) -> None:
    time = read_time(text)
    assert time is not None
    assert time.seconds == pytest.approx(seconds, abs=1e-9)
    assert time.style is style


@pytest.mark.parametrize(
    "text",
    [
        "",
        "1:75",
        "1:61:00",
        "1:2:3:4",
        "12O",
        "nan",
        "inf",
        "1e5",
        "1:",
        ":12",
        "9" * 30,
        "13:00:00 PM",
        "0:00:01 AM",
        "2:05 PM",
        "72 PM",
        "PM",
    ],
)
def test_what_is_not_a_time(text: str) -> None:
    assert read_time(text) is None


def test_a_column_in_minutes() -> None:
    time = read_time("1.5", 60.0)
    assert time is not None
    assert time.seconds == pytest.approx(90.0)


@given(st.integers(0, 86_399), st.sampled_from(list(TimeStyle)))
def test_written_times_read_back(seconds: int, style: TimeStyle) -> None:
    time = read_time(write_time(float(seconds), style))
    assert time is not None
    assert time.seconds == seconds


def test_tenths_are_written() -> None:
    assert write_time(72.5, TimeStyle.MINUTES) == "1:12.5"
    assert write_time(9.25, TimeStyle.HOURS) == "0:00:09.25"


@given(
    st.integers(0, 3599),
    st.lists(st.integers(1, 12), min_size=6, max_size=60),
    st.sampled_from([TimeStyle.MINUTES, TimeStyle.HOURS]),
)
def test_a_clock_that_starts_again_is_carried_on(start: int, steps: list[int], style: TimeStyle) -> None:
    true = np.cumsum([start, *steps]).astype(float) + (float(style) - 3600.0)
    carried, rounds = unroll(np.mod(true, float(style)), float(style))
    assert np.array_equal(carried - carried[0], true - true[0])
    assert len(rounds) == int(true[-1] // style - true[0] // style)


def test_a_sweep_hand_is_carried_round_after_round() -> None:
    carried, rounds = unroll([48.0, 54.0, 0.0, 6.0, 12.0, 30.0, 48.0, 54.0, 0.0], 60.0)
    assert carried.tolist() == [48.0, 54.0, 60.0, 66.0, 72.0, 90.0, 108.0, 114.0, 120.0]
    assert rounds == [2, 8]


def test_a_lone_low_reading_is_no_new_round() -> None:
    times = [3500.0, 3506.0, 12.0, 3518.0, 3524.0]
    carried, rounds = unroll(times, 3600.0)
    assert rounds == []
    assert carried.tolist() == times


@given(st.lists(st.integers(0, 30), max_size=30))
def test_what_is_not_out_of_order_is_in_order(times: list[int]) -> None:
    astray = out_of_order(np.array(times, dtype=float))
    kept = [time for i, time in enumerate(times) if i not in set(astray)]
    assert kept == sorted(kept)
    for i in astray:  # each one named is needed: putting it back breaks the order
        back = [time for k, time in enumerate(times) if k == i or k not in set(astray)]
        assert back != sorted(back)


def test_of_two_rows_that_changed_places_the_later_written_is_named() -> None:
    assert out_of_order(np.array([0.0, 6.0, 18.0, 12.0, 24.0])) == [3]
    assert out_of_order(np.array([0.0, 6.0, 600.0, 18.0, 24.0])) == [2]


def test_a_mistyped_time_leaves_a_hole() -> None:
    times = np.array([0.0, 6.0, 12.0, 81.0, 24.0, 30.0])
    assert missing_time(times, 3) == pytest.approx(18.0)
    assert likelier_astray(np.array([0.0, 6.0, 12.0, 18.0, 114.0, 30.0]), 5) == 4
    assert missing_time(np.array([0.0, 6.0, 12.0, 18.0, 15.0, 24.0]), 4) is None
