"""Marks read off the gear and flap columns of a logger: when a device began to move and when it arrived."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wringout.recordings.types import Channel, Device, Event, EventKind, FloatArray, IntArray, Mark, Recording
from wringout.units import DEGREE, from_si

HOLD_S = 1.5
"""How long a position must stay put to count as arrived [s]."""

_TOLERANCE = 0.05  # share of the travel within which a position counts as unchanged
_FINE = 0.01  # share of the travel that tells rest from motion, where the noise is smaller
_SMALLEST_FLAP_TRAVEL = 10.0 * DEGREE
_TRANSIT = re.compile(r"trans.*|in transit|mov.*|unlocked|unsafe|\.\.\.|travel.*", re.IGNORECASE)
_DOWN_WORDS = frozenset({"down", "dn", "extended", "ext", "out", "locked", "down locked", "1"})
_UP_WORDS = frozenset({"up", "retracted", "ret", "in", "up locked", "0"})


@dataclass(frozen=True, slots=True)
class _Track:
    """The position of one device over time: values without blanks, with the words for a position."""

    device: Device
    column: str
    time_s: FloatArray
    values: FloatArray
    rows: IntArray
    span: float
    words: Callable[[float], str]


def marks_from_channels(recording: Recording) -> tuple[Mark, ...]:
    """Return SELECTED and ARRIVED marks from the movement of gear and flaps, in order of time.

    A column of numbers gives both: the travel is taken as even, so the moments are found between rows by a straight
    line through the moving positions. A column that jumps from one position to the next between two rows may be a
    handle or a slow logger: it gives SELECTED alone, half-way between the rows. In a column of words, a word for
    "moving" (TRANSIT) between two positions gives both, each half-way between rows.

    A position counts as reached when it holds for `HOLD_S`; a travel that the recording does not see end gives SELECTED
    alone, its target not said. The row of a mark is the first row that shows it. Marks already in the recording are not
    looked at. A list without times gives no marks.
    """
    if recording.time_s is None:
        return ()
    marks: list[Mark] = []
    for device, names in ((Device.GEAR, ("gear",)), (Device.FLAPS, ("flap", "flap_fraction"))):
        channel = next((recording.channels[name] for name in names if name in recording.channels), None)
        if channel is not None:
            marks += _from_track(_track(device, channel, recording.time_s, recording.rows))
        elif names[0] in recording.texts:
            marks += _from_words(device, recording.texts[names[0]], recording.time_s, recording.rows)
    return tuple(sorted(marks, key=lambda mark: mark.time_s))


def _track(device: Device, channel: Channel, time_s: FloatArray, rows: IntArray) -> _Track:
    good = np.isfinite(channel.values)
    values = channel.values[good]
    travel = float(np.ptp(values)) if values.size else 0.0
    if channel.quantity == "flap":
        return _Track(
            device,
            channel.column,
            time_s[good],
            values,
            rows[good],
            max(travel, _SMALLEST_FLAP_TRAVEL),
            lambda value: f"{from_si(value, 'deg'):.0f}".replace("-0", "0"),
        )
    words = _gear_words if device is Device.GEAR else _percent_words
    return _Track(device, channel.column, time_s[good], values, rows[good], 1.0, words)


def _gear_words(value: float) -> str:
    if abs(value - 1.0) < 0.1:
        return "down"
    return "up" if abs(value) < 0.1 else _percent_words(value)


def _percent_words(value: float) -> str:
    return f"{100.0 * value:.0f}%".replace("-0%", "0%")


def _from_track(track: _Track) -> list[Mark]:
    """Walk from rest to rest, a mark for each start and each arrival."""
    if track.values.size < 3:
        return []
    tolerance = _TOLERANCE * track.span
    noise = 1.4826 * float(np.median(np.abs(np.diff(track.values))))
    fine = min(max(_FINE * track.span, 3.0 * noise), tolerance)
    hold = _hold_rows(track.time_s)
    steady = _steady(track.values, hold, tolerance)
    at = _first(lambda part: steady[part], 0, steady.size)
    marks: list[Mark] = []
    while at is not None:
        level = float(np.median(track.values[at : at + hold]))
        gone = _first(_away(track.values, level, tolerance), at, track.values.size)
        if gone is None:
            break
        start = gone
        while start - 1 > at and abs(track.values[start - 1] - level) > fine:
            start -= 1
        at = _first(lambda part: steady[part], gone, steady.size)
        rest = None if at is None else float(np.median(track.values[at : at + hold]))
        if rest is None or abs(rest - level) > tolerance:
            marks += _travel(track, start, level, rest, fine)
    return marks


def _away(values: FloatArray, level: float, tolerance: float) -> Callable[[slice], NDArray[np.bool_]]:
    return lambda part: np.abs(values[part] - level) > tolerance


def _travel(track: _Track, start: int, level: float, rest: float | None, fine: float) -> list[Mark]:
    """Return the marks of one travel that first shows at position ``start`` and ends at ``rest`` (None: never)."""
    if rest is None:
        return [_mark(track, EventKind.SELECTED, _leaves(track, start, track.values.size, level), start, level, rest)]
    end = _first(lambda part: np.abs(track.values[part] - rest) <= fine, start, track.values.size)
    end = track.values.size - 1 if end is None else end
    selected = _mark(track, EventKind.SELECTED, _leaves(track, start, end, level), start, level, rest)
    if end == start:
        return [selected]
    return [selected, _mark(track, EventKind.ARRIVED, _arrives(track, start, end, rest), end, level, rest)]


def _leaves(track: _Track, start: int, end: int, level: float) -> float:
    """Return when the travel began [s]: where the line through the first two moving positions meets the old one."""
    before, after = float(track.time_s[start - 1]), float(track.time_s[start])
    if end - start >= 2:
        rate = (track.values[start + 1] - track.values[start]) / max(track.time_s[start + 1] - after, 1e-9)
        if rate != 0.0:
            return float(np.clip(after - (track.values[start] - level) / rate, before, after))
    return 0.5 * (before + after)


def _arrives(track: _Track, start: int, end: int, rest: float) -> float:
    """Return when the travel ended [s]: where the line through the last two moving positions meets the new one."""
    before, after = float(track.time_s[end - 1]), float(track.time_s[end])
    if end - start >= 2:
        rate = (track.values[end - 1] - track.values[end - 2]) / max(before - track.time_s[end - 2], 1e-9)
        if rate != 0.0:
            return float(np.clip(before + (rest - track.values[end - 1]) / rate, before, after))
    return 0.5 * (before + after)


def _mark(track: _Track, kind: EventKind, time_s: float, at: int, level: float, rest: float | None) -> Mark:
    target = track.words(rest) if rest is not None else ""
    verb = "leaves" if kind is EventKind.SELECTED else "reaches"
    label = f"{track.column} {verb} {track.words(level) if kind is EventKind.SELECTED else target}"
    return Mark(time_s, label, int(track.rows[at]), Event(kind, track.device, target))


def _hold_rows(time_s: FloatArray) -> int:
    steps = np.diff(time_s)
    usual = float(np.median(steps[steps > 0.0])) if np.any(steps > 0.0) else HOLD_S
    return int(np.clip(np.ceil(HOLD_S / usual) + 1, 3, 200))


def _steady(values: FloatArray, hold: int, tolerance: float) -> NDArray[np.bool_]:
    """Return whether a position and the ``hold - 1`` after it stay within the tolerance, where there are so many."""
    if values.size < hold:
        return np.zeros(0, dtype=np.bool_)
    windows = np.lib.stride_tricks.sliding_window_view(values, hold)
    steady: NDArray[np.bool_] = np.ptp(windows, axis=1) <= tolerance
    return steady


def _first(condition: Callable[[slice], NDArray[np.bool_]], start: int, stop: int) -> int | None:
    """Return the first position from ``start`` where a condition holds, looking no further than needed."""
    size = 64
    while start < stop:
        found = np.flatnonzero(condition(slice(start, min(start + size, stop))))
        if found.size:
            return start + int(found[0])
        start, size = start + size, size * 2
    return None


def _from_words(device: Device, words: Sequence[str], time_s: FloatArray, rows: IntArray) -> list[Mark]:
    """Return marks from a column of words; blank cells repeat the word before them."""
    filled = [(i, " ".join(word.replace("_", " ").replace("-", " ").split())) for i, word in enumerate(words)]
    filled = [(i, word) for i, word in filled if word]
    changes = [
        (filled[k - 1], filled[k])
        for k in range(1, len(filled))
        if filled[k - 1][1].casefold() != filled[k][1].casefold()
    ]
    marks = []
    for k, ((i, old), (j, new)) in enumerate(changes):
        moment = 0.5 * float(time_s[i] + time_s[j])
        if _TRANSIT.fullmatch(new):
            later = [word for _, (_, word) in changes[k + 1 :] if not _TRANSIT.fullmatch(word)]
            event = Event(EventKind.SELECTED, device, _target(device, later[0]) if later else "")
        elif _TRANSIT.fullmatch(old):
            event = Event(EventKind.ARRIVED, device, _target(device, new))
        else:
            event = Event(EventKind.SELECTED, device, _target(device, new))
        marks.append(Mark(moment, f"{device.value} from {old} to {new}", int(rows[j]), event))
    return marks


def _target(device: Device, word: str) -> str:
    plain = word.casefold()
    if plain in _UP_WORDS and (device is Device.GEAR or plain != "0"):
        return "up"
    if plain in _DOWN_WORDS and (device is Device.GEAR or plain != "1"):
        return "down"
    return re.sub(r"\s*(deg|degrees|°)$", "", plain)
