"""Does the study hang together: how far each answer moves when one run is left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes

from wringout.briefs.catalogue import tr
from wringout.briefs.figures.parts import apart, device_colour, rows_axes
from wringout.briefs.house_style import FAINT, INK, PAPER, QUIET, SMALL_PT, WASH, WIDTH_IN, place, styled, svg_of
from wringout.briefs.numbers import MINUS

_LEFT, _RIGHT, _ROW, _FOOT, _HEAD = 1.62, 0.12, 0.3, 0.42, 0.06
EDGE = 3.0
NAMED_FROM = 0.45
_MOST_NAMES = 4


@dataclass(frozen=True, slots=True)
class Without:
    """One run left out: its key, how far the answer moves (standard deviations), and whether the doubt doubles."""

    run: str
    shift: float
    doubles: bool


@dataclass(frozen=True, slots=True)
class LeftOutRow:
    """One answer with what each run's absence does to it."""

    label: str
    device: str
    runs: tuple[Without, ...]


def left_out_figure(rows: Sequence[LeftOutRow]) -> str:
    """Return one line for each answer, a mark for each run where the answer would be without it, as SVG."""
    edge = min(EDGE, max(1.6, 1.1 * max((abs(one.shift) for row in rows for one in row.runs), default=0.0)))
    with styled(_ROW * len(rows) + _FOOT + _HEAD) as figure:
        axes = place(figure, _LEFT, _FOOT, _RIGHT, _HEAD)
        rows_axes(axes)
        axes.set_xlim(-1.08 * edge, 1.08 * edge)
        axes.set_ylim(len(rows) - 0.4, -0.6)
        axes.set_yticks([])
        axes.axvspan(-1.0, 1.0, color=WASH, lw=0.0, zorder=0)
        axes.axvline(0.0, color=FAINT, lw=0.7, zorder=1)
        for i, row in enumerate(rows):
            _row(axes, i, row, edge)
        ticks = range(-int(edge), int(edge) + 1)
        axes.set_xticks(list(ticks), labels=[f"{MINUS}{-tick}" if tick < 0 else f"{tick}" for tick in ticks])
        axes.set_xlabel(tr("without one run, in standard deviations of the answer"))
        return svg_of(figure, "left-out")


def _row(axes: Axes, at: int, row: LeftOutRow, edge: float) -> None:
    words: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "va": "center", "clip_on": False}
    axes.text(-_LEFT / (WIDTH_IN - _LEFT - _RIGHT), at, row.label, ha="left", color=INK, fontsize=SMALL_PT, **words)
    colour = device_colour(row.device)
    for one in row.runs:
        x = min(max(one.shift, -edge), edge)
        face = PAPER if one.doubles else colour
        axes.plot([x], [at + 0.16], "o", ms=3.8, mfc=face, mec=colour, mew=0.9, ls="none", zorder=3)
    telling = [one for one in row.runs if abs(one.shift) > NAMED_FROM or one.doubles]
    named = sorted(telling, key=lambda one: -abs(one.shift))[:_MOST_NAMES]
    named.sort(key=lambda one: one.shift)
    places = apart([min(max(one.shift, -edge), edge) for one in named], 0.17 * edge, -edge, edge)
    for one, x in zip(named, places, strict=True):
        axes.text(x, at + 0.0, one.run, ha="center", va="bottom", fontsize=SMALL_PT, color=QUIET)
