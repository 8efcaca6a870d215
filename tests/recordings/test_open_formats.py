"""GPX, NMEA 0183 and IGC files, held against gpxpy, against sentences of the standard, and against hostile files."""

from __future__ import annotations

import functools
import operator

import gpxpy
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.recordings.test_bad_input import check, one_sentence
from wringout.errors import BadInputError
from wringout.recordings.reader import read_recording
from wringout.recordings.tracks.fixes import EARTH_RADIUS_M
from wringout.recordings.types import Recording
from wringout.units import KNOT

N = 60
SPEED_MPS, TRACK_DEG = 55.0, 72.0


def places(n: int = N) -> list[tuple[float, float]]:
    """Return latitude and longitude of a straight flight, a fix a second."""
    north = SPEED_MPS * np.cos(np.radians(TRACK_DEG)) * np.arange(n)
    east = SPEED_MPS * np.sin(np.radians(TRACK_DEG)) * np.arange(n)
    latitude = 47.0 + np.degrees(north / EARTH_RADIUS_M)
    longitude = 8.0 + np.degrees(east / EARTH_RADIUS_M / np.cos(np.radians(47.0)))
    return list(zip(latitude.tolist(), longitude.tolist(), strict=True))


def a_gpx(n: int = N, second: int = 0, extra: str = "") -> str:
    points = "".join(
        f'<trkpt lat="{a:.8f}" lon="{b:.8f}">\n<ele>{1500 + i}</ele>'
        f"<time>2026-05-04T23:59:{second + i:02d}Z</time>{extra}</trkpt>\n"
        if second + i < 60
        else f'<trkpt lat="{a:.8f}" lon="{b:.8f}">\n<ele>{1500 + i}</ele>'
        f"<time>2026-05-05T00:00:{second + i - 60:02d}Z</time>{extra}</trkpt>\n"
        for i, (a, b) in enumerate(places(n))
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="invented" '
        'xmlns="http://www.topografix.com/GPX/1/1">\n<trk><name>x</name><trkseg>\n' + points + "</trkseg></trk></gpx>\n"
    )


def nmea(body: str) -> str:
    return f"${body}*{functools.reduce(operator.xor, body.encode()):02X}"


def dm(value: float, width: int) -> str:
    degrees = int(abs(value))
    return f"{degrees:0{width}d}{(abs(value) - degrees) * 60:08.5f}"


def an_nmea(n: int = N, start_s: int = 86390) -> str:
    lines = []
    for i, (a, b) in enumerate(places(n)):
        s = (start_s + i) % 86400
        clock = f"{s // 3600:02d}{s // 60 % 60:02d}{s % 60:02d}.00"
        date = "050526" if start_s + i >= 86400 else "040526"
        speed = f"{SPEED_MPS / KNOT:.2f},{TRACK_DEG:.1f}"
        lines.append(nmea(f"GPRMC,{clock},A,{dm(a, 2)},N,{dm(b, 3)},E,{speed},{date},,,A"))
        lines.append(nmea(f"GPGGA,{clock},{dm(a, 2)},N,{dm(b, 3)},E,1,08,0.9,{1500 + i}.0,M,48.0,M,,"))
    return "\r\n".join([*lines, ""])


def an_igc(n: int = N, start_s: int = 86390) -> str:
    lines = ["AXYYABC", "HFDTE040526", "HFGTYGLIDERTYPE: invented"]
    for i, (a, b) in enumerate(places(n)):
        s = (start_s + i) % 86400
        clock = f"{s // 3600:02d}{s // 60 % 60:02d}{s % 60:02d}"
        lat = f"{int(a):02d}{(a - int(a)) * 60000:05.0f}N"
        lon = f"{int(b):03d}{(b - int(b)) * 60000:05.0f}E"
        lines.append(f"B{clock}{lat}{lon}A{1450 + i:05d}{1500 + i:05d}")
    return "\r\n".join([*lines[:20], "E235959PEV gear down", *lines[20:], "GABC", ""])


FILES = {"track.gpx": a_gpx, "track.nmea": an_nmea, "track.igc": an_igc}


def read(text: str, name: str = "x.gpx") -> Recording:
    return read_recording(text.encode(), name)


@pytest.mark.parametrize(("name", "speed_kt", "track_deg"), [("track.gpx", 0.1, 0.1), ("track.nmea", 0.1, 0.1)])
def test_speed_and_track_are_those_flown(name: str, speed_kt: float, track_deg: float) -> None:
    found = read(FILES[name](), name)
    check(found)
    assert found.kind == "logger"
    assert found.time_s is not None
    assert found.time_s == pytest.approx(np.arange(N))
    assert found.channels["ground_speed"].values / KNOT == pytest.approx(np.full(N, SPEED_MPS / KNOT), abs=speed_kt)
    assert np.degrees(found.channels["track"].values) == pytest.approx(np.full(N, TRACK_DEG), abs=track_deg)
    assert found.channels["gps_altitude"].values == pytest.approx(1500 + np.arange(N))
    assert "altitude" not in found.channels
    assert "pressure_altitude" not in found.channels


def test_igc_places_are_coarse_and_its_pressure_altitude_is_kept() -> None:
    found = read(an_igc(), "x.igc")
    check(found)
    # 0.001 minutes of arc is 1.85 m: a speed over two seconds is good to 1.3 m/s at worst
    assert found.channels["ground_speed"].values[1:-1] == pytest.approx(np.full(N - 2, SPEED_MPS), abs=1.31)
    assert found.channels["pressure_altitude"].values == pytest.approx(1450 + np.arange(N))
    assert found.channels["gps_altitude"].values == pytest.approx(1500 + np.arange(N))
    assert [(mark.label, mark.time_s) for mark in found.marks] == [("gear down", 9.0)]
    assert any("midnight UTC passes here" in notice.sentence for notice in found.notices)
    assert any("signature" in notice.sentence for notice in found.notices)


@pytest.mark.parametrize("name", FILES)
def test_times_are_utc_and_run_over_midnight(name: str) -> None:
    text = a_gpx(second=50) if name == "track.gpx" else FILES[name]()
    found = read(text, name)
    assert found.clock_zero_s == np.datetime64("2026-05-04T23:59:50", "s").astype(float)
    assert found.time_s is not None
    assert np.diff(found.time_s) == pytest.approx(np.ones(N - 1))


def test_a_track_reads_as_gpxpy_reads_it() -> None:
    text = a_gpx()
    points = gpxpy.parse(text).tracks[0].segments[0].points
    found = read(text)
    assert found.time_s is not None
    assert [p.time.timestamp() for p in points if p.time] == pytest.approx((found.time_s + found.clock_zero_s).tolist())
    assert [p.elevation for p in points] == pytest.approx(found.channels["gps_altitude"].values.tolist())
    lines = text.splitlines()
    assert all(lines[row - 1].startswith("<trkpt") for row in found.rows)
    own = [gpxpy.geo.haversine_distance(a.latitude, a.longitude, b.latitude, b.longitude)
           for a, b in zip(points, points[2:], strict=False)]  # fmt: skip
    # gpxpy measures on a sphere too, of 6378.137 km instead of 6371.0088 km
    ours = 2.0 * found.channels["ground_speed"].values[1:-1] * 6378.137 / 6371.0088
    assert ours == pytest.approx(own, rel=1e-4)


def test_the_example_of_the_igc_description_reads_as_it_says() -> None:
    # A B record as published in descriptions of the format: 08:36:34, N 54 40.059, E 37 58.505, 148 m, 169 m.
    found = read("AXXXABC\nHFDTE160701\nB0836345440059N03758505EA0014800169\nB0836355440059N03758505EA0014800169\n")
    assert found.clock_zero_s == np.datetime64("2001-07-16T08:36:34", "s").astype(float)
    assert found.channels["pressure_altitude"].values.tolist() == [148, 148]
    assert found.channels["gps_altitude"].values.tolist() == [169, 169]


def test_igc_additional_fields_are_read() -> None:
    lines = [f"B10000{i}4700000N00800000EA0100001000{5:01d}{180 + i:03d}" for i in range(5)]
    found = read("\n".join(["AXXXABC", "HFDTE040526", "I023636TDS3739IAS", *lines, ""]))
    assert found.time_s is not None
    assert found.clock_zero_s % 60 == pytest.approx(0.5)
    assert found.channels["ias"].values * 3.6 == pytest.approx(180 + np.arange(5))


def test_speeds_in_the_track_go_before_those_of_the_path() -> None:
    found = read(a_gpx(extra="<extensions><speed>51.5</speed><course>71</course></extensions>"))
    assert found.channels["ground_speed"].values == pytest.approx(np.full(N, 51.5))
    assert not any("path" in notice.sentence for notice in found.notices)


def test_a_leap_second_is_the_second_after_it() -> None:
    found = read(a_gpx(2).replace("23:59:01Z", "23:59:60Z"))
    assert found.time_s is not None
    assert found.time_s.tolist() == [0.0, 60.0]


def test_damaged_sentences_are_counted_and_left_out() -> None:
    lines = an_nmea().split("\r\n")
    lines[4] = lines[4].replace(",A,", ",A,9", 1)
    lines[7] = "garbage \x07"
    found = read("\r\n".join(lines))
    assert any(n.sentence.startswith("1 sentences are damaged") and n.row == 5 for n in found.notices)
    assert len(found) == N


HOSTILE = {
    "entity expansion": (
        '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
        '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><gpx><trk><trkseg><trkpt lat="1" lon="1"><time>&c;</time></trkpt>'
        "</trkseg></trk></gpx>",
        "x.gpx: the file declares a document type or an entity",
    ),
    "another file": (
        '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/passwd">]><gpx><trk><trkseg>'
        '<trkpt lat="1" lon="1"><time>&a;</time></trkpt></trkseg></trk></gpx>',
        "x.gpx: the file declares a document type or an entity",
    ),
    "nested without end": ("<gpx>" + "<a>" * 5000, "x.gpx, row 1: the elements are nested too deeply"),
    "cut short": (a_gpx()[:900], "x.gpx, row 1"),
    "no points": ("<gpx></gpx>", "x.gpx: there is no track point in this GPX file"),
    "no times": (
        '<gpx><trk><trkseg><trkpt lat="1" lon="1"/></trkseg></trk></gpx>',
        "x.gpx, row 1, time: no track point has a time that can be read",
    ),
    "no fix": ("AXXXABC\nHFDTE040526\nB99\n", "x.gpx, row 3: no fix (B record) of this IGC file can be read"),
    "all damaged": ("$GPRMC,1,A*00\n" * 5, "x.gpx, row 1: no sentence of this NMEA log has a time and a valid fix"),
    "no caption": ("WEBVTT\n\nhello\n", "x.gpx: there is no caption in this file"),
}


@pytest.mark.parametrize("case", HOSTILE)
def test_hostile_and_empty_files_are_refused_in_one_sentence(case: str) -> None:
    text, beginning = HOSTILE[case]
    with pytest.raises(BadInputError) as refusal:
        read(text)
    assert str(refusal.value).startswith(beginning)
    assert "\n" not in str(refusal.value)


A_VTT = (
    "WEBVTT\n\n1\n00:00:01.000 --> 00:00:03.000\n<v Pilot>one oh eight knots\n\n00:04.000 --> 00:06.000\ngear down\n"
)
AN_SRT = "1\n00:00:01,000 --> 00:00:03,000\none twenty\n\n2\n00:00:05,000 --> 00:00:06,000\ngear &amp; flaps\n"
GOOD = [a_gpx(12), an_nmea(8), an_igc(12), A_VTT, AN_SRT]
BITS = [
    "",
    "0",
    "9" * 30,
    "-1",
    "<",
    ">",
    "&amp;",
    "$GPRMC,",
    "B",
    "nan",
    "inf",
    "*00",
    "-->",
    "Z",
    "é",
    "\n",
    "\x0b",
    "-0001-",
]


def read_or_refuse(text: str) -> None:
    refusal, answer = None, None
    try:
        answer = read_recording(text.encode("utf-8", "surrogatepass"), "x.csv")
    except BadInputError as problem:
        refusal = problem
    assert refusal is None or one_sentence(refusal)
    if answer is not None:
        check(answer)


@given(
    st.sampled_from(GOOD),
    st.lists(
        st.tuples(st.floats(0.0, 1.0), st.integers(0, 6), st.one_of(st.sampled_from(BITS), st.text(max_size=3))),
        max_size=6,
    ),
)
def test_any_damage_is_read_or_refused(text: str, damages: list[tuple[float, int, str]]) -> None:
    for where, removed, inserted in damages:
        at = int(where * len(text))
        text = text[:at] + inserted + text[at + removed :]
    read_or_refuse(text)


@given(st.sampled_from(GOOD), st.integers(0, 3000))
def test_a_file_cut_off_anywhere(text: str, length: int) -> None:
    read_or_refuse(text[:length])


@given(st.lists(st.tuples(st.integers(0, 86399), st.integers(0, 9)), min_size=1, max_size=30))
def test_fixes_at_any_times(moments: list[tuple[int, int]]) -> None:
    lines = [f"B{s // 3600:02d}{s // 60 % 60:02d}{s % 60:02d}47{i:05d}N008{i:05d}EA{i:05d}{i:05d}" for s, i in moments]
    read_or_refuse("\n".join(["AXXXABC", "HFDTE311226", *lines]))


def test_altitudes_keep_their_names() -> None:
    words = {name: " ".join(n.sentence for n in read(make(), name).notices) for name, make in FILES.items()}
    assert "no pressure altitude" in words["track.gpx"]
    assert "no pressure altitude" in words["track.nmea"]
    assert "1013.25 hPa" in words["track.igc"]
