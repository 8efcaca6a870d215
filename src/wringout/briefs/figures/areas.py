"""Drag areas: each device over speed with its bands, and by kind of evidence and run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wringout.briefs.evidence import Evidence
from wringout.briefs.figures.parts import (
    apart,
    device_colour,
    draw_belief,
    draw_interval,
    quiet_text,
    rows_axes,
    unit_label,
)
from wringout.briefs.house_style import INK, QUIET, SMALL_PT, place, styled, svg_of
from wringout.briefs.numbers import NO_BREAK, number, places_for
from wringout.estimate.findings import DragCurve

_DASHES = ("solid", (0, (5, 1.6)), (0, (1.6, 1.2)), (0, (6, 1.4, 1.4, 1.4)))


def curves_figure(evidence: Evidence, curves: Sequence[DragCurve]) -> str:
    """Return the drag area of every device over calibrated airspeed, 50 and 95 % bands, names at the lines."""
    speed, area = evidence.scale("kt"), evidence.scale("ft2")
    with styled(2.9) as figure:
        axes = place(figure, 0.42, 0.36, 0.95, 0.1)
        styles = _line_styles(curves)
        ends, top = [], 0.0
        for curve, style in zip(curves, styles, strict=True):
            colour = device_colour(curve.device)
            x = curve.speed_mps / speed.size
            bands = ((curve.most_low, curve.most_high, 0.14), (curve.half_low, curve.half_high, 0.28))
            for low, high, alpha in bands:
                axes.fill_between(x, low / area.size, high / area.size, color=colour, alpha=alpha, lw=0.0)
            axes.plot(x, curve.median / area.size, color=colour, lw=1.8, ls=style)
            ends.append((float(x[-1]), float(curve.median[-1]) / area.size))
            top = max(
                top, float(np.max(curve.half_high)) / area.size * 1.25, float(np.max(curve.median)) / area.size * 1.4
            )
        highest = max(float(np.max(curve.most_high)) for curve in curves) / area.size
        axes.set_ylim(0.0, min(highest * 1.05, 1.6 * top))
        right = max(x for x, _ in ends)
        places = apart([y for _, y in ends], 0.065 * axes.get_ylim()[1], 0.0, axes.get_ylim()[1])
        span = right - min(float(curve.speed_mps[0]) / speed.size for curve in curves)
        for (x, y), at, curve in zip(ends, places, curves, strict=True):
            axes.annotate(
                curve.label,
                (x, y),
                xytext=(right + 0.035 * span, at),
                va="center",
                ha="left",
                color=INK,
                annotation_clip=False,
                arrowprops={"arrowstyle": "-", "lw": 0.5, "color": QUIET, "shrinkA": 1.5, "shrinkB": 1.0},
            )
        axes.set_xlabel(unit_label("calibrated airspeed", speed.symbol))
        axes.set_ylabel(unit_label("drag area added", area.symbol))
        axes.set_xlim(right=right)
        return svg_of(figure, "curves")


def _line_styles(curves: Sequence[DragCurve]) -> list[object]:
    """Return a line style for each curve: gear solid, flap settings told apart by their dashes."""
    flaps = [curve.device for curve in curves if curve.device.startswith("flap")]
    out: list[object] = []
    for curve in curves:
        place_of = flaps[::-1].index(curve.device) if curve.device in flaps else -1
        out.append("solid" if place_of <= 0 else _DASHES[place_of % len(_DASHES)])
    return out


@dataclass(frozen=True, slots=True)
class ForestRow:
    """One row of a forest: what it is, and its value with intervals, SI; ``joint`` for the answer of all runs."""

    label: str
    remark: str
    value: float
    half: tuple[float, float]
    most: tuple[float, float]
    joint: bool = False
    belief: tuple[float, float] | None = None


def forest_figure(
    evidence: Evidence,
    name: str,
    rows: Sequence[ForestRow],
    unit: str,
    what: str,
    devices: Sequence[str],
    width_in: float = 4.6,
    *,
    from_zero: bool = True,
) -> str:
    """Return rows of values with intervals, as labels left, drawn intervals, and numbers right."""
    scale = evidence.scale(unit)
    height = 0.205 * len(rows) + 0.52
    with styled(height, width_in) as figure:
        axes = place(figure, 1.72, 0.38, 0.92, 0.08)
        rows_axes(axes)
        low, high = _span(rows, scale.size, from_zero=from_zero)
        axes.set_xlim(low, high)
        axes.set_ylim(len(rows) - 0.4, -0.6)
        axes.set_yticks([])
        places = _places(rows, scale.size)
        for i, row in enumerate(rows):
            if row.belief is not None:
                draw_belief(axes, i, max(row.belief[0] / scale.size, low), min(row.belief[1] / scale.size, high))
            half = (row.half[0] / scale.size, row.half[1] / scale.size)
            most = (row.most[0] / scale.size, row.most[1] / scale.size)
            value = row.value / scale.size
            draw_interval(axes, i, value, half, most, device_colour(devices[i]), *_mark(row), filled=row.joint)
            frame = axes.get_yaxis_transform()
            axes.text(-0.86, i, row.label, transform=frame, ha="left", va="center", clip_on=False)
            quiet_text(axes, -0.03, i, row.remark, transform=frame, ha="right", va="center", clip_on=False)
            text = f"{number(value, places[i])} ({number(most[0], places[i])} to {number(most[1], places[i])})"
            axes.text(1.03, i, text, transform=frame, ha="left", va="center", fontsize=SMALL_PT, clip_on=False)
        axes.set_xlabel(unit_label(what, scale.symbol))
        return svg_of(figure, name)


def _mark(row: ForestRow) -> tuple[str, float]:
    return ("D", 4.4) if row.joint else ("o", 3.6)


def _places(rows: Sequence[ForestRow], size: float) -> list[int]:
    return [max(places_for((row.most[1] - row.most[0]) / size / 3.92), 0) for row in rows]


def _span(rows: Sequence[ForestRow], size: float, *, from_zero: bool) -> tuple[float, float]:
    """Return the range of x: all values and 50 % intervals with room, 95 % ones as far as that is no waste."""
    values = [x / size for row in rows for x in (row.value, *row.half)]
    wide = [x / size for row in rows for x in row.most]
    low, high = min(values), max(values)
    room = max(high - low, 0.15 * abs(high), 1e-6)
    low, high = max(min(wide), low - 1.2 * room), min(max(wide), high + 1.2 * room)
    pad = 0.04 * (high - low)
    return (min(0.0, low - pad) if from_zero else low - pad), high + pad


def caption_of_weights() -> str:
    """Return how intervals are drawn, for captions."""
    return f"Mark: middle value. Thick line: central 50{NO_BREAK}%. Thin line: central 95{NO_BREAK}%."
