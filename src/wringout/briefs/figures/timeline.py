"""Techniques in time: heights, speed, stall margin and devices on one time axis, under one another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from wringout.briefs.catalogue import tr
from wringout.briefs.evidence import Evidence
from wringout.briefs.figures.parts import apart, fitting, unit_label
from wringout.briefs.house_style import (
    FAINT,
    FLAPS,
    GEAR,
    HAIR,
    INK,
    MARGIN,
    PAPER,
    QUIET,
    SMALL_PT,
    TEXT_PT,
    WASH,
    WIDTH_IN,
    place,
    styled,
    svg_of,
)
from wringout.briefs.procedure_words import clock_label
from wringout.techniques.stated.types import Matchup, Trace
from wringout.units import DEGREE

FloatArray = NDArray[np.float64]

_STYLES: tuple[Any, ...] = ("solid", (0, (5, 1.6)), (0, (1.4, 1.1)))
LETTERS = "ABC"
_LEFT, _RIGHT, _FOOT, _STRIP, _LOW, _GAP, _HEAD = 0.46, 0.24, 0.44, 0.68, 0.4, 0.12, 0.165


def timeline_figure(
    evidence: Evidence,
    matchup: Matchup,
    chosen: Sequence[int],
    name: str,
    width: float = WIDTH_IN,
    *,
    few: bool = False,
) -> str:
    """Return the time histories of up to three techniques on the representative draw, as SVG.

    ``width``: inches across. ``few``: only what decides and what keeps a margin, to be read from afar.
    """
    traces = [matchup.traces[j] for j in chosen[: len(_STYLES)]]
    titles = [matchup.techniques[j].title for j in chosen[: len(_STYLES)]]
    ft, kt = evidence.scale("ft"), evidence.scale("kt")
    end = _end(traces)

    def less(trace: Trace) -> FloatArray:
        return _less(trace, traces[0]) / ft.size

    strips: list[tuple[str, Callable[[Trace], FloatArray]]] = [
        (unit_label(tr("height"), ft.symbol), lambda t: t.height_m / ft.size),
        (unit_label(tr("energy less A"), ft.symbol), less),
        (unit_label(tr("airspeed"), kt.symbol), lambda t: t.cas_mps / kt.size),
        ("V/Vs", lambda t: t.stall_ratio),
    ]
    if few:
        strips = [strips[1], strips[3]]
    head = _HEAD * len(traces) + 0.1
    height = head + len(strips) * (_STRIP + _GAP) + 2 * _LOW + _GAP + _FOOT
    with styled(height, width) as figure:
        top = head
        axes: Axes | None = None
        for label, values in strips:
            axes = _strip(figure, top, _STRIP, height, axes)
            _lines(axes, traces, values, end)
            if values is less:
                _decision(axes, matchup, ft.size)
            _letters(axes, traces, values, end)
            if label == "V/Vs":
                _margin(axes, traces, matchup.thresholds.min_stall_ratio, end)
            axes.set_ylabel(label, fontsize=SMALL_PT)
            top += _STRIP + _GAP
        axes = _strip(figure, top, _LOW, height, axes)
        _device(axes, traces, lambda t: 100.0 * t.gear, GEAR, tr("gear, %"))
        top += _LOW + _GAP
        axes = _strip(figure, top, _LOW, height, axes, last=True)
        _device(axes, traces, lambda t: t.flap_rad / DEGREE, FLAPS, tr("flaps, °"))
        axes.set_xlabel(clock_label(matchup.situation, "s"))
        axes.set_xlim(0.0, end)
        _heads(figure, titles, height)
        return svg_of(figure, name)


def _end(traces: Sequence[Trace]) -> float:
    """Return the last second shown: a while after the last action, and at least 35 s."""
    last = max((float(np.nanmax(t.action_times_s, initial=0.0)) for t in traces), default=0.0)
    return min(max(last + 20.0, 35.0), float(traces[0].t_s[-1]))


def _strip(figure: Any, top: float, tall: float, height: float, above: Axes | None, *, last: bool = False) -> Axes:
    axes = place(figure, _LEFT, height - top - tall, _RIGHT, top)
    if above is not None:
        axes.sharex(above)
    axes.grid(axis="x", color=HAIR, lw=0.4)
    axes.set_axisbelow(True)
    axes.tick_params(labelbottom=last, bottom=last)
    axes.spines["bottom"].set_visible(last)
    axes.yaxis.set_label_coords(-0.34 / (float(figure.get_figwidth()) - _LEFT - _RIGHT), 0.5)
    return axes


def _lines(axes: Axes, traces: Sequence[Trace], values: Callable[[Trace], FloatArray], end: float) -> None:
    """Draw one quantity of all techniques, each in its own kind of line."""
    for trace, style in zip(traces, _STYLES, strict=False):
        shown = trace.t_s <= end + 1e-9
        axes.plot(trace.t_s[shown], values(trace)[shown], color=INK, lw=1.2, ls=style)
    axes.margins(y=0.08)
    axes.locator_params(axis="y", nbins=4)


def _letters(axes: Axes, traces: Sequence[Trace], values: Callable[[Trace], FloatArray], end: float) -> None:
    """Write each technique's letter at the end of its line."""
    low, high = (float(y) for y in axes.get_ylim())
    ends = [float(np.interp(end, trace.t_s, values(trace))) for trace in traces]
    for at, letter in zip(apart(ends, 0.17 * (high - low), low, high), LETTERS, strict=False):
        axes.text(1.012, at, letter, transform=axes.get_yaxis_transform(), va="center", ha="left", fontsize=SMALL_PT)


def _less(trace: Trace, leader: Trace) -> FloatArray:
    """Return a technique's energy height less the leader's at its own times, m."""
    return np.asarray(trace.energy_height_m - np.interp(trace.t_s, leader.t_s, leader.energy_height_m))


def decides_by_energy(matchup: Matchup) -> bool:
    """Return whether energy height decides, so that the strip of energy height shows what counts."""
    return matchup.thresholds.score.startswith("energy_height_")


def _decision(axes: Axes, matchup: Matchup, size: float) -> None:
    """Draw the band in which nothing is won, and mark when the deciding score is read."""
    score = matchup.thresholds.score
    if not decides_by_energy(matchup):
        return
    matters = matchup.thresholds.difference / size
    low, high = (float(y) for y in axes.get_ylim())
    axes.axhspan(-matters, matters, color=WASH, lw=0.0, zorder=0)
    axes.set_ylim(min(low, -1.2 * matters), max(high, 1.2 * matters))
    at = float(score.removeprefix("energy_height_").removesuffix("s"))
    axes.axvline(at, color=FAINT, lw=0.7, ls=(0, (3, 2)))


def _margin(axes: Axes, traces: Sequence[Trace], least: float, end: float) -> None:
    """Draw the smallest accepted stall margin, and what goes below it in the one colour kept for that."""
    axes.axhline(least, color=MARGIN, lw=0.7)
    axes.text(
        0.995,
        least,
        tr("least accepted {least}", least=f"{least:.2f}"),
        transform=axes.get_yaxis_transform(),
        ha="right",
        va="bottom",
        fontsize=SMALL_PT,
        color=QUIET,
    )
    for trace, style in zip(traces, _STYLES, strict=False):
        below = np.where((trace.stall_ratio < least) & (trace.t_s <= end), trace.stall_ratio, np.nan)
        if np.isfinite(below).any():
            axes.plot(trace.t_s, below, color=PAPER, lw=2.6)
            axes.plot(trace.t_s, below, color=MARGIN, lw=1.8, ls=style)


def _device(
    axes: Axes, traces: Sequence[Trace], values: Callable[[Trace], FloatArray], colour: str, label: str
) -> None:
    for trace, style in zip(traces, _STYLES, strict=False):
        axes.plot(trace.t_s, values(trace), color=colour, lw=1.5, ls=style)
    top = max(float(np.max(values(trace))) for trace in traces) or 1.0
    axes.set_ylim(-0.08 * top, 1.12 * top)
    axes.set_yticks([0.0, top], labels=["0", f"{top:.0f}"])
    axes.set_ylabel(label, fontsize=SMALL_PT)


def _heads(figure: Any, titles: Sequence[str], height: float) -> None:
    """Name the techniques above the strips, each with a sample of its line."""
    width = float(figure.get_figwidth())
    for i, title in enumerate(titles):
        y = 1.0 - (_HEAD * (i + 0.5)) / height
        line = figure.add_artist(_sample(y, _STYLES[i], width))
        line.set_transform(figure.transFigure)
        text = f"{LETTERS[i]}  {title}"
        size = fitting(text, TEXT_PT, width - _LEFT - 0.38)
        figure.text((_LEFT + 0.36) / width, y, text, va="center", ha="left", fontsize=size)


def _sample(y: float, style: Any, width: float) -> Any:
    return Line2D([_LEFT / width, (_LEFT + 0.28) / width], [y, y], color=INK, lw=1.2, ls=style)
