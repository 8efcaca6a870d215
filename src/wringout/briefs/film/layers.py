"""The two pictures a film is cut from: the strips still ahead, pale, and the strips as flown, with their marks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import NDArray

from wringout.briefs.figures.parts import unit_label
from wringout.briefs.film.content import Film, FilmStrip
from wringout.briefs.film.palette import palette
from wringout.briefs.house_style import SMALL_PT, place, styled
from wringout.plain_text import visible

Picture = NDArray[np.uint8]

WIDE_IN, TALL_IN = 8.0, 4.5
LEFT_IN, RIGHT_IN, TOP_IN, FOOT_IN, GAP_IN = 0.98, 1.25, 0.62, 0.5, 0.14
_FEW = 240
"""A strip of no more readings than this shows each of them."""
_LONGEST = 90


@dataclass(frozen=True, slots=True)
class Layers:
    """The pictures (height, width, RGBA), the columns of the first and the last moment, and each strip's rows.

    ``low`` and ``high`` are a strip's values at its lowest and highest row.
    """

    ahead: Picture
    flown: Picture
    left: float
    right: float
    top: int
    foot: int
    rows: tuple[tuple[float, float], ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


def draw_layers(film: Film) -> Layers:
    """Return the pictures of a film."""
    spans = [_span(strip, film) for strip in film.strips]
    ahead, _ = _picture(film, spans, flown=False)
    flown, boxes = _picture(film, spans, flown=True)
    height = float(film.size[1])
    rows = tuple((height - box[1], height - box[3]) for box in boxes)
    left, right = (boxes[0][0], boxes[0][2]) if boxes else (0.0, 1.0)
    foot, top = (round(rows[-1][0]), round(rows[0][1])) if rows else (0, 0)
    return Layers(ahead, flown, left, right, top, foot, rows, tuple(s[0] for s in spans), tuple(s[1] for s in spans))


def _span(strip: FilmStrip, film: Film) -> tuple[float, float]:
    """Return the range of values a strip shows."""
    inside = (strip.time_s >= film.begins_s) & (strip.time_s <= film.begins_s + film.seconds)
    known = strip.values[inside & np.isfinite(strip.values)]
    if not known.size:
        return 0.0, 1.0
    low, high = float(known.min()), float(known.max())
    room = 0.08 * (high - low) or max(0.05 * abs(high), 0.5)
    return low - room, high + room


def _picture(
    film: Film, spans: list[tuple[float, float]], *, flown: bool
) -> tuple[Picture, list[tuple[float, float, float, float]]]:
    colours = palette(film.dark)
    with styled(TALL_IN, WIDE_IN) as figure:
        figure.set_dpi(film.height / TALL_IN)
        canvas = FigureCanvasAgg(figure)
        each = (TALL_IN - TOP_IN - FOOT_IN - GAP_IN * (len(film.strips) - 1)) / max(len(film.strips), 1)
        every = []
        for number, (strip, span) in enumerate(zip(film.strips, spans, strict=True)):
            top = TOP_IN + number * (each + GAP_IN)
            axes = place(figure, LEFT_IN, TALL_IN - top - each, RIGHT_IN, top)
            _strip(axes, film, strip, span, colours, flown=flown)
            axes.tick_params(labelbottom=number == len(film.strips) - 1)
            every.append(axes)
        if every:
            every[-1].set_xlabel("time in the film, s", color=colours["quiet"])
            if flown:
                _marks(every, film, colours)
        _title(figure, film, colours)
        canvas.draw()  # type: ignore[no-untyped-call]
        boxes = [_box(axes) for axes in every]
        width, height = film.size
        whole = np.asarray(canvas.buffer_rgba(), dtype=np.uint8)  # type: ignore[no-untyped-call]
        picture = whole[:height, :width].copy()
    return picture, boxes


def _box(axes: Axes) -> tuple[float, float, float, float]:
    """Return left, foot, right and top of axes in pixels, counted from the foot of the picture."""
    left, foot, right, top = (float(x) for x in axes.get_window_extent().extents)
    return left, foot, right, top


def _title(figure: Figure, film: Film, colours: dict[str, str]) -> None:
    title = visible(film.title)[:_LONGEST]
    figure.text(LEFT_IN / WIDE_IN, 1.0 - 0.17 / TALL_IN, title, color=colours["ink"], va="center", ha="left")


def _strip(
    axes: Axes, film: Film, strip: FilmStrip, span: tuple[float, float], colours: dict[str, str], *, flown: bool
) -> None:
    axes.set_xlim(0.0, film.frames / film.fps)
    axes.set_ylim(*span)
    axes.grid(axis="x", color=colours["hair"], lw=0.4)
    for spine in axes.spines.values():
        spine.set_color(colours["faint"])
    axes.tick_params(color=colours["faint"], labelcolor=colours["quiet"])
    axes.locator_params(axis="y", nbins=4)
    axes.set_ylabel(_wrapped(unit_label(strip.title, strip.unit)), color=colours["quiet"], fontsize=SMALL_PT)
    axes.yaxis.set_label_coords(-0.52 / (WIDE_IN - LEFT_IN - RIGHT_IN), 0.5)
    colour = colours[strip.device] if strip.device in colours else colours["ink"]
    known = np.isfinite(strip.values)
    few = int(known.sum()) <= _FEW
    times, values = (strip.time_s[known], strip.values[known]) if few else (strip.time_s, strip.values)
    axes.plot(
        times - film.begins_s,
        values,
        color=colour,
        lw=1.8 if flown else 1.0,
        alpha=1.0 if flown else 0.25,
        marker="o" if few else "",
        ms=3.0,
        mew=0.0,
    )


def _wrapped(label: str) -> str:
    """Return a long axis title in two lines."""
    first, _, rest = label.partition(", ")
    return f"{first},\n{rest}" if len(label) > 16 and rest else label


def _marks(every: list[Axes], film: Film, colours: dict[str, str]) -> None:
    """Draw each mark over all strips and name it above them, in two rows where names come close."""
    end = film.frames / film.fps
    free = [-1.0, -1.0]
    for mark in sorted(film.marks, key=lambda one: one.time_s):
        at = mark.time_s - film.begins_s
        if not 0.0 <= at <= end:
            continue
        for axes in every:
            axes.axvline(at, color=colours["quiet"], lw=0.9, ls=(0, (3, 2)))
        words = visible(mark.words)[:28]
        row = 0 if free[0] <= at else 1 if free[1] <= at else -1
        if row < 0:
            continue
        free[row] = at + 0.012 * end * (len(words) + 2)
        rise = 0.03 + 0.16 * row
        tall = every[0].get_position().height * TALL_IN
        every[0].text(
            at,
            1.0 + rise / tall,
            words,
            transform=every[0].get_xaxis_transform(),
            ha="left" if at < 0.8 * end else "right",
            va="bottom",
            color=colours["ink"],
            fontsize=SMALL_PT,
        )
