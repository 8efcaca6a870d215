"""Go-arounds in a recording: a descent broken off in a climb, with what the hands did to gear and flaps.

What counts is judged from heights, speeds and, where they were kept, power, gear and flaps; the bounds below are judged
for light airplanes, no source. A touch-and-go on which nobody wrote down the wheels looks much like a low go-around:
such a find says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wringout.recordings.changes import marks_from_channels
from wringout.recordings.types import Device, EventKind, Mark, Recording
from wringout.units import FOOT, FOOT_PER_MINUTE, KNOT

FloatArray = NDArray[np.float64]

DESCENT_M, CLIMB_M = 200.0 * FOOT, 200.0 * FOOT
"""Height lost before and gained after the lowest point, at least."""
BEFORE_S, AFTER_S = 120.0, 60.0
"""How far before and after the lowest point those are looked for, s."""
APART_S = 60.0
"""Two lowest points nearer than this are one, s."""
SMOOTH_S = 3.0
"""Heights are averaged over this long, s."""
STEEPEST_MPS = 3000.0 * FOOT_PER_MINUTE
FLYING_MPS = 35.0 * KNOT
LEVEL_M, LEVEL_S = 10.0 * FOOT, 5.0
"""Within this height for this long at the bottom: wheels may have touched."""
CLEANING_UP_S = (-20.0, 120.0)
"""When gear and flaps are looked at, from the lowest point, s; no further than until one goes out again."""
_POWER_RISE = 0.15
_HEIGHTS = ("pressure_altitude", "altitude", "gps_altitude")
_SPEEDS = ("cas", "ias", "tas", "ground_speed")
_POWERS = ("manifold_pressure", "rpm", "fuel_flow")


@dataclass(frozen=True, slots=True)
class Change:
    """A movement of gear or flaps that was begun: when (s on the recording's clock), where to, and its row."""

    time_s: float
    device: str
    target: str
    row: int


@dataclass(frozen=True, slots=True)
class GoAroundFound:
    """A descent that was broken off.

    Attributes:
        time_s: of the lowest point, s on the recording's clock. row: its row.
        lowest_m: altitude there, by the channel named in ``height_channel``.
        descended_m, climbed_m: height lost before and gained after.
        speed_mps: at the lowest point by ``speed_channel``; NaN where none was kept.
        confidence: "go-around", "probable" or "possible"; see ``why``.
        why: what speaks for it and against it, in words.
        order: gear and flaps as they were raised, such as "flaps 20, gear up, flaps 0"; "" where nothing was kept.
        changes: the same with times.
    """

    time_s: float
    row: int
    lowest_m: float
    height_channel: str
    descended_m: float
    climbed_m: float
    speed_mps: float
    speed_channel: str
    confidence: str
    why: str
    order: str
    changes: tuple[Change, ...]


def configuration_changes(recording: Recording) -> tuple[Change, ...]:
    """Return every movement of gear or flaps that was begun, from marks in the recording and from its columns."""
    marks = [*recording.marks, *marks_from_channels(recording)]
    return _changes(marks)


def _changes(marks: Sequence[Mark]) -> tuple[Change, ...]:
    """Return selections in order of time; the same selection marked twice within two seconds counts once."""
    found: list[Change] = []
    for mark in sorted(marks, key=lambda m: m.time_s):
        event = mark.event
        if event.kind is not EventKind.SELECTED or event.device is None:
            continue
        change = Change(mark.time_s, event.device.value, event.target, mark.row)
        if not any(c.device == change.device and abs(c.time_s - change.time_s) < 2.0 for c in found[-2:]):
            found.append(change)
    return tuple(found)


def find_go_arounds(recording: Recording) -> tuple[GoAroundFound, ...]:
    """Return the go-arounds of a recording in order of time; none where it has no times or no heights."""
    name = next((n for n in _HEIGHTS if n in recording.channels), None)
    if recording.time_s is None or name is None:
        return ()
    good = np.isfinite(recording.channels[name].values) & np.isfinite(recording.time_s)
    if int(good.sum()) < 10:
        return ()
    order = np.argsort(recording.time_s[good], kind="stable")
    places = np.flatnonzero(good)[order]
    time = recording.time_s[places]
    height = _smoothed(time, recording.channels[name].values[places])
    changes = configuration_changes(recording)
    found = []
    for low in _lowest_points(time, height):
        item = _judged(recording, name, places, time, height, low, changes)
        if item is not None:
            found.append(item)
    return tuple(found)


def _smoothed(time: FloatArray, height: FloatArray) -> FloatArray:
    """Return the mean height within ``SMOOTH_S`` around each time, whatever the steps between rows."""
    total = np.concatenate([[0.0], np.cumsum(height)])
    first = np.searchsorted(time, time - 0.5 * SMOOTH_S, side="left")
    last = np.searchsorted(time, time + 0.5 * SMOOTH_S, side="right")
    return np.asarray((total[last] - total[first]) / (last - first))


def _lowest_points(time: FloatArray, height: FloatArray) -> list[int]:
    """Return where height is lowest between a descent and a climb, each of ``DESCENT_M`` and ``CLIMB_M``.

    One pass: the lowest point since the last high one stands once the height has risen far enough above it.
    """
    level = height.tolist()
    found: list[int] = []
    high, low = 0, 0
    falling = False
    for i in range(1, time.size):
        if not falling:
            if level[i] > level[high]:
                high = i
            elif level[high] - level[i] >= DESCENT_M:
                falling, low = True, i
        elif level[i] < level[low]:
            low = i
        elif level[i] - level[low] >= CLIMB_M:
            found.append(low)
            falling, high = False, i
    kept: list[int] = []
    for i in found:
        if kept and time[i] - time[kept[-1]] < APART_S:
            if height[i] < height[kept[-1]]:
                kept[-1] = i
            continue
        kept.append(i)
    return kept


def _judged(
    recording: Recording,
    name: str,
    places: NDArray[np.intp],
    time: FloatArray,
    height: FloatArray,
    low: int,
    changes: Sequence[Change],
) -> GoAroundFound | None:
    """Return what was found at a lowest point; None where descent or climb took too long, or it stood on the ground."""
    at = float(time[low])
    before = (time >= at - BEFORE_S) & (time <= at)
    after = (time >= at) & (time <= at + AFTER_S)
    descended, climbed = float(height[before].max() - height[low]), float(height[after].max() - height[low])
    if descended < DESCENT_M or climbed < CLIMB_M or climbed > STEEPEST_MPS * AFTER_S:
        return None
    speed, channel = _speed_at(recording, at)
    if speed < FLYING_MPS:
        return None
    own = _cleaning_up(changes, at)
    confidence, why = _confidence(recording, time, height, low, at, own)
    return GoAroundFound(
        time_s=at,
        row=int(recording.rows[places[low]]),
        lowest_m=float(height[low]),
        height_channel=name,
        descended_m=descended,
        climbed_m=climbed,
        speed_mps=speed,
        speed_channel=channel,
        confidence=confidence,
        why=why,
        order=", ".join(f"{c.device} {c.target}".strip() for c in own),
        changes=tuple(own),
    )


def _cleaning_up(changes: Sequence[Change], at: float) -> list[Change]:
    """Return the retractions around a lowest point: what came before in the approach and after it is left out."""
    found: list[Change] = []
    for place, change in enumerate(changes):
        since = change.time_s - at
        if since < CLEANING_UP_S[0]:
            continue
        if since > CLEANING_UP_S[1]:
            break
        before = next((c.target for c in reversed(changes[:place]) if c.device == change.device), "")
        if not _goes_out(change, before):
            found.append(change)
        elif since > 0.0:
            break
    return found


def _goes_out(change: Change, before: str) -> bool:
    """Return whether a movement goes out: gear down, or flaps further than they were."""
    if change.device == Device.GEAR.value:
        return change.target == "down"
    try:
        return float(change.target.rstrip("%")) > float(before.rstrip("%") or 0.0)
    except ValueError:
        return change.target in {"full", "down"}


def _near(recording: Recording, name: str, at: float, low_s: float, high_s: float) -> FloatArray:
    time, values = recording.time_s, recording.channels[name].values
    if time is None:
        return np.zeros(0)
    near = (time >= at + low_s) & (time <= at + high_s) & np.isfinite(values)
    return np.asarray(values[near])


def _speed_at(recording: Recording, at: float) -> tuple[float, str]:
    for name in _SPEEDS:
        if name in recording.channels:
            near = _near(recording, name, at, -3.0, 3.0)
            if near.size:
                return float(np.median(near)), name
    return math.nan, ""


def _confidence(
    recording: Recording, time: FloatArray, height: FloatArray, low: int, at: float, own: Sequence[Change]
) -> tuple[str, str]:
    """Return how sure it is, and why."""
    speaks: list[str] = []
    if own:
        speaks.append("gear or flaps were moved")
    power = _power_rises(recording, at)
    if power is not None:
        speaks.append("power rose" if power else "power did not rise")
    level = _stays_level(time, height, low)
    if level:
        speaks.append("the height stayed level at the bottom, so the wheels may have touched")
    if own and power and not level:
        word = "go-around"
    elif (own or power) and power is not False:
        word = "probable"
    else:
        word = "possible"
    return word, "; ".join(speaks) if speaks else "only heights were kept"


def _power_rises(recording: Recording, at: float) -> bool | None:
    """Return whether any power reading rises by 15 % around the lowest point; None where none was kept."""
    known = False
    for name in _POWERS:
        if name not in recording.channels:
            continue
        before, after = _near(recording, name, at, -60.0, 0.0), _near(recording, name, at, 0.0, 20.0)
        if not (before.size and after.size):
            continue
        known = True
        if float(np.median(after)) >= (1.0 + _POWER_RISE) * float(np.quantile(before, 0.25)):
            return True
    return False if known else None


def _stays_level(time: FloatArray, height: FloatArray, low: int) -> bool:
    near = height <= height[low] + LEVEL_M
    first, last = low, low
    while first > 0 and near[first - 1]:
        first -= 1
    while last + 1 < time.size and near[last + 1]:
        last += 1
    return bool(time[last] - time[first] >= LEVEL_S + 2.0 * SMOOTH_S)


DEVICES = (Device.GEAR.value, Device.FLAPS.value)
"""What a change may be of."""
