"""Taps made in flight on the page of taps: the log that a device hands over, read as called readings and marks.

The log is text: one line of JSON that says what it is, then one line for each event. Logs of several devices on one
flight may stand in one file. Taps that were taken back stay in the log and are left out of the readings.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wringout.errors import BadInputError
from wringout.recordings.marks import read_mark, split_mark, uninterpreted
from wringout.recordings.taps.clock import Comparison, Moment, best_offset, times_of
from wringout.recordings.types import Channel, Event, EventKind, Mark, Notice, Recording, Severity
from wringout.units import find_unit

FORMAT = "wringout taps, version 1"
"""How the first line names itself."""
SPOKEN = frozenset({"mark", "reading", "timer", "note", "point"})
SILENT = frozenset({"open", "sight", "clock", "undo"})
LONGEST_NOTE = 10_000
_ADVICE = "hand the log over again from the device that made it"


@dataclass(frozen=True, slots=True)
class Tap:
    """One event of a log: its line, its device, its place in that device's log, and what the line says."""

    row: int
    device: str
    sequence: int
    kind: str
    moment: Moment
    words: Mapping[str, Any]


def looks_captured(text: str) -> bool:
    """Return whether a text begins as a log of taps does."""
    first = text.lstrip("\ufeff \t\r\n").partition("\n")[0]
    return first.startswith("{") and '"format"' in first and "wringout taps" in first


def read_captured(text: str, file: str, sha256: str) -> Recording:
    """Read a log of taps.

    Returns:
        A recording of kind ``called``: one row for each tap that stands, ``ias`` where a speed was tapped, marks for
        the rest. Times start at zero at the first of them; ``clock_zero_s`` is seconds since 1970 UTC.

    Raises:
        BadInputError: the log is damaged, of a newer version, or holds no tap that stands.
    """
    lines = text.lstrip("\ufeff").splitlines()
    head = _head(lines, file)
    taps, notices = _taps(lines, head, file)
    placed, more = _placed(taps)
    standing, taken_back = _standing(placed)
    spoken = [(at, tap) for at, tap in standing if tap.kind in SPOKEN]
    if not spoken:
        raise BadInputError("no tap in this log stands", file, _ADVICE)
    spoken.sort(key=lambda pair: (pair[0], pair[1].device, pair[1].sequence))
    zero_ms = spoken[0][0]
    times = np.array([(at - zero_ms) / 1000.0 for at, _ in spoken])
    rows = np.array([tap.row for _, tap in spoken], dtype=np.int64)
    speeds = np.array([_speed(tap, file) for _, tap in spoken])
    marks, in_marks = _marks(spoken, zero_ms)
    if taken_back:
        more.append(Notice(Severity.NOTE, f"{_list(taken_back)} taken back on the device and left out"))
    channels = {} if np.all(np.isnan(speeds)) else {"ias": Channel("ias", speeds, "reading", "kt")}
    header = {"flight": str(head.get("flight", "")), "taps": str(len(taps))}
    return Recording(
        file,
        sha256,
        "called",
        rows,
        times,
        channels,
        {},
        marks,
        header,
        (*notices, *more, *in_marks),
        zero_ms / 1000.0,
    )


def _head(lines: Sequence[str], file: str) -> dict[str, Any]:
    head = _json(lines[0] if lines else "", 1, file)
    said = str(head.get("format", ""))
    if said != FORMAT:
        raise BadInputError(f"the log names itself {said[:60]!r}", f"{file}, row 1", f"this version reads '{FORMAT}'")
    return head


def _json(line: str, row: int, file: str) -> dict[str, Any]:
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, dict):
        raise BadInputError("the line is not one JSON object", f"{file}, row {row}", _ADVICE)
    return found


def _taps(lines: Sequence[str], head: Mapping[str, Any], file: str) -> tuple[list[Tap], list[Notice]]:
    """Read every event; a last line that was cut short is quoted and left out, a repeated one is counted once."""
    taps: dict[tuple[str, int], Tap] = {}
    notices: list[Notice] = []
    hidden: dict[str, bool] = {}
    last = max((i for i, line in enumerate(lines) if line.strip()), default=0)
    for i, line in enumerate(lines[1:], 2):
        if not line.strip():
            continue
        try:
            tap = _tap(_json(line, i, file), i, str(head.get("device", "")), hidden, file)
        except BadInputError:
            if i != last + 1:
                raise
            notices.append(Notice(Severity.CAUTION, f"row {i}: the line is cut short and not used: {line[:60]!r}", i))
            continue
        known = taps.setdefault((tap.device, tap.sequence), tap)
        if known.words != tap.words:
            raise BadInputError(
                f"tap {tap.sequence} of device {tap.device} is given twice and differs from row {known.row}",
                f"{file}, row {i}",
                _ADVICE,
            )
    return list(taps.values()), notices


def _tap(words: dict[str, Any], row: int, device: str, hidden: dict[str, bool], file: str) -> Tap:
    device = str(words.pop("device", device))[:80]
    sequence, kind = words.get("sequence"), words.get("kind")
    clocks = (words.get("wall_ms"), words.get("mono_ms"))
    numbers = [value for value in clocks if isinstance(value, (int, float)) and math.isfinite(value)]
    whole = isinstance(sequence, int) and not isinstance(sequence, bool) and 0 < sequence < 2**31
    if not whole or kind not in SPOKEN | SILENT or len(numbers) != 2 or not abs(numbers[0]) < 1e14:
        raise BadInputError(
            "the line lacks a place (sequence), a kind this version knows, or one of its two clocks (wall_ms, mono_ms)",
            f"{file}, row {row}",
            _ADVICE,
        )
    was_hidden = hidden.get(device, False)
    if kind in {"sight", "open"}:
        hidden[device] = kind == "sight" and words.get("visible") is False
    moment = Moment(float(numbers[0]), float(numbers[1]), str(words.get("epoch", "")), was_hidden)
    return Tap(row, device, int(str(sequence)), str(kind), moment, words)


def _placed(taps: Sequence[Tap]) -> tuple[list[tuple[float, Tap]], list[Notice]]:
    """Give every tap its time, ms since 1970 UTC: by its device's two clocks, and by how devices' clocks compared."""
    by_device: dict[str, list[Tap]] = {}
    for tap in sorted(taps, key=lambda tap: (tap.device, tap.sequence)):
        by_device.setdefault(tap.device, []).append(tap)
    placed: list[tuple[float, Tap]] = []
    notices: list[Notice] = []
    for device, own in by_device.items():
        times, steps = times_of([tap.moment for tap in own])
        notices += [
            Notice(
                Severity.CAUTION,
                f"row {own[step.at].row}: the clock of device {device} was set by {step.by_ms / 1000.0:+.1f} s here; "
                "times go on by its running clock",
                own[step.at].row,
                "wall_ms",
            )
            for step in steps
        ]
        offset, more = _offset(device, own, len(by_device))
        notices += more
        placed += [(at + offset, tap) for at, tap in zip(times, own, strict=True)]
    return placed, notices


def _offset(device: str, own: Sequence[Tap], devices: int) -> tuple[float, list[Notice]]:
    if devices < 2:
        return 0.0, []
    found = best_offset([one for tap in own if tap.kind == "clock" for one in _comparison(tap.words)])
    if found is None:
        sentence = f"the clock of device {device} was never compared with the laptop's and is taken as right"
        return 0.0, [Notice(Severity.CAUTION, sentence, own[0].row)]
    offset, bound = found
    sentence = f"the clock of device {device} is corrected by {offset / 1000.0:+.2f} ± {bound / 1000.0:.2f} s"
    return offset, [Notice(Severity.NOTE, sentence, own[0].row)]


def _comparison(words: Mapping[str, Any]) -> list[Comparison]:
    offset, trip = words.get("offset_ms"), words.get("round_trip_ms")
    if isinstance(offset, (int, float)) and isinstance(trip, (int, float)) and math.isfinite(offset) and trip >= 0:
        return [Comparison(float(offset), float(trip))]
    return []


def _standing(placed: Sequence[tuple[float, Tap]]) -> tuple[list[tuple[float, Tap]], list[str]]:
    undone = {(tap.device, tap.words.get("of")) for _, tap in placed if tap.kind == "undo"}
    standing = [(at, tap) for at, tap in placed if (tap.device, tap.sequence) not in undone]
    gone = [f"row {tap.row} ({_said(tap)})" for _, tap in placed if (tap.device, tap.sequence) in undone]
    return standing, gone


def _said(tap: Tap) -> str:
    words = tap.words
    if tap.kind == "reading":
        return f"{words.get('value')} {words.get('unit', '')}".strip()
    return str(words.get("label") or words.get("text") or tap.kind)[:40]


def _list(parts: Sequence[str]) -> str:
    said = ", ".join(parts[:6]) + (f" and {len(parts) - 6} more" if len(parts) > 6 else "")
    return f"{said} {'was' if len(parts) == 1 else 'were'}"


def _speed(tap: Tap, file: str) -> float:
    """Return the indicated airspeed of a reading, m/s; NaN for any other tap."""
    if tap.kind != "reading":
        return math.nan
    value, unit = tap.words.get("value"), find_unit(str(tap.words.get("unit", "kt")))
    if not isinstance(value, (int, float)) or not 0.0 <= value <= 1000.0 or unit is None or unit.dimension != "speed":
        raise BadInputError(
            f"'{_said(tap)}' is not a speed",
            f"{file}, row {tap.row}, value",
            "a number with kt, mph or km/h as its unit",
        )
    return float(value) * unit.factor


def _marks(spoken: Sequence[tuple[float, Tap]], zero_ms: float) -> tuple[tuple[Mark, ...], list[Notice]]:
    marks: list[Mark] = []
    notices: list[Notice] = []
    for at, tap in spoken:
        for words, event in _events(tap):
            marks.append(Mark((at - zero_ms) / 1000.0, words, tap.row, event))
            if tap.kind == "mark":
                notices += uninterpreted(words, event, tap.row)
    return tuple(marks), notices


def _events(tap: Tap) -> tuple[tuple[str, Event], ...]:
    note = Event(EventKind.NOTE)
    if tap.kind == "mark":
        return split_mark(str(tap.words.get("label", ""))[:LONGEST_NOTE])
    if tap.kind == "timer":
        words = f"{tap.words.get('label', '')} {'moving' if tap.words.get('phase') == 'start' else 'stopped'}"
        return ((words, read_mark(words)),)
    if tap.kind == "note":
        return ((str(tap.words.get("text", ""))[:LONGEST_NOTE], note),)
    if tap.kind == "point":
        return ((f"point {tap.words.get('label', '')}", note),)
    return ()
