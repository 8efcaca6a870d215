"""Forest plots: prior, each run by each method, and what all runs together say, on one scale.

A strip fills its cell and is drawn in shares of its width, so that the band of the joint answer runs unbroken through
all rows and a run that stands apart is seen at once.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from wringout.services.findings.knots import Beside
from wringout.web.figures import shown

EDGE = 3.0
"""Of a strip's width on either side, in percent, that is kept free for ends that run off."""
NICE = (1.0, 2.0, 2.5, 5.0, 10.0)
TICKS = 4


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a forest: its words, intervals, and the run it comes from ("" for prior and joint fit)."""

    kind: str
    label: str
    unit: str
    value: float | None
    half: tuple[float, float] | None
    most: tuple[float, float]
    run: str
    drawn: Markup


@dataclass(frozen=True, slots=True)
class Forest:
    """One quantity."""

    key: str
    title: str
    at: str
    unit: str
    colour: str
    lines: tuple[Line, ...]
    axis: Markup
    finding: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Scale:
    """What a strip shows from its left edge to its right."""

    low: float
    high: float

    def x(self, number: float) -> float:
        """Return where a number stands, in percent of the width; one that is off stands at the edge."""
        share = (number - self.low) / (self.high - self.low)
        return EDGE + min(max(share, -0.01), 1.01) * (100.0 - 2.0 * EDGE)


def forests(body: Mapping[str, Any]) -> tuple[Forest, ...]:
    """Return a forest for each finding; a device is shown at the middle of its speeds only."""
    kept = [f for f in body["findings"] if not f["key"].endswith((".entry", ".end"))]
    return tuple(_forest(finding, body["runs"]) for finding in kept)


def _forest(finding: Mapping[str, Any], runs: Sequence[Mapping[str, Any]]) -> Forest:
    raw: list[tuple[str, str, float | None, Any, Any, str]] = []
    if finding["prior_interval_95"] and None not in finding["prior_interval_95"]:
        raw.append(("before", "believed before flying", None, None, finding["prior_interval_95"], ""))
    for run in runs:
        if run["key"] in finding["runs"]:
            raw += [
                ("run", f"{run['key']}, {hand['title'][:1].lower()}{hand['title'][1:]}", hand["value"],
                 hand["interval_50"], hand["interval_95"], run["key"])
                for hand in run["results"]
                if _speaks_of(finding, hand)
            ]  # fmt: skip
    raw.append(("joint", "all runs together", finding["value"], finding["interval_50"], finding["interval_95"], ""))
    scale = _scale([line[4] for line in raw if line[0] != "before"])
    band = raw[-1][4]
    lines = tuple(
        Line(kind, label, finding["unit"], value, half, most, run, _strip(kind, value, half, most, scale, band))
        for kind, label, value, half, most, run in raw
        if None not in most
    )
    title, at = finding["label"], _at(finding)
    return Forest(finding["key"], title, at, finding["unit"], _colour(finding), lines, _axis(scale), finding)


def knots_forest(beside: Beside) -> Forest:
    """Return full flaps over gear, once in knots lost and once in drag, on one scale that holds 1."""
    scale = _scale([beside.knots_most, beside.drag_most, (1.0, 1.0)])
    rows = (
        ("run", "as knots lost (not a drag)", beside.knots, beside.knots_most),
        ("joint", "as drag, all runs together", beside.drag, beside.drag_most),
    )
    lines = tuple(
        Line(kind, label, "", value, None, most, "", _strip(kind, value, None, most, scale, beside.drag_most, 1.0))
        for kind, label, value, most in rows
    )
    return Forest("knots-ratio", "full flaps over gear", "", "", "clean", lines, _axis(scale), {})


def _speaks_of(finding: Mapping[str, Any], hand: Mapping[str, Any]) -> bool:
    key = finding["key"]
    if key.startswith("area."):
        return bool(hand["is_drag"]) and hand["unit"] == "ft2"
    if key.startswith(("stall.", "cl_max.")):
        name = "stall speed" if key.startswith("stall.") else "CLmax"
        return bool(hand["key"] == f"{name}, {key.partition('.')[2]}")
    if key.endswith("_time"):
        device, way, _ = key.split("_")
        return bool(hand["key"] == f"{'flaps' if device == 'flap' else device} {way}")
    return False


def _at(finding: Mapping[str, Any]) -> str:
    parts = [f"{shown(q['value'])} {q['unit']}" for q in (finding["at_speed"], finding["at_weight"]) if q]
    return f"at {' and '.join(parts)}" if parts else ""


def _colour(finding: Mapping[str, Any]) -> str:
    key = finding["key"]
    if key.startswith(("area.gear", "gear_")):
        return "gear"
    if key.startswith(("area.flaps", "flap_", "share.")):
        return "flaps"
    return "margin" if key.startswith("stall.") else "clean"


def _scale(intervals: Sequence[Sequence[float | None]]) -> Scale:
    """Return the range drawn: all that was measured; a prior that is wider runs off the edge."""
    values = [x for most in intervals for x in most if x is not None] or [0.0, 1.0]
    low, high = min(values), max(values)
    margin = 0.25 * ((high - low) or abs(high) or 1.0)
    return Scale(low - margin, high + margin)


def _strip(
    kind: str, value: float | None, half: Any, most: Any, scale: Scale, band: Any, rule: float | None = None
) -> Markup:
    if None in most:
        return Markup("")
    joint, name = kind == "joint", "prior" if kind == "before" else "thing"
    parts = []
    if band and None not in band:
        left, right = scale.x(band[0]), scale.x(band[1])
        parts.append(f'<rect x="{left:.2f}%" y="0" width="{right - left:.2f}%" height="100%" class="band"/>')
    if rule is not None:
        parts.append(f'<line x1="{scale.x(rule):.2f}%" x2="{scale.x(rule):.2f}%" y1="0" y2="100%" class="axis"/>')
    parts.append(_line(scale.x(most[0]), scale.x(most[1]), name, 1.8 if joint else 1.3))
    parts += [
        f'<text x="{EDGE - 1.0 if off < 0 else 101.0 - EDGE:.1f}%" y="50%" dy="0.33em" class="off" '
        f'text-anchor="{"end" if off < 0 else "start"}">{"‹" if off < 0 else "›"}</text>'
        for off, beyond in ((-1, most[0] < scale.low), (1, most[1] > scale.high))
        if beyond
    ]
    if half and None not in half:
        parts.append(_line(scale.x(half[0]), scale.x(half[1]), name, 5.0 if joint else 3.4))
    if value is not None:
        parts.append(f'<circle cx="{scale.x(value):.2f}%" cy="50%" r="{4.4 if joint else 3.1}" class="spot"/>')
    return Markup(f'<svg class="strip" aria-hidden="true">{"".join(parts)}</svg>')  # noqa: S704


def _line(start: float, end: float, name: str, width: float) -> str:
    return f'<line x1="{start:.2f}%" x2="{end:.2f}%" y1="50%" y2="50%" class="{name}" stroke-width="{width:g}"/>'


def _axis(scale: Scale) -> Markup:
    """Return the scale under a forest: a few round numbers; the table beside it says the same in words."""
    step = _step((scale.high - scale.low) / TICKS)
    size = math.floor(math.log10(step) + 1e-9)
    places = max(0, (1 if round(step / 10.0**size, 3) == 2.5 else 0) - size)
    first, last = math.ceil(scale.low / step - 1e-9), math.floor(scale.high / step + 1e-9)
    parts = [_tick(scale.x(i * step), shown(i * step, places)) for i in range(first, last + 1)]
    return Markup(f'<svg class="scale" aria-hidden="true">{"".join(parts)}</svg>')  # noqa: S704


def _step(wanted: float) -> float:
    size = 10.0 ** math.floor(math.log10(wanted))
    return size * next(nice for nice in NICE if nice * size >= wanted * (1.0 - 1e-9))


def _tick(x: float, words: str) -> str:
    return (
        f'<line x1="{x:.2f}%" x2="{x:.2f}%" y1="0" y2="4" class="axis"/>'
        f'<text x="{x:.2f}%" y="16" text-anchor="middle" class="quiet">{words}</text>'
    )
