"""Reading times as people write them, and putting readings in order without losing any."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache

import numpy as np

from wringout.recordings.types import FloatArray


class TimeStyle(IntEnum):
    """How a time was written; the value is the span after which such a clock starts again [s]."""

    SECONDS = 60  # a sweep hand read as bare seconds
    MINUTES = 3600  # m:ss, the hour not written
    HOURS = 86400  # h:mm:ss


@dataclass(frozen=True, slots=True)
class ClockTime:
    """One time as written: ``seconds`` on the file's clock and the style it was written in."""

    seconds: float
    style: TimeStyle


LEAP_SECOND_S = 59.999
"""How a leap second, ``h:59:60``, is read: as the end of the second before it, so that a clock goes on from it."""
_SECONDS = re.compile(r"[+-]?\d{1,9}(?:[.,]\d{1,9})?")
_SPOKEN_UNIT = re.compile(r"(?<=\d)\s*(s|sec|secs)$")
_CLOCK = re.compile(r"(?:(\d{1,3}):)?(\d{1,4}):(\d{1,2}(?:[.,]\d{1,9})?)")
_HALF_DAY = re.compile(r"(.*\d)\s*([ap])\.?m\.?")


@lru_cache(maxsize=1 << 16)
def read_time(text: str, unit_s: float = 1.0) -> ClockTime | None:
    """Read seconds, ``m:ss``, ``m:ss.s``, ``h:mm:ss`` or ``h:mm:ss PM``; None if the text is none of them.

    Args:
        text: as written; a decimal comma is accepted, and a trailing ``s``.
        unit_s: what a bare number counts [s], 60 for a column in minutes.
    """
    text = text.strip().casefold()
    if text.endswith(("s", "c")):
        text = _SPOKEN_UNIT.sub("", text)
    if _SECONDS.fullmatch(text):
        return ClockTime(float(text.replace(",", ".")) * unit_s, TimeStyle.SECONDS)
    half = _HALF_DAY.fullmatch(text)
    match = _CLOCK.fullmatch(half.group(1) if half else text)
    if match is None:
        return None
    hours, minutes, seconds = match.group(1), int(match.group(2)), float(match.group(3).replace(",", "."))
    if 60.0 <= seconds < 61.0 and minutes == 59 and hours is not None:
        seconds = LEAP_SECOND_S
    if seconds >= 60.0 or (hours is not None and minutes >= 60):
        return None
    if half:
        if hours is None or not 1 <= int(hours) <= 12:
            return None
        hours = str(int(hours) % 12 + (12 if half.group(2) == "p" else 0))
    if hours is None:
        return ClockTime(60.0 * minutes + seconds, TimeStyle.MINUTES)
    return ClockTime(3600.0 * int(hours) + 60.0 * minutes + seconds, TimeStyle.HOURS)


def write_time(seconds: float, style: TimeStyle) -> str:
    """Write a time in the style of the file, for a sentence: ``72`` s as ``1:12``."""
    if style is TimeStyle.SECONDS or seconds < 0.0:
        return f"{seconds:g} s"
    whole, rest = divmod(round(seconds, 3), 60.0)
    second_text = f"{rest:06.3f}".rstrip("0").rstrip(".") if rest % 1.0 else f"{rest:02.0f}"
    if style is TimeStyle.MINUTES:
        return f"{whole:.0f}:{second_text}"
    hours, minutes = divmod(int(whole), 60)
    return f"{hours}:{minutes:02d}:{second_text}"


def unroll(
    times_s: Sequence[float] | FloatArray, span_s: float, *, longest_step_s: float | None = None
) -> tuple[FloatArray, list[int]]:
    """Carry a clock past the point where it starts again (59 -> 0).

    A fall of more than half the span is a roll-over if the next reading goes on from there and the step, once
    carried over, is believable. A lone low reading is left for `out_of_order` to find.

    Args:
        times_s: as written [s].
        span_s: after how many seconds this clock starts again [s].
        longest_step_s: the longest believable step [s]; five usual steps, or a sixtieth of the span, if not given.

    Returns:
        The times carried over [s], shape (n,), and the positions after which a new round began.
    """
    times = np.asarray(times_s, dtype=np.float64)
    carry = np.zeros(times.size)
    steps = np.diff(times)
    usual = float(np.median(steps[steps > 0.0])) if np.any(steps > 0.0) else span_s / 60.0
    longest = max(5.0 * usual, span_s / 60.0) if longest_step_s is None else longest_step_s
    rounds: list[int] = []
    for i in np.flatnonzero(steps < -0.5 * span_s) + 1:
        goes_on = i + 1 >= times.size or times[i] <= times[i + 1] < times[i] + 0.5 * span_s
        step = times[i] + span_s - times[i - 1]
        if goes_on and 0.0 <= step <= longest:
            carry[i] = span_s
            rounds.append(int(i))
    return times + np.cumsum(carry), rounds


def out_of_order(times_s: FloatArray) -> list[int]:
    """Return the positions of the fewest readings that, taken out, leave the rest in order of time.

    Of two readings that changed places, the one written later is named. The longest non-decreasing subsequence is
    found from the end backwards, by patience sorting.
    """
    tails: list[float] = []
    tail_at: list[int] = []
    before = [-1] * times_s.size
    for i in range(times_s.size - 1, -1, -1):
        time = -float(times_s[i])
        at = bisect_right(tails, time)
        before[i] = tail_at[at - 1] if at else -1
        tails[at : at + 1] = [time]
        tail_at[at : at + 1] = [i]
    kept = set()
    i = tail_at[-1] if tail_at else -1
    while i >= 0:
        kept.add(i)
        i = before[i]
    return [i for i in range(times_s.size) if i not in kept]


def likelier_astray(times_s: FloatArray, i: int) -> int:
    """Return ``i``, or the reading before it where that one is as much out of order and would fill a hole elsewhere."""
    alone = i >= 2 and times_s[i - 2] <= times_s[i] < times_s[i - 1]
    if alone and missing_time(times_s, i) is None and missing_time(times_s, i - 1) is not None:
        return i - 1
    return i


def missing_time(times_s: FloatArray, i: int) -> float | None:
    """Return the time [s] at which reading ``i`` would fill a hole in an even cadence, or None.

    The hole must lie between its neighbours in the file and be about two usual steps wide: that is what a mistyped
    time leaves behind.
    """
    if not 0 < i < times_s.size - 1:
        return None
    steps = np.diff(np.delete(times_s, i))
    usual = float(np.median(steps[steps > 0.0])) if np.any(steps > 0.0) else 0.0
    hole = float(times_s[i + 1] - times_s[i - 1])
    if usual <= 0.0 or not 1.6 * usual <= hole <= 2.4 * usual:
        return None
    return float(times_s[i - 1]) + 0.5 * hole
