"""Why one technique is ahead: energy height gained on another over time, and through which device it came."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from wringout.briefs.figures.parts import apart
from wringout.briefs.house_style import FAINT, FLAPS, GEAR, INK, QUIET, SMALL_PT, place, styled, svg_of

_LINES = (
    ("gear_ft", "through the gear's drag", GEAR, (0, (5, 1.6))),
    ("flaps_ft", "through the flaps' drag", FLAPS, (0, (1.6, 1.2))),
    ("rest_ft", "through anything else", QUIET, (0, (6, 1.4, 1.4, 1.4))),
    ("ahead_ft", "ahead in all", INK, "solid"),
)


def benefit_figure(why: Mapping[str, Any], name: str = "benefit") -> str:
    """Return the figure as SVG; ``why`` is that of a search's document (docs/json.md)."""
    times = why["t_s"]
    values = [value for key, *_ in _LINES for value in why[key]]
    low, high = min(0.0, *values), max(0.0, *values)
    pad = 0.06 * max(high - low, 1.0)
    with styled(2.5) as figure:
        axes = place(figure, 0.44, 0.4, 1.55, 0.1)
        axes.axhline(0.0, color=FAINT, lw=0.6)
        axes.set_xlim(times[0], times[-1])
        axes.set_ylim(low - pad, high + pad)
        for key, _, colour, style in _LINES:
            axes.plot(times, why[key], color=colour, ls=style, lw=2.0 if key == "ahead_ft" else 1.5)
        ends = apart([why[key][-1] for key, *_ in _LINES], 0.085 * (high - low + 2 * pad), low - pad, high + pad)
        for (key, words, _, _), at in zip(_LINES, ends, strict=True):
            axes.annotate(
                f"{words} {_signed(why[key][-1])}",
                (times[-1], why[key][-1]),
                xytext=(times[-1] * 1.025, at),
                va="center",
                ha="left",
                color=INK,
                fontsize=SMALL_PT,
                annotation_clip=False,
                arrowprops={"arrowstyle": "-", "lw": 0.5, "color": QUIET, "shrinkA": 1.5, "shrinkB": 1.0},
            )
        axes.set_xlabel("time from the decision, s")
        axes.set_ylabel("energy height ahead, ft")
        return svg_of(figure, name)


def _signed(value: float) -> str:
    text = f"{abs(value):.0f}"
    return text if value > 0.0 or text == "0" else f"\N{MINUS SIGN}{text}"


def benefit_words(why: Mapping[str, Any]) -> str:
    """Return the figure in words."""
    said = ", ".join(f"{words} {_signed(why[key][-1])} ft" for key, words, *_ in reversed(_LINES))
    return f"Energy height gained over {why['t_s'][-1]:.0f} s: {said}"
