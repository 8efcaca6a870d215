"""Hand-called readings as people write them. All flights are invented."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wringout.recordings.columns.mapping import MappedColumn, Mapping
from wringout.recordings.reader import read_recording
from wringout.recordings.types import EventKind, Recording, Severity
from wringout.units import KNOT


def read(text: str, mapping: Mapping | None = None) -> Recording:
    return read_recording(text.encode(), "calls.csv", mapping)


def knots(recording: Recording) -> list[float]:
    return [round(value, 6) for value in (recording.channels["ias"].values / KNOT).tolist()]


def sentences(recording: Recording, severity: Severity) -> list[str]:
    return [notice.sentence for notice in recording.notices if notice.severity is severity]


SAME = [0.0, 6.0, 12.0, 18.0]
SAME_KNOTS = [120.0, 118.0, 113.0, 109.0]


@pytest.mark.parametrize(
    "text",
    [
        "0,120\n6,118\n12,113\n18,109\n",
        "0 120\n6 118\n12 113\n18 109",
        "0\t120\n6\t118\n12\t113\n18\t109\n",
        "0;120\r\n6;118\r\n12;113\r\n18;109\r\n",
        "0:00, 120\r0:06, 118\r0:12, 113\r0:18, 109\r",
        "time,speed\n0:00:00,120\n0:00:06,118\n0:00:12,113\n0:00:18,109\n",
        "Speed (kt), Time (s)\n120, 0\n118, 6\n113, 12\n109, 18\n",
        "time,kt\n0,120\n6,118\n12,113\n18,109\n",
        "KIAS;t;mark\n120;0;\n118;6;\n113;12;\n109;18;\n",
        "time  speed  mark\n0  120\n6  118\n12  113\n18  109\n",
        "time speed mark\n0 120\n6 118\n12 113\n18 109\n",
        "time (min);ias\n0;120\n0,1;118\n0,2;113\n0,3;109\n",
        "0,0 120\n6,0 118\n12,0 113\n18,0 109\n",
        "0 s, 120 kt\n6 s, 118 kt\n12 s, 113 kt\n18 s, 109 kt\n",
        "\ufeff0,120\n\n6,118\n# a comment\n12,113\n,,\n18,109\n\n",
        "58:54,120\n59:00,118\n59:06,113\n59:12,109\n",
        "59:54,120\n0:00,118\n0:06,113\n0:12,109\n",
        "23:59:54,120\n0:00:00,118\n0:00:06,113\n0:00:12,109\n",
        "54,120\n0,118\n6,113\n12,109\n",
        "18,109\n12,113\n6,118\n0,120\n",
        "6,118\n0,120\n12,113\n18,109\n",
    ],
)
def test_one_run_written_in_many_ways(text: str) -> None:
    recording = read(text)
    assert recording.kind == "called"
    assert recording.time_s is not None
    assert recording.time_s == pytest.approx(SAME, abs=1e-9)
    assert knots(recording) == pytest.approx(SAME_KNOTS)


def test_rows_keep_their_line_numbers() -> None:
    recording = read("# a\n\ntime, speed\n0, 120\n\n# b\n12, 113\n6, 118\n")
    assert recording.rows.tolist() == [4, 8, 7]


def test_the_clock_of_the_file_can_be_had_back() -> None:
    recording = read("10:12:30, 120\n10:12:36, 118\n")
    assert recording.clock_zero_s == pytest.approx(10 * 3600 + 12 * 60 + 30)
    assert recording.time_s is not None
    assert recording.time_s[0] == 0.0


def test_blank_speeds_and_marks() -> None:
    recording = read("time,speed,mark\n0,120\n4,,gear down\n6,-\n7,?,\n12,113,three green\n")
    assert np.isnan(recording.channels["ias"].values).tolist() == [False, True, True, True, False]
    assert [(mark.time_s, mark.row, mark.label) for mark in recording.marks] == [
        (4.0, 3, "gear down"),
        (12.0, 6, "three green"),
    ]
    assert recording.notices == ()


def test_words_where_the_speed_belongs_are_a_mark() -> None:
    recording = read("0:00 120\n0:04 gear down\n0:06 118\n0:10 flaps full, stopped\n0:12 113 stable\n0:15 lunch\n")
    assert [mark.event.kind for mark in recording.marks] == [
        EventKind.SELECTED,
        EventKind.ARRIVED,
        EventKind.STABLE,
        EventKind.NOTE,
    ]
    assert [notice.row for notice in recording.notices] == [6]


def test_words_behind_a_comma_stay_with_their_mark() -> None:
    recording = read('time,speed,mark\n0,120,"gear down, flaps full"\n6,118,stable, smooth air\n')
    assert [mark.label for mark in recording.marks] == ["gear down", "flaps full", "stable, smooth air"]


def test_a_comment_behind_a_row_is_a_mark() -> None:
    recording = read("0, 120\n6, 118  # gust\n")
    assert [(mark.label, mark.event.kind) for mark in recording.marks] == [("gust", EventKind.NOTE)]
    assert knots(recording) == [120.0, 118.0]


def test_a_repeated_call_is_kept_twice() -> None:
    recording = read("0,120\n6,118\n6,117\n12,113\n")
    assert knots(recording) == [120.0, 118.0, 117.0, 113.0]
    assert sentences(recording, Severity.NOTE) == [
        "row 3, time: 6 s is called a second time (also in row 2); both are kept"
    ]


def test_an_out_of_order_row_is_sorted_and_named() -> None:
    recording = read("0:00,120\n0:06,118\n0:18,109\n0:12,113\n0:24,106\n")
    assert knots(recording) == [120.0, 118.0, 113.0, 109.0, 106.0]
    (sentence,) = sentences(recording, Severity.CAUTION)
    assert sentence == (
        "row 4, time: 0:12 is earlier than the row before it (0:18, row 3); the row is kept and sorted by time"
    )


def test_a_mistyped_time_is_suspected_but_not_corrected() -> None:
    recording = read("0:00,120\n0:06,118\n0:12,113\n0:18,109\n2:04,106\n0:30,103\n0:36,100\n")
    assert recording.time_s is not None
    assert recording.time_s[-1] == 124.0
    (sentence,) = sentences(recording, Severity.CAUTION)
    assert "row 5, time: 2:04 is later than the row after it" in sentence
    assert "it looks like a mistyped time: a call is missing near 0:24" in sentence


def test_a_gap_is_named() -> None:
    recording = read("0,120\n6,118\n12,113\n42,99\n48,98\n")
    assert sentences(recording, Severity.NOTE) == [
        "row 4, time: nothing is called for 30 s before 42 s, the usual step is 6 s"
    ]


@pytest.mark.parametrize("written", ["12O", "1l8", "118,5,3", "--5", "NaN", "inf", "118 ft", "1e999", "118 furlongs"])
def test_an_unreadable_speed_is_blank_and_quoted(written: str) -> None:
    recording = read(f'time,speed,mark\n0,120,\n6,"{written}",\n12,113,\n')
    told = " ".join(notice.sentence for notice in recording.notices)
    assert np.isnan(recording.channels["ias"].values[1])
    assert written in told
    assert "row 3" in told


def test_a_negative_speed_is_blank_and_quoted() -> None:
    recording = read("0,120\n6,-118\n12,113\n")
    assert np.isnan(recording.channels["ias"].values[1])
    assert sentences(recording, Severity.CAUTION) == ["row 2, speed: '-118' is negative and is left blank"]


def test_a_row_without_a_time_is_quoted() -> None:
    recording = read("0,120\n1:75,118\n,116\n12,113\n")
    assert len(recording) == 2
    first, second = sentences(recording, Severity.CAUTION)
    assert "row 2, time: '1:75' is not a time" in first
    assert "row 3, time: there is no time" in second


def test_units_are_converted_and_cells_may_carry_their_own() -> None:
    recording = read("time, speed (mph), altitude (m), oat\n0, 138, 2100, 8\n6, 118 kt, 7000 ft, 46 F\n")
    speed, altitude, oat = (recording.channels[key] for key in ("ias", "altitude", "oat"))
    assert speed.values == pytest.approx([138 * 0.44704, 118 * 1852 / 3600])  # NIST SP 811: mile per hour, knot
    assert altitude.values == pytest.approx([2100.0, 7000 * 0.3048])  # NIST SP 811: foot
    assert oat.values == pytest.approx([281.15, (46 + 459.67) / 1.8])  # NIST SP 811: degree Fahrenheit to kelvin
    assert (speed.unit, altitude.unit, oat.unit) == ("mph", "m", "°C")


def test_thousands_are_told_from_decimals() -> None:
    recording = read("time;speed;altitude\n0;120,5;7,050\n6;118;7050\n")
    assert recording.channels["altitude"].values == pytest.approx([7050 * 0.3048] * 2)
    assert knots(recording)[0] == 120.5


def test_header_lines() -> None:
    recording = read(
        "# Method: level deceleration\n#device:flaps\n## Entry_Flaps: up\n# flown before 12:30 by two pilots\n"
        "# weight: 2900 lb\n# weight: 2850 lb\n0,120\n6,118\n"
    )
    assert recording.header == {
        "method": "level deceleration",
        "device": "flaps",
        "entry flaps": "up",
        "weight": "2850 lb",
    }
    assert sentences(recording, Severity.CAUTION) == ["row 6, weight: written twice, '2850 lb' replaces '2900 lb'"]


def test_words_for_flap_and_gear_stand_beside_the_readings() -> None:
    recording = read("time,speed,flap,gear,mark\n0,120,up,up,\n6,113,half,up,stable\n")
    assert recording.texts == {"flap": ("up", "half"), "gear": ("up", "up")}
    assert list(recording.channels) == ["ias"]


def test_unknown_columns_are_named() -> None:
    recording = read("time,speed,mood\n0,120,good\n6,118,better\n")
    assert sentences(recording, Severity.NOTE) == ["1 column is not used: 'mood'"]


def test_a_speed_that_cannot_be_knots_is_questioned() -> None:
    recording = read("0,420\n6,410\n12,405\n18,400\n")
    assert "ias" not in recording.channels
    (question,) = sentences(recording, Severity.QUESTION)
    assert "values from 400 to 420 kt are not plausible" in question
    assert "km/h or ft/s would fit" in question


def test_a_mapping_names_the_columns_of_a_hand_written_table() -> None:
    mapping = Mapping("mine", (MappedColumn("zeit", "time"), MappedColumn("fahrt", "ias", "km/h")))
    recording = read("time,fahrt,mark\n0,222,\n6,219,gear down\n", mapping)
    assert recording.channels["ias"].values == pytest.approx([222 / 3.6, 219 / 3.6])
    assert any("'zeit'" in sentence for sentence in sentences(recording, Severity.CAUTION))


@given(
    st.lists(st.tuples(st.integers(1, 9), st.integers(40, 180)), min_size=4, max_size=40),
    st.sampled_from(["s", "m:ss", "h:mm:ss"]),
    st.sampled_from([",", ";", "\t", " ", ", "]),
    st.integers(0, 3000),
)
def test_what_is_written_is_what_is_read(calls: list[tuple[int, int]], style: str, separator: str, start: int) -> None:
    times = np.cumsum([step for step, _ in calls]) + start
    speeds = [speed for _, speed in calls]
    write = {
        "s": str,
        "m:ss": lambda t: f"{t // 60}:{t % 60:02d}",
        "h:mm:ss": lambda t: f"{t // 3600}:{t // 60 % 60:02d}:{t % 60:02d}",
    }[style]
    text = "time,speed\n".replace(",", separator)
    text += "".join(f"{write(int(t))}{separator}{speed}\n" for t, speed in zip(times, speeds, strict=True))
    recording = read(text)
    assert recording.time_s is not None
    assert recording.time_s == pytest.approx(times - times[0])
    assert knots(recording) == pytest.approx(speeds)
    assert recording.rows.tolist() == list(range(2, len(calls) + 2))


@given(st.permutations(range(12)))
def test_no_reading_is_lost_however_the_rows_are_shuffled(order: list[int]) -> None:
    text = "time,speed\n" + "".join(f"{100 + 6 * i}.5,{120 - i}\n" for i in order)
    recording = read(text)
    assert knots(recording) == [120.0 - i for i in range(12)]
    assert recording.rows.tolist() == [order.index(i) + 2 for i in range(12)]


def test_blanks_between_columns_and_within_words() -> None:
    recording = read("time speed alt mark\n0 120 7000 gear coming down\n4 flaps full\n6 x 7010 stable\n")
    assert [mark.label for mark in recording.marks] == ["gear coming down", "flaps full", "stable"]
    assert recording.channels["altitude"].values / 0.3048 == pytest.approx([7000, np.nan, 7010], nan_ok=True)


def test_readings_of_something_other_than_speed() -> None:
    recording = read('time,altitude,oat\n0,7000,8\n60,7050,x\n120,"7,100",7\n')
    assert list(recording.channels) == ["altitude", "oat"]
    assert recording.channels["altitude"].values / 0.3048 == pytest.approx([7000, 7050, 7100])


@pytest.mark.parametrize("written", ["1,180,5", "1.180,5"])
def test_a_number_with_two_kinds_of_marks_is_not_guessed_at(written: str) -> None:
    recording = read(f"time;speed\n0;120\n6;{written}\n")
    assert np.isnan(recording.channels["ias"].values[1])
    assert written in recording.notices[0].sentence
