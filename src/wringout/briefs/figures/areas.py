"""Drag areas: each device over speed with its bands, and by kind of evidence and run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes

from wringout.briefs.catalogue import tr
from wringout.briefs.evidence import Evidence
from wringout.briefs.figures.parts import (
    apart,
    device_colour,
    draw_belief,
    draw_interval,
    rows_axes,
    unit_label,
)
from wringout.briefs.house_style import INK, QUIET, SMALL_PT, WIDTH_IN, place, styled, svg_of
from wringout.briefs.numbers import NO_BREAK, number, places_for
from wringout.estimate.findings import DragCurve

_DASHES = ("solid", (0, (5, 1.6)), (0, (1.6, 1.2)), (0, (6, 1.4, 1.4, 1.4)))


def curves_figure(evidence: Evidence, curves: Sequence[DragCurve], width: float = WIDTH_IN) -> str:
    """Return the drag area of every device over calibrated airspeed, 50 and 95 % bands, names at the lines.

    ``width``: inches across.
    """
    speed, area = evidence.scale("kt"), evidence.scale("ft2")
    with styled(2.7, width) as figure:
        axes = place(figure, 0.42, 0.42, 0.95, 0.1)
        for curve, style in zip(curves, _line_styles(curves), strict=True):
            colour, x = device_colour(curve.device), curve.speed_mps / speed.size
            bands = ((curve.most_low, curve.most_high, 0.14), (curve.half_low, curve.half_high, 0.28))
            for low, high, alpha in bands:
                axes.fill_between(x, low / area.size, high / area.size, color=colour, alpha=alpha, lw=0.0)
            axes.plot(x, curve.median / area.size, color=colour, lw=1.8, ls=style)
        axes.set_ylim(0.0, _height(curves) / area.size)
        axes.set_xlabel(unit_label(tr("calibrated airspeed"), speed.symbol))
        axes.set_ylabel(unit_label(tr("drag area added"), area.symbol))
        _names_at_ends(axes, curves, speed.size, area.size)
        return svg_of(figure, "curves")


def _height(curves: Sequence[DragCurve]) -> float:
    """Return the largest area shown: every 50 % band with room, 95 % bands as far as that is no waste."""
    wide = max(float(np.max(curve.most_high)) for curve in curves)
    needed = max(max(2.0 * float(np.max(c.half_high)), 2.2 * float(np.max(c.median))) for c in curves)
    return min(1.05 * wide, needed)


def _names_at_ends(axes: Axes, curves: Sequence[DragCurve], speed: float, area: float) -> None:
    """Write each device's name right of its line, names kept apart."""
    ends = [(float(c.speed_mps[-1]) / speed, float(c.median[-1]) / area) for c in curves]
    right, top = max(x for x, _ in ends), float(axes.get_ylim()[1])
    span = right - min(float(c.speed_mps[0]) / speed for c in curves)
    places = apart([y for _, y in ends], 0.065 * top, 0.0, top)
    for end, at, curve in zip(ends, places, curves, strict=True):
        axes.annotate(
            curve.label,
            end,
            xytext=(right + 0.035 * span, at),
            va="center",
            ha="left",
            color=INK,
            annotation_clip=False,
            arrowprops={"arrowstyle": "-", "lw": 0.5, "color": QUIET, "shrinkA": 1.5, "shrinkB": 1.0},
        )
    axes.set_xlim(right=right)


def _line_styles(curves: Sequence[DragCurve]) -> list[object]:
    """Return a line style for each curve: gear solid, flap settings told apart by their dashes."""
    flaps = [curve.device for curve in curves if curve.device.startswith("flap")]
    out: list[object] = []
    for curve in curves:
        place_of = flaps[::-1].index(curve.device) if curve.device in flaps else -1
        out.append("solid" if place_of <= 0 else _DASHES[place_of % len(_DASHES)])
    return out


HALF_SDS: Final = 0.6745
"""Standard deviations from the middle to the ends of a normal distribution's central 50 %."""
MOST_SDS: Final = 1.96
"""The same for 95 %."""


@dataclass(frozen=True, slots=True)
class ForestRow:
    """One row of a forest: what it is, where it holds, and its value with intervals, SI.

    ``device`` gives the colour, ``joint`` marks the answer of all runs, ``belief`` is the 95 % interval before them.
    """

    label: str
    remark: str
    value: float
    half: tuple[float, float]
    most: tuple[float, float]
    device: str = ""
    joint: bool = False
    belief: tuple[float, float] | None = None


_ROW_IN, _ABOVE_IN, _BELOW_IN, _RIGHT_IN = 0.19, 0.06, 0.42, 1.1


def forest_figure(
    evidence: Evidence,
    name: str,
    rows: Sequence[ForestRow],
    unit: str,
    what: str,
    *,
    from_zero: bool = True,
    space: tuple[float, float] = (WIDTH_IN, 1.72),
) -> str:
    """Return rows of values with intervals: label and place left, the drawn intervals, and the numbers right.

    ``space``: inches across, and those that the labels take of them.
    """
    scale = evidence.scale(unit)
    width, left = space
    places = _row_places(rows)
    with styled(_ROW_IN * (places[-1] + 1.0) + _ABOVE_IN + _BELOW_IN, width) as figure:
        axes = place(figure, left, _BELOW_IN, _RIGHT_IN, _ABOVE_IN)
        rows_axes(axes)
        low, high = _span(rows, scale.size, from_zero=from_zero)
        axes.set_xlim(low, high)
        axes.set_ylim(places[-1] + 0.5, -0.5)
        axes.set_yticks([])
        for at, row in zip(places, rows, strict=True):
            _draw_row(axes, at, row, scale.size, (width - left - _RIGHT_IN, left))
        axes.set_xlabel(unit_label(what, scale.symbol))
        return svg_of(figure, name)


def _row_places(rows: Sequence[ForestRow]) -> list[float]:
    """Return the height of each row, a little apart where the device changes."""
    out: list[float] = []
    for i, row in enumerate(rows):
        gap = 0.45 if i and row.device != rows[i - 1].device else 0.0
        out.append(out[-1] + 1.0 + gap if out else 0.0)
    return out


def _draw_row(axes: Axes, at: float, row: ForestRow, size: float, space: tuple[float, float]) -> None:
    """Draw one row; ``space``: inches of the axes and of the labels left of them."""
    value, half, most = row.value / size, _divided(row.half, size), _divided(row.most, size)
    low, high = axes.get_xlim()
    if row.belief is not None:
        draw_belief(axes, at, max(row.belief[0] / size, low), min(row.belief[1] / size, high))
    marker, ms = ("D", 4.4) if row.joint else ("o", 3.6)
    draw_interval(axes, at, value, half, most, device_colour(row.device), marker, ms, filled=row.joint)
    frame = axes.get_yaxis_transform()
    width_in, left = space
    label: dict[str, Any] = {"transform": frame, "va": "center", "clip_on": False, "fontsize": SMALL_PT}
    axes.text(-left / width_in, at, row.label, ha="left", color=INK, **label)
    axes.text(-0.07 / width_in, at, row.remark, ha="right", color=QUIET, **label)
    places = max(places_for((most[1] - most[0]) / 3.92), 0)
    text = tr(
        "{value} ({low} to {high})",
        value=number(value, places),
        low=number(most[0], places),
        high=number(most[1], places),
    )
    axes.text(1.0 + 0.07 / width_in, at, text, ha="left", color=INK, **label)


def _divided(pair: tuple[float, float], size: float) -> tuple[float, float]:
    return pair[0] / size, pair[1] / size


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
    return tr("Mark: middle value; thick line: central 50 %; thin line: central 95 %.").replace(" %", f"{NO_BREAK}%")
