"""The scale of speeds one chooses a point's entry on: the free band, the limits, and what is planned."""

from __future__ import annotations

import math
from collections.abc import Sequence

from markupsafe import Markup

from wringout.services.planning.pages import PointSheet, ScaleMark

WIDTH, LEFT, RIGHT = 640.0, 16.0, 24.0
LANE, SIGN_WIDTH = 15.0, 6.2
COLOUR = {"limit": "var(--ink)", "least": "var(--margin)", "planned": "var(--power)"}


def ends_kt(sheet: PointSheet) -> tuple[float, float]:
    """Return the lowest and highest speed of a point's scale, whole tens of knots; limits far above are left out."""
    planned = [mark.speed_kt for mark in sheet.marks if mark.kind == "planned"]
    near = [x for x in (sheet.least_kt, sheet.most_kt, *planned) if x is not None]
    if not near:
        return 0.0, 0.0
    low = math.floor((min(near) - 12.0) / 10.0) * 10.0
    return max(low, 0.0), math.ceil((max(near) + 22.0) / 10.0) * 10.0


def plan_scale(sheet: PointSheet) -> Markup:
    """Return the drawing; empty where no speed of the point is known."""
    low, high = ends_kt(sheet)
    if high <= low:
        return Markup("")

    def x(speed: float) -> float:
        return LEFT + (min(max(speed, low), high) - low) / (high - low) * (WIDTH - LEFT - RIGHT)

    shown = [mark for mark in sheet.marks if low <= mark.speed_kt <= high]
    above = _lanes([(m, x(m.speed_kt)) for m in shown if m.kind != "planned"])
    lanes = 1 + max((lane for _, _, lane in above), default=-1)
    base = 8.0 + lanes * LANE + 4.0
    parts = [_bar(x(low), base, x(high), "var(--hair)", 4.0)]
    left = low if sheet.least_kt is None else sheet.least_kt
    right = high if sheet.most_kt is None else sheet.most_kt
    if left < right:
        parts.append(_bar(x(left), base, x(right), "var(--power)", 8.0))
    for mark, at, lane in above:
        y = base - 6.0 - lane * LANE
        parts.append(_line(at, base + 6.0, y - 8.0, COLOUR[mark.kind], 1.6))
        parts.append(_words(f"{mark.label} {mark.speed_kt:.0f}", at, y))
    for mark in shown:
        if mark.kind == "planned":
            at = x(mark.speed_kt)
            parts.append(
                f'<path d="M{at:.1f},{base + 6:.1f} l6,11 h-12 Z" fill="var(--ink)" stroke="var(--paper)" '
                'stroke-width="1"/>'
            )
    ticks = range(int(low), int(high) + 1, 10)
    for speed in ticks:
        if speed % 20 == 0:
            unit = " kt" if speed + 20 > high else ""
            parts.append(
                f'<text x="{x(speed):.1f}" y="{base + 31:.1f}" text-anchor="middle" '
                f'fill="var(--quiet)">{speed}{unit}</text>'
            )
    label = Markup("{}").format(spoken(sheet))
    head = f'<svg viewBox="0 0 {WIDTH:g} {base + 35:g}" role="img" aria-label="{label}" font-size="11.5">'
    return Markup(head + "".join(parts) + "</svg>")  # noqa: S704


def spoken(sheet: PointSheet) -> str:
    """Return what the scale shows, in words."""
    words = {"limit": "limit", "least": "not below", "planned": "planned,"}
    said = "; ".join(f"{words[m.kind]} {m.label} {m.speed_kt:.0f} kt" for m in sheet.marks)
    return f"Speeds of point {sheet.point.key} to scale: {said}."


def _lanes(marks: Sequence[tuple[ScaleMark, float]]) -> list[tuple[ScaleMark, float, int]]:
    out: list[tuple[ScaleMark, float, int]] = []
    for mark, at in sorted(marks, key=lambda one: -one[1]):
        end = at + SIGN_WIDTH * len(f"{mark.label} {mark.speed_kt:.0f}")
        if end > WIDTH:
            end = at
        crossed = [lane for _, other, lane in out if other < end + 6.0]
        out.append((mark, at, max(crossed, default=-1) + 1))
    return out


def _words(text: str, at: float, y: float) -> str:
    back = at + SIGN_WIDTH * len(text) > WIDTH
    anchor, shift = ("end", -3.0) if back else ("start", 3.0)
    words = Markup("{}").format(text)
    return f'<text x="{at + shift:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="var(--ink)">{words}</text>'


def _bar(left: float, base: float, right: float, colour: str, width: float) -> str:
    top, wide = base - width / 2, right - left
    return f'<rect x="{left:.1f}" y="{top:.1f}" width="{wide:.1f}" height="{width:g}" fill="{colour}"/>'


def _line(at: float, y1: float, y2: float, colour: str, width: float) -> str:
    return f'<line x1="{at:.1f}" x2="{at:.1f}" y1="{y1:.1f}" y2="{y2:.1f}" stroke="{colour}" stroke-width="{width:g}"/>'
