"""A log at even steps of one second, with its rates: what looking for runs works on, however fast the logger was.

Ten hours at 10 Hz become 36,000 steps, so that the search takes a moment.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wringout.advice import Way
from wringout.errors import BadInputError
from wringout.recordings.types import FloatArray, Recording
from wringout.units import DEGREE, FOOT, INCH_OF_MERCURY, KNOT, RPM

STEP_S = 1.0
MOST_STEPS = 2_000_000
_SPEEDS = ("ias", "cas", "tas", "ground_speed")
_HEIGHTS = ("pressure_altitude", "altitude", "gps_altitude")
_GAP_S = 5.0
_TURN_RADPS = 1.2 * DEGREE
_BANK_RAD = 12.0 * DEGREE

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class FlightGrid:
    """Even steps of a flight, arrays of shape (n,), at ``time_s`` on the recording's clock.

    Attributes:
        speed_kt, speed_rate: airspeed (or what stands in for it) and how fast it changes [kt, kt/s].
        height_ft, climb_fpm: altitude and its rate [ft, ft/min].
        straight: not turning, as far as heading, track or bank say.
        power: what tells the power, in its unit; NaN where nothing does. ``power_unit`` names it, "" without one.
        power_band: how much it may wander and still count as not touched.
        seen: the log has rows here (False in gaps).
        speed_name, height_name: which quantities they are; "" for no height.
    """

    time_s: FloatArray
    speed_kt: FloatArray
    speed_rate: FloatArray
    height_ft: FloatArray
    climb_fpm: FloatArray
    straight: BoolArray
    power: FloatArray
    power_unit: str
    power_band: float
    seen: BoolArray
    speed_name: str
    height_name: str

    def at(self, time_s: float) -> int:
        """Return the step nearest to a time."""
        return int(np.clip(round((time_s - float(self.time_s[0])) / STEP_S), 0, self.time_s.size - 1))


def flight_grid(recording: Recording) -> FlightGrid:
    """Return the even steps of a recording.

    Raises:
        BadInputError: it has no times, or no speed.
    """
    if recording.time_s is None or len(recording) < 20:
        raise BadInputError(
            "there are too few timed rows to look for runs in", recording.name, "take in a logger's log"
        )
    speed_name = next((name for name in _SPEEDS if name in recording.channels), "")
    if not speed_name:
        raise BadInputError(
            "there is no speed to look for runs by",
            recording.name,
            f"{Way.COLUMNS}: one of them ias, tas or ground_speed",
        )
    times = recording.time_s
    count = int((times[-1] - times[0]) / STEP_S) + 1
    if count > MOST_STEPS:
        raise BadInputError("the recording is longer than three weeks", recording.name, "cut it")
    grid = times[0] + STEP_S * np.arange(count)
    right = np.minimum(np.searchsorted(times, grid, side="left"), times.size - 1)
    seen = times[right] - times[np.maximum(right - 1, 0)] <= _GAP_S
    height_name = next((name for name in _HEIGHTS if name in recording.channels), "")
    speed = _smooth(_on(recording, speed_name, grid) / KNOT, 3)
    blank = np.full(count, np.nan)
    height = _smooth(_on(recording, height_name, grid) / FOOT, 5) if height_name else blank
    power, unit, band = _power(recording, grid)
    return FlightGrid(
        grid,
        speed,
        _rate(speed, 3),
        height,
        60.0 * _rate(height, 4),
        _straight(recording, grid),
        power,
        unit,
        band,
        seen,
        speed_name,
        height_name,
    )


def _on(recording: Recording, name: str, grid: FloatArray) -> FloatArray:
    """Return a channel at even steps: the mean of the rows around each where there are several."""
    values = recording.channels[name].values
    good = np.isfinite(values)
    if recording.time_s is None or good.sum() < 2:
        return np.full(grid.size, np.nan)
    times, values = recording.time_s[good], values[good]
    per_step = times.size / max(grid.size, 1)
    if per_step > 1.5:
        values = _smooth(values, 2 * int(per_step / 2) + 1)
    return np.asarray(np.interp(grid, times, values))


def _smooth(values: FloatArray, width: int) -> FloatArray:
    """Return the running mean over an odd number of values, ends repeated."""
    if width < 2 or values.size < width:
        return values
    padded = np.concatenate((np.full(width // 2, values[0]), values, np.full(width // 2, values[-1])))
    total = np.cumsum(np.concatenate(([0.0], padded)))
    return np.asarray((total[width:] - total[:-width]) / width)[: values.size]


def _rate(values: FloatArray, half: int) -> FloatArray:
    """Return the change for each second over ``half`` steps on both sides."""
    if values.size <= 2 * half:
        return np.zeros(values.size)
    padded = np.concatenate((np.full(half, values[0]), values, np.full(half, values[-1])))
    span = np.full(values.size, 2.0 * half)
    span[:half] -= half - np.arange(half)
    span[-half:] -= 1.0 + np.arange(half)
    return np.asarray((padded[2 * half :] - padded[: -2 * half]) / (span * STEP_S))


def _straight(recording: Recording, grid: FloatArray) -> BoolArray:
    """Return where neither bank nor heading nor track shows a turn; a log without any of them counts as straight."""
    straight = np.ones(grid.size, dtype=np.bool_)
    if "roll" in recording.channels:
        straight &= ~(np.abs(_smooth(_on(recording, "roll", grid), 5)) > _BANK_RAD)
    for name in ("heading", "track"):
        if name not in recording.channels or recording.time_s is None:
            continue
        values = recording.channels[name].values
        good = np.isfinite(values)
        if good.sum() < 2:
            continue
        angle = np.interp(grid, recording.time_s[good], np.unwrap(values[good]))
        straight &= ~(np.abs(_smooth(_rate(angle, 4), 5)) > _TURN_RADPS)
        break
    return straight


def _power(recording: Recording, grid: FloatArray) -> tuple[FloatArray, str, float]:
    """Return what tells the power best: manifold pressure, else fuel flow, else rpm that moves."""
    told = {name for name, one in recording.channels.items() if np.isfinite(one.values).sum() >= 2}
    if "manifold_pressure" in told:
        return _smooth(_on(recording, "manifold_pressure", grid) / INCH_OF_MERCURY, 3), "inHg", 0.8
    for name in ("fuel_flow", "fuel_mass_flow"):
        if name in told:
            flow = _smooth(_on(recording, name, grid), 5)
            return flow / max(float(np.nanmax(flow)), 1e-12), "of the greatest fuel flow", 0.06
    if "rpm" in told:
        rpm = _smooth(_on(recording, "rpm", grid) / RPM, 3)
        low, high = np.nanquantile(rpm, [0.05, 0.95])
        if high - low > 0.1 * high:
            return rpm, "rpm", 150.0
    return np.full(grid.size, np.nan), "", np.inf
