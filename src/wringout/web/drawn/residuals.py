"""What a fit leaves of a run: each reading less what the fitted airplane would have shown, within twice its noise."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from wringout.numerals import count
from wringout.web.drawn.runs import follows_a_clock
from wringout.web.figures import shown, unit_name

WIDTH, HEIGHT, LEFT, RIGHT, FOOT = 240.0, 84.0, 6.0, 46.0, 14.0


@dataclass(frozen=True, slots=True)
class Residuals:
    """The residuals of one run.

    Attributes:
        run: its key.
        title: what was flown.
        drawn: the drawing; empty where fewer than two readings were fitted.
        words: how many readings, how far off they are on the whole, and how many did not belong.
    """

    run: str
    title: str
    drawn: Markup
    words: str


def residuals(run: Mapping[str, Any]) -> Residuals:
    """Return the residuals of a run of a kept reduction."""
    unit = unit_name(str(run["observed_unit"]))
    left = [_less(seen, fitted) for seen, fitted in zip(run["observed"], run["fitted"], strict=True)]
    spread = [2.0 * (sd or 0.0) for sd in run["reading_sd"]]
    flagged = [row in run["flagged_rows"] for row in run["rows"]][: len(left)]
    flagged += [False] * (len(left) - len(flagged))
    kept = [x for x, off in zip(left, flagged, strict=True) if not off and x is not None]
    rms = math.sqrt(sum(x * x for x in kept) / len(kept)) if kept else math.nan
    off = f"{shown(rms, 2 if rms < 1.0 else 1)}{f' {unit}' if unit else ''}"
    words = f"{count(len(left), 'reading')}, {off} rms off the fit"
    if any(flagged):
        words += f"; {count(sum(flagged), 'reading')} did not belong"
    timed = follows_a_clock(run)
    at = run["time_s"] if timed else list(range(1, len(left) + 1))
    drawn = _drawn(str(run["key"]), at, left, spread, flagged, unit, words, timed)
    return Residuals(str(run["key"]), str(run["title"] or run["method"]), drawn, words)


def _less(seen: float | None, fitted: float | None) -> float | None:
    return None if seen is None or fitted is None else seen - fitted


def _drawn(
    run: str,
    at: Sequence[float],
    left: Sequence[float | None],
    spread: Sequence[float],
    flagged: Sequence[bool],
    unit: str,
    words: str,
    timed: bool,
) -> Markup:
    kept = [abs(x) for x, off in zip(left, flagged, strict=True) if x is not None and not off]
    if len(left) < 2 or not kept:
        return Markup("")
    limit = 1.15 * max(max(kept), max(spread)) or 1.0
    first, wide = at[0], (at[-1] - at[0]) or 1.0
    middle = (HEIGHT - FOOT) / 2.0

    def x(moment: float) -> float:
        return LEFT + (moment - first) / wide * (WIDTH - LEFT - RIGHT)

    def y(number: float) -> float:
        return middle - min(max(number / limit, -0.96), 0.96) * (middle - 3.0)

    above = " ".join(f"{x(t):.1f},{y(s):.1f}" for t, s in zip(at, spread, strict=True))
    below = " ".join(f"{x(t):.1f},{y(-s):.1f}" for t, s in reversed(list(zip(at, spread, strict=True))))
    parts = [f'<polygon points="{above} {below}" class="band"/>']
    parts.append(f'<line x1="{LEFT}" x2="{WIDTH - RIGHT + 4}" y1="{middle}" y2="{middle}" class="axis"/>')
    for moment, number, off in zip(at, left, flagged, strict=True):
        if number is None:
            continue
        px, py = x(moment), y(number)
        parts.append(f'<line x1="{px:.1f}" x2="{px:.1f}" y1="{middle}" y2="{py:.1f}" class="axis"/>')
        parts.append(_cross(px, py) if off else f'<circle cx="{px:.1f}" cy="{py:.1f}" r="1.9" class="ink"/>')
    tick = max(spread)
    places = 0 if tick >= 10.0 else 1 if tick >= 1.0 else 2
    for number in (tick, 0.0, -tick):
        sign = "+" if number > 0.0 else ""
        text = "0" if number == 0.0 else f"{sign}{shown(number, places)}{f' {unit}' if number > 0.0 and unit else ''}"
        parts.append(f'<text x="{WIDTH - RIGHT + 8:g}" y="{y(number) + 3.4:.1f}" class="quiet">{text}</text>')
    foot = f"{shown(at[0])} to {shown(at[-1])} s" if timed else f"reading 1 to {len(left)}"
    parts.append(f'<text x="{LEFT}" y="{HEIGHT - 2:g}" class="quiet">{foot}</text>')
    label = Markup("{}").format(f"Residuals of run {run}: {words}.")
    head = f'<svg viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img" aria-label="{label}" font-size="10">'
    return Markup(head + "".join(parts) + "</svg>")  # noqa: S704  numbers, and words that were escaped


def _cross(x: float, y: float) -> str:
    return (
        f'<path d="M{x - 3:.1f},{y - 3:.1f} l6,6 m0,-6 l-6,6" class="beyond"/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" class="beyond"/>'
    )
