"""A run as its page shows it: every reading, the fitted airplane's curve through them, and below what is left over.

Each reading is a way to its row of the recording.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from markupsafe import Markup

from wringout.web.drawn.scale import Scale, scale_of, ticks
from wringout.web.figures import shown, unit_name

WIDE, NARROW = 640.0, 350.0
LEFT, RIGHT, TALL, GAP, LOW, FOOT = 54.0, 44.0, 190.0, 22.0, 64.0, 32.0


@dataclass(frozen=True, slots=True)
class _Reading:
    at: float
    seen: float
    fitted: float
    spread: float
    row: int
    flagged: bool

    @property
    def left(self) -> float:
        return self.seen - self.fitted


def run_drawings(reduced: Mapping[str, Any], rows_address: str) -> Markup:
    """Return a run's drawing twice: for a window, and for the window of a phone; empty where there is no curve.

    Args:
        reduced: the run as a kept reduction has it.
        rows_address: the address of the recording's rows; the row is added.
    """
    readings = _readings(reduced)
    if len(readings) < 2:
        return Markup("")
    return Markup("").join(_drawing(reduced, readings, rows_address, width) for width in (WIDE, NARROW))


def follows_a_clock(reduced: Mapping[str, Any]) -> bool:
    """Say whether each reading of a run has its time."""
    return bool(reduced.get("time_s")) and len(reduced["time_s"]) == len(reduced["observed"])


def _readings(reduced: Mapping[str, Any]) -> list[_Reading]:
    count = len(reduced["observed"])
    at = reduced["time_s"] if follows_a_clock(reduced) else range(1, count + 1)
    if not len(reduced["fitted"]) == len(reduced["reading_sd"]) == len(reduced["rows"]) == count:
        return []
    columns = zip(at, reduced["observed"], reduced["fitted"], reduced["reading_sd"], reduced["rows"], strict=True)
    flagged = set(reduced["flagged_rows"])
    return [
        _Reading(float(t), seen, fitted, 2.0 * (sd or 0.0), int(row), row in flagged)
        for t, seen, fitted, sd, row in columns
        if None not in (t, seen, fitted)
    ]


def _drawing(reduced: Mapping[str, Any], readings: Sequence[_Reading], address: str, width: float) -> Markup:
    unit = unit_name(str(reduced["observed_unit"]))
    across = scale_of([(r.at, r.at) for r in readings], margin=0.02)
    above = scale_of([(r.seen, r.fitted) for r in readings] + [(r.fitted, r.seen) for r in readings], margin=0.06)
    kept = [r for r in readings if not r.flagged] or list(readings)
    limit = 1.15 * max(*(abs(r.left) for r in kept), *(r.spread for r in readings)) or 1.0
    below = Scale(-limit, limit)

    def x(value: float) -> float:
        return LEFT + (value - across.low) / (across.high - across.low) * (width - LEFT - RIGHT)

    def y(value: float) -> float:
        return 8.0 + (above.high - value) / (above.high - above.low) * TALL

    base = 8.0 + TALL + GAP

    def z(value: float) -> float:
        return base + (below.high - min(max(value, 0.97 * below.low), 0.97 * below.high)) / (2.0 * limit) * LOW

    parts = [_level(y(value), words, width, unit if i == 0 else "") for i, (value, words) in enumerate(_down(above))]
    timed = follows_a_clock(reduced)
    for value, words in ticks(across, 4 if width < WIDE else 6, whole=not timed):
        parts.append(
            f'<text x="{x(value):.1f}" y="{base + LOW + 16:.1f}" text-anchor="middle" class="quiet">{words}</text>'
        )
    what = "s from the first reading" if timed else "reading, in order"
    foot = f'x="{width - RIGHT:.1f}" y="{base + LOW + 30:.1f}" text-anchor="end"'
    parts.append(f'<text {foot} class="quiet">{what}</text>')
    curve = " ".join(f"{x(r.at):.1f},{y(r.fitted):.1f}" for r in readings)
    if timed:
        parts.append(f'<polyline points="{curve}" class="thing" stroke-width="2"/>')
    else:  # readings that follow no clock have no curve between them
        parts += [_dash(x(r.at), y(r.fitted)) for r in readings]
    upper = " ".join(f"{x(r.at):.1f},{z(r.spread):.1f}" for r in readings)
    lower = " ".join(f"{x(r.at):.1f},{z(-r.spread):.1f}" for r in reversed(readings))
    parts.append(f'<polygon points="{upper} {lower}" class="band"/>')
    parts.append(f'<line x1="{LEFT}" x2="{width - RIGHT}" y1="{z(0.0):.1f}" y2="{z(0.0):.1f}" class="axis"/>')
    spread = max(r.spread for r in readings)
    for value in (spread, -spread):
        sign = "+" if value > 0.0 else ""
        said = f"{sign}{shown(value, 1)}{f' {unit}' if value > 0.0 and unit else ''}"
        parts.append(f'<text x="{width - RIGHT + 6:.1f}" y="{z(value) + 4:.1f}" class="quiet">{said}</text>')
    parts.append(f'<text x="{LEFT - 6}" y="{z(0.0) + 4:.1f}" text-anchor="end" class="quiet">left over</text>')
    run = str(reduced["key"])
    parts += [_mark(r, x(r.at), y(r.seen), z(r.left), z(0.0), unit, timed, address, run) for r in readings]
    return _svg(reduced, len(readings), width, base + LOW + FOOT, parts)


def _svg(reduced: Mapping[str, Any], count: int, width: float, height: float, parts: Sequence[str]) -> Markup:
    label = Markup("{}").format(
        f"Run {reduced['key']}: {count} readings, the curve fitted to all runs, and what is left over; "
        "the table below has every number."
    )
    kind = "narrow" if width < WIDE else "wide"
    head = f'<svg class="{kind} run" viewBox="0 0 {width:g} {height:g}" role="group" aria-label="{label}" '
    return Markup(f'{head}font-size="11.5">{"".join(parts)}</svg>')  # noqa: S704  numbers, and words that were escaped


def _down(scale: Scale) -> list[tuple[float, str]]:
    return list(reversed(ticks(scale, 5)))


def _level(y: float, words: str, width: float, unit: str) -> str:
    return (
        f'<line x1="{LEFT}" x2="{width - RIGHT}" y1="{y:.1f}" y2="{y:.1f}" class="hair"/>'
        f'<text x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end" class="quiet">{words} {unit}</text>'
    )


def _mark(
    reading: _Reading, x: float, y: float, left: float, zero: float, unit: str, timed: bool, address: str, run: str
) -> str:
    at = f", {shown(reading.at, 1)} s" if timed else ""
    said = f"row {reading.row}{at}: read {shown(reading.seen, 1)} {unit}, fitted {shown(reading.fitted, 1)} {unit}"
    words = Markup("{}").format(said)
    href = Markup("{}").format(f"{address}?row={reading.row}&run={quote(run, safe='')}#r{reading.row}")
    spot = _cross(x, y) + _cross(x, left) if reading.flagged else _dot(x, y, 3.2) + _dot(x, left, 2.2)
    return (
        f'<a href="{href}" tabindex="-1"><title>{words}</title>'
        f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{zero:.1f}" y2="{left:.1f}" class="axis"/>'
        f'<rect x="{x - 5:.1f}" y="{y - 8:.1f}" width="10" height="16" fill="transparent"/>{spot}</a>'
    )


def _dash(x: float, y: float) -> str:
    return f'<line x1="{x - 7:.1f}" x2="{x + 7:.1f}" y1="{y:.1f}" y2="{y:.1f}" class="thing" stroke-width="2"/>'


def _dot(x: float, y: float, size: float) -> str:
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size:g}" class="reading"/>'


def _cross(x: float, y: float) -> str:
    return f'<path d="M{x - 4:.1f},{y - 4:.1f} l8,8 m0,-8 l-8,8" class="beyond"/>'
