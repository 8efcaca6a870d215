"""Two recordings on one time axis, as they begin and as their clocks lie: what both measured, else their marks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from wringout.recordings.together.alignment import ClockFit, common_channel
from wringout.recordings.types import FloatArray, Recording
from wringout.services.flights.strips import TITLES
from wringout.units import from_si
from wringout.web.drawn.scale import Scale, scale_of, ticks
from wringout.web.drawn.series import IN_MINUTES_S, NARROW, RIGHT, WIDE, Trace, series

FEW = 20
"""A channel of fewer readings says less to the eye than marks do."""
LEFT, LANE, ROOM = 54.0, 34.0, 20.0
"""Of the drawing of marks: where it begins, how far its lines are apart, and the room for words above each."""


@dataclass(frozen=True, slots=True)
class BeforeAndAfter:
    """The drawing of two recordings: with both begun at once, and on one clock; ``what`` is drawn, in words."""

    before: Markup
    after: Markup
    what: str


def clocks_drawing(first: Recording, other: Recording, fit: ClockFit | None) -> BeforeAndAfter:
    """Return what shows how two clocks lie; without a fit only how both begin."""
    pair = common_channel(first, other)
    marked = _drawn_marks(first, other, fit)
    if pair is None or (marked.before and (fit is None or fit.by == "marks" or _few(other, pair[1]))):
        return marked
    if first.time_s is None or other.time_s is None:
        return marked
    unit = first.channels[pair[0]].unit
    mine, theirs = Trace(first.time_s, _values(first, pair[0], unit), "c-clean", "first"), _values(other, pair[1], unit)
    what = title_of(pair[0]) if pair[0] == pair[1] else f"{title_of(pair[0])} and {title_of(pair[1])}"
    before = _traces(mine, other.time_s, theirs, unit, f"{what}, both begun at once")
    after = (
        Markup("") if fit is None else _traces(mine, fit.time_of(other.time_s), theirs, unit, f"{what}, on one clock")
    )
    return BeforeAndAfter(before, after, what)


def title_of(quantity: str) -> str:
    """Return a measured quantity as it is called here."""
    return {"ias": "indicated airspeed"}.get(quantity, TITLES.get(quantity, quantity.replace("_", " ")))


def _few(recording: Recording, name: str) -> bool:
    return int(np.isfinite(recording.channels[name].values).sum()) < FEW


def _drawn_marks(first: Recording, other: Recording, fit: ClockFit | None) -> BeforeAndAfter:
    mine = [(mark.time_s, mark.label) for mark in first.marks]
    theirs = [(mark.time_s, mark.label) for mark in other.marks]
    if not mine or not theirs:
        return BeforeAndAfter(Markup(""), Markup(""), "")
    moved = [] if fit is None else [(float(fit.time_of(at)), label) for at, label in theirs]
    along = scale_of([(at, at) for at, _ in (*mine, *theirs, *moved)], margin=0.04)
    after = _marks(mine, moved, along, "on one clock") if moved else Markup("")
    return BeforeAndAfter(_marks(mine, theirs, along, "both begun at once"), after, "their marks")


def _values(recording: Recording, name: str, unit: str) -> FloatArray:
    values = np.asarray(recording.channels[name].values, dtype=np.float64)
    return np.asarray(from_si(values, unit)) if unit else values


def _traces(mine: Trace, times: FloatArray, values: FloatArray, unit: str, what: str) -> Markup:
    good = np.isfinite(values)
    theirs = Trace(times[good], values[good], "c-flaps", "other", dashed=True)
    seen = np.isfinite(mine.values)
    mine = Trace(mine.at[seen], mine.values[seen], mine.name, mine.label)
    return series([], unit, f"{what}: the first recording in ink, the other in blue and broken.", traces=[mine, theirs])


def _marks(mine: Sequence[tuple[float, str]], theirs: Sequence[tuple[float, str]], along: Scale, what: str) -> Markup:
    return Markup("").join(_lanes(mine, theirs, along, what, width) for width in (WIDE, NARROW))


def _lanes(
    mine: Sequence[tuple[float, str]], theirs: Sequence[tuple[float, str]], along: Scale, what: str, width: float
) -> Markup:
    def x(at: float) -> float:
        return LEFT + (at - along.low) / (along.high - along.low) * (width - LEFT - RIGHT)

    parts = []
    for lane, (name, word, marks) in enumerate((("c-clean", "first", mine), ("c-flaps", "other", theirs))):
        y = ROOM + lane * (LANE + ROOM)
        parts.append(f'<text x="0" y="{y + 14:.1f}" class="quiet">{word}</text>')
        parts.append(f'<line x1="{LEFT}" x2="{width - RIGHT}" y1="{y + 10:.1f}" y2="{y + 10:.1f}" class="hair"/>')
        free = -1e9
        for at, label in marks:
            words = Markup("{}").format(label)
            parts.append(f'<g class="{name}"><line x1="{x(at):.1f}" x2="{x(at):.1f}" y1="{y:.1f}" y2="{y + 20:.1f}" ')
            parts.append(f'class="thing" stroke-width="2"><title>{words}</title></line></g>')
            needs = 6.4 * len(label) + 8.0
            if x(at) >= free and x(at) + needs <= width:
                parts.append(f'<text x="{x(at):.1f}" y="{y - 4:.1f}" class="quiet">{words}</text>')
                free = x(at) + needs
    base = ROOM + 2.0 * LANE + ROOM
    minutes = along.high - along.low > IN_MINUTES_S
    step = 60.0 if minutes else 1.0
    for value, tick in ticks(Scale(along.low / step, along.high / step), 4 if width < WIDE else 6):
        parts.append(f'<text x="{x(step * value):.1f}" y="{base:.1f}" text-anchor="middle" class="quiet">{tick}</text>')
    unit = "minutes" if minutes else "seconds"
    parts.append(f'<text x="{width - RIGHT:.1f}" y="{base + 14:.1f}" text-anchor="end" class="quiet">{unit}</text>')
    kind = "narrow" if width < WIDE else "wide"
    label = f"Marks of both recordings, {what}: the first above, the other below."
    head = (
        f'<svg class="{kind}" viewBox="0 0 {width:g} {base + 20:g}" role="img" aria-label="{label}" font-size="11.5">'
    )
    return Markup(head + "".join(parts) + "</svg>")  # noqa: S704  numbers, and words that were escaped
