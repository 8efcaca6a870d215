"""Intervals drawn on a scale: a strip fills its cell and is drawn in shares of its width; under it the scale itself."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from wringout.web.figures import shown

EDGE = 3.0
"""Of a strip's width on either side, in percent, that is kept free for ends that run off."""
NICE = (1.0, 2.0, 2.5, 5.0, 10.0)
TICKS = 4


@dataclass(frozen=True, slots=True)
class Scale:
    """What a strip shows from its left edge to its right."""

    low: float
    high: float

    def x(self, number: float) -> float:
        """Return where a number stands, in percent of the width; one that is off stands at the edge."""
        share = (number - self.low) / (self.high - self.low)
        return EDGE + min(max(share, -0.01), 1.01) * (100.0 - 2.0 * EDGE)


def scale_of(intervals: Sequence[Sequence[float | None]], margin: float = 0.25) -> Scale:
    """Return a scale that holds all intervals, with a margin as a share of their width on either side."""
    values = [x for most in intervals for x in most if x is not None] or [0.0, 1.0]
    low, high = min(values), max(values)
    free = margin * ((high - low) or abs(high) or 1.0)
    return Scale(low - free, high + free)


def strip(
    value: float | None,
    half: Any,
    most: Any,
    scale: Scale,
    *,
    heavy: bool = False,
    name: str = "thing",
    band: Any = None,
    rule: float | None = None,
) -> Markup:
    """Return an interval as a strip, for the eye alone: the cells beside it say the same in numbers.

    Args:
        value: the mark; None draws none.
        half: the ends of the 50 % interval, or None.
        most: the ends of the 95 % interval; without both, nothing is drawn.
        scale: what the strip shows.
        heavy: for the answer among its parts.
        name: the class of the lines.
        band: the ends of a pale band that is carried through all rows, or None.
        rule: where a thin line stands across the row, or None.
    """
    if most is None or None in most:
        return Markup("")
    parts = []
    if band and None not in band:
        left, right = scale.x(band[0]), scale.x(band[1])
        parts.append(f'<rect x="{left:.2f}%" y="0" width="{right - left:.2f}%" height="100%" class="band"/>')
    if rule is not None:
        parts.append(f'<line x1="{scale.x(rule):.2f}%" x2="{scale.x(rule):.2f}%" y1="0" y2="100%" class="axis"/>')
    parts.append(_line(scale.x(most[0]), scale.x(most[1]), name, 1.8 if heavy else 1.3))
    if most[0] < scale.low:
        parts.append(f'<text x="{EDGE - 1.0:g}%" y="50%" dy="0.33em" class="off" text-anchor="end">‹</text>')
    if most[1] > scale.high:
        parts.append(f'<text x="{101.0 - EDGE:g}%" y="50%" dy="0.33em" class="off" text-anchor="start">›</text>')
    if half and None not in half:
        parts.append(_line(scale.x(half[0]), scale.x(half[1]), name, 5.0 if heavy else 3.4))
    if value is not None:
        parts.append(f'<circle cx="{scale.x(value):.2f}%" cy="50%" r="{4.4 if heavy else 3.1}" class="spot"/>')
    return Markup(f'<svg class="strip" aria-hidden="true">{"".join(parts)}</svg>')  # noqa: S704  numbers only


def ticks(scale: Scale, most: int = TICKS, *, whole: bool = False) -> list[tuple[float, str]]:
    """Return about ``most`` round numbers of a scale, each with its words; ``whole`` for things that are counted."""
    step = _step((scale.high - scale.low) / most)
    step = max(float(math.ceil(step)), 1.0) if whole else step
    size = math.floor(math.log10(step) + 1e-9)
    places = max(0, (1 if round(step / 10.0**size, 3) == 2.5 else 0) - size)
    first, last = math.ceil(scale.low / step - 1e-9), math.floor(scale.high / step + 1e-9)
    return [(i * step, shown(i * step, places)) for i in range(first, last + 1)]


def axis(scale: Scale) -> Markup:
    """Return the scale itself: a few round numbers."""
    parts = [_tick(scale.x(value), words) for value, words in ticks(scale)]
    return Markup(f'<svg class="scale" aria-hidden="true">{"".join(parts)}</svg>')  # noqa: S704  numbers only


def _line(start: float, end: float, name: str, width: float) -> str:
    return f'<line x1="{start:.2f}%" x2="{end:.2f}%" y1="50%" y2="50%" class="{name}" stroke-width="{width:g}"/>'


def _step(wanted: float) -> float:
    size = 10.0 ** math.floor(math.log10(wanted))
    return size * next(nice for nice in NICE if nice * size >= wanted * (1.0 - 1e-9))


def _tick(x: float, words: str) -> str:
    return (
        f'<line x1="{x:.2f}%" x2="{x:.2f}%" y1="0" y2="4" class="axis"/>'
        f'<text x="{x:.2f}%" y="16" text-anchor="middle" class="quiet">{words}</text>'
    )
