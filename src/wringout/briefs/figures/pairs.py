"""Pairs of go-arounds: each pair's difference on the score that was chosen, and their mean with its interval."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes

from wringout.briefs.catalogue import marked, tr
from wringout.briefs.evidence import Evidence
from wringout.briefs.figures.parts import draw_interval, rows_axes, too_small_words, unit_label
from wringout.briefs.house_style import FAINT, INK, PAPER, QUIET, SMALL_PT, WASH, WIDTH_IN, place, styled, svg_of
from wringout.briefs.numbers import NO_BREAK, number
from wringout.methods.go_around_pairs.run import GoAroundRun, differences
from wringout.methods.types import HandResult
from wringout.units import to_si

_LEFT, _RIGHT, _FOOT, _HEAD, _ROW = 0.9, 0.14, 0.42, 0.2, 0.2
_MOST_ROWS = 20


def pairs_figure(evidence: Evidence, run: GoAroundRun, place_of: int, mean: HandResult, name: str) -> str:
    """Return the differences of a run's pairs on the score at ``place_of``, as flown, and their mean, as SVG."""
    score = run.score_list[place_of]
    scale = evidence.scale(score.unit)
    values, pairs = differences(run, run.scores[:, place_of])
    tight = min(1.0, _MOST_ROWS / max(values.size, 1))
    rows = values.size + 1
    tall = _ROW * (tight * values.size + 1.4)
    with styled(tall + _FOOT + _HEAD) as figure:
        axes = place(figure, _LEFT, _FOOT, _RIGHT, _HEAD)
        rows_axes(axes)
        axes.set_ylim(rows - 0.3, -0.7)
        axes.axvline(0.0, color=FAINT, lw=0.7, zorder=1)
        matters = run.matters.get(score.dimension, 0.0) / scale.size
        axes.axvspan(-matters, matters, color=WASH, lw=0.0, zorder=0)
        axes.plot(values / scale.size, np.arange(values.size), "o", ms=4.0, mfc=PAPER, mec=INK, mew=0.8, zorder=3)
        _mean(axes, rows - 1, mean, score.unit, scale.size)
        labels = [tr("pair {name}", name=run.pairs[int(k)]) for k in pairs] if tight == 1.0 else [""] * values.size
        axes.set_yticks(range(rows), labels=[*labels, tr("mean")])
        _words(axes, run, matters, scale.symbol, score.more_is_better, tall)
        entry = mean.key.endswith("at equal entry")
        message = (
            marked("{score}: {one} less {other} (mean at equal entry)")
            if entry
            else marked("{score}: {one} less {other} (mean as flown)")
        )
        one, other = run.techniques
        title = tr(message, score=tr(score.title).lower(), one=one, other=other)
        axes.set_xlabel(unit_label(title, scale.symbol))
        return svg_of(figure, name)


def _mean(axes: Axes, at: float, mean: HandResult, unit: str, size: float) -> None:
    """Draw the mean difference with its 50 and 95 % intervals."""

    def shown(value: float) -> float:
        return float(to_si(value, unit)) / size

    half, most = mean.value.interval(0.5), mean.value.interval(0.95)
    draw_interval(
        axes, at, shown(mean.value.value), (shown(half[0]), shown(half[1])), (shown(most[0]), shown(most[1])), INK, "D"
    )


def _words(axes: Axes, run: GoAroundRun, matters: float, symbol: str, more_is_better: bool, tall: float) -> None:
    """Name the band in which nothing is won, and say on which side which technique is ahead; ``tall`` in inches."""
    low, high = axes.get_xlim()
    reach = max(abs(low), abs(high), 1.25 * matters)
    axes.set_xlim(-reach, reach)
    words: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "fontsize": SMALL_PT, "color": QUIET}
    less, more = run.techniques if not more_is_better else run.techniques[::-1]
    above = 1.0 + 0.05 / tall
    axes.text(-reach, above, tr("{technique} ahead", technique=less), ha="left", va="bottom", **words)
    axes.text(reach, above, tr("{technique} ahead", technique=more), ha="right", va="bottom", **words)
    width = WIDTH_IN - _LEFT - _RIGHT
    if matters > 0.0 and matters / reach * width > 0.75:
        axes.text(0.0, above, too_small_words(f"{number(matters)}{NO_BREAK}{symbol}"), ha="center", **words)
