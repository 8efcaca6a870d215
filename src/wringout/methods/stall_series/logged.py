"""Stalls in a log: where the speed is lowest, how fast it fell before, and which were pulled into a recovery."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.signal import find_peaks

from wringout.advice import set_up_word
from wringout.airplane.beliefs import Beliefs
from wringout.errors import BadInputError
from wringout.methods.setup_words import flap_setting, gear_position
from wringout.methods.types import FloatArray, IntArray
from wringout.recordings.types import Recording
from wringout.units import DEGREE, KNOT

LOGGED_EVERY_S = 5.0
"""Rows closer together than this are a log to look for stalls in; rows further apart are one stall each [s]."""
BREAK_MPS = 2.0 * KNOT
"""Rise of the speed that ends a fall, more than a dial's flicker (judged) [m/s]."""
APPROACH_FACTOR = 1.1
"""Entry rate is the slope from this share of the stall speed down to it (FAA AC 25-7, stall testing; from memory)."""
SECONDARY_FACTOR = 1.25
"""A stall before which the speed had not come back to this share of the last one came out of its recovery (judged)."""
FASTEST_ENTRY_MPS2 = 4.0 * KNOT
"""Beyond this entry rate the reduction to 1 kt/s, a straight line, is not trusted (judged) [m/s2]."""
LEAST_POINTS = 3
REST_ROWS = 5
"""Rows before a stall over which the flaps must be at rest."""


@dataclass(frozen=True, slots=True)
class LoggedStalls:
    """Stalls found in a log of m rows.

    Attributes:
        at: their places among the rows, (n,).
        entry_rate_mps2: fall of the indicated speed before each, positive, (n,).
        secondary: how many more were left out, pulled into while the airplane still recovered from the one before.
    """

    at: IntArray
    entry_rate_mps2: FloatArray
    secondary: int


def is_logged(recording: Recording) -> bool:
    """Return whether a recording is a log of one or more stalls, not a list with one stall in each row."""
    times = recording.time_s
    return times is not None and times.size > 2 and float(np.median(np.diff(times))) <= LOGGED_EVERY_S


def logged_stalls(recording: Recording) -> LoggedStalls:
    """Return the stalls of a log with times and indicated speeds.

    Raises:
        BadInputError: there is no speed, no fall that ends, or an entry too fast or too short to give its rate.
    """
    name = recording.name
    if recording.time_s is None or "ias" not in recording.channels:
        raise BadInputError("a stall in a log needs times and airspeeds", f"{name}, speed", "log both, each second")
    read = np.flatnonzero(np.isfinite(recording.channels["ias"].values))
    time_s, speed = recording.time_s[read], recording.channels["ias"].values[read]
    lows = _lows(speed)
    if not lows.size:
        raise BadInputError(
            "the speed never falls and comes back, so no stall is in this stretch",
            f"{name}, speed",
            "take the stretch from before the slowing down until after the recovery",
        )
    first = _primary(speed, lows)
    rates = [_entry_rate(time_s, speed, int(low), f"{name}, row {int(recording.rows[read[low]])}") for low in first]
    return LoggedStalls(read[first], np.array(rates), lows.size - first.size)


def logged_configuration(
    recording: Recording, at: IntArray, words: Mapping[str, str], beliefs: Beliefs
) -> tuple[FloatArray, FloatArray]:
    """Return flap angle [rad] and gear (0 up, 1 down) of each stall, (n,): from the words, else from the log.

    Raises:
        BadInputError: the flaps are told nowhere, or they moved within the last seconds before a stall.
    """
    gear_words = words.get("gear", words.get("entry gear", "up"))
    gear = gear_position(gear_words, f"{recording.name}, gear") if beliefs.retractable else 0.0
    said = words.get("flaps", words.get("entry flaps", ""))
    shown = _shown_flaps_rad(recording, beliefs)
    for i in at:
        _refuse_moving(recording, shown, int(i))
    if said:
        shown = np.full(len(recording), flap_setting(said, beliefs, f"{recording.name}, flaps").angle_rad)
    if not np.isfinite(shown[at]).all():
        raise BadInputError(
            "the log does not show the flaps at the stall", f"{recording.name}, flaps", set_up_word("flaps: full")
        )
    return shown[at], np.full(at.size, gear)


def _shown_flaps_rad(recording: Recording, beliefs: Beliefs) -> FloatArray:
    """Return the flap angle that the log shows in each row, rad, (m,); NaN where it shows none."""
    if "flap" in recording.channels:
        angles = recording.channels["flap"].values
        settings = np.array([setting.angle_rad for setting in beliefs.settings])
        nearest = settings[np.argmin(np.abs(settings[:, None] - np.nan_to_num(angles)), axis=0)]
        return np.where(np.abs(nearest - angles) < DEGREE, nearest, angles)
    angle, out = float("nan"), []
    for row, text in zip(recording.rows, recording.texts.get("flap", ("",) * len(recording)), strict=True):
        if text.strip():
            angle = flap_setting(text, beliefs, f"{recording.name}, row {int(row)}, flap").angle_rad
        out.append(angle)
    return np.array(out)


def _lows(speed: FloatArray) -> IntArray:
    """Return the lowest places of every fall that is followed by a rise."""
    if speed.size < LEAST_POINTS:
        return np.zeros(0, dtype=np.int64)
    wall = [float(np.max(speed)) + 10.0 * BREAK_MPS]
    lows, _ = find_peaks(-np.concatenate([wall, speed, wall]), prominence=BREAK_MPS)
    lows = lows - 1
    rises = np.array([float(np.max(speed[low:])) - speed[low] >= BREAK_MPS for low in lows], dtype=bool)
    falls = np.array([float(np.max(speed[: low + 1])) - speed[low] >= BREAK_MPS for low in lows], dtype=bool)
    return np.asarray(lows[rises & falls], dtype=np.int64)


def _primary(speed: FloatArray, lows: IntArray) -> IntArray:
    """Return those of the lows that were flown into from a speed well above the stall."""
    kept = [int(lows[0])]
    before = int(lows[0])
    for low in lows[1:]:
        if float(np.max(speed[before:low])) >= SECONDARY_FACTOR * speed[before]:
            kept.append(int(low))
        before = int(low)
    return np.array(kept, dtype=np.int64)


def _entry_rate(time_s: FloatArray, speed: FloatArray, low: int, where: str) -> float:
    """Return the fall of the speed over the approach to a stall, m/s2, positive: a straight line by least squares."""
    fast = np.flatnonzero(speed[:low] >= APPROACH_FACTOR * speed[low])
    begin = int(fast[-1]) if fast.size else 0
    if low - begin + 1 < LEAST_POINTS:
        raise BadInputError(
            f"only {low - begin + 1} speeds stand between the approach and the stall",
            f"{where}, speed",
            f"at least {LEAST_POINTS} are needed to tell how fast the speed fell; take the stretch from further before",
        )
    rate = -float(np.polyfit(time_s[begin : low + 1], speed[begin : low + 1], 1)[0])
    if not 0.0 < rate <= FASTEST_ENTRY_MPS2:
        raise BadInputError(
            f"the speed falls at {rate / KNOT:.1f} kt/s into this stall",
            f"{where}, speed",
            f"up to {FASTEST_ENTRY_MPS2 / KNOT:.0f} kt/s can be brought to 1 kt/s; set the run aside or fly it slower",
        )
    return rate


def _refuse_moving(recording: Recording, flap_rad: FloatArray, at: int) -> None:
    before = flap_rad[max(at - REST_ROWS, 0) : at + 1]
    before = before[np.isfinite(before)]
    if before.size and float(np.ptp(before)) > 1.0 * DEGREE:
        raise BadInputError(
            f"the flaps moved by {float(np.ptp(before)) / DEGREE:.0f} deg just before the stall",
            f"{recording.name}, row {int(recording.rows[at])}, flap",
            "a stall speed belongs to one setting; fly it with the flaps at rest",
        )
