from __future__ import annotations

import numpy as np
import pytest

from wringout.errors import BadInputError
from wringout.recordings.cutting import cut
from wringout.recordings.reader import read_recording

CALLS = """# device: gear
time,speed,flap,mark
100,120,up,
106,118,up,gear down
112,11O,up,
118,109,half,stable
124,-1,half,
130,104,half,gear up
"""
WHOLE = read_recording(CALLS.encode(), "calls.csv")


def test_a_run_keeps_rows_clock_and_hash() -> None:
    run = cut(WHOLE, 6.0, 18.0, "run 1")
    assert run.name == "run 1"
    assert (run.sha256, run.kind, run.header) == (WHOLE.sha256, WHOLE.kind, WHOLE.header)
    assert run.time_s is not None
    assert run.time_s.tolist() == [6.0, 12.0, 18.0]
    assert run.clock_zero_s == 100.0
    assert run.rows.tolist() == [4, 5, 6]
    assert run.channels["ias"].values == pytest.approx([118 * 1852 / 3600, np.nan, 109 * 1852 / 3600], nan_ok=True)
    assert run.texts == {"flap": ("up", "up", "half")}
    assert [mark.label for mark in run.marks] == ["gear down", "stable"]
    assert [notice.row for notice in run.notices] == [5]
    assert len(WHOLE) == 6


def test_a_cut_of_a_cut_is_the_cut() -> None:
    twice = cut(cut(WHOLE, 0.0, 24.0, "a"), 6.0, 18.0, "b")
    once = cut(WHOLE, 6.0, 18.0, "b")
    assert twice.rows.tolist() == once.rows.tolist()
    assert twice.marks == once.marks
    assert twice.notices == once.notices


def test_notices_about_the_file_come_along() -> None:
    text = CALLS.replace("speed", "speed (m/s)").replace("11O", "112")
    whole = read_recording(text.encode(), "calls.csv")
    run = cut(whole, 0.0, 6.0, "run")
    assert [notice.row for notice in run.notices] == [0]
    assert "is unusual for a light airplane" in run.notices[0].sentence


@pytest.mark.parametrize(
    ("from_s", "to_s", "sentence"),
    [
        (18.0, 6.0, "calls.csv, run: 18 s to 6 s is no stretch of time; give a start and a later end in seconds."),
        (6.0, 6.0, "calls.csv, run: 6 s to 6 s is no stretch of time; give a start and a later end in seconds."),
        (
            float("nan"),
            6.0,
            "calls.csv, run: nan s to 6 s is no stretch of time; give a start and a later end in seconds.",
        ),
        (40.0, 50.0, "calls.csv, run: no row lies between 40 s and 50 s; choose times from 0 s to 30 s."),
    ],
)
def test_what_cannot_be_cut(from_s: float, to_s: float, sentence: str) -> None:
    with pytest.raises(BadInputError) as refusal:
        cut(WHOLE, from_s, to_s, "run")
    assert str(refusal.value) == sentence


def test_a_list_cannot_be_cut() -> None:
    stalls = read_recording(b"flap,speed,gear\nup,59,up\n", "stalls.csv")
    with pytest.raises(BadInputError, match="a list without times cannot be cut"):
        cut(stalls, 0.0, 1.0, "run")
