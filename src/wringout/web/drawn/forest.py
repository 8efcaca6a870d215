"""Forest plots: prior, each run by each method, and what all runs together say, on one scale.

The band of the joint answer runs through all rows, so that a run that stands apart is seen at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from wringout.services.findings.knots import Beside
from wringout.web.drawn.scale import Scale, axis, scale_of, strip
from wringout.web.figures import shown, unit_name


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


def forests(body: Mapping[str, Any]) -> tuple[Forest, ...]:
    """Return a forest for each finding; a device is shown at the middle of its speeds only."""
    kept = [f for f in body["findings"] if not f["key"].endswith((".entry", ".end"))]
    return tuple(_forest(finding, body["runs"]) for finding in kept)


def _within(title: str) -> str:
    """Return a title as it stands within a line; one that begins with a symbol, such as CLmax, stays as it is."""
    return title if title[1:2].isupper() else f"{title[:1].lower()}{title[1:]}"


def _forest(finding: Mapping[str, Any], runs: Sequence[Mapping[str, Any]]) -> Forest:
    raw: list[tuple[str, str, float | None, Any, Any, str]] = []
    if finding["prior_interval_95"] and None not in finding["prior_interval_95"]:
        raw.append(("before", "believed before flying", None, None, finding["prior_interval_95"], ""))
    for run in runs:
        if run["key"] in finding["runs"]:
            raw += [
                ("run", f"{run['key']}, {_within(hand['title'])}", hand["value"],
                 hand["interval_50"], hand["interval_95"], run["key"])
                for hand in run["results"]
                if _speaks_of(finding, hand)
            ]  # fmt: skip
    raw.append(("joint", "all runs together", finding["value"], finding["interval_50"], finding["interval_95"], ""))
    scale = scale_of([line[4] for line in raw if line[0] != "before"])  # a belief that is wider runs off the edge
    band = raw[-1][4]
    lines = tuple(
        Line(kind, label, finding["unit"], value, half, most, run, _strip(kind, value, half, most, scale, band))
        for kind, label, value, half, most, run in raw
        if None not in most
    )
    title, at = finding["label"], _at(finding)
    return Forest(finding["key"], title, at, finding["unit"], _colour(finding), lines, axis(scale), finding)


def knots_forest(beside: Beside) -> Forest:
    """Return full flaps over gear, once in knots lost and once in drag, on one scale that holds 1."""
    scale = scale_of([beside.knots_most, beside.drag_most, (1.0, 1.0)])
    rows = (
        ("run", "as knots lost (not a drag)", beside.knots, beside.knots_most),
        ("joint", "as drag, all runs together", beside.drag, beside.drag_most),
    )

    def drawn(value: float, most: tuple[float, float], heavy: bool) -> Markup:
        return strip(value, None, most, scale, heavy=heavy, band=beside.drag_most, rule=1.0)

    lines = tuple(
        Line(kind, label, "", value, None, most, "", drawn(value, most, heavy=kind == "joint"))
        for kind, label, value, most in rows
    )
    return Forest("knots-ratio", "full flaps over gear", "", "", "clean", lines, axis(scale), {})


def _speaks_of(finding: Mapping[str, Any], hand: Mapping[str, Any]) -> bool:
    key = finding["key"]
    if key.startswith("area."):
        return bool(hand["is_drag"]) and hand["unit"] == finding["unit"]
    if key.startswith(("stall.", "cl_max.")):
        name = "stall speed" if key.startswith("stall.") else "CLmax"
        return bool(hand["key"] == f"{name}, {key.partition('.')[2]}")
    if key.endswith("_time"):
        device, way, _ = key.split("_")
        return bool(hand["key"] == f"{'flaps' if device == 'flap' else device} {way}")
    return False


def _at(finding: Mapping[str, Any]) -> str:
    parts = [f"{shown(q['value'])} {unit_name(q['unit'])}" for q in (finding["at_speed"], finding["at_weight"]) if q]
    return f"at {' and '.join(parts)}" if parts else ""


def _colour(finding: Mapping[str, Any]) -> str:
    key = finding["key"]
    if key.startswith(("area.gear", "gear_")):
        return "gear"
    if key.startswith(("area.flaps", "flap_", "share.")):
        return "flaps"
    return "margin" if key.startswith("stall.") else "clean"


def _strip(kind: str, value: float | None, half: Any, most: Any, scale: Scale, band: Any) -> Markup:
    name = "prior" if kind == "before" else "thing"
    return strip(value, half, most, scale, heavy=kind == "joint", name=name, band=band)
