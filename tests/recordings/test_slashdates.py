"""Dates with slashes: month first or day first, by the file itself where it says so."""

from __future__ import annotations

import datetime

import pytest

from wringout.recordings.reader import read_recording
from wringout.recordings.types import Recording

STAMPED = "# kind: logger\nTimestamp,IAS,Altitude\n,kt,ft\n"
SPLIT = "# kind: logger\nDate,Time,IAS,Altitude\n,hh:mm:ss,kt,ft\n"


def read(head: str, *cells: str) -> Recording:
    rows = "".join(f"{cell},{100 + i},7000\n" for i, cell in enumerate(cells))
    return read_recording((head + rows).encode(), "log.csv")


def began(recording: Recording) -> str:
    return datetime.datetime.fromtimestamp(recording.clock_zero_s, datetime.UTC).strftime("%Y-%m-%d %H:%M:%S")


@pytest.mark.parametrize(
    ("head", "cells", "first"),
    [
        (STAMPED, ["5/13/2026 02:59:58", "5/13/2026 02:59:59", "5/13/2026 03:00:00"], "2026-05-13 02:59:58"),
        (STAMPED, ["13/5/2026 02:59:58", "13/5/2026 02:59:59", "13/5/2026 03:00:00"], "2026-05-13 02:59:58"),
        (STAMPED, ["5/13/26 2:59:58 PM", "5/13/26 2:59:59 PM", "5/13/26 3:00:00 PM"], "2026-05-13 14:59:58"),
        (STAMPED, ["5/4/2026 23:59:58", "5/4/2026 23:59:59", "5/5/2026 00:00:00"], "2026-05-04 23:59:58"),
        (STAMPED, ["4/5/2026 23:59:58", "4/5/2026 23:59:59", "5/5/2026 00:00:00"], "2026-05-04 23:59:58"),
        (SPLIT, ["05/13/2026,02:59:58", "05/13/2026,02:59:59", "05/13/2026,03:00:00"], "2026-05-13 02:59:58"),
        (SPLIT, ["06/06/2026,02:59:58", "06/06/2026,02:59:59", "06/06/2026,03:00:00"], "2026-06-06 02:59:58"),
    ],
)
def test_the_file_itself_says_which_comes_first(head: str, cells: list[str], first: str) -> None:
    found = read(head, *cells)
    assert found.time_s is not None
    assert list(found.time_s) == [0.0, 1.0, 2.0]
    assert began(found) == first
    assert [n.sentence for n in found.notices if "month" in n.sentence] == []


def test_where_nothing_says_it_the_month_comes_first_and_a_caution_says_so() -> None:
    found = read(STAMPED, "05/04/2026 10:00:00", "05/04/2026 10:00:01", "05/04/2026 10:00:02")
    assert began(found) == "2026-05-04 10:00:00"
    (notice,) = [n for n in found.notices if "month" in n.sentence]
    assert "5/4/2026 may begin with the month or the day; it is read month first, as 2026-05-04" in notice.sentence


def test_a_cell_without_a_time_is_left_out_and_named() -> None:
    found = read(STAMPED, "5/13/2026 10:00:00", "5/13/2026", "5/13/2026 10:00:02", "5/13/2026 10:00:03")
    assert found.time_s is not None
    assert list(found.time_s) == [0.0, 2.0, 3.0]
