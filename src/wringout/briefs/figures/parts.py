"""What figures share: intervals as two weights of line, labels that keep apart, and quiet axes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

from wringout.briefs.catalogue import tr
from wringout.briefs.house_style import FLAPS, GEAR, HAIR, INK, PAPER, SANS, WASH, known_fonts
from wringout.recordings.types import Device

THIN, THICK = 0.9, 3.0


def device_colour(device: Device | str | None) -> str:
    """Return the one colour of a device: gear orange, flaps blue, anything else ink."""
    if device is None:
        return INK
    name = str(device)
    return GEAR if name.startswith("gear") else FLAPS if name.startswith("flap") else INK


def draw_interval(
    axes: Axes,
    at: float,
    value: float,
    half: tuple[float, float],
    most: tuple[float, float],
    colour: str,
    marker: str = "o",
    size: float = 4.2,
    *,
    filled: bool = True,
) -> None:
    """Draw a value with its intervals along x at height ``at``: 95 % thin, 50 % thick, the value as a mark."""
    axes.plot(most, (at, at), color=colour, lw=THIN, solid_capstyle="butt", zorder=3)
    axes.plot(half, (at, at), color=colour, lw=THICK, solid_capstyle="butt", zorder=3)
    axes.plot(
        [value],
        [at],
        marker=marker,
        ms=size,
        mfc=colour if filled else PAPER,
        mec=INK if filled else colour,
        mew=0.6 if filled else 1.0,
        ls="none",
        zorder=4,
    )


def draw_belief(axes: Axes, at: float, low: float, high: float, height: float = 0.52) -> None:
    """Draw what was believed before the runs as a pale bar behind an interval."""
    axes.barh([at], [high - low], left=[low], height=height, color=WASH, lw=0.0, zorder=1)


def apart(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Return places moved as little as needed so that neighbours stand ``gap`` apart, within low..high if they fit."""
    order = np.argsort(np.asarray(places, dtype=np.float64), kind="stable")
    moved = np.array([places[i] for i in order], dtype=np.float64)
    for _ in range(200):
        clash = False
        for i in range(1, moved.size):
            missing = gap - (moved[i] - moved[i - 1])
            if missing > 1e-9:
                moved[i - 1] -= 0.5 * missing
                moved[i] += 0.5 * missing
                clash = True
        if moved.size and moved[0] < low:
            moved[0], clash = low, True
        if moved.size and moved[-1] > high and high - low > gap * (moved.size - 1):
            moved[-1], clash = high, True
        if not clash:
            break
    out = [0.0] * len(places)
    for where, i in enumerate(order):
        out[int(i)] = float(moved[where])
    return out


def rows_axes(axes: Axes) -> None:
    """Make axes for rows of intervals: no y axis, faint vertical rules at the ticks, x axis a hairline."""
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.grid(axis="x", color=HAIR, lw=0.4, zorder=0)
    axes.set_axisbelow(True)


def too_small_words(difference: str) -> str:
    """Return the name of the band in which nothing is won."""
    return tr("too small to matter: under {difference}", difference=difference)


def width_in(text: str, points: float) -> float:
    """Return how wide a text is in the sans letters of the figures, inches."""
    known_fonts()
    return float(TextPath((0.0, 0.0), text, points, prop=FontProperties(family=SANS)).get_extents().width) / 72.0


def fitting(text: str, points: float, room: float) -> float:
    """Return the size of letters at which a text is no wider than ``room`` inches: ``points``, or what fits."""
    needed = width_in(text, points)
    return points if needed <= room else points * room / needed


def broken(text: str, points: float, room: float) -> str:
    """Return a text broken between words into lines no wider than ``room`` inches."""
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_in(longer, points) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return "\n".join(lines)


def unit_label(what: str, symbol: str) -> str:
    """Return an axis title with its unit, such as "drag area, ft²"."""
    return f"{what}, {symbol}" if symbol else what
