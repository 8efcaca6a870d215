"""Readings over time as one small drawing: spots that count, wait or do not; lines; marks as upright rules.

It is drawn twice, for a window and for the window of a phone; the style sheet shows one of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from markupsafe import Markup

from wringout.recordings.types import FloatArray
from wringout.web.drawn.scale import Scale, scale_of, ticks
from wringout.web.figures import unit_name

WIDE, NARROW = 640.0, 350.0
LEFT, RIGHT, TALL, FOOT, LINE = 54.0, 40.0, 150.0, 34.0, 13.0
MOST_POINTS, MOST_LINES = 500, 3
IN_MINUTES_S = 900.0
"""Longer than this [s] the axis counts minutes."""


class Counts(StrEnum):
    """Whether a reading counts."""

    YES = "yes"
    WAITING = "waiting"
    NO = "no"


@dataclass(frozen=True, slots=True)
class Spot:
    """One reading: when [s], how much, whether it counts, where pressing it leads, and what it is in words."""

    at: float
    value: float
    counts: Counts
    href: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class Trace:
    """A line: times [s] and values, shape (n,), NaN where there is none; a class for its colour; a word at its end."""

    at: FloatArray
    values: FloatArray
    name: str = "thing"
    label: str = ""
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Rule:
    """A mark: when [s], its words, and whether it counts already."""

    at: float
    label: str
    counts: Counts = Counts.YES


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where times and values stand in a drawing of one width."""

    width: float
    top: float
    up: Scale
    along: Scale

    @property
    def base(self) -> float:
        return self.top + TALL

    def x(self, at: float) -> float:
        return LEFT + (at - self.along.low) / (self.along.high - self.along.low) * (self.width - LEFT - RIGHT)

    def y(self, value: float) -> float:
        return self.top + (self.up.high - value) / (self.up.high - self.up.low) * TALL


def series(
    spots: Sequence[Spot], unit: str, spoken: str, traces: Sequence[Trace] = (), rules: Sequence[Rule] = ()
) -> Markup:
    """Return the drawing twice; empty where there is nothing with a value to draw.

    Args:
        spots: single readings.
        unit: of the values.
        spoken: what it shows, in words.
        traces: lines.
        rules: marks.
    """
    values = [spot.value for spot in spots] + [float(v) for one in traces for v in one.values[np.isfinite(one.values)]]
    times = [spot.at for spot in spots] + [float(t) for one in traces for t in one.at] + [rule.at for rule in rules]
    if not values:
        return Markup("")
    up, along = scale_of([(min(values), max(values))], margin=0.08), scale_of([(min(times), max(times))], margin=0.02)
    drawn = []
    for width in (WIDE, NARROW):
        placed = _placed(rules, along, width)
        top = 8.0 + LINE * (1 + max((row for _, row in placed), default=-1))
        drawn.append(_drawing(_Frame(width, top, up, along), spots, traces, placed, unit, spoken))
    return Markup("").join(drawn)


def _drawing(
    frame: _Frame,
    spots: Sequence[Spot],
    traces: Sequence[Trace],
    placed: Sequence[tuple[Rule, int]],
    unit: str,
    spoken: str,
) -> Markup:
    levels = list(reversed(ticks(frame.up, 5)))
    parts = [_level(frame, v, words, unit_name(unit) if i == 0 else "") for i, (v, words) in enumerate(levels)]
    parts += _foot(frame)
    parts += [_rule(frame, rule, row) for rule, row in placed]
    parts += [_trace(frame, one) for one in traces]
    parts += [_spot(frame, one) for one in spots]
    label = Markup("{}").format(spoken)
    kind = "narrow" if frame.width < WIDE else "wide"
    role = "group" if any(spot.href for spot in spots) else "img"
    head = f'<svg class="{kind}" viewBox="0 0 {frame.width:g} {frame.base + FOOT:g}" role="{role}" '
    return Markup(f'{head}aria-label="{label}" font-size="11.5">{"".join(parts)}</svg>')  # noqa: S704  numbers, and words that were escaped


def _level(frame: _Frame, value: float, words: str, unit: str) -> str:
    y = frame.y(value)
    return (
        f'<line x1="{LEFT}" x2="{frame.width - RIGHT}" y1="{y:.1f}" y2="{y:.1f}" class="hair"/>'
        f'<text x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end" class="quiet">{words} {unit}</text>'
    )


def _foot(frame: _Frame) -> list[str]:
    minutes = frame.along.high - frame.along.low > IN_MINUTES_S
    step = 60.0 if minutes else 1.0
    shown = Scale(frame.along.low / step, frame.along.high / step)
    parts = [
        f'<text x="{frame.x(step * value):.1f}" y="{frame.base + 16:.1f}" text-anchor="middle" class="quiet">'
        f"{words}</text>"
        for value, words in ticks(shown, 4 if frame.width < WIDE else 6)
    ]
    what = "minutes" if minutes else "seconds"
    at = f'x="{frame.width - RIGHT:.1f}" y="{frame.base + 30:.1f}" text-anchor="end"'
    return [*parts, f'<text {at} class="quiet">{what}</text>']


def _placed(rules: Sequence[Rule], along: Scale, width: float) -> list[tuple[Rule, int]]:
    """Return marks with the line their words stand on, so that they do not run into one another; -1 for no words."""
    ends = [-1e9] * MOST_LINES
    out = []
    for rule in sorted(rules, key=lambda one: one.at):
        start = LEFT + (rule.at - along.low) / (along.high - along.low) * (width - LEFT - RIGHT) + 3.0
        needs = 6.4 * len(rule.label) + 8.0
        row = next((i for i, end in enumerate(ends) if start >= end and start + needs <= width), -1)
        if row >= 0:
            ends[row] = start + needs
        out.append((rule, row))
    return out


def _rule(frame: _Frame, rule: Rule, row: int) -> str:
    x = frame.x(rule.at)
    words = Markup("{}").format(rule.label)
    dash = "" if rule.counts is Counts.YES else ' stroke-dasharray="3 3"'
    above = frame.top - 8.0 - LINE * row if row >= 0 else frame.top
    label = f'<text x="{x + 3:.1f}" y="{above:.1f}" class="quiet over">{words}</text>' if row >= 0 else ""
    return (
        f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{above:.1f}" y2="{frame.base:.1f}" class="axis"{dash}>'
        f"<title>{words}</title></line>{label}"
    )


def _trace(frame: _Frame, one: Trace) -> str:
    stride = max(1, len(one.at) // MOST_POINTS)
    at, values = one.at[::stride], one.values[::stride]
    dash = ' stroke-dasharray="5 3"' if one.dashed else ""
    parts, points = [], []
    for t, v in [*zip(at.tolist(), values.tolist(), strict=True), (0.0, float("nan"))]:
        if np.isfinite(v):
            points.append(f"{frame.x(t):.1f},{frame.y(v):.1f}")
        elif points:
            parts.append(f'<polyline points="{" ".join(points)}" class="thing" stroke-width="1.6"{dash}/>')
            points = []
    last = np.flatnonzero(np.isfinite(values))
    words = ""
    if one.label and last.size:
        x, y = frame.x(float(at[last[-1]])), frame.y(float(values[last[-1]]))
        words = f'<text x="{x + 4:.1f}" y="{y + 4:.1f}" class="ink over">{Markup("{}").format(one.label)}</text>'
    return f'<g class="{one.name}">{"".join(parts)}{words}</g>'


def _spot(frame: _Frame, one: Spot) -> str:
    x, y = frame.x(one.at), frame.y(one.value)
    words = f"<title>{Markup('{}').format(one.words)}</title>" if one.words else ""
    if one.counts is Counts.NO:
        drawn = f'<path d="M{x - 3:.1f},{y - 3:.1f} l6,6 m0,-6 l-6,6" class="axis">{words}</path>'
    elif one.counts is Counts.YES:
        drawn = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.6" class="ink">{words}</circle>'
    else:
        drawn = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" class="reading">{words}</circle>'
    if not one.href:
        return drawn
    href = Markup("{}").format(one.href)
    return f'<a href="{href}" tabindex="-1">{drawn}<circle cx="{x:.1f}" cy="{y:.1f}" r="8" fill="transparent"/></a>'
