"""Forest plots: prior, each run by each method, and what all runs together say, on one scale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

WIDTH, PAD, MIDDLE = 300.0, 6.0, 11.0


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
    finding: Mapping[str, Any]


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
    low, high = _range([line for line in raw if line[0] != "before"])
    lines = tuple(
        Line(kind, label, finding["unit"], value, half, most, run, _strip(kind, value, half, most, low, high))
        for kind, label, value, half, most, run in raw
        if None not in most
    )
    return Forest(finding["key"], finding["label"], _at(finding), finding["unit"], _colour(finding), lines, finding)


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
    parts = [f"{q['value']:,.0f} {q['unit']}" for q in (finding["at_speed"], finding["at_weight"]) if q]
    return f"at {' and '.join(parts)}" if parts else ""


def _colour(finding: Mapping[str, Any]) -> str:
    key = finding["key"]
    if key.startswith(("area.gear", "gear_")):
        return "gear"
    if key.startswith(("area.flaps", "flap_", "share.")):
        return "flaps"
    return "margin" if key.startswith("stall.") else "clean"


def _range(lines: Sequence[tuple[str, str, float | None, Any, Any, str]]) -> tuple[float, float]:
    """Return the range drawn: all that was measured; a prior that is wider runs off the edge."""
    values = [x for line in lines for x in line[4] if x is not None] or [0.0, 1.0]
    low, high = min(values), max(values)
    margin = 0.25 * ((high - low) or abs(high) or 1.0)
    return low - margin, high + margin


def _strip(kind: str, value: float | None, half: Any, most: Any, low: float, high: float) -> Markup:
    if None in most:
        return Markup("")

    def x(number: float) -> float:
        share = (number - low) / (high - low)
        return PAD + min(max(share, -0.02), 1.02) * (WIDTH - 2.0 * PAD)

    name = "prior" if kind == "before" else "thing"
    parts = [_line(x(most[0]), x(most[1]), name, 1.2 if kind != "joint" else 1.8)]
    if half and None not in half:
        parts.append(_line(x(half[0]), x(half[1]), name, 3.2 if kind != "joint" else 5.0))
    if value is not None:
        parts.append(
            f'<circle cx="{x(value):.1f}" cy="{MIDDLE:g}" r="{4.2 if kind == "joint" else 3.0}" class="spot"/>'
        )
    return Markup(f'<svg class="strip" viewBox="0 0 {WIDTH:g} 22" aria-hidden="true">{"".join(parts)}</svg>')  # noqa: S704


def _line(start: float, end: float, name: str, width: float) -> str:
    place = f'x1="{start:.1f}" x2="{end:.1f}" y1="{MIDDLE:g}" y2="{MIDDLE:g}"'
    return f'<line {place} class="{name}" stroke-width="{width:g}"/>'
