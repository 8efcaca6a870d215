"""Why one technique is ahead: energy height gained over time by device, where its energy goes, and its stall margin."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from matplotlib.axes import Axes

from wringout.briefs.figures.parts import apart
from wringout.briefs.house_style import (
    FAINT,
    FLAPS,
    GEAR,
    INK,
    MARGIN,
    POWER,
    QUIET,
    SMALL_PT,
    WIDTH_IN,
    place,
    styled,
    svg_of,
)

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
            _named(axes, f"{words} {_signed(why[key][-1])}", (times[-1], why[key][-1]), at)
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


_RATES = (
    ("thrust_fpm", "thrust", POWER, "solid", 1.0),
    ("total_fpm", "left over", INK, "solid", 1.0),
    ("gear_fpm", "gear", GEAR, (0, (5, 1.6)), -1.0),
    ("flaps_fpm", "flaps", FLAPS, (0, (1.6, 1.2)), -1.0),
    ("clean_fpm", "clean airplane", QUIET, (0, (6, 1.4, 1.4, 1.4)), -1.0),
    ("induced_fpm", "lift and the rest", FAINT, "solid", -1.0),
)
_RIGHT_IN = 1.2


def flight_figure(flight: Mapping[str, Any], lowest_ratio: float, name: str = "flight") -> str:
    """Return where the energy goes over time, and V/Vs with its lowest acceptable value; both on one clock.

    Args:
        flight: of a search's document (docs/json.md). lowest_ratio: V/Vs that must be kept. name: of inner ids.
    """
    times = flight["t_s"]
    with styled(3.7) as figure:
        above = figure.add_axes((0.5 / WIDTH_IN, 1.55 / 3.7, 1.0 - (0.5 + _RIGHT_IN) / WIDTH_IN, 2.05 / 3.7))
        below = figure.add_axes((0.5 / WIDTH_IN, 0.4 / 3.7, 1.0 - (0.5 + _RIGHT_IN) / WIDTH_IN, 0.95 / 3.7))
        above.axhline(0.0, color=FAINT, lw=0.6)
        lines = [[sign * value for value in flight[key]] for key, _, _, _, sign in _RATES]
        low, high = min(map(min, lines)), max(map(max, lines))
        pad = 0.05 * max(high - low, 1.0)
        above.set_ylim(low - pad, high + pad)
        ends = apart([line[-1] for line in lines], 0.085 * (high - low + 2.0 * pad), low - pad, high + pad)
        for (_, words, colour, style, _), line, at in zip(_RATES, lines, ends, strict=True):
            above.plot(times, line, color=colour, ls=style, lw=1.6)
            _named(above, words, (times[-1], line[-1]), at)
        above.set_ylabel("rate of energy height, ft/min")
        below.plot(times, flight["stall_ratio"], color=INK, lw=1.6)
        below.axhline(lowest_ratio, color=MARGIN, lw=1.2, ls=(0, (4, 2)))
        below.set_ylim(min(1.0, *flight["stall_ratio"]) - 0.03, max(flight["stall_ratio"]) + 0.08)
        _named(below, "V/Vs", (times[-1], flight["stall_ratio"][-1]), flight["stall_ratio"][-1])
        _named(below, f"lowest, {lowest_ratio:.2f}", (times[-1], lowest_ratio), lowest_ratio)
        below.set_ylabel("V/Vs")
        below.set_xlabel("time from the decision, s")
        for axes in (above, below):
            axes.set_xlim(times[0], times[-1])
        above.tick_params(labelbottom=False)
        return svg_of(figure, name)


def _named(axes: Axes, words: str, end: tuple[float, float], at: float) -> None:
    """Write a line's name right of its end."""
    axes.annotate(
        words,
        end,
        xytext=(end[0] * 1.025, at),
        va="center",
        ha="left",
        color=INK,
        fontsize=SMALL_PT,
        annotation_clip=False,
        arrowprops={"arrowstyle": "-", "lw": 0.5, "color": QUIET, "shrinkA": 1.5, "shrinkB": 1.0},
    )


def flight_words(flight: Mapping[str, Any], lowest_ratio: float) -> str:
    """Return the figure in words."""
    least = min(flight["stall_ratio"])
    when = flight["t_s"][flight["stall_ratio"].index(least)]
    return (
        f"Rates of energy height of the best technique, thrust less drag by part, and V/Vs, which is lowest with "
        f"{least:.2f} after {when:.0f} s; {lowest_ratio:.2f} must be kept"
    )
