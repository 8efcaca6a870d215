"""One flight of two minutes, an even second apart, read over every seam of the civil clock; and taps over the same.

The moments are UTC; what a device wrote for each is made with `zoneinfo` and the IANA time zones, which nobody here
wrote. Europe/Berlin left daylight saving at 01:00 UTC on 2026-10-25 and entered it at 01:00 UTC on 2026-03-29; a leap
second stood at the end of 2016 (IERS Bulletin C 52).
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.recordings.test_bad_input import check
from tests.recordings.test_captured import log_of, mark, reading
from tests.recordings.test_open_formats import a_gpx, an_igc, an_nmea, nmea
from wringout.recordings.reader import read_recording
from wringout.recordings.taps.clock import Moment, times_of
from wringout.recordings.together.alignment import align
from wringout.recordings.types import Recording, Severity

N = 120
SEAMS = {
    "an ordinary minute": datetime(2026, 5, 4, 10, 0, tzinfo=UTC),
    "midnight UTC": datetime(2026, 5, 4, 23, 59, tzinfo=UTC),
    "midnight in Berlin": datetime(2026, 5, 4, 21, 59, tzinfo=UTC),
    "new year": datetime(2026, 12, 31, 23, 59, tzinfo=UTC),
    "leap day": datetime(2028, 2, 28, 23, 59, tzinfo=UTC),
    "daylight saving ends": datetime(2026, 10, 25, 0, 59, tzinfo=UTC),
    "daylight saving begins": datetime(2026, 3, 29, 0, 59, tzinfo=UTC),
}
BERLIN = ZoneInfo("Europe/Berlin")
WRITTEN: dict[str, Callable[[datetime], str]] = {
    "UTC": lambda at: at.strftime("%Y-%m-%dT%H:%M:%SZ"),
    "local with offset": lambda at: at.astimezone(BERLIN).isoformat(),
    "local with date": lambda at: at.astimezone(BERLIN).strftime("%Y-%m-%d %H:%M:%S"),
    "local clock": lambda at: at.astimezone(BERLIN).strftime("%H:%M:%S"),
    "half a day": lambda at: at.astimezone(BERLIN).strftime("%I:%M:%S %p"),
}


def moments(begin: datetime, n: int = N) -> list[datetime]:
    return [begin + timedelta(seconds=i) for i in range(n)]


def logged(times: list[str], first: str = "Time") -> Recording:
    rows = "".join(f"{time},{120 - 0.2 * i:.1f},2400\n" for i, time in enumerate(times))
    found = read_recording(f"# kind: logger\n{first},IAS (kt),RPM\n{rows}".encode(), "x.csv")
    check(found)
    return found


@pytest.mark.parametrize("written", WRITTEN)
@pytest.mark.parametrize("seam", SEAMS)
def test_a_flight_over_every_seam_of_the_clock(seam: str, written: str) -> None:
    found = logged([WRITTEN[written](at) for at in moments(SEAMS[seam])])
    assert found.time_s is not None
    assert len(found) == N
    assert found.channels["ias"].values == pytest.approx((120 - 0.2 * np.arange(N)) * 1852 / 3600)
    if seam == "daylight saving begins" and written in {"local with date", "local clock", "half a day"}:
        told = [n.sentence for n in found.notices if n.severity is Severity.CAUTION]
        assert any(
            "a clock set forward by an hour (daylight saving, another time zone) looks the same" in s for s in told
        )
        steps = np.diff(found.time_s)
        assert np.sort(steps).tolist() == [1.0] * (N - 2) + [3601.0]
        return
    assert np.diff(found.time_s) == pytest.approx(np.ones(N - 1))
    if written in {"UTC", "local with offset"}:
        assert found.clock_zero_s == SEAMS[seam].timestamp()
    if seam == "daylight saving ends" and written not in {"UTC", "local with offset"}:
        assert any("as where daylight saving ends" in n.sentence for n in found.notices)


def test_two_time_zones_in_one_flight() -> None:
    begin = SEAMS["an ordinary minute"]
    zones = [ZoneInfo("Europe/Lisbon"), ZoneInfo("Europe/Madrid")]
    written = [at.astimezone(zones[i >= N // 2]).isoformat() for i, at in enumerate(moments(begin))]
    assert {time[-6:] for time in written} == {"+01:00", "+02:00"}
    found = logged(written)
    assert found.time_s is not None
    assert np.diff(found.time_s) == pytest.approx(np.ones(N - 1))
    assert found.clock_zero_s == begin.timestamp()


def test_two_devices_in_two_zones_come_onto_one_clock() -> None:
    begin = SEAMS["midnight UTC"]

    def device(zone: str, off_s: float) -> Recording:
        rows = "".join(
            f"{(at + timedelta(seconds=off_s)).astimezone(ZoneInfo(zone)).isoformat(timespec='milliseconds')},"
            f"{100 + 15 * np.sin(i / 17) + 5 * np.sin(i / 5.3):.2f}\n"
            for i, at in enumerate(moments(begin, 300))
        )
        return read_recording(f"# kind: logger\nTime,IAS (kt)\n{rows}".encode(), "x.csv")

    one, other = device("Europe/Berlin", 0.0), device("America/New_York", 2.0)
    fit = align(one, other)
    assert abs(fit.offset_s) <= 3.0 * fit.offset_sd_s  # each counts from its own first row, which is the same moment
    assert one.clock_zero_s == begin.timestamp()
    assert other.clock_zero_s == begin.timestamp() + 2.0


@pytest.mark.parametrize("written", ["clock", "dated", "called"])
def test_a_leap_second_moves_no_row_and_loses_none(written: str) -> None:
    begin = datetime(2016, 12, 31, 23, 59, 30, tzinfo=UTC)
    times = [begin + timedelta(seconds=i) for i in range(30)]
    after = [begin + timedelta(seconds=30 + i) for i in range(30)]
    form = "%Y-%m-%dT%H:%M:%SZ" if written == "dated" else "%H:%M:%S"
    leap = "2016-12-31T23:59:60Z" if written == "dated" else "23:59:60"
    rows = [*(t.strftime(form) for t in times), leap, *(t.strftime(form) for t in after)]
    if written == "called":
        text = "time,speed\n" + "".join(f"{row},{150 - i}\n" for i, row in enumerate(rows))
        found = read_recording(text.encode(), "x.csv")
    else:
        found = logged(rows)
    assert found.time_s is not None
    assert len(found) == 61
    assert found.time_s[:30].tolist() == list(range(30))
    assert found.time_s[31:] - found.time_s[31] == pytest.approx(np.arange(30))
    assert found.time_s[31] == pytest.approx(30.0)  # UTC as computers count it knows no leap second
    assert 29.0 < found.time_s[30] <= 30.0


def test_a_leap_second_in_satellite_tracks() -> None:
    gpx = a_gpx(20, 50).replace("2026-05-05T00:00:00Z", "2026-05-04T23:59:60Z")
    igc = an_igc(20).replace("B000000", "B235960")
    for text, name in ((gpx, "x.gpx"), (igc, "x.igc")):
        found = read_recording(text.encode(), name)
        assert found.time_s is not None
        assert found.time_s == pytest.approx(np.arange(20))
    lines = [line[1:-3] for line in an_nmea(20).split("\r\n") if line]
    leap = [
        nmea(body.replace("000000.00", "235960.00").replace("050526", "040526") if "000000.00" in body else body)
        for body in lines
    ]
    found = read_recording("\r\n".join([*leap, ""]).encode(), "x.nmea")
    assert found.time_s is not None  # the sentences of the leap second itself are told as unreadable, the others stand
    assert found.time_s.tolist() == [*range(10), *range(11, 20)]
    assert any("2 sentences are damaged" in notice.sentence for notice in found.notices)


# Taps: the device's date and time may be set while it runs, its running clock may not

STEPS = {
    "a leap second": -1.0,
    "the network sets it forward": 7.5,
    "the network sets it back": -40.0,
    "somebody sets another zone by hand": 3600.0,
    "and back": -3600.0,
    "somebody sets yesterday": -86400.0,
}


@pytest.mark.parametrize("step", STEPS)
def test_a_clock_set_in_flight_moves_no_tap(step: str) -> None:
    midnight = datetime(2026, 5, 4, 23, 59, 50, tzinfo=UTC).timestamp()
    events = [
        reading(float(i), 120 - i, wall_ms=1000.0 * (midnight + i + (STEPS[step] if i >= 10 else 0.0)))
        for i in range(20)
    ]
    found = read_recording(log_of(*events, mark(20.0, "stable"), start=1000.0 * midnight).encode(), "x.taps")
    assert found.time_s is not None
    assert found.time_s[:20] == pytest.approx(np.arange(20.0), abs=1e-6)
    assert any("clock" in notice.sentence for notice in found.notices)


@given(
    st.lists(st.tuples(st.floats(0.001, 400.0), st.floats(-90000.0, 90000.0), st.booleans()), min_size=1, max_size=20),
    st.floats(0.0, 2e12),
)
def test_taps_keep_their_order_and_distance_whatever_the_clock_is_set_to(
    taps: list[tuple[float, float, bool]], begin_ms: float
) -> None:
    mono, off, listed = 0.0, 0.0, []
    for after_s, set_s, is_set in taps:
        mono += 1000.0 * after_s
        off += 1000.0 * set_s if is_set else 0.0
        listed.append(Moment(begin_ms + mono + off, mono, "e"))
    times, _ = times_of(listed)
    truth = np.array([moment.mono_ms for moment in listed])
    moved = np.array(times) - times[0] - (truth - truth[0])
    # a step of less than a quarter of a second is not told from a clock that runs unevenly
    small = sum(abs(set_s) <= 0.25 for _, set_s, is_set in taps if is_set)
    assert np.all(np.abs(moved) <= 1e-3 + 250.0 * small)


def test_taps_over_midnight_and_daylight_saving_are_utc() -> None:
    for seam in ("midnight UTC", "daylight saving ends", "daylight saving begins"):
        start = 1000.0 * SEAMS[seam].timestamp()
        found = read_recording(
            log_of(*(reading(float(i), 120 - i / 10) for i in range(N)), start=start).encode(), "x.taps"
        )
        assert found.time_s is not None
        assert found.time_s == pytest.approx(np.arange(float(N)))
        assert found.clock_zero_s == pytest.approx(SEAMS[seam].timestamp())
    assert json.loads(log_of(mark(0.0, "x")).splitlines()[1])["wall_ms"] > 1.7e12
