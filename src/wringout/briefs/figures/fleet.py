"""Findings of many airplanes: a forest plot with the next airplane's range, and a funnel plot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wringout.briefs.figures.parts import device_colour, draw_belief, draw_interval, rows_axes, unit_label
from wringout.briefs.house_style import FAINT, INK, MARGIN, QUIET, SMALL_PT, place, styled, svg_of

HALF_SDS, MOST_SDS = 0.6745, 1.959964
"""Standard deviations from the middle to the ends of a normal distribution's central 50 and 95 %."""
LONGEST_NAME = 26


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
    """Return every airplane's finding with 50 and 95 % intervals, the mean of the type, and the next airplane's."""
    lines = [*(_short(row.name) for row in shown.rows), "mean of the type"]
    lines += ["next airplane"] if shown.prediction_95 else []
    colour = device_colour(shown.device)
    with styled(0.6 + 0.24 * len(lines)) as figure:
        axes = place(figure, 1.6, 0.42, 0.15, 0.06)
        if shown.prediction_95:
            low, high = shown.prediction_95
            draw_belief(axes, len(lines) - 1.0, low, high)
            axes.plot([low, high], [len(lines) - 1.0] * 2, color=INK, lw=0.9, ls=(0, (4, 2)))
        for at, row in enumerate(shown.rows):
            half, most = HALF_SDS * row.standard_uncertainty, MOST_SDS * row.standard_uncertainty
            ends = (row.value - half, row.value + half), (row.value - most, row.value + most)
            draw_interval(axes, at, row.value, *ends, colour, "s" if row.outlier else "o", filled=not row.outlier)
        foot, mean = float(len(shown.rows)), shown.mean
        third = HALF_SDS / MOST_SDS
        inner = (mean + third * (shown.interval_95[0] - mean), mean + third * (shown.interval_95[1] - mean))
        draw_interval(axes, foot, mean, inner, shown.interval_95, INK, "D")
        axes.axvline(mean, color=FAINT, lw=0.6, zorder=0)
        axes.set_yticks(range(len(lines)), lines)
        axes.set_ylim(len(lines) - 0.4, -0.6)
        axes.tick_params(axis="y", labelcolor=INK)
        axes.set_xlabel(unit_label(shown.title, shown.unit))
        rows_axes(axes)
        return svg_of(figure, "fleet-forest")


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
            "95 % if all\nwere alike",
            (shown.mean + MOST_SDS * deepest, deepest),
            xytext=(4, 2),
            textcoords="offset points",
            color=QUIET,
            fontsize=SMALL_PT,
            annotation_clip=False,
        )
        axes.set_ylim(deepest, 0.0)
        axes.set_xlabel(unit_label(shown.title, shown.unit))
        axes.set_ylabel(unit_label("standard uncertainty", shown.unit))
        return svg_of(figure, "fleet-funnel")
