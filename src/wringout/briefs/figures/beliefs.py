"""What the runs taught: every parameter before and after."""

from __future__ import annotations

from collections.abc import Sequence

from wringout.briefs.evidence import Evidence
from wringout.briefs.figures.parts import device_colour, draw_belief, rows_axes
from wringout.briefs.house_style import FAINT, INK, QUIET, SMALL_PT, place, styled, svg_of
from wringout.briefs.numbers import number, places_for
from wringout.estimate.posterior import Learned


def beliefs_figure(evidence: Evidence, learned: Sequence[Learned]) -> str:
    """Return each parameter before (pale bar) and after (line), in standard deviations of the belief before."""
    height = 0.18 * len(learned) + 0.52
    with styled(height) as figure:
        axes = place(figure, 2.1, 0.42, 1.0, 0.06)
        rows_axes(axes)
        axes.set_xlim(-2.3, 2.3)
        axes.set_ylim(len(learned) - 0.4, -0.6)
        axes.set_yticks([])
        frame = axes.get_yaxis_transform()
        for i, item in enumerate(learned):
            sd = 1.0 - item.contraction
            colour = device_colour(item.key.split("_")[0]) if item.verdict != "still the prior" else FAINT
            draw_belief(axes, i, -1.96, 1.96)
            axes.plot((item.shift - 1.96 * sd, item.shift + 1.96 * sd), (i, i), color=colour, lw=0.9, zorder=3)
            axes.plot((item.shift - 0.674 * sd, item.shift + 0.674 * sd), (i, i), color=colour, lw=3.0, zorder=3)
            axes.plot([item.shift], [i], "o", ms=3.6, mfc=colour, mec=INK, mew=0.6, zorder=4)
            text = QUIET if item.verdict == "still the prior" else INK
            axes.text(
                -0.82,
                i,
                item.label,
                transform=frame,
                ha="left",
                va="center",
                color=text,
                clip_on=False,
                fontsize=SMALL_PT,
            )
            axes.text(
                1.03,
                i,
                _after(evidence, item),
                transform=frame,
                ha="left",
                va="center",
                color=text,
                clip_on=False,
                fontsize=SMALL_PT,
            )
        axes.set_xticks([-2, -1, 0, 1, 2], labels=["\N{MINUS SIGN}2", "\N{MINUS SIGN}1", "0", "+1", "+2"])
        axes.set_xlabel("standard deviations of the belief before")
        return svg_of(figure, "beliefs")


def _after(evidence: Evidence, item: Learned) -> str:
    if item.verdict == "still the prior":
        return item.verdict
    scale = evidence.scale(item.unit)
    low, _, high = (value / scale.size for value in item.posterior)
    places = max(places_for((high - low) / 3.92), 0)
    unit = f" {scale.symbol}" if scale.symbol else ""
    return f"{number(low, places)} to {number(high, places)}{unit}"
