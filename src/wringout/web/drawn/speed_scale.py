"""The speeds of an airplane drawn to scale, with the arcs of the airspeed indicator."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from markupsafe import Markup

from wringout.services.airplane.speeds import SpeedMark, SpeedSketch
from wringout.web.units import number_in, unit_in

WIDE, LEFT, RIGHT = 640.0, 12.0, 24.0
LANE, SCALE_HEIGHT = 19.0, 44.0
COLOUR = {"stall": "var(--margin)", "flaps": "var(--flaps)", "gear": "var(--gear)", "limit": "var(--ink)"}
STEP = {"kt": 10.0, "km/h": 20.0}
"""Between two strokes of the scale, by its unit."""
SIGN_WIDTH = 6.4
"""Of one sign of a label, in the drawing's units; labels that would touch go to another lane."""


def speed_scale(sketch: SpeedSketch, width: float = WIDE) -> Markup:
    """Return the drawing of a sketch, ``width`` units wide; empty where there is no speed to draw."""
    if not sketch.marks:
        return Markup("")
    sketch = _shown(sketch)
    speeds = [mark.speed_kt for mark in sketch.marks]
    step = STEP[unit_in("kt")]
    low = math.floor((min(speeds) - 0.8 * step) / step) * step
    high = math.ceil((max(speeds) + 0.6 * step) / step) * step

    def x(speed: float) -> float:
        return LEFT + (speed - low) / (high - low) * (width - LEFT - RIGHT)

    stalls = _lanes([m for m in sketch.marks if m.kind == "stall"], x, width)
    limits = _lanes([m for m in sketch.marks if m.kind != "stall"], x, width)
    above = 1 + max((lane for _, lane in limits), default=-1)
    below = 1 + max((lane for _, lane in stalls), default=-1)
    base = 10.0 + above * LANE + 8.0
    height = base + SCALE_HEIGHT + below * LANE + 4.0
    parts = [*_scale(x, low, high, base, (4 if width < WIDE else 2) * int(step)), *_arcs(sketch, x, base)]
    for mark, lane in limits:
        y = base - 8.0 - lane * LANE
        parts += _mark(mark, x(mark.speed_kt), base, y, y - 4.0, width)
    for mark, lane in stalls:
        y = base + SCALE_HEIGHT + lane * LANE
        spread = mark.spread_kt * 1.96
        if spread:
            parts.append(
                _line(x(mark.speed_kt - spread), base + 3, x(mark.speed_kt + spread), base + 3, COLOUR["stall"], 2)
            )
        parts += _mark(mark, x(mark.speed_kt), base, y, y + 11.0, width)
    label = Markup("{}").format(_spoken(sketch))
    kind = "narrow" if width < WIDE else "wide"
    place = f'viewBox="0 0 {width:g} {height:g}" role="img" aria-label="{label}"'
    head = f'<svg class="speeds {kind}" {place} font-size="11.5">'
    return Markup(head + "".join(parts) + "</svg>")  # noqa: S704


def spoken(sketch: SpeedSketch) -> str:
    """Return what the drawing shows, in words."""
    return _spoken(_shown(sketch))


def _shown(sketch: SpeedSketch) -> SpeedSketch:
    """Return a sketch with its numbers in the reader's units; a limit never comes out higher than it is."""
    if unit_in("kt") == "kt":
        return sketch

    def told(speed: float) -> float:
        return float(number_in(speed, "kt"))

    marks = [
        replace(
            mark,
            speed_kt=told(mark.speed_kt) if mark.kind == "stall" else math.floor(told(mark.speed_kt) + 1e-6),
            spread_kt=told(mark.spread_kt),
        )
        for mark in sketch.marks
    ]
    return SpeedSketch(
        tuple(marks),
        None if sketch.white is None else (told(sketch.white[0]), told(sketch.white[1])),
        None if sketch.green_from is None else told(sketch.green_from),
        None if sketch.never_exceed is None else told(sketch.never_exceed),
    )


def _spoken(sketch: SpeedSketch) -> str:
    said = ", ".join(f"{mark.label} {mark.speed_kt:.0f} {unit_in('kt')}" for mark in sketch.marks)
    return f"Airspeeds to scale: {said}."


def _lanes(marks: Sequence[SpeedMark], x: Callable[[float], float], width: float) -> list[tuple[SpeedMark, int]]:
    """Give each mark the nearest lane in which no line of a faster one crosses its label."""
    out: list[tuple[SpeedMark, int]] = []
    for mark in sorted(marks, key=lambda item: -item.speed_kt):
        _, end = _extent(mark, x(mark.speed_kt), width)
        crossed = [lane for other, lane in out if x(other.speed_kt) < end + 8.0]
        out.append((mark, max(crossed, default=-1) + 1))
    return out


def _extent(mark: SpeedMark, at: float, width: float) -> tuple[float, float]:
    long = SIGN_WIDTH * len(_label(mark))
    return (at - long, at) if at + long > width - 2.0 else (at, at + long)


def _label(mark: SpeedMark) -> str:
    return f"{mark.label} {mark.speed_kt:.0f}"


def _mark(mark: SpeedMark, at: float, base: float, to: float, text_y: float, width: float) -> list[str]:
    colour = COLOUR[mark.kind]
    ends_here = _extent(mark, at, width)[1] == at
    anchor, shift = ("end", -3.0) if ends_here else ("start", 3.0)
    words = Markup("{}").format(_label(mark))
    return [
        _line(at, base, at, to - (8.0 if to < base else -2.0), colour, 1.4),
        f'<text x="{at + shift:.1f}" y="{text_y:.1f}" text-anchor="{anchor}" fill="var(--ink)">{words}</text>',
    ]


def _scale(x: Callable[[float], float], low: float, high: float, base: float, every: int) -> list[str]:
    parts = [_line(x(low), base, x(high), base, "var(--faint)", 1)]
    for speed in range(int(low), int(high) + 1, int(STEP[unit_in("kt")])):
        at = x(speed)
        long = speed % every == 0
        parts.append(_line(at, base, at, base + (7 if long else 4), "var(--faint)", 1))
        if long:
            words = f"{speed} {unit_in('kt')}" if speed + every > high else f"{speed}"
            parts.append(
                f'<text x="{at:.1f}" y="{base + 34:.1f}" text-anchor="middle" fill="var(--quiet)">{words}</text>'
            )
    return parts


def _arcs(sketch: SpeedSketch, x: Callable[[float], float], base: float) -> list[str]:
    parts = []
    if sketch.green_from is not None:
        end = sketch.never_exceed or max(mark.speed_kt for mark in sketch.marks)
        left, right = x(sketch.green_from), x(end)
        known = left + 0.45 * (right - left)
        parts.append(_bar(left, base + 8.0, known - left, "var(--arc-green)"))
        parts += [
            _bar(known + step * 9.0, base + 8.0, max(5.5 - step, 1.0), "var(--arc-green)") for step in range(5)
        ]  # the end that nobody stated runs out
    if sketch.white is not None:
        left, right = (x(speed) for speed in sketch.white)
        parts.append(_bar(left, base + 15.0, right - left, "var(--arc-white)", "var(--faint)"))
    if sketch.never_exceed is not None:
        at = x(sketch.never_exceed)
        parts.append(_line(at, base - 2, at, base + 21, "var(--arc-red)", 3))
    return parts


def _bar(left: float, top: float, width: float, colour: str, edge: str = "none") -> str:
    return (
        f'<rect x="{left:.1f}" y="{top:.1f}" width="{width:.1f}" height="5" fill="{colour}" stroke="{edge}" '
        'stroke-width="0.7"/>'
    )


def _line(x1: float, y1: float, x2: float, y2: float, colour: str, width: float) -> str:
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" stroke-width="{width:g}"/>'
