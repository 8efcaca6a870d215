"""One table out of several recordings of one flight: parts a logger split, or recordings brought onto one clock.

Every row stays a row, at its own time, with the recording and the line it came from; nothing is interpolated.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from wringout.errors import BadInputError
from wringout.recordings.disorder import RESET_PAUSE_S
from wringout.recordings.together.alignment import ClockFit
from wringout.recordings.types import FloatArray, Recording
from wringout.typed_quantity import parse_quantity
from wringout.units import from_si

CLOCK_WORD = "clock uncertainty"
"""Header word for how well marks and readings share a clock, one standard deviation."""
_NEAR_ZERO_S = 60.0


@dataclass(frozen=True, slots=True)
class Part:
    """A recording with the times of its rows and marks on the clock of the table [s]."""

    recording: Recording
    time_s: FloatArray
    mark_s: tuple[float, ...]


def joined_table(recordings: Sequence[Recording]) -> str:
    """Return the parts of one flight that a logger split as one table, in order of time.

    Clocks that show time of day or a date say where each part lies; counters that begin near zero in each part are put
    behind one another in the order given, a minute apart.

    Raises:
        BadInputError: fewer than two parts, one without times, parts of other columns, or parts that overlap.
    """
    if len(recordings) < 2:
        raise BadInputError("there is nothing to join", "join", "name two recordings or more")
    first = recordings[0]
    for one in recordings:
        if one.time_s is None:
            raise BadInputError("a list without times cannot be joined", one.name, "join loggers' tables")
        if set(one.channels) != set(first.channels):
            odd = ", ".join(sorted(set(one.channels) ^ set(first.channels)))
            raise BadInputError(
                f"it does not measure what {first.name} does ({odd})", one.name, "join parts of one logger's recording"
            )
    counters = all(one.clock_zero_s < _NEAR_ZERO_S for one in recordings)
    ordered = list(recordings) if counters else sorted(recordings, key=lambda one: one.clock_zero_s)
    parts: list[Part] = []
    end = -np.inf
    for one in ordered:
        times = one.time_s if one.time_s is not None else np.zeros(0)
        zero = end + RESET_PAUSE_S if counters and parts else one.clock_zero_s
        if parts and zero + float(times[0]) < end:
            raise BadInputError(
                f"it begins {end - zero:g} s before {parts[-1].recording.name} ends", one.name, "join parts that follow"
            )
        parts.append(Part(one, times + zero, tuple(mark.time_s + zero for mark in one.marks)))
        end = zero + float(times[-1])
    header = {"joined from": ", ".join(one.name for one in ordered)}
    if counters:
        header["pauses"] = f"not known, written as {RESET_PAUSE_S:g} s"
    return merged_table(parts, {**dict(ordered[0].header), **header})


def aligned_table(first: Recording, others: Sequence[tuple[Recording, ClockFit]]) -> str:
    """Return recordings of one flight as one table on the first one's clock.

    Of a quantity several of them measure, the first one's is kept. The header says how well the clocks agree (``clock
    uncertainty``), at the worst of the other recordings' marks or rows, for the fit to carry; what a recording says of
    its own clock counts with it.

    Args:
        first: whose clock counts.
        others: the other recordings, each with how its clock runs against the first one's.

    Raises:
        BadInputError: one of them has no times, another clock jumped between them, or what one says of its clock is no
            time.
    """
    parts, sds = [_part(first, first, None)], [_own_sd_s(first)]
    headers: dict[str, str] = {}
    words = []
    for other, fit in others:
        if fit.steps:
            step = fit.steps[0]
            raise BadInputError(
                f"its clock jumps by {step.by_s:+.1f} s against {first.name} near {step.time_s:.0f} s",
                other.name,
                "cut it in two there and align both parts",
            )
        parts.append(_part(first, other, fit))
        ends = () if other.time_s is None else (float(other.time_s[0]), float(other.time_s[-1]))
        own = _own_sd_s(other)
        sds += [math.hypot(own, fit.sd_at(spot)) for spot in [mark.time_s for mark in other.marks] or ends]
        headers.update(other.header)
        words.append(f"{other.name} onto {first.name} by {fit.by}")
    header = {**headers, **first.header, "aligned": "; ".join(words), CLOCK_WORD: f"{max(sds):.2f} s"}
    return merged_table(parts, header)


def _own_sd_s(recording: Recording) -> float:
    """Return how well a recording says that its marks and readings share a clock [s]; 0 where it says nothing."""
    text = recording.header.get(CLOCK_WORD, "")
    return abs(parse_quantity(text, "time", where=f"{recording.name}, {CLOCK_WORD}")) if text else 0.0


def _part(first: Recording, one: Recording, fit: ClockFit | None) -> Part:
    """Return a recording with its times on the first one's clock; ``fit`` is None for the first itself."""
    if one.time_s is None:
        raise BadInputError("a list without times cannot be aligned", one.name, "align recordings with times")
    zero = first.clock_zero_s
    marks = [mark.time_s for mark in one.marks]
    if fit is None:
        return Part(one, one.time_s + zero, tuple(time + zero for time in marks))
    return Part(one, fit.time_of(one.time_s) + zero, tuple(float(fit.time_of(time)) + zero for time in marks))


def merged_table(parts: Sequence[Part], header: Mapping[str, str]) -> str:
    """Return rows of several recordings as one loggers' table in order of time; see `aligned_table`."""
    owner: dict[str, int] = {}
    for i, part in enumerate(parts):
        for name in part.recording.channels:
            owner.setdefault(name, i)
    units = {name: parts[i].recording.channels[name].unit for name, i in owner.items()}
    words = [name for name in ("gear", "flap") if any(name in part.recording.texts for part in parts)]
    columns = [name for name in owner if name not in words]
    joined = "joined from" in header
    rows: list[tuple[float, list[str]]] = []
    for i, part in enumerate(parts):
        values = {
            name: from_si(part.recording.channels[name].values, units[name])
            for name in columns
            if name in part.recording.channels and (joined or owner[name] == i)
        }
        texts = {name: part.recording.texts[name] for name in words if name in part.recording.texts}
        for k, time in enumerate(part.time_s.tolist()):
            cells = [_cell(values[name][k]) if name in values else "" for name in columns]
            cells += [texts[name][k] if name in texts else "" for name in words]
            if any(cells):
                rows.append((time, [*cells, "", f"{part.recording.name} {part.recording.rows[k]}"]))
        for mark, time in zip(part.recording.marks, part.mark_s, strict=True):
            rows.append((time, [*[""] * (len(columns) + len(words)), mark.label, f"{part.recording.name} {mark.row}"]))
    rows.sort(key=lambda row: row[0])
    out = io.StringIO()
    out.write("# kind: logger\n")
    for key, value in header.items():
        if key != "kind":
            out.write(f"# {key}: {' '.join(value.split())}\n")
    writer = csv.writer(out, lineterminator="\n")
    named = [f"{name.replace('_', ' ')} ({units[name]})" for name in columns]
    writer.writerow(["time (s)", *named, *words, "mark", "came from"])
    for time, cells in rows:
        writer.writerow([f"{time:.3f}", *cells])
    return out.getvalue()


def _cell(value: float) -> str:
    return "" if np.isnan(value) else f"{value:.9g}"
