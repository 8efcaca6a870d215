"""What the runs taught: every parameter before and after."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes

from wringout.briefs.catalogue import tr
from wringout.briefs.evidence import Evidence
from wringout.briefs.figures.areas import HALF_SDS, MOST_SDS
from wringout.briefs.figures.parts import device_colour, draw_belief, draw_interval, rows_axes
from wringout.briefs.house_style import FAINT, INK, QUIET, SMALL_PT, WIDTH_IN, place, styled, svg_of
from wringout.briefs.numbers import MINUS, number, places_for
from wringout.estimate.posterior import Learned

_LEFT, _RIGHT = 2.2, 0.98


def beliefs_figure(evidence: Evidence, learned: Sequence[Learned]) -> str:
    """Return each parameter before (pale bar) and after (line), in standard deviations of the belief before."""
    with styled(0.18 * len(learned) + 0.52) as figure:
        axes = place(figure, _LEFT, 0.42, _RIGHT, 0.06)
        rows_axes(axes)
        axes.set_xlim(-2.3, 2.3)
        axes.set_ylim(len(learned) - 0.4, -0.6)
        axes.set_yticks([])
        for i, item in enumerate(learned):
            _row(axes, i, item, _after(evidence, item))
        axes.set_xticks([-2, -1, 0, 1, 2], labels=[f"{MINUS}2", f"{MINUS}1", "0", "+1", "+2"])
        axes.set_xlabel(tr("standard deviations of the belief before"))
        return svg_of(figure, "beliefs")


def _row(axes: Axes, at: int, item: Learned, after: str) -> None:
    """Draw one parameter: its name, belief before, estimate after, and the 95 % interval after in words."""
    sd, unmoved = 1.0 - item.contraction, item.verdict == "still the prior"
    half = (item.shift - HALF_SDS * sd, item.shift + HALF_SDS * sd)
    most = (item.shift - MOST_SDS * sd, item.shift + MOST_SDS * sd)
    colour = FAINT if unmoved else device_colour(item.key.partition("_")[0])
    draw_belief(axes, at, -MOST_SDS, MOST_SDS)
    draw_interval(axes, at, item.shift, half, most, colour, size=3.6)
    width = WIDTH_IN - _LEFT - _RIGHT
    words: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "va": "center", "clip_on": False}
    words |= {"color": QUIET if unmoved else INK, "fontsize": SMALL_PT, "ha": "left"}
    axes.text(-_LEFT / width, at, item.label, **words)
    axes.text(1.0 + 0.05 / width, at, after, **words)


def _after(evidence: Evidence, item: Learned) -> str:
    if item.verdict == "still the prior":
        return tr("still the prior")
    scale = evidence.scale(item.unit)
    low, _, high = (value / scale.size for value in item.posterior)
    places = max(places_for((high - low) / 3.92), 0)
    unit = f" {scale.symbol}" if scale.symbol else ""
    return tr("{low} to {high}{unit}", low=number(low, places), high=number(high, places), unit=unit)
