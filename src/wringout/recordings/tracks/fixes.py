"""Satellite fixes as a recording: order, altitudes named, speed out of the path where none is given.

Ground speed and track out of positions: the receiver's places differ by the path between two fixes, taken on a sphere
of the Earth's mean radius 6,371,008.8 m (IUGG), which is right to about 0.3 per cent at these distances.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from wringout.errors import BadInputError
from wringout.recordings.disorder import in_order
from wringout.recordings.types import Channel, FloatArray, IntArray, Mark, Notice, Recording, Severity
from wringout.units import DEGREE

EARTH_RADIUS_M = 6_371_008.8
_LONGEST_STEP_S = 12.0  # over a longer step a straight path says little about the speed at its ends (judged)
_FASTEST_MPS = 200.0


@dataclass(frozen=True, slots=True)
class Fixes:
    """Fixes as read, arrays of shape (n,), NaN where not given; times in s since 1970-01-01 UTC, or of the day."""

    times_s: FloatArray
    rows: IntArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    gps_altitude_m: FloatArray
    ground_speed_mps: FloatArray | None = None
    track_deg: FloatArray | None = None
    pressure_altitude_m: FloatArray | None = None
    pieces: IntArray | None = None
    others: dict[str, tuple[str, str, FloatArray]] = field(default_factory=dict)


def recording_of_fixes(
    fixes: Fixes,
    file: str,
    sha256: str,
    source: str,
    notices: list[Notice],
    *,
    header: dict[str, str] | None = None,
    marks: tuple[Mark, ...] = (),
) -> Recording:
    """Return fixes with a time as a recording of kind ``logger``, in order of time.

    ``marks`` carry absolute times; they are put on the recording's clock, and those outside it at its ends.

    Raises:
        BadInputError: no fix has a time, or the times run over one another as in two joined recordings.
    """
    good = np.flatnonzero(np.isfinite(fixes.times_s))
    if good.size == 0:
        raise BadInputError("no fix has a time", file, f"export the {source} log with times")
    order, times, more = in_order(fixes.times_s[good], fixes.rows[good], "time", file)
    at = good[order]
    notices = [*notices, *more, *_repeats(times, fixes.rows[at])]
    zero = float(times[0])
    channels = _channels(fixes, at, times, source, notices)
    if not channels:
        raise BadInputError("no fix has a place or an altitude", file, f"export the {source} log with positions")
    end = float(times[-1] - zero)
    placed = tuple(
        Mark(min(max(mark.time_s - zero, 0.0), end), mark.label, mark.row, mark.event)
        for mark in sorted(marks, key=lambda mark: mark.time_s)
    )
    known = set(fixes.rows[at].tolist())
    placed = tuple(mark if mark.row in known else _nearest(mark, times - zero, fixes.rows[at]) for mark in placed)
    return Recording(
        file,
        sha256,
        "logger",
        fixes.rows[at],
        times - zero,
        channels,
        {},
        placed,
        {"source": source, **(header or {})},
        tuple(notices),
        zero,
    )


def _nearest(mark: Mark, times: FloatArray, rows: IntArray) -> Mark:
    i = int(np.argmin(np.abs(times - mark.time_s)))
    return Mark(mark.time_s, mark.label, int(rows[i]), mark.event)


def _repeats(times: FloatArray, rows: IntArray) -> list[Notice]:
    steps = np.diff(times)
    moving = steps[steps > 0.0]
    usual = float(np.median(moving)) if moving.size else 0.0
    gaps = np.flatnonzero(steps > max(5.0 * usual, 5.0)) if usual else np.empty(0, dtype=np.int64)
    if not gaps.size:
        return []
    worst = int(gaps[np.argmax(steps[gaps])])
    words = f"{gaps.size} {'gap' if gaps.size == 1 else 'gaps'} in time, the longest is {steps[worst]:g} s"
    return [Notice(Severity.CAUTION, f"{words} before row {rows[worst + 1]}", int(rows[worst + 1]), "time")]


def _channels(fixes: Fixes, at: IntArray, times: FloatArray, source: str, notices: list[Notice]) -> dict[str, Channel]:
    pieces = fixes.pieces[at] if fixes.pieces is not None else np.zeros(at.size, dtype=np.int64)
    found: dict[str, Channel] = {}
    speed, track = path_speed(times, fixes.latitude_deg[at], fixes.longitude_deg[at], pieces)
    given = fixes.ground_speed_mps[at] if fixes.ground_speed_mps is not None else np.full(at.size, np.nan)
    course = fixes.track_deg[at] * DEGREE if fixes.track_deg is not None else np.full(at.size, np.nan)
    given = np.where((given >= 0.0) & (given <= _FASTEST_MPS), given, np.nan)
    from_path = 2 * int(np.isfinite(given).sum()) < at.size
    if from_path:
        given, course = speed, track
        if np.any(np.isfinite(speed)):
            words = "ground speed and track are taken from the path between the fixes, since the file gives no speeds"
            notices.append(Notice(Severity.NOTE, f"{words}; each is the mean over its two neighbouring steps"))
    elif 2 * int(np.isfinite(course).sum()) < at.size:
        course = track
    for quantity, values, column, unit in (
        ("ground_speed", given, "path" if from_path else "speed", "kt"),
        ("track", course, "path" if from_path else "course", "deg"),
        ("gps_altitude", fixes.gps_altitude_m[at], "GPS altitude", "m"),
        (
            "pressure_altitude",
            fixes.pressure_altitude_m[at] if fixes.pressure_altitude_m is not None else np.full(at.size, np.nan),
            "pressure altitude",
            "m",
        ),
        *((name, values[at], column, unit) for name, (column, unit, values) in fixes.others.items()),
    ):
        if np.any(np.isfinite(values)):
            found[quantity] = Channel(quantity, values.astype(np.float64), f"{source} {column}", unit)
    return found


def path_speed(
    times_s: FloatArray, latitude_deg: FloatArray, longitude_deg: FloatArray, pieces: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Return ground speed [m/s] and track [rad, 0 to 2 pi] at each fix, the mean of the steps on both its sides.

    Steps longer than 12 s, of no duration, faster than 200 m/s, or from one piece of track to the next, give none.
    """
    latitude, longitude = latitude_deg * DEGREE, longitude_deg * DEGREE
    steps = np.diff(times_s)
    east = (np.diff(longitude) + np.pi) % (2.0 * np.pi) - np.pi
    east = east * np.cos(0.5 * (latitude[1:] + latitude[:-1])) * EARTH_RADIUS_M
    north = np.diff(latitude) * EARTH_RADIUS_M
    with np.errstate(divide="ignore", invalid="ignore"):
        usable = (steps > 0.0) & (steps <= _LONGEST_STEP_S) & (np.diff(pieces) == 0)
        usable &= np.hypot(east, north) <= _FASTEST_MPS * steps
    u, v = np.where(usable, east, np.nan), np.where(usable, north, np.nan)
    blank = np.array([np.nan])
    parts = [(np.concatenate((blank, x)), np.concatenate((x, blank))) for x in (u, v, np.where(usable, steps, np.nan))]
    sums = [np.nan_to_num(a) + np.nan_to_num(b) for a, b in parts]
    any_side = np.isfinite(parts[2][0]) | np.isfinite(parts[2][1])
    span = np.where(any_side, sums[2], np.nan)
    speed = np.hypot(sums[0], sums[1]) / span
    track = np.where(any_side & (speed > 0.0), np.arctan2(sums[0], sums[1]) % (2.0 * np.pi), np.nan)
    return speed, track
