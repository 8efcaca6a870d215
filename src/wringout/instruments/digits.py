"""The number on a digital read-out: digits cut out of a box, each likened to shapes it was taught.

Shapes come from frames whose number the user has written down. Digits seen in none of them are likened to plain
built-in shapes (strokes and seven segments), which count for less. A number that jumps away from its neighbours in time
is not believed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from wringout.errors import BadInputError
from wringout.instruments.opencv import opencv

FloatArray = NDArray[np.float64]
GreyImage = NDArray[np.uint8]
Shape = NDArray[np.float32]

SHAPE_WIDTH, SHAPE_HEIGHT = 18, 28
_SEGMENTS = {
    "0": "abcdef", "1": "bc", "2": "abged", "3": "abgcd", "4": "fgbc", "5": "afgcd", "6": "afgedc", "7": "abc",
    "8": "abcdefg", "9": "abcdfg",
}  # fmt: skip
_STROKES = {
    "a": ((3, 3), (14, 3)), "b": ((14, 3), (14, 14)), "c": ((14, 14), (14, 24)), "d": ((3, 24), (14, 24)),
    "e": ((3, 14), (3, 24)), "f": ((3, 3), (3, 14)), "g": ((3, 14), (14, 14)),
}  # fmt: skip
_BUILT_IN_WEIGHT = 0.93
_LEAST_LIKENESS = 0.72
_NEIGHBOUR_S = 1.0
_BRIGHTEST_GROUND = 0.5  # of the contrast; more beside the digits may hide one
_SHARPEST_GROUND = 0.1  # of the contrast, within 3 pixels; an edge beside the digits may hide one


@dataclass(frozen=True, slots=True)
class Taught:
    """Shapes with the digit each stands for, how much a likeness counts, and how tall a digit is [pixels]."""

    digits: tuple[str, ...]
    shapes: Shape
    weights: FloatArray
    height: float


def cut_out(picture: GreyImage, box: tuple[int, int, int, int]) -> GreyImage:
    """Return the part of a picture in a box.

    Raises:
        BadInputError: the box reaches outside the picture.
    """
    left, top, width, height = box
    if left + width > picture.shape[1] or top + height > picture.shape[0]:
        raise BadInputError(
            f"a box of {width} by {height} at {left}, {top} is not inside the picture of {picture.shape[1]} by "
            f"{picture.shape[0]}",
            "box",
            "mark on a frame of this clip",
        )
    return picture[top : top + height, left : left + width]


def teach(samples: Sequence[tuple[GreyImage, str]]) -> Taught:
    """Return the shapes of digits from cut-out read-outs whose number is known, with built-in ones for the rest.

    Raises:
        BadInputError: a sample does not show as many digits as its number has.
    """
    digits: list[str] = []
    shapes: list[Shape] = []
    weights: list[float] = []
    heights: list[float] = []
    for count, (picture, number) in enumerate(samples, 1):
        found = _glyphs(picture, 0.0)
        if len(found) != len(number):
            raise BadInputError(
                f"{len(found)} digits are seen where {number!r} is known", f"known, number {count}",
                "choose a time at which the number is plainly seen, and draw the box round the digits only"
            )  # fmt: skip
        for (shape, height, _), digit in zip(found, number, strict=True):
            digits.append(digit)
            shapes.append(shape)
            weights.append(1.0)
            heights.append(height)
    taught = set(digits)
    for digit, shape in _built_in():
        if digit not in taught:
            digits.append(digit)
            shapes.append(shape)
            weights.append(_BUILT_IN_WEIGHT)
    return Taught(tuple(digits), np.stack(shapes), np.array(weights), float(np.median(heights)) if heights else 0.0)


def read_number(picture: GreyImage, taught: Taught) -> tuple[float, float]:
    """Return the number in a cut-out read-out (NaN where none is made out) and a confidence 0 to 1."""
    found = _glyphs(picture, taught.height)
    if not 1 <= len(found) <= 4:
        return float("nan"), 0.0
    text, confidence = "", 1.0
    for shape, _, whole in found:
        digit, sure = _likest(shape, taught)
        text += digit
        confidence = min(confidence, sure if whole else 0.0)
    return float(text), 0.0 if text[0] == "0" else confidence


def steady(times_s: FloatArray, numbers: FloatArray, confidence: FloatArray, fastest: float) -> FloatArray:
    """Return confidences with those taken away that stand apart from their neighbours in time.

    Args:
        times_s: rising [s].
        numbers: as read.
        confidence: of each.
        fastest: how fast the number can change [1/s].
    """
    kept = confidence.copy()
    sure = np.flatnonzero((confidence >= 0.3) & np.isfinite(numbers))
    for i in sure:
        near = sure[(np.abs(times_s[sure] - times_s[i]) <= _NEIGHBOUR_S) & (sure != i)]
        room = 1.5 + fastest * np.abs(times_s[near] - times_s[i])
        if near.size < 3 or np.mean(np.abs(numbers[near] - numbers[i]) <= room) < 0.6:
            kept[i] = 0.0
    return kept


def _glyphs(picture: GreyImage, usual_height: float) -> list[tuple[Shape, float, bool]]:
    """Return the digits from left to right: shape, height [pixels], and whether it lies whole inside the box."""
    cv2 = opencv()
    smooth = cv2.GaussianBlur(picture, (0, 0), 0.8)
    wide = 2 * (picture.shape[0] // 2) + 1
    light = cv2.morphologyEx(smooth, cv2.MORPH_TOPHAT, np.ones((wide, 15), np.uint8))
    dark = cv2.morphologyEx(smooth, cv2.MORPH_BLACKHAT, np.ones((wide, 15), np.uint8))
    middle = float(np.median(smooth))
    lighter = float(np.percentile(smooth, 98)) - middle >= middle - float(np.percentile(smooth, 2))
    flat = (light if lighter else dark).astype(np.float32)
    top = float(np.percentile(flat, 99.5))
    if top < 12.0:
        return []
    flat = np.clip(flat / top, 0.0, 1.0) * 255
    _, ink = cv2.threshold(flat.astype(np.uint8), 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    count, _, boxes, _ = cv2.connectedComponentsWithStats(_joined(ink), connectivity=8)
    pieces = [tuple(int(v) for v in boxes[i][:4]) for i in range(1, count) if boxes[i][3] >= 0.3 * picture.shape[0]]
    if not pieces:
        return []
    height = usual_height or float(np.median([piece[3] for piece in pieces]))
    pieces = [part for piece in pieces for part in _apart(ink, piece, height)]
    pieces = sorted(p for p in pieces if 0.8 * height <= p[3] <= 1.25 * height and p[2] <= 1.1 * height)
    whole = bool(pieces) and _stands_alone(smooth, pieces, height)
    return [(_normal(flat, p), float(p[3]), whole and _whole(p, picture.shape)) for p in pieces]


def _stands_alone(smooth: GreyImage, pieces: Sequence[tuple[int, ...]], height: float) -> bool:
    """Return whether digits follow each other closely and plain ground lies on both sides, so that none is hidden."""
    if any(after[0] - before[0] - before[2] > 0.6 * height for before, after in pairwise(pieces)):
        return False
    left, top, _, tall = pieces[0]
    right = pieces[-1][0] + pieces[-1][2]
    wide, edge = max(int(0.7 * height), 4), 3
    ground = float(np.median(smooth))
    spread = float(np.percentile(smooth, 98)) - float(np.percentile(smooth, 2))
    for start, end in ((max(left - edge - wide, 0), left - edge), (right + edge, right + edge + wide)):
        beside = smooth[top : top + tall, start : max(end, 0)]
        if beside.shape[1] < 4 or beside.shape[0] < 4:
            continue
        levels = beside.mean(axis=0) - ground
        steps = np.abs(levels[3:] - levels[:-3])
        if np.abs(levels).max() > _BRIGHTEST_GROUND * spread or steps.max() > _SHARPEST_GROUND * spread:
            return False
    return True


def _apart(ink: GreyImage, piece: tuple[int, ...], height: float) -> list[tuple[int, ...]]:
    """Return a piece as it is, or, where it is too wide for one digit, cut where there is least ink."""
    left, top, width, tall = piece
    count = round(width / (0.85 * height))
    if width <= 1.1 * height or not 2 <= count <= 4:
        return [piece]
    columns = (ink[top : top + tall, left : left + width] > 0).sum(axis=0)
    cuts = [0]
    for k in range(1, count):
        middle, room = k * width // count, max(width // (5 * count), 1)
        cuts.append(middle - room + int(np.argmin(columns[middle - room : middle + room + 1])))
    cuts.append(width)
    return [(left + a, top, b - a, tall) for a, b in pairwise(cuts)]


def _joined(ink: GreyImage) -> GreyImage:
    """Return ink with the small gaps between segments of one digit closed upwards and downwards."""
    cv2 = opencv()
    closed: GreyImage = cv2.morphologyEx(ink, cv2.MORPH_CLOSE, np.ones((3, 1), np.uint8))
    return closed


def _whole(piece: tuple[int, ...], shape: tuple[int, ...]) -> bool:
    left, top, width, height = piece
    return left > 0 and top > 0 and left + width < shape[1] and top + height < shape[0]


def _normal(flat: NDArray[np.float32], piece: tuple[int, ...]) -> Shape:
    """Return a digit brought to one height, in the middle of a field of fixed size, with zero mean and unit length."""
    cv2 = opencv()
    left, top, width, height = piece
    part = flat[top : top + height, left : left + width]
    wide = int(np.clip(round(width * (SHAPE_HEIGHT - 4) / height), 2, SHAPE_WIDTH - 2))
    field = np.zeros((SHAPE_HEIGHT, SHAPE_WIDTH), np.float32)
    start = (SHAPE_WIDTH - wide) // 2
    field[2:-2, start : start + wide] = cv2.resize(part, (wide, SHAPE_HEIGHT - 4), interpolation=cv2.INTER_AREA)
    return _unit(field)


def _unit(field: Shape) -> Shape:
    off = field - field.mean()
    unit: Shape = (off / max(float(np.linalg.norm(off)), 1e-6)).astype(np.float32)
    return unit


def _likest(shape: Shape, taught: Taught) -> tuple[str, float]:
    """Return the digit a shape is most like, and how sure that is: how like, and how much more than the next digit."""
    padded = np.pad(shape, 1)
    moved = [padded[1 + y : 1 + y + SHAPE_HEIGHT, 1 + x : 1 + x + SHAPE_WIDTH] for y in (-1, 0, 1) for x in (-1, 0, 1)]
    likeness = np.max(np.tensordot(np.stack(moved), taught.shapes, axes=((1, 2), (1, 2))), axis=0) * taught.weights
    best: dict[str, float] = {}
    for digit, value in zip(taught.digits, likeness.tolist(), strict=True):
        best[digit] = max(best.get(digit, -1.0), value)
    ranked = sorted(best.items(), key=lambda one: -one[1])
    (digit, first), (_, second) = ranked[0], ranked[1]
    like = np.clip((first - _LEAST_LIKENESS) / 0.14, 0.0, 1.0)
    return digit, float(like * np.clip((first - second) / 0.12, 0.0, 1.0))


def _built_in() -> list[tuple[str, Shape]]:
    """Return plain shapes of the ten digits: two fonts of strokes, and seven segments."""
    cv2 = opencv()
    found = []
    for digit, segments in _SEGMENTS.items():
        field = np.zeros((SHAPE_HEIGHT, SHAPE_WIDTH), np.uint8)
        for one in segments:
            cv2.line(field, *_STROKES[one], 255, 3)
        pictures = [field]
        for font in (cv2.FONT_HERSHEY_SIMPLEX, cv2.FONT_HERSHEY_DUPLEX):
            drawn = np.zeros((60, 60), np.uint8)
            cv2.putText(drawn, digit, (15, 48), font, 1.5, 255, 3, cv2.LINE_AA)
            pictures.append(drawn)
        for drawn in pictures:
            left, top, width, height = cv2.boundingRect(drawn)
            found.append((digit, _normal(drawn.astype(np.float32), (left, top, width, height))))
    return found
