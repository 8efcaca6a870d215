"""The verdict as a picture: each technique's difference from the leader against the band in which nothing is won."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from wringout.briefs.catalogue import marked, tr
from wringout.briefs.evidence import Evidence
from wringout.briefs.figures.parts import (
    broken,
    draw_interval,
    fitting,
    rows_axes,
    too_small_words,
    unit_label,
    width_in,
)
from wringout.briefs.house_style import (
    FAINT,
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
from wringout.briefs.numbers import NO_BREAK, number
from wringout.briefs.standings import Judged, Place
from wringout.briefs.verdict_words import score_scale, share_beside, share_words
from wringout.techniques.flying.scores import Score
from wringout.techniques.stated.types import Range

_LINE = 0.14
"""Inches of one more line of the axis title."""
_LABEL = 0.2
"""Inches that half of a tick's label takes."""
_ROW, _FOOT, _HEAD, _LEFT, _RIGHT = 0.285, 0.44, 0.22, 0.06, 1.12


def verdict_figure(
    evidence: Evidence, judgement: Judged, rows: Sequence[Place], name: str, width: float = WIDTH_IN
) -> str:
    """Return the verdict chart of a matchup as SVG, ``width`` inches wide; ``rows`` come leader first."""
    scale = score_scale(evidence, judgement)
    label = _broken(unit_label(beside_leader(judgement.score), scale.symbol), width - _LEFT - _RIGHT)
    foot = _FOOT + _LINE * label.count("\n")
    with styled(_ROW * len(rows) + foot + _HEAD, width) as figure:
        axes = place(figure, _LEFT, foot, _RIGHT, _HEAD)
        rows_axes(axes)
        matters = judgement.matchup.thresholds.difference / scale.size
        axes.axvspan(-matters, matters, color=WASH, lw=0.0, zorder=0)
        axes.axvline(0.0, color=FAINT, lw=0.7, zorder=1)
        low, high = _span(rows, scale.size, matters)
        axes.set_xlim(low, high)
        axes.set_ylim(len(rows) - 0.4, -0.6)
        axes.set_yticks([])
        axes.set_xticks(_ticks(axes, width - _LEFT - _RIGHT))
        for i, row in enumerate(rows):
            _row(axes, i, row, scale.size, judgement, width - _LEFT - _RIGHT)
        unit = f"{NO_BREAK}{scale.symbol}" if scale.symbol else ""
        band = too_small_words(f"{number(matters, 0 if matters >= 10.0 else 1)}{unit}")
        axes.text(matters, -0.66, band, ha="right", va="bottom", fontsize=SMALL_PT, color=QUIET)
        axes.set_xlabel(label)
        return svg_of(figure, name)


def _broken(label: str, room: float) -> str:
    """Return the axis title in lines no wider than ``room`` inches, broken behind its first comma where it must be."""
    head, comma, tail = label.partition(", ")
    if not comma or width_in(label, TEXT_PT) <= room:
        return broken(label, TEXT_PT, room)
    return "\n".join(broken(part, TEXT_PT, room) for part in (f"{head},", tail))


def _ticks(axes: Axes, broad: float) -> list[float]:
    """Return the ticks whose labels stand whole within the figure; ``broad``: inches across."""
    low, high = axes.get_xlim()
    room = (_LABEL - _LEFT) / broad * (high - low)
    return [
        float(tick)
        for tick in MaxNLocator(6, steps=[1, 2, 5, 10]).tick_values(low, high)
        if low + room <= tick <= high - room
    ]


def beside_leader(score: Score) -> str:
    """Return what lies along the scale: more is better, also where less of the score is."""
    less, better = marked("{title}, less that of the leader"), marked("{title}, better than the leader by")
    message = less if score.larger_is_better else better
    return tr(message, title=tr(score.title))


def _span(rows: Sequence[Place], size: float, matters: float) -> Range:
    """Return the range of x: all middle values, 95 % intervals as far as that is no waste, and the band."""
    middles = [q / size for row in rows for q in (row.ahead, *row.half) if math.isfinite(q)]
    wide = [q / size for row in rows for q in row.most if math.isfinite(q)]
    low, high = min(middles), max(middles)
    room = max(high - low, matters)
    low = min(max(min(wide), low - 0.6 * room), -1.25 * matters)
    high = max(min(max(wide), high + 0.6 * room), 1.25 * matters)
    pad = 0.03 * (high - low)
    return low - pad, high + pad


def _row(axes: Axes, at: int, row: Place, size: float, judgement: Judged, broad: float) -> None:
    """Draw one technique: its name above, its difference below, and what is known of it on the right.

    ``broad``: inches across.
    """
    words: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "fontsize": SMALL_PT, "clip_on": False}
    quiet, accepted = not row.technique.complete, row.standing.acceptable
    title = row.technique.title
    small = {**words, "fontsize": fitting(title, SMALL_PT, broad + _RIGHT - 0.04)}
    back = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.6}
    axes.text(
        0.0, at - 0.12, title, ha="left", va="bottom", color=QUIET if quiet else INK, bbox=back, zorder=2, **small
    )
    low, high = axes.get_xlim()

    def on_scale(pair: Range) -> Range:
        return max(low, min(high, pair[0] / size)), max(low, min(high, pair[1] / size))

    marker = "D" if row.leads else "o" if accepted else "X"
    value = on_scale((row.ahead, row.ahead))[0]
    colour = INK if accepted else MARGIN
    draw_interval(axes, at + 0.2, value, on_scale(row.half), on_scale(row.most), colour, marker, 4.4, filled=not quiet)
    right = 1.0 + 0.08 / broad
    axes.text(right, at + 0.2, _said(row, judgement), ha="left", va="center", color=colour, **words)


def _said(row: Place, judgement: Judged) -> str:
    """Return what stands right of a row, in few words."""
    if not row.standing.acceptable:
        return tr(
            "margin broken: {share}",
            share=share_beside(row.broken_share, judgement.matchup.thresholds.allowed_share),
        )
    if row.leads:
        return tr("leader")
    if row.same_as_leader:
        return tr("flies as the leader")
    if row.behind_share >= judgement.matchup.thresholds.probability:
        return tr("behind in {share}", share=share_words(row.behind_share))
    return tr("too close to call")
