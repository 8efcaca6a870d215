"""Speeds and altitudes of a timed run, thinned where a logger wrote them densely. SI units."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wringout.advice import Way
from wringout.errors import BadInputError
from wringout.methods.setup_words import block_means
from wringout.methods.types import FloatArray, IntArray
from wringout.recordings.changes import marks_from_channels
from wringout.recordings.types import Event, EventKind, Mark, Recording

MOST_READINGS = 400


@dataclass(frozen=True, slots=True)
class TimedReadings:
    """Readings of a run, arrays of shape (n,); times in s from ``start_s`` on the recording's clock.

    Altitudes are NaN where none was read. ``marks`` are those up to the last reading, at times from the start.
    """

    start_s: float
    time_s: FloatArray
    ias_mps: FloatArray
    altitude_m: FloatArray
    rows: IntArray
    marks: tuple[Mark, ...]
    geometric: bool


def timed_readings(recording: Recording, from_s: float, fewest: int, what: str) -> TimedReadings:
    """Return the readings of a recording from a time on its clock.

    Raises BadInputError when times or indicated airspeeds are missing, or fewer than ``fewest`` are left; ``what`` is
    the name of the run for the sentence.
    """
    name = recording.name
    if recording.time_s is None or "ias" not in recording.channels:
        raise BadInputError(f"{what} needs time and indicated airspeed", name, "give both columns")
    speed, geometric = recording.channels["ias"].values, False
    altitude = np.full(speed.size, np.nan)
    for channel, by_gps in (("gps_altitude", True), ("altitude", False), ("pressure_altitude", False)):
        if channel in recording.channels:
            altitude, geometric = recording.channels[channel].values, by_gps
    good = np.isfinite(speed) & (recording.time_s >= from_s)
    times, speeds, altitude, rows = recording.time_s[good], speed[good], altitude[good], recording.rows[good]
    if times.size > 20 and float(np.median(np.diff(times))) < 1.5:
        times, speeds, altitude, at = block_means(times, speeds, altitude, rows.astype(np.float64))
        rows = at.astype(np.int64)
    if times.size < fewest:
        raise BadInputError(f"only {times.size} readings of airspeed", name, f"{what} needs at least {fewest}")
    if times.size > MOST_READINGS:
        raise BadInputError(f"{times.size} readings are too many for one run", name, f"cut it shorter: {Way.STRETCH}")
    start, end = float(times[0]), float(times[-1])
    marks = sorted((*recording.marks, *marks_from_channels(recording)), key=lambda mark: mark.time_s)
    kept = tuple(_moved(mark, start) for mark in marks if mark.time_s <= end)
    return TimedReadings(start, times - start, speeds, altitude, rows, kept, geometric)


def _moved(mark: Mark, start_s: float) -> Mark:
    return Mark(mark.time_s - start_s, mark.label, mark.row, mark.event)


def last_power_mark(recording: Recording) -> Mark | None:
    """Return the last mark that says power was set, or None."""
    marks = [mark for mark in recording.marks if mark.event.kind is EventKind.POWER]
    return max(marks, key=lambda mark: mark.time_s) if marks else None


def is_move(event: Event) -> bool:
    """Return whether an event moves a device."""
    return event.device is not None and event.kind in (EventKind.SELECTED, EventKind.ARRIVED)
