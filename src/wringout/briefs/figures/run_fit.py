"""One run: what was read, the fitted curve through it, and what is left between them."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from wringout.briefs.catalogue import tr
from wringout.briefs.evidence import Evidence, RunEvidence
from wringout.briefs.figures.parts import device_colour, unit_label
from wringout.briefs.house_style import FAINT, HAIR, HALF_IN, INK, PAPER, QUIET, SMALL_PT, WASH, place, styled, svg_of
from wringout.briefs.numbers import MINUS, NO_BREAK, number, places_for
from wringout.estimate.fit import Flag

FloatArray = NDArray[np.float64]

_LEFT, _TALL = 0.5, 1.9
_LABEL_X = -0.37 / (HALF_IN - _LEFT - 0.12)


def run_figure(evidence: Evidence, run: RunEvidence) -> str:
    """Return the figure of a run as SVG: a speed history where it has one, else its readings one by one."""
    return _history(evidence, run) if run.report.curve is not None else _readings(evidence, run)


def _history(evidence: Evidence, run: RunEvidence) -> str:
    curve = run.report.curve
    if curve is None:
        raise ValueError("the run has no fitted curve")
    scale = evidence.scale(run.method.observed_unit)
    times = np.asarray(run.run.time_s, dtype=np.float64)
    seen, fitted = run.fit.observed / scale.size, run.fit.predicted / scale.size
    with styled(_TALL, HALF_IN) as figure:
        top = place(figure, _LEFT, 0.76, 0.12, 0.06)
        strip = place(figure, _LEFT, 0.42, 0.12, _TALL - 0.42 - 0.28)
        strip.sharex(top)
        flagged = np.zeros(times.size, dtype=bool)
        flagged[list(run.fit.flagged)] = True
        top.plot(curve.time_s, curve.value / scale.size, color=device_colour(run.device), lw=1.8, zorder=2)
        _readings_as_marks(top, times, seen, flagged)
        spread = max(float(np.ptp(np.concatenate((seen, fitted)))), 4.0)
        under = 0.4 if any(flag.deviation < 0.0 for flag in run.flags) else 0.07
        low = min(float(seen.min()), float(fitted.min())) - under * spread
        high = max(float(seen.max()), float(fitted.max()))
        top.set_ylim(low, high + 0.16 * spread)
        top.set_ylabel(unit_label(tr("indicated airspeed"), scale.symbol), fontsize=SMALL_PT)
        top.tick_params(labelbottom=False)
        words = [evidence.told(text) for text in str(run.run.title).split(", then ")]
        _marks(top, strip, run, words, high + 0.05 * spread, float(times[-1]))
        for flag in run.flags:
            _flag_words(top, flag, times, scale.size, scale.symbol)
        _residual_strip(strip, times, seen - fitted, run.fit.sd / scale.size, flagged, scale.symbol)
        for axes in (top, strip):
            axes.yaxis.set_label_coords(_LABEL_X, 0.5)
        strip.set_xlabel(tr("time from the first reading, s"))
        strip.set_xlim(min(0.0, float(times[0])) - 0.02 * times[-1], times[-1] * 1.02)
        return svg_of(figure, run.anchor)


def _readings_as_marks(axes: Axes, x: FloatArray, y: FloatArray, flagged: NDArray[np.bool_]) -> None:
    axes.plot(x[~flagged], y[~flagged], "o", ms=3.4, mfc=PAPER, mec=INK, mew=0.8, zorder=3)
    if flagged.any():
        axes.plot(x[flagged], y[flagged], "x", ms=4.6, mfc=INK, mec=INK, mew=1.1, zorder=3)
        axes.plot(x[flagged], y[flagged], "o", ms=8.5, mfc="none", mec=INK, mew=0.5, zorder=3)


def _marks(top: Axes, strip: Axes, run: RunEvidence, words: list[str], at: float, end: float) -> None:
    """Draw when devices were selected, and name it directly above the line."""
    for i, move in enumerate(run.run.moves):
        for axes in (top, strip):
            axes.axvline(move.select_s, color=FAINT, lw=0.6, ls=(0, (3, 2)), zorder=1)
        text = words[i] if i < len(words) else tr(str(move.device))
        right = move.select_s < 0.75 * end
        top.text(
            move.select_s + (0.008 if right else -0.008) * end,
            at,
            text,
            ha="left" if right else "right",
            va="bottom",
            color=INK,
        )


def _flag_words(axes: Axes, flag: Flag, times: FloatArray, size: float, symbol: str) -> None:
    """Say beside a flagged reading how far off it is, on the side that leads away from the curve."""
    x, off = float(times[flag.index]), flag.deviation / size
    sign = MINUS if off < 0.0 else "+"
    left, below = x > 0.55 * float(times[-1]), off < 0.0
    axes.annotate(
        tr(
            "row {row}: {off} off the curve;\nkept, given almost no weight",
            row=flag.row,
            off=f"{sign}{abs(off):.0f}{NO_BREAK}{symbol}",
        ),
        (x, flag.observed / size),
        xytext=(-8 if left else 8, -1 if below else 1),
        textcoords="offset points",
        ha="right" if left else "left",
        va="top" if below else "bottom",
        fontsize=SMALL_PT,
        color=QUIET,
        linespacing=1.25,
    )


def _residual_strip(
    axes: Axes, x: FloatArray, residual: FloatArray, sd: FloatArray, flagged: NDArray[np.bool_], symbol: str
) -> None:
    """Draw what the fit leaves, within a band of twice the noise; a flagged reading beyond it is a mark at the edge."""
    limit = max(1.35 * float(np.max(2.0 * sd)), 1.15 * float(np.max(np.abs(residual[~flagged]), initial=0.0)))
    order = np.argsort(x, kind="stable")
    axes.fill_between(x[order], -2.0 * sd[order], 2.0 * sd[order], color=WASH, lw=0.0, zorder=0)
    axes.axhline(0.0, color=HAIR, lw=0.6, zorder=1)
    inside = ~flagged
    axes.vlines(x[inside], 0.0, residual[inside], color=QUIET, lw=0.8, zorder=2)
    axes.plot(x[inside], residual[inside], "o", ms=2.2, mfc=INK, mec=INK, mew=0.0, zorder=3)
    held = np.clip(residual[flagged], -0.92 * limit, 0.92 * limit)
    axes.plot(x[flagged], held, "x", ms=4.0, mfc=INK, mec=INK, mew=1.0, zorder=3)
    axes.set_ylim(-limit, limit)
    places = max(places_for(limit), 0) if limit < 2.0 else 0
    step = float(np.max(2.0 * sd))
    tick = round(step, places) or step
    axes.set_yticks(
        [-tick, 0.0, tick], labels=[number(-tick, places), "0", f"+{number(tick, places)}{NO_BREAK}{symbol}"]
    )
    axes.set_ylabel(tr("left over"), fontsize=SMALL_PT)


def _readings(evidence: Evidence, run: RunEvidence) -> str:
    """Draw each reading beside what the fitted airplane would have shown, in the order of the file."""
    scale = evidence.scale(run.method.observed_unit)
    seen, fitted, sd = run.fit.observed / scale.size, run.fit.predicted / scale.size, run.fit.sd / scale.size
    n = seen.size
    with styled(1.4, HALF_IN) as figure:
        axes = place(figure, _LEFT, 0.42, 0.12, 0.08)
        at = np.arange(1, n + 1, dtype=np.float64)
        flagged = np.zeros(n, dtype=bool)
        flagged[list(run.fit.flagged)] = True
        for x, y, spread in zip(at, fitted, sd, strict=True):
            axes.fill_between([x - 0.3, x + 0.3], y - 2.0 * spread, y + 2.0 * spread, color=WASH, lw=0.0, zorder=0)
        axes.hlines(fitted, at - 0.3, at + 0.3, color=device_colour(run.device), lw=1.6, zorder=2)
        _readings_as_marks(axes, at, seen, flagged)
        axes.set_xlim(0.4, n + 0.6)
        axes.set_ylim(bottom=0.0 if scale.symbol == "s" else None)
        step = max(1, n // 10)
        axes.set_xticks(at[::step], labels=[f"{int(row)}" for row in run.run.rows[::step]])
        axes.set_xlabel(tr("row of the recording"))
        axes.set_ylabel(unit_label(tr("read"), scale.symbol))
        return svg_of(figure, run.anchor)
