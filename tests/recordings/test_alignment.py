"""Clocks of two recordings: offsets and drifts planted beforehand are found within the uncertainty that is stated."""

from __future__ import annotations

import numpy as np
import pytest

from wringout.errors import BadInputError
from wringout.recordings.reader import read_recording
from wringout.recordings.together.alignment import MARK_SD_S, align, align_by_channel, align_by_marks
from wringout.recordings.together.merging import aligned_table, joined_table
from wringout.recordings.types import FloatArray, Recording
from wringout.units import KNOT


def flown(times: FloatArray) -> FloatArray:
    """Return an airspeed in knots that changes as in a test flight; invented."""
    knots = np.interp(
        times, [0, 300, 420, 600, 700, 900, 1000, 1500, 1600, 2400], [90, 90, 118, 118, 84, 84, 110, 112, 70, 95]
    )
    return np.asarray(knots + 1.5 * np.sin(times / 23.0) + 0.8 * np.sin(times / 7.1))


def log(times: FloatArray, knots: FloatArray, name: str, marks: dict[float, str] | None = None) -> Recording:
    rows = [(float(t), f"{t:.2f},{v:.2f},2400,") for t, v in zip(times, knots, strict=True)]
    rows += [(t, f"{t:.2f},,,{words}") for t, words in (marks or {}).items()]
    body = "\n".join(row for _, row in sorted(rows))
    return read_recording(f"# kind: logger\nTime (s),IAS (kt),RPM,Mark\n{body}\n".encode(), name)


TIMES = np.arange(0.0, 2400.0, 1.0)


def test_offset_and_drift_are_found_within_their_uncertainty() -> None:
    rng = np.random.default_rng(7)
    first = log(TIMES, flown(TIMES) + rng.normal(0, 0.3, TIMES.size), "a.csv")
    scores = []
    for _ in range(12):
        offset, drift = rng.uniform(-400, 400), rng.normal(0, 50e-6)
        other = np.arange(0.0, 1500.0, 0.7)
        true = offset + 450.0 + other + drift * (other - 750.0)
        keep = (true > 0) & (true < 2399)
        seen = 0.97 * flown(true[keep]) + 3.0 + rng.normal(0, 0.5, int(keep.sum()))
        two = log(other[keep], seen, "b.csv")
        fit = align_by_channel(first, two, "ias", "ias")
        assert fit is not None
        middle = fit.reference_s + float(other[keep][0])
        error = float(fit.time_of(fit.reference_s)) - (offset + 450.0 + middle + drift * (middle - 750.0))
        scores.append(error / fit.offset_sd_s)
        assert abs(error) < 0.6
        assert abs(fit.rate - drift) < 4.0 * fit.rate_sd
        assert not fit.steps
    assert np.sqrt(np.mean(np.square(scores))) < 1.5


def test_a_clock_that_jumped_is_recognised_and_not_merged() -> None:
    other = np.arange(0.0, 2000.0, 1.0)
    first = log(TIMES, flown(TIMES), "a.csv")
    two = log(other, flown(other + 100.0 + np.where(other > 1000.0, 8.0, 0.0)), "b.csv")
    fit = align(first, two)
    assert len(fit.steps) == 1
    assert fit.steps[0].by_s == pytest.approx(8.0, abs=0.8)
    assert fit.steps[0].time_s == pytest.approx(1100.0, abs=250.0)
    assert fit.offset_sd_s > 3.0
    with pytest.raises(BadInputError, match=r"b\.csv: its clock jumps by \+\d"):
        aligned_table(first, [(two, fit)])


def test_marks_of_the_same_events_align_two_recordings() -> None:
    rng = np.random.default_rng(3)
    moments = {100.0: "gear down", 107.0: "three green", 400.0: "gear up", 800.0: "flaps full", 1500.0: "stable"}
    errors = []
    for _ in range(40):
        mine = {t + float(rng.normal(0, MARK_SD_S)): words for t, words in moments.items()}
        theirs = {t - 62.0 + float(rng.normal(0, MARK_SD_S)): words for t, words in moments.items()}
        fit = align_by_marks(log(TIMES, flown(TIMES), "a.csv", mine).marks, log(TIMES, flown(TIMES), "b", theirs).marks)
        assert fit is not None
        errors.append((float(fit.time_of(fit.reference_s)) - fit.reference_s - 62.0) / fit.sd_at(fit.reference_s))
    assert np.sqrt(np.mean(np.square(errors))) == pytest.approx(1.0, abs=0.35)


def test_one_mark_or_nothing_in_common_is_refused() -> None:
    first = log(TIMES, flown(TIMES), "a.csv", {100.0: "gear down"})
    with pytest.raises(BadInputError, match=r"^b\.vtt: nothing common to it and a\.csv says how their clocks lie"):
        align(first, read_recording(b"WEBVTT\n\n00:01.000 --> 00:02.000\ngear down\n", "b.vtt"))


def test_why_what_both_measured_does_not_do_is_said() -> None:
    first = log(TIMES, flown(TIMES), "a.csv")
    few = read_recording(b"time,speed\n0:00,121\n0:30,118\n1:00,95\n", "called.csv")
    with pytest.raises(BadInputError, match=r"both hold \"ias\", but called\.csv in fewer than 20 readings"):
        align(first, few)
    noise = np.random.default_rng(4).normal(100.0, 1.0, TIMES.size)
    with pytest.raises(BadInputError, match=r"both hold \"ias\", but at no offset do the two rise and fall together"):
        align(first, log(TIMES, noise, "b.csv"))


def test_an_aligned_table_carries_marks_readings_and_the_doubt() -> None:
    first = log(TIMES, flown(TIMES), "a.csv", {100.0: "gear down", 400.0: "gear up"})
    taps = read_recording(b"time,speed,mark\n0:38,,gear down\n0:45,,three green\n5:38,95,gear up\n", "taps.csv")
    fit = align(first, taps)
    merged = read_recording(aligned_table(first, [(taps, fit)]).encode(), "both.csv")
    assert merged.header["clock uncertainty"] == f"{max(fit.sd_at(m.time_s) for m in taps.marks):.2f} s"
    assert merged.channels["ias"].values[:3] / KNOT == pytest.approx(flown(TIMES[:3]), abs=0.01)
    green = next(mark for mark in merged.marks if mark.label == "three green")
    assert green.time_s == pytest.approx(107.0, abs=0.1)


def test_what_a_recording_says_of_its_own_clock_counts_with_the_doubt_of_the_alignment() -> None:
    first = log(TIMES, flown(TIMES), "a.csv", {100.0: "gear down", 400.0: "gear up"})
    called = b"# kind: called\n# clock uncertainty: 1 s\ntime,speed,mark\n0:38,,gear down\n5:38,95,gear up\n"
    said = read_recording(called, "said.csv")
    fit = align(first, said)
    worst = max(fit.sd_at(mark.time_s) for mark in said.marks)
    merged = read_recording(aligned_table(first, [(said, fit)]).encode(), "both.csv")
    assert merged.header["clock uncertainty"] == f"{np.hypot(1.0, worst):.2f} s"
    odd = read_recording(called.replace(b"1 s", b"some"), "said.csv")
    with pytest.raises(BadInputError, match=r"^said\.csv, clock uncertainty: "):
        aligned_table(first, [(odd, fit)])


def test_parts_of_one_flight_join_by_their_clocks() -> None:
    def part(start: int, name: str) -> Recording:
        rows = "".join(f"10:{(start + i) // 60:02d}:{(start + i) % 60:02d},{100 + i % 5},2400\n" for i in range(60))
        return read_recording(f"# kind: logger\nTime,IAS (kt),RPM\n{rows}".encode(), name)

    one, two = part(0, "one.csv"), part(65, "two.csv")
    joined = read_recording(joined_table([two, one]).encode(), "x.csv")
    assert joined.time_s is not None
    assert joined.time_s.tolist() == [*range(60), *range(65, 125)]
    assert joined.clock_zero_s == 36000.0
    with pytest.raises(BadInputError, match=r"it begins 29 s before one\.csv ends"):
        joined_table([one, part(30, "two.csv")])
