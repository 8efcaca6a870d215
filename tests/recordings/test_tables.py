"""Loggers' tables. Every logger, flight and number is invented."""

from __future__ import annotations

import numpy as np
import pytest

from wringout.errors import BadInputError
from wringout.recordings.columns.mapping import MappedColumn, make_mapping
from wringout.recordings.reader import read_recording
from wringout.recordings.types import EventKind, Recording, Severity
from wringout.units import KNOT


def read(text: str | bytes, mapping: object = None) -> Recording:
    data = text if isinstance(text, bytes) else text.encode()
    return read_recording(data, "log.csv", mapping)  # type: ignore[arg-type]


def sentences(recording: Recording, severity: Severity) -> list[str]:
    return [notice.sentence for notice in recording.notices if notice.severity is severity]


BODY = [("0.0", "120.5", "7001", "8.0"), ("0.5", "120.0", "7000", "8.1"), ("1.0", "119.0", "6999", "8.1")]


def table(head: list[str], separator: str = ",", comma: bool = False) -> str:
    rows = [separator.join(cells) for cells in BODY]
    rows = [row.replace(".", ",") for row in rows] if comma else rows
    return "\n".join([*(line.replace("|", separator) for line in head), *rows, ""])


NAMES = "Time|IAS|Altitude|OAT"
UNITS = "s|kt|ft|degC"


@pytest.mark.parametrize(
    "text",
    [
        table([NAMES, UNITS]),
        table([NAMES, UNITS], ";"),
        table([NAMES, UNITS], "\t"),
        table([NAMES, UNITS], ";", comma=True),
        table([NAMES, UNITS], "\t", comma=True),
        table([NAMES, "(s)|(kt)|(ft)|(°C)"]),
        table([NAMES, "[sec]|[knots]|[feet]|[C]"]),
        table([UNITS, NAMES]),
        table(["# kind: logger", "Time (s)|IAS (kt)|Altitude (ft)|OAT (°C)"]),
        table(["# kind: logger", "time_s|ias_kt|altitude_ft|oat_degC"]),
        table(["# kind: logger", "Elapsed Time [s]|KIAS|Alt ft|Outside Air Temp [deg C]"]),
        table(["# Bramble Box (invented)", "#" + NAMES, "#" + UNITS]),
        table(["# kind: logger", "# time_s|ias_kt|altitude_ft|oat_degC"]),
        table(["Air|Air||Air", NAMES, UNITS]),
        table(["Bramble Box", "Serial|104", "", NAMES, UNITS]),
        table([NAMES, UNITS]).replace("\n", "\r\n"),
        table([NAMES, UNITS]).replace("\n", "\r"),
        table([NAMES, UNITS]).replace("7001", '"7001"'),
        "\ufeff" + table([NAMES, UNITS]),
        table([NAMES, UNITS]).replace("\n0.5", "\n\n# half a second later\n,,,\n0.5"),
        table([NAMES, UNITS]).replace("8.1\n", "8.1,\n"),
    ],
)
def test_one_table_written_in_many_ways(text: str) -> None:
    recording = read(text)
    assert recording.kind == "logger"
    assert recording.time_s is not None
    assert recording.time_s.tolist() == [0.0, 0.5, 1.0]
    assert recording.channels["ias"].values == pytest.approx(np.array([120.5, 120.0, 119.0]) * KNOT)
    assert recording.channels["altitude"].values == pytest.approx(np.array([7001, 7000, 6999]) * 0.3048)
    assert recording.channels["oat"].values == pytest.approx(np.array([8.0, 8.1, 8.1]) + 273.15)
    assert recording.notices == ()
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for row, first in zip(recording.rows.tolist(), ("0", "0", "1"), strict=True):
        assert lines[row - 1].startswith(first)


def test_latin_1() -> None:
    recording = read(table([NAMES, "s|kt|ft|°C"]).encode("latin-1"))
    assert recording.channels["oat"].values[0] == pytest.approx(281.15)


def test_lines_above_the_table_are_kept() -> None:
    recording = read(table(["# flown: 4 May", "Serial|104", "Software: 2.1", NAMES, UNITS]))
    assert recording.header == {"flown": "4 May", "serial": "104", "software": "2.1"}


def test_two_rows_of_names() -> None:
    recording = read(
        ",Baro,GPS,GPS\nTime,Altitude,Altitude,Ground Speed\ns,ft,m,kt\n0,7000,2134,130\n1,7001,2134,130\n"
    )
    assert recording.channels["altitude"].values[0] == pytest.approx(7000 * 0.3048)
    assert recording.channels["gps_altitude"].values[0] == pytest.approx(2134.0)


def test_unknown_columns_are_counted_and_named() -> None:
    recording = read(table([NAMES + "|EGT 1|CHT 1", UNITS + "|degF|degF"]).replace("8.0\n", "8.0,1390,380\n"))
    assert sentences(recording, Severity.NOTE) == ["2 columns are not used: 'EGT 1', 'CHT 1'"]


def test_blanks_and_cells_that_are_no_numbers() -> None:
    recording = read(
        "time,IAS,RPM\ns,kt,rpm\n0,120,2400\n1,,2400\n2,---,2400\n3,ERR,2400\n4,NaN,2400\n5,-1,2400\n6,118,2400\n"
    )
    assert np.isnan(recording.channels["ias"].values).tolist() == [False, True, True, True, True, True, False]
    told = sentences(recording, Severity.CAUTION)
    assert "row 6, IAS: 'ERR' is not a number and is left blank" in told
    assert "row 7, IAS: 'NaN' is not a number and is left blank" in told
    assert "row 8, IAS: '-1' is negative and is left blank" in told


def test_many_bad_cells_are_one_notice() -> None:
    rows = "".join(f"{i},{'ERR' if i % 3 else 120},{-1 if i % 4 == 0 else 2400}\n" for i in range(100))
    recording = read("time,IAS,RPM\ns,kt,rpm\n" + rows)
    assert sentences(recording, Severity.CAUTION) == [
        "IAS: 66 cells are not numbers and are left blank, the first is 'ERR' in row 4",
        "RPM: 25 negative values are left blank, the first is '-1' in row 3",
    ]


def test_ragged_rows_and_a_last_row_that_breaks_off() -> None:
    recording = read("time,IAS,RPM\ns,kt,rpm\n0,120,2400\n1,119\n2,118,2400,7,8\n3,117,2400\n4,11")
    assert len(recording) == 4
    first, second = sentences(recording, Severity.CAUTION)
    assert first == "row 7, the last of the file, breaks off in the middle and is not used: '4,11'"
    assert "2 rows have another number of cells than the 3 columns, the first is row 4 with 2" in second


def clock(times: list[str], head: str = "Time") -> Recording:
    return read(f"# kind: logger\n{head},IAS (kt)\n" + "".join(f"{time},120\n" for time in times))


@pytest.mark.parametrize(
    "times",
    [
        ["10:00:00", "10:00:01", "10:00:02.5"],
        ["23:59:59", "00:00:00", "00:00:01.5"],
        ["11:59:59 AM", "12:00:00 PM", "12:00:01.5 PM"],
        ["11:59:59 pm", "12:00:00 am", "12:00:01.5 am"],
        ["59:59", "00:00", "00:01.5"],
        ["2026-05-04T10:00:00", "2026-05-04T10:00:01", "2026-05-04T10:00:02.5"],
        ["2026-05-04T10:00:00Z", "2026-05-04T10:00:01Z", "2026-05-04T10:00:02.500Z"],
        ["2026-02-28 23:59:59+01:00", "2026-03-01 00:00:00+01:00", "2026-03-01 00:00:01.5+01:00"],
        ["2028-02-28T23:59:59", "2028-02-29T00:00:00", "2028-02-29T00:00:01.5"],
        ["1777888800", "1777888801", "1777888802.5"],
        ["-1", "0", "1.5"],
    ],
)
def test_clocks_in_many_styles(times: list[str]) -> None:
    recording = clock(times)
    assert recording.time_s is not None
    assert recording.time_s == pytest.approx([0.0, 1.0, 2.5], abs=1e-5)


def test_iso_8601_times_count_from_1970() -> None:
    # By the formula of IEEE Std 1003.1, "Seconds Since the Epoch", 2001-09-09T01:46:40Z is 1 000 000 000 s.
    assert clock(["2001-09-09T01:46:40Z", "2001-09-09T01:46:41Z"]).clock_zero_s == 1_000_000_000.0
    assert clock(["2001-09-09T03:46:40+02:00", "2001-09-09T03:46:41+02:00"]).clock_zero_s == 1_000_000_000.0


@pytest.mark.parametrize("dates", [("2026-05-04", "2026-05-06"), ("4.5.2026", "6.5.2026"), ("2026/5/4", "2026/5/6")])
def test_a_date_column_carries_the_clock_over_days(dates: tuple[str, str]) -> None:
    recording = read(f"Date,Time,IAS (kt)\n{dates[0]},23:59:59,120\n{dates[1]},00:00:01,119\n{dates[1]},00:00:02,119\n")
    assert recording.time_s is not None
    assert recording.time_s.tolist() == [0.0, 86402.0, 86403.0]


def test_a_date_that_could_be_read_two_ways_is_read_so_that_the_flight_stays_short() -> None:
    recording = read("Date,Time,IAS (kt)\n04/05/2026,23:59:59,120\n05/05/2026,00:00:01,119\n05/05/2026,00:00:02,119\n")
    assert recording.time_s is not None
    assert recording.time_s.tolist() == [0.0, 2.0, 3.0]
    assert recording.clock_zero_s == 20_577 * 86_400 + 86_399  # 4 May 2026: month first, 30 days would lie between


def test_milliseconds() -> None:
    recording = read("time,IAS,RPM\nms,kt,rpm\n0,120,2400\n100,120,2400\n200,119,2400\n")
    assert recording.time_s == pytest.approx([0.0, 0.1, 0.2])


def test_milliseconds_taken_for_seconds_are_doubted() -> None:
    recording = clock(["0", "100", "200", "300"], "Time (s)")
    assert any("if the times are not in seconds" in sentence for sentence in sentences(recording, Severity.CAUTION))


def test_gaps_repeats_and_disorder_are_noticed() -> None:
    times = [0, 1, 2, 3, 3, 4, 5, 7, 6, 8, 9, 20, 21, 22, 23, 40, 41]
    recording = clock([str(time) for time in times])
    assert recording.time_s is not None
    assert recording.time_s.tolist() == sorted(times)
    told = [notice.sentence for notice in recording.notices]
    assert told == [
        "1 row is out of order, the first is row 11; all are kept and sorted by time",
        "1 row has the same time as the row before, the first is row 7; all are kept",
        "2 gaps in time, the longest is 17 s before row 18 where the usual step is 1 s",
    ]


def test_rows_without_a_time_are_not_used() -> None:
    recording = clock(["0", "1", "", "x", "4", "5"])
    assert recording.rows.tolist() == [3, 4, 7, 8]
    assert sentences(recording, Severity.CAUTION) == [
        "2 rows have no time that can be read and are not used, the first is row 5 with a blank cell"
    ]


def test_two_recordings_in_one_file_are_refused() -> None:
    times = [str(i) for i in range(0, 6000, 100)] + [str(i) for i in range(1000, 5000, 100)]
    with pytest.raises(BadInputError) as refusal:
        clock(times)
    assert str(refusal.value) == (
        "log.csv, row 63, Time: the time falls back by 4900 s and runs on from there, as if two recordings "
        "were joined; split the file at that row and take in both parts."
    )


def test_marks_and_words_of_devices() -> None:
    recording = read(
        "Time,IAS,Gear,Flaps,Event\ns,kt,,,\n0,120,UP,UP,0\n1,120,UP,UP,gear down\n2,118,TRANSIT,UP,gear down\n"
        '3,116,DOWN,UP,0\n4,115,DOWN,UP,"stable, flaps 20"\n5,115,DOWN,HALF,hello\n'
    )
    assert [(mark.time_s, mark.row, mark.label) for mark in recording.marks] == [
        (1.0, 4, "gear down"),
        (4.0, 7, "stable"),
        (4.0, 7, "flaps 20"),
        (5.0, 8, "hello"),
    ]
    assert recording.marks[-1].event.kind is EventKind.NOTE
    assert recording.texts["gear"] == ("UP", "UP", "TRANSIT", "DOWN", "DOWN", "DOWN")
    assert recording.texts["flap"][-1] == "HALF"


@pytest.mark.parametrize(
    ("name", "unit", "cells", "quantity", "value"),
    [
        ("Gear", "", ("0", "1"), "gear", 1.0),
        ("Gear", "%", ("0", "100"), "gear", 1.0),
        ("Flaps", "deg", ("0", "30"), "flap", np.pi / 6),
        ("Flaps", "%", ("0", "50"), "flap_fraction", 0.5),
        ("Fuel Flow", "gph", ("9", "10"), "fuel_flow", 10 * 231 * 0.0254**3 / 3600),  # NIST SP 811: US gallon
        ("Fuel Flow", "lb/h", ("60", "66"), "fuel_mass_flow", 66 * 0.45359237 / 3600),  # NIST SP 811: pound
        ("MAP", "inHg", ("22", "23"), "manifold_pressure", 23 * 3386.389),  # NIST SP 811: inch of mercury
        ("RPM", "", ("2400", "2400"), "rpm", 40.0),
        ("Heading", "deg", ("90", "180"), "heading", np.pi),
        ("Vertical Speed", "fpm", ("0", "-600"), "vertical_speed", -600 * 0.3048 / 60),
        ("KTAS", "", ("130", "135"), "tas", 135 * 1852 / 3600),
    ],
)
def test_quantities_reach_si(name: str, unit: str, cells: tuple[str, str], quantity: str, value: float) -> None:
    recording = read(f"Time,{name}\ns,{unit}\n0,{cells[0]}\n1,{cells[1]}\n")
    assert recording.channels[quantity].values[1] == pytest.approx(value)


def test_a_plain_speed_is_not_guessed_at() -> None:
    recording = read("Time,Speed,RPM\ns,kt,rpm\n0,120,2400\n1,119,2400\n")
    assert list(recording.channels) == ["rpm"]
    (question,) = sentences(recording, Severity.QUESTION)
    assert "column 'Speed' could be indicated, true or ground speed" in question


def test_two_columns_with_an_equal_claim_are_a_question() -> None:
    recording = read("Time,OAT 1,OAT,OAT\ns,degC,degC,degC\n0,8,8,9\n1,8,8,9\n")
    assert recording.channels == {}
    assert "columns 'OAT', 'OAT' could each be oat" in sentences(recording, Severity.QUESTION)[0]


def test_the_more_specific_name_is_used() -> None:
    recording = read("Time,Airspeed,IAS\ns,kt,kt\n0,100,120\n1,100,120\n")
    assert recording.channels["ias"].column == "IAS"
    assert "'IAS' is used" in sentences(recording, Severity.NOTE)[0]


def test_a_table_without_names_needs_positions() -> None:
    text = "\n".join(f"{i},120,7000,8,1,2,3" for i in range(5))
    with pytest.raises(BadInputError):
        read("# kind: logger\n" + text)
    mapping = make_mapping("mine", (MappedColumn("#1", "time", "s"), MappedColumn("#2", "ias", "kt")))
    recording = read(text, mapping)
    assert recording.channels["ias"].values == pytest.approx([120 * KNOT] * 5)


def test_no_time_column_is_refused() -> None:
    with pytest.raises(BadInputError, match=r"log\.csv: there is no column that is known to be the time"):
        read("IAS,Altitude,RPM,OAT,MAP\nkt,ft,rpm,C,inHg\n120,7000,2400,8,22\n")


def test_a_long_table_of_ten_columns_is_read_whole() -> None:
    rng = np.random.default_rng(20260504)
    knots = np.round(100.0 + np.cumsum(rng.normal(0.0, 0.05, 20_000)), 2)
    rows = (f"{i / 10:.1f},{speed},7000,8,22,2400,0,0,0,x" for i, speed in enumerate(knots.tolist()))
    recording = read(
        "Time,IAS,Altitude,OAT,MAP,RPM,Pitch,Roll,Gear,Extra\ns,kt,ft,C,inHg,rpm,deg,deg,,\n" + "\n".join(rows)
    )
    assert recording.time_s == pytest.approx(np.arange(20_000) / 10)
    assert recording.channels["ias"].values == pytest.approx(knots * KNOT)
    assert recording.rows.tolist() == list(range(3, 20_003))


@pytest.mark.parametrize(
    ("separator", "cells", "feet"),
    [
        (",", ('"7,001"', '"7,002"'), (7001.0, 7002.0)),
        (",", ('"10,001.5"', "9999.5"), (10001.5, 9999.5)),
        (";", ("7,001", "7,002"), (7001.0, 7002.0)),
        (";", ("7001,5", "7002,25"), (7001.5, 7002.25)),
        (";", ("7.001,5", "7002"), (np.nan, 7002.0)),
        ("\t", ("1,001", "999"), (1001.0, 999.0)),
    ],
)
def test_thousands_and_decimal_commas(separator: str, cells: tuple[str, str], feet: tuple[float, float]) -> None:
    rows = [["Time", "Altitude", "RPM"], ["s", "ft", "rpm"], ["0", cells[0], "2400"], ["1", cells[1], "2400"]]
    recording = read("\n".join(separator.join(row) for row in rows) + "\n")
    assert recording.channels["altitude"].values / 0.3048 == pytest.approx(feet, nan_ok=True)


@pytest.mark.parametrize(
    ("cells", "fpm"),
    [(("-1,180", "820"), (-1180.0, 820.0)), (("-1,180", "820,125"), (-1.18, 820.125)), (("0,5", "1"), (0.5, 1.0))],
)
def test_a_comma_in_front_of_three_digits(cells: tuple[str, str], fpm: tuple[float, float]) -> None:
    recording = read(f"Time;Vertical Speed;RPM\ns;ft/min;rpm\n0;{cells[0]};2400\n1;{cells[1]};2400\n")
    assert recording.channels["vertical_speed"].values * 60 / 0.3048 == pytest.approx(fpm)


def test_a_column_without_readings_is_no_channel() -> None:
    recording = read("Time,IAS,OAT,MAP\ns,kt,degC,\n0,120,,\n1,119,,---\n")
    assert list(recording.channels) == ["ias"]
    assert sentences(recording, Severity.NOTE) == [
        "column 'OAT' holds no reading and is not used",
        "column 'MAP' holds no reading and is not used",
    ]


def test_a_line_between_names_and_data_is_not_lost() -> None:
    recording = read("Time,IAS,RPM\ns,kt,rpm\nair,engine,engine\n0,120,2400\n1,119,2400\n")
    assert sentences(recording, Severity.CAUTION) == ["row 3 above the data is not used: 'air,engine,engine'"]
