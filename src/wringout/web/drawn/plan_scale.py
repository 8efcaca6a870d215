"""The scale of speeds one chooses a point's entry on: the free band, the limits, and what is planned."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from markupsafe import Markup

from wringout.services.planning.pages import PointSheet, ScaleMark
from wringout.web.units import number_in, unit_in

WIDE, NARROW = 640.0, 350.0
LEFT, RIGHT = 0.025, 0.0375
"""Margins as shares of the width, so that the slider under the drawing stands under it at any width."""
LANE, SIGN_WIDTH = 15.0, 6.2
MOST_EXTRA_KT = 90.0
COLOUR = {"limit": "var(--ink)", "least": "var(--margin)", "planned": "var(--power)"}


def scale_in(sheet: PointSheet) -> PointSheet:
    """Return a point with its speeds in the reader's units; no limit comes out wider than its sentence has it."""
    if unit_in("kt") == "kt":
        return sheet
    marks = tuple(replace(m, speed_kt=_TOLD[m.kind](m.speed_kt)) for m in sheet.marks)
    least, most = (None if end is None else way(end) for end, way in ((sheet.least_kt, _up), (sheet.most_kt, _down)))
    return replace(sheet, marks=marks, least_kt=least, most_kt=most)


def _as_is(speed_kt: float) -> float:
    return float(number_in(speed_kt, "kt"))


def _down(speed_kt: float) -> float:
    """Return a highest speed, never higher than its whole knots."""
    return float(math.floor(_as_is(round(speed_kt)) + 1e-6))


def _up(speed_kt: float) -> float:
    """Return a lowest speed, never lower than it is, from its whole knots as the sentence about it has them."""
    return float(math.ceil(_as_is(math.ceil(speed_kt - 1e-6)) - 1e-6))


_TOLD: dict[str, Callable[[float], float]] = {"limit": _down, "least": _up, "planned": _as_is}


def ends_of(sheet: PointSheet) -> tuple[float, float]:
    """Return the lowest and highest speed of a point's scale, whole tens of its unit; limits far above are left out.

    The scale goes on until the names of its limits have room in the window of a phone.
    """
    planned = [mark.speed_kt for mark in sheet.marks if mark.kind == "planned"]
    near = [x for x in (sheet.least_kt, sheet.most_kt, *planned) if x is not None]
    if not near:
        return 0.0, 0.0
    low = max(math.floor((min(near) - 12.0) / 10.0) * 10.0, 0.0)
    high = least = math.ceil((max(near) + 22.0) / 10.0) * 10.0
    named = [mark for mark in sheet.marks if mark.kind != "planned" and low <= mark.speed_kt <= high]
    while high < least + MOST_EXTRA_KT and any(_end(m, _across(low, high, NARROW)) > NARROW for m in named):
        high += 10.0
    return low, high


def plan_scale(sheet: PointSheet) -> Markup:
    """Return the drawing twice, for a window and for the window of a phone; empty where no speed is known."""
    low, high = ends_of(sheet)
    if high <= low:
        return Markup("")
    return Markup("").join(_drawing(sheet, low, high, width) for width in (WIDE, NARROW))


def _across(low: float, high: float, width: float) -> Callable[[float], float]:
    def x(speed: float) -> float:
        share = (min(max(speed, low), high) - low) / (high - low)
        return width * (LEFT + share * (1.0 - LEFT - RIGHT))

    return x


def _drawing(sheet: PointSheet, low: float, high: float, width: float) -> Markup:
    x = _across(low, high, width)
    shown = [mark for mark in sheet.marks if low <= mark.speed_kt <= high]
    above = _lanes([mark for mark in shown if mark.kind != "planned"], x)
    base = 8.0 + (1 + max((lane for _, lane in above), default=-1)) * LANE + 4.0
    parts = [_bar(x(low), base, x(high), "var(--hair)", 4.0)]
    left = low if sheet.least_kt is None else sheet.least_kt
    right = high if sheet.most_kt is None else sheet.most_kt
    if left < right:
        parts.append(_bar(x(left), base, x(right), "var(--power)", 8.0))
    for mark, lane in above:
        at, y = x(mark.speed_kt), base - 6.0 - lane * LANE
        parts.append(_line(at, base + 6.0, y - 8.0, COLOUR[mark.kind], 1.6))
        name = Markup("{}").format(_label(mark))
        parts.append(f'<text x="{at + 3.0:.1f}" y="{y:.1f}" fill="var(--ink)">{name}</text>')
    parts += [_planned(x(mark.speed_kt), base) for mark in shown if mark.kind == "planned"]
    every = 20 if high - low <= 120.0 or (width == WIDE and high - low <= 300.0) else 40
    for speed in range(math.ceil(low / every) * every, int(high) + 1, every):
        words = f"{speed} {unit_in('kt')}" if speed + every > high else f"{speed}"
        place = f'x="{x(speed):.1f}" y="{base + 31:.1f}" text-anchor="middle"'
        parts.append(f'<text {place} fill="var(--quiet)">{words}</text>')
    label = Markup("{}").format(spoken(sheet))
    kind = "narrow" if width == NARROW else "wide"
    head = f'<svg class="{kind}" viewBox="0 0 {width:g} {base + 35:g}" role="img" aria-label="{label}"'
    return Markup(f'{head} font-size="11.5">{"".join(parts)}</svg>')  # noqa: S704


def spoken(sheet: PointSheet) -> str:
    """Return what the scale shows, in words."""
    words = {"limit": "limit", "least": "not below", "planned": "planned,"}
    said = "; ".join(f"{words[m.kind]} {m.label} {m.speed_kt:.0f} {unit_in('kt')}" for m in sheet.marks)
    return f"Speeds of point {sheet.point.key} to scale: {said}."


def _lanes(marks: Sequence[ScaleMark], x: Callable[[float], float]) -> list[tuple[ScaleMark, int]]:
    """Give each mark the lowest lane in which no line of a faster one crosses its name."""
    out: list[tuple[ScaleMark, int]] = []
    for mark in sorted(marks, key=lambda one: -one.speed_kt):
        crossed = [lane for other, lane in out if x(other.speed_kt) < _end(mark, x) + 6.0]
        out.append((mark, max(crossed, default=-1) + 1))
    return out


def _label(mark: ScaleMark) -> str:
    return f"{mark.label} {mark.speed_kt:.0f}"


def _end(mark: ScaleMark, x: Callable[[float], float]) -> float:
    return x(mark.speed_kt) + 3.0 + SIGN_WIDTH * len(_label(mark))


def _planned(at: float, base: float) -> str:
    return f'<path d="M{at:.1f},{base + 6:.1f} l6,11 h-12 Z" fill="var(--ink)" stroke="var(--paper)" stroke-width="1"/>'


def _bar(left: float, base: float, right: float, colour: str, width: float) -> str:
    top, wide = base - width / 2, right - left
    return f'<rect x="{left:.1f}" y="{top:.1f}" width="{wide:.1f}" height="{width:g}" fill="{colour}"/>'


def _line(at: float, y1: float, y2: float, colour: str, width: float) -> str:
    return f'<line x1="{at:.1f}" x2="{at:.1f}" y1="{y1:.1f}" y2="{y2:.1f}" stroke="{colour}" stroke-width="{width:g}"/>'
