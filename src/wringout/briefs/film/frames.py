"""Frames of a film, one after another: the pale strips ahead, the strips as flown up to the cursor, the numbers now."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg

from wringout.briefs.film.content import Film, reading_at
from wringout.briefs.film.layers import RIGHT_IN, TALL_IN, Layers, Picture, draw_layers
from wringout.briefs.film.palette import palette
from wringout.briefs.house_style import styled
from wringout.briefs.numbers import MINUS, number

_SIGNS = "0123456789.,:" + MINUS
_NUMBER_PT, _UNIT_PT = 15.0, 8.0


@dataclass(frozen=True, slots=True)
class Signs:
    """Digits and units as small pictures, so that a number is set into a frame without drawing it anew."""

    digits: Mapping[str, Picture]
    units: Mapping[str, Picture]


def frames(film: Film) -> Iterator[Picture]:
    """Yield every frame, shape (height, width, 4), RGBA with straight alpha.

    Only the two layers and one frame are held, however long the film.
    """
    layers, signs = draw_layers(film), make_signs(film)
    for index in range(film.frames):
        yield frame(film, layers, signs, index)


def frame(film: Film, layers: Layers, signs: Signs, index: int) -> Picture:
    """Return one frame, counted from 0."""
    picture = layers.ahead.copy()
    column = cursor_column(film, layers, index)
    left = math.floor(layers.left)
    picture[:, left:column] = layers.flown[:, left:column]
    ink = _rgba(palette(film.dark)["ink"])
    picture[layers.top : layers.foot, column : column + max(film.height // 540, 1)] = ink
    for place_of, strip in enumerate(film.strips):
        value = reading_at(strip, film.time_of(index))
        if math.isfinite(value):
            _readout(film, layers, signs, picture, place_of, number(value, strip.places))
    return picture


def cursor_column(film: Film, layers: Layers, index: int) -> int:
    """Return the column of pixels at which the cursor of a frame stands."""
    share = (index / film.fps) / (film.frames / film.fps)
    return round(layers.left + share * (layers.right - layers.left))


def _readout(film: Film, layers: Layers, signs: Signs, picture: Picture, place_of: int, text: str) -> None:
    """Set a number and its unit right of a strip, at half its height."""
    foot, top = layers.rows[place_of]
    x = round(layers.right + 0.12 * film.height / TALL_IN)
    tall = next(iter(signs.digits.values())).shape[0]
    y = max(round(0.5 * (foot + top)) - tall // 2, 0)
    for sign in text:
        if sign in signs.digits:
            x = _put(picture, signs.digits[sign], x, y)
    unit = signs.units.get(film.strips[place_of].unit)
    if unit is not None:
        _put(picture, unit, x + round(0.05 * film.height / TALL_IN), y)


def _put(picture: Picture, sign: Picture, x: int, y: int) -> int:
    """Copy a small picture into a frame and return where the next one begins."""
    height, width = sign.shape[:2]
    height, width = min(height, picture.shape[0] - y), max(min(width, picture.shape[1] - x), 0)
    picture[y : y + height, x : x + width] = sign[:height, :width]
    return x + int(width)


def make_signs(film: Film) -> Signs:
    """Return digits and units of a film as small pictures."""
    units = {strip.unit for strip in film.strips if strip.unit}
    return Signs(
        {sign: _sign(film, sign, _NUMBER_PT) for sign in _SIGNS}, {unit: _sign(film, unit, _UNIT_PT) for unit in units}
    )


def _sign(film: Film, text: str, points: float) -> Picture:
    """Draw text alone, in ink, all of one height and standing on one line; as wide as it is."""
    dpi = film.height / TALL_IN
    high = 2.0 * _NUMBER_PT / 72.0
    with styled(high, RIGHT_IN if len(text) > 1 else high) as figure:
        figure.set_dpi(dpi)
        canvas = FigureCanvasAgg(figure)
        drawn = figure.text(0.0, 0.35, text, color=palette(film.dark)["ink"], fontsize=points, va="baseline", ha="left")
        canvas.draw()  # type: ignore[no-untyped-call]
        wide = math.ceil(drawn.get_window_extent().width + 0.012 * dpi)
        whole = np.asarray(canvas.buffer_rgba(), dtype=np.uint8)  # type: ignore[no-untyped-call]
        return whole[:, :wide].copy()


def _rgba(colour: str) -> tuple[int, int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16), 255
