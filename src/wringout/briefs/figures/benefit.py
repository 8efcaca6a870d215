"""Why one technique is ahead: energy height gained over time by device, where its energy goes, and its stall margin."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter

from wringout.briefs.content import Units
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
from wringout.briefs.numbers import number
from wringout.numerals import metric, symbol
from wringout.units import from_si, to_si

_LINES = (
    ("gear_ft", "through the gear's drag", GEAR, (0, (5, 1.6))),
    ("flaps_ft", "through the flaps' drag", FLAPS, (0, (1.6, 1.2))),
    ("rest_ft", "through anything else", QUIET, (0, (6, 1.4, 1.4, 1.4))),
    ("ahead_ft", "ahead in all", INK, "solid"),
)


_ENDINGS = {"_ft": "ft", "_fpm": "ft/min", "_ft2": "ft2"}
"""Endings of the names of a document's lists, and the unit each list is in."""


def _in_units(document: Mapping[str, Any], units: Units) -> Mapping[str, Any]:
    """Return a document with its lists in metric units where these are wanted; the names stay."""
    if units == "aviation":
        return document
    unit_of = {key: _ENDINGS.get(key[key.rfind("_") :], "") for key in document}
    return {
        key: [float(from_si(to_si(x, unit_of[key]), metric(unit_of[key]))) for x in values] if unit_of[key] else values
        for key, values in document.items()
    }


def _sign(unit: str, units: Units) -> str:
    return symbol(metric(unit) if units == "metric" else unit)


def benefit_figure(why: Mapping[str, Any], name: str = "benefit", units: Units = "aviation") -> str:
    """Return the figure as SVG; ``why`` is that of a search's document (docs/json.md)."""
    why, times = _in_units(why, units), why["t_s"]
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
        axes.set_xlabel("time, s")
        axes.set_ylabel(f"energy height ahead, {_sign('ft', units)}")
        return svg_of(figure, name)


def _signed(value: float) -> str:
    text = f"{abs(value):.0f}"
    return text if value > 0.0 or text == "0" else f"\N{MINUS SIGN}{text}"


def benefit_words(why: Mapping[str, Any], units: Units = "aviation") -> str:
    """Return the figure in words."""
    why = _in_units(why, units)
    said = ", ".join(f"{words} {_signed(why[key][-1])} {_sign('ft', units)}" for key, words, *_ in reversed(_LINES))
    return f"Energy height gained over {why['t_s'][-1]:.0f} s: {said}"


_RATES = (
    ("thrust_fpm", "thrust", POWER, "solid", 1.0),
    ("total_fpm", "left over", INK, "solid", 1.0),
    ("gear_fpm", "gear", GEAR, (0, (5, 1.6)), -1.0),
    ("flaps_fpm", "flaps", FLAPS, (0, (1.6, 1.2)), -1.0),
    ("clean_fpm", "clean airplane", QUIET, (0, (6, 1.4, 1.4, 1.4)), -1.0),
    ("induced_fpm", "lift and the rest", FAINT, "solid", -1.0),
)
_AREAS = (("gear_area_ft2", "gear", GEAR, (0, (5, 1.6))), ("flaps_area_ft2", "flaps", FLAPS, (0, (1.6, 1.2))))
_LEFT_IN, _RIGHT_IN, _FOOT_IN, _GAP_IN, _TOP_IN = 0.5, 1.2, 0.4, 0.2, 0.1
_ENERGY_IN, _PANEL_IN = 2.05, 0.95


def flight_figure(
    flight: Mapping[str, Any], lowest_ratio: float, name: str = "flight", units: Units = "aviation"
) -> str:
    """Return where the energy goes over time, the drag area of each device, and V/Vs with its lowest; on one clock.

    Args:
        flight: of a search's or a matchup's document (docs/json.md); one kept earlier has no drag areas.
        lowest_ratio: V/Vs that must be kept. name: of inner ids. units: of the brief or page.
    """
    flight = _in_units(flight, units)
    times, has_areas = flight["t_s"], _AREAS[0][0] in flight
    heights = [_ENERGY_IN, *([_PANEL_IN] if has_areas else []), _PANEL_IN]
    total = _FOOT_IN + sum(heights) + _GAP_IN * (len(heights) - 1) + _TOP_IN
    with styled(total) as figure:
        tops = [total - _TOP_IN - sum(heights[:i]) - _GAP_IN * i for i in range(len(heights))]
        panels = [
            figure.add_axes(
                (_LEFT_IN / WIDTH_IN, (top - high) / total, 1.0 - (_LEFT_IN + _RIGHT_IN) / WIDTH_IN, high / total)
            )
            for top, high in zip(tops, heights, strict=True)
        ]
        for axes in panels:
            axes.set_xlim(times[0], times[-1])
            axes.tick_params(labelbottom=axes is panels[-1])
        _draw_energy(panels[0], flight, _sign("ft/min", units))
        if has_areas:
            _draw_areas(panels[1], flight, _sign("ft2", units))
        _draw_margin(panels[-1], flight, lowest_ratio)
        panels[-1].set_xlabel("time, s")
        return svg_of(figure, name)


def _draw_energy(axes: Axes, flight: Mapping[str, Any], unit: str) -> None:
    times = flight["t_s"]
    axes.axhline(0.0, color=FAINT, lw=0.6)
    lines = [[sign * value for value in flight[key]] for key, _, _, _, sign in _RATES]
    low, high = min(map(min, lines)), max(map(max, lines))
    pad = 0.05 * max(high - low, 0.1)
    axes.set_ylim(low - pad, high + pad)
    ends = apart([line[-1] for line in lines], 0.085 * (high - low + 2.0 * pad), low - pad, high + pad)
    for (_, words, colour, style, _), line, at in zip(_RATES, lines, ends, strict=True):
        axes.plot(times, line, color=colour, ls=style, lw=1.6)
        _named(axes, words, (times[-1], line[-1]), at)
    places = 0 if high - low > 10.0 else 1 if high - low > 2.0 else 2
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: number(value, places)))
    axes.set_ylabel(f"rate of energy height, {unit}")


def _draw_areas(axes: Axes, flight: Mapping[str, Any], unit: str) -> None:
    times = flight["t_s"]
    high = 1.08 * max(0.1, *(max(flight[key]) for key, *_ in _AREAS))
    axes.set_ylim(-0.04 * high, high)
    ends = apart([flight[key][-1] for key, *_ in _AREAS], 0.2 * high, 0.0, high)
    for (key, words, colour, style), at in zip(_AREAS, ends, strict=True):
        axes.plot(times, flight[key], color=colour, ls=style, lw=1.6)
        _named(axes, words, (times[-1], flight[key][-1]), at)
    axes.set_ylabel(f"drag area, {unit}")


def _draw_margin(axes: Axes, flight: Mapping[str, Any], lowest_ratio: float) -> None:
    times, ratio = flight["t_s"], flight["stall_ratio"]
    axes.plot(times, ratio, color=INK, lw=1.6)
    axes.axhline(lowest_ratio, color=MARGIN, lw=1.2, ls=(0, (4, 2)))
    axes.set_ylim(min(1.0, *ratio) - 0.03, max(ratio) + 0.08)
    _named(axes, "V/Vs", (times[-1], ratio[-1]), ratio[-1])
    _named(axes, f"lowest, {lowest_ratio:.2f}", (times[-1], lowest_ratio), lowest_ratio)
    axes.set_ylabel("V/Vs")


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


def flight_words(flight: Mapping[str, Any], lowest_ratio: float, units: Units = "aviation") -> str:
    """Return the figure in words."""
    flight = _in_units(flight, units)
    least = min(flight["stall_ratio"])
    when = flight["t_s"][flight["stall_ratio"].index(least)]
    areas = ""
    if _AREAS[0][0] in flight:
        places = 1 if units == "aviation" else 2
        said = (
            f"{words} {flight[key][0]:.{places}f} to {flight[key][-1]:.{places}f} {_sign('ft2', units)}"
            for key, words, *_ in _AREAS
        )
        areas = f" drag area over time, {', '.join(said)};"
    return (
        f"Rates of energy height, thrust less drag by part;{areas} and V/Vs, which is lowest with {least:.2f} after "
        f"{when:.0f} s; {lowest_ratio:.2f} must be kept"
    )
