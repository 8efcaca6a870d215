"""Findings of many airplanes: a forest plot with the next airplane's range, and a funnel plot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes

from wringout.briefs.catalogue import tr
from wringout.briefs.figures.parts import device_colour, draw_belief, draw_interval, rows_axes, unit_label
from wringout.briefs.house_style import FAINT, INK, MARGIN, QUIET, SMALL_PT, place, styled, svg_of
from wringout.briefs.numbers import number, places_for

HALF_SDS, MOST_SDS = 0.6745, 1.959964
"""Standard deviations from the middle to the ends of a normal distribution's central 50 and 95 %."""
LONGEST_NAME = 26
WIDEST = 1.5
"""The next airplane is drawn this many times as far beyond the others as they lie apart; its numbers say the rest."""


@dataclass(frozen=True, slots=True)
class FleetRow:
    """One airplane's finding: value and standard uncertainty in the unit of the figure."""

    name: str
    value: float
    standard_uncertainty: float
    outlier: bool


@dataclass(frozen=True, slots=True)
class FleetFigure:
    """What both figures are drawn from; ``device`` chooses the colour, ``prediction_95`` is of the next airplane."""

    title: str
    unit: str
    device: str
    rows: Sequence[FleetRow]
    mean: float
    interval_95: tuple[float, float]
    prediction_95: tuple[float, float] | None


def _short(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"


def forest_figure(shown: FleetFigure) -> str:
    """Return every airplane's finding with 50 and 95 % intervals, the mean of the type, and the next airplane's.

    The range of the next airplane is drawn as far as the plot reaches, with an arrow where it reaches further; its
    numbers stand beside it, as those of every row.
    """
    lines = [*(_short(row.name) for row in shown.rows), tr("mean of the type")]
    lines += [tr("next airplane")] if shown.prediction_95 else []
    colour = device_colour(shown.device)
    with styled(0.6 + 0.24 * len(lines)) as figure:
        axes = place(figure, 1.6, 0.42, 1.2, 0.06)
        low, high = _span(shown)
        axes.set_xlim(low, high)
        for at, row in enumerate(shown.rows):
            half, most = HALF_SDS * row.standard_uncertainty, MOST_SDS * row.standard_uncertainty
            ends = (row.value - half, row.value + half), (row.value - most, row.value + most)
            draw_interval(axes, at, row.value, *ends, colour, "s" if row.outlier else "o", filled=not row.outlier)
            _numbers(axes, at, row.value, ends[1])
        foot, mean = float(len(shown.rows)), shown.mean
        third = HALF_SDS / MOST_SDS
        inner = (mean + third * (shown.interval_95[0] - mean), mean + third * (shown.interval_95[1] - mean))
        draw_interval(axes, foot, mean, inner, shown.interval_95, INK, "D")
        _numbers(axes, foot, mean, shown.interval_95)
        if shown.prediction_95:
            _next_airplane(axes, foot + 1.0, shown.prediction_95)
        axes.axvline(mean, color=FAINT, lw=0.6, zorder=0)
        axes.set_yticks(range(len(lines)), lines)
        axes.set_ylim(len(lines) - 0.4, -0.6)
        axes.tick_params(axis="y", labelcolor=INK)
        axes.set_xlabel(unit_label(shown.title, shown.unit))
        rows_axes(axes)
        return svg_of(figure, "fleet-forest")


def _span(shown: FleetFigure) -> tuple[float, float]:
    """Return the range of x: all airplanes and the mean with room, and the next airplane as far as that is no waste."""
    ends = [row.value + side * MOST_SDS * row.standard_uncertainty for row in shown.rows for side in (-1.0, 1.0)]
    low, high = min(*ends, shown.interval_95[0]), max(*ends, shown.interval_95[1])
    if shown.prediction_95:
        room = WIDEST * (high - low)
        low, high = (
            min(low, max(shown.prediction_95[0], low - room)),
            max(high, min(shown.prediction_95[1], high + room)),
        )
    pad = 0.05 * (high - low) or max(abs(high), 1.0)
    return low - pad, high + pad


def _next_airplane(axes: Axes, at: float, ends: tuple[float, float]) -> None:
    """Draw where the next airplane is expected, with an arrow at an end that lies beyond the plot."""
    low, high = (float(x) for x in axes.get_xlim())
    pad = 0.02 * (high - low)
    shown = max(ends[0], low + pad), min(ends[1], high - pad)
    draw_belief(axes, at, *shown)
    axes.plot(shown, [at] * 2, color=INK, lw=0.9, ls=(0, (4, 2)))
    for end, drawn, marker in zip(ends, shown, "<>", strict=True):
        if end != drawn:
            axes.plot([drawn], [at], marker=marker, ms=4.5, mfc=INK, mec=INK, ls="none", zorder=4)
    _numbers(axes, at, None, ends)


def _numbers(axes: Axes, at: float, value: float | None, ends: tuple[float, float]) -> None:
    """Write a row's value and 95 % interval right of it."""
    places = max(places_for((ends[1] - ends[0]) / 3.92), 0)
    low, high = (number(end, places) for end in ends)
    text = (
        tr("{low} to {high}", low=low, high=high)
        if value is None
        else tr("{value} ({low} to {high})", value=number(value, places), low=low, high=high)
    )
    where = axes.get_yaxis_transform()
    axes.text(1.03, at, text, transform=where, ha="left", va="center", color=INK, fontsize=SMALL_PT, clip_on=False)


def funnel_figure(shown: FleetFigure) -> str:
    """Return each finding's value over its standard uncertainty, with where 95 % would lie if airplanes were alike."""
    colour = device_colour(shown.device)
    deepest = 1.12 * max(row.standard_uncertainty for row in shown.rows)
    with styled(2.6) as figure:
        axes = place(figure, 0.5, 0.42, 0.9, 0.1)
        depth = np.array([0.0, deepest])
        for side in (-1.0, 1.0):
            axes.plot(shown.mean + side * MOST_SDS * depth, depth, color=QUIET, lw=0.8, ls=(0, (4, 2)))
        axes.axvline(shown.mean, color=FAINT, lw=0.6)
        for row in shown.rows:
            at = (row.value, row.standard_uncertainty)
            axes.plot(*at, marker="s" if row.outlier else "o", ms=5, mfc=colour, mec=INK, mew=0.6, ls="none")
            if row.outlier:
                side = -1 if row.value > shown.mean else 1
                name, ha = _short(row.name), "right" if side < 0 else "left"
                axes.annotate(name, at, xytext=(6 * side, 3), textcoords="offset points", color=MARGIN, ha=ha)
        axes.annotate(
            tr("95 % if all\nwere alike"),
            (shown.mean + MOST_SDS * deepest, deepest),
            xytext=(4, 2),
            textcoords="offset points",
            color=QUIET,
            fontsize=SMALL_PT,
            annotation_clip=False,
        )
        axes.set_ylim(deepest, 0.0)
        axes.set_xlabel(unit_label(shown.title, shown.unit))
        axes.set_ylabel(unit_label(tr("standard uncertainty"), shown.unit))
        return svg_of(figure, "fleet-funnel")
