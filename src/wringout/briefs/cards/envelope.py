"""The centre-of-gravity envelope as a figure: the limits, and how weight and balance move as fuel burns."""

from __future__ import annotations

from collections.abc import Sequence

from wringout.airplane.loading import Balance, Loading
from wringout.briefs.house_style import FAINT, INK, MARGIN, POWER, QUIET, WASH, place, styled, svg_of
from wringout.units import INCH, POUND

METRIC_ARM, METRIC_MASS = 0.01, 1.0
"""Centimetres and kilograms in SI."""


def envelope_figure(loading: Loading, path: Sequence[Balance], metric: bool = False, night: bool = False) -> str:
    """Return the envelope with the path of the balance from take-off to landing, as SVG.

    ``path`` runs from the first to the last moment; at night everything is drawn in black and thick. Raises ValueError
    where there is no envelope or no path.
    """
    if not loading.envelope or not path:
        raise ValueError("there is no envelope to draw")
    arm_unit, mass_unit = (METRIC_ARM, METRIC_MASS) if metric else (INCH, POUND)
    units = ("cm", "kg") if metric else ("in", "lb")
    ink, wide = ("#000000", 2.0) if night else (INK, 1.0)
    corners = [(x / arm_unit, y / mass_unit) for x, y in loading.envelope]
    line = [(b.arm_m / arm_unit, b.mass_kg / mass_unit) for b in path]
    bad = any(b.inside is False for b in path)
    with styled(2.6) as figure:
        axes = place(figure, 0.62, 0.48, 0.95, 0.12)
        xs, ys = zip(*corners, strict=True)
        axes.fill(xs, ys, facecolor="none" if night else WASH, edgecolor=ink, linewidth=wide, zorder=1)
        px, py = zip(*line, strict=True)
        colour = ink if night else MARGIN if bad else POWER
        axes.plot(px, py, color=colour, linewidth=1.6 * wide, zorder=3)
        for where, name, mark in ((0, "take-off", "o"), (-1, "landing", "s")):
            axes.plot([px[where]], [py[where]], mark, color=colour, markersize=4.5 * wide**0.5, zorder=4)
            text = f"{name}: {py[where]:,.0f} {units[1]}, {px[where]:.1f} {units[0]}"
            axes.annotate(
                text,
                (px[where], py[where]),
                xytext=(8, 3 if where == 0 else -8),
                textcoords="offset points",
                color=ink,
                bbox={"facecolor": "#ffffff" if night else WASH, "edgecolor": "none", "pad": 0.8},
                zorder=2,
            )
        axes.set_xlabel(f"centre of gravity, {units[0]} aft of datum", color=ink if night else QUIET)
        axes.set_ylabel(f"weight, {units[1]}", color=ink if night else QUIET)
        axes.margins(0.08)
        axes.yaxis.set_major_formatter("{x:,.0f}")
        if not night:
            axes.grid(color=FAINT, linewidth=0.3, alpha=0.6)
        return svg_of(figure, "envelope")
