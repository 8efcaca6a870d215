"""A needle followed round its dial: polar unwrapping, the printed face taken away, and the likeliest path of angles.

Each frame's dial is unwrapped into rows of angle and columns of radius. A needle is a narrow stripe across all radii;
printing, glare and a hand in front of the glass are not. So the contrast of each angle against its neighbours is
limited at every radius before it is averaged, and nothing short or broad can outshout a whole needle. The path through
all frames that a needle of limited pace can follow is found by dynamic programming (Viterbi's algorithm).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from wringout.errors import BadInputError
from wringout.instruments.marks import BEYOND_DEG, DialMarks
from wringout.instruments.opencv import opencv

FloatArray = NDArray[np.float64]
GreyImage = NDArray[np.uint8]
PolarImage = NDArray[np.float32]

BINS = 720
RADII = 24
PER_DEG = BINS / 360.0

_PARTS = 8
_STRIPE_BINS = 5
_SURROUND_BINS = 25
_AWAY_BINS = 24
_RIVAL_DEG = 8.0
_LEAST_CONTRAST = 8.0  # grey levels of 255; below it a needle cannot be told from noise
_OVER_NOISE = 5.0  # standard deviations of the contrast where there is no needle
_MARGIN_PIXELS = 14
_SHARPEST = 3.0


@dataclass(frozen=True, slots=True)
class NeedleTrack:
    """Angles [deg], clockwise from twelve o'clock and continuous with the marks, and confidences 0 to 1, shape (n,)."""

    angles_deg: FloatArray
    confidence: FloatArray


def dial_window(marks: DialMarks, shape: tuple[int, ...]) -> tuple[int, int, int, int]:
    """Return left, top, right, bottom of the part of a picture that holds the dial, with room for shaking.

    Raises:
        BadInputError: the dial reaches outside the picture.
    """
    x, y = marks.centre
    reach = 1.45 * marks.outer
    height, width = shape[:2]
    if not (marks.outer <= x < width - marks.outer and marks.outer <= y < height - marks.outer):
        raise BadInputError(
            f"a dial of {marks.outer:.0f} pixels around {x:g}, {y:g} is not inside the picture of {width} by {height}",
            "centre", "mark on a frame of this clip",
        )  # fmt: skip
    room = reach + _MARGIN_PIXELS
    return max(int(x - room), 0), max(int(y - room), 0), min(int(x + room) + 1, width), min(int(y + room) + 1, height)


def shift_between(reference: GreyImage, picture: GreyImage) -> tuple[float, float]:
    """Return how far a picture is shifted against a reference of the same shape [pixels right, down].

    Phase correlation; (0, 0) where it finds no clear answer.
    """
    cv2 = opencv()
    window = cv2.createHanningWindow(reference.shape[::-1], cv2.CV_32F)
    edges = [cv2.Laplacian(cv2.GaussianBlur(one, (0, 0), 1.2), cv2.CV_32F) for one in (reference, picture)]
    (right, down), response = cv2.phaseCorrelate(np.clip(edges[0], -40, 40), np.clip(edges[1], -40, 40), window)
    if response < 0.08 or max(abs(right), abs(down)) > _MARGIN_PIXELS:
        return 0.0, 0.0
    return float(right), float(down)


def unwrap(picture: GreyImage, centre: tuple[float, float], inner: float, outer: float) -> GreyImage:
    """Return a dial as rows of angle (clockwise from twelve o'clock) and columns of radius, shape (`BINS`, `RADII`)."""
    cv2 = opencv()
    angles = np.radians(np.arange(BINS) / PER_DEG)[:, None]
    radii = np.linspace(inner, outer, RADII)[None, :]
    x = (centre[0] + radii * np.sin(angles)).astype(np.float32)
    y = (centre[1] - radii * np.cos(angles)).astype(np.float32)
    polar: GreyImage = cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return polar


def follow(polars: Sequence[GreyImage], times_s: FloatArray, marks: DialMarks) -> NeedleTrack:
    """Return where the needle stood in each unwrapped frame.

    Args:
        polars: from `unwrap`, one for each time.
        times_s: rising [s].
        marks: the dial.
    """
    stack = np.stack(polars)
    some = stack[np.unique(np.linspace(0, len(stack) - 1, 80).astype(int))]
    sign = _sign(some, marks)
    rough, contrast = _first_look(some, sign, marks)
    face = _face(some, rough)
    noise = np.median([np.median(np.abs(_stripes(one, face, sign))) for one in some[::4]])
    scale = max(float(np.median(contrast)), _LEAST_CONTRAST, _OVER_NOISE * 1.48 * float(noise))
    scores = np.stack([_score(_stripes(one, face, sign), scale) for one in stack])
    path = _path(scores, times_s, marks)
    angles, confidence = _refine(stack, face, sign, scale, scores, path)
    start = float(marks.angles_deg[0]) - 2.0 * BEYOND_DEG
    return NeedleTrack(start + np.mod(angles - start, 360.0), confidence)


def _contrast(field: PolarImage) -> PolarImage:
    """Return how much each angle stands out from the angles on both sides of it, at each radius."""
    stripe = uniform_filter1d(field, _STRIPE_BINS, axis=0, mode="wrap")
    around = uniform_filter1d(field, _SURROUND_BINS, axis=0, mode="wrap")
    share = _STRIPE_BINS / _SURROUND_BINS
    outstanding: PolarImage = (stripe - around) / (1.0 - share)
    return outstanding


def _stripes(polar: GreyImage, face: PolarImage, sign: float) -> PolarImage:
    """Return the contrast of a frame without its printed face, averaged over parts of the radius."""
    field = polar.astype(np.float32)
    known = np.isfinite(face)
    ring = np.median(field, axis=0)
    gain = 1.0
    if known.all(axis=1).sum() > BINS // 4:
        both = face[known], field[known]
        spread = float(np.std(both[0]))
        gain = float(np.clip(np.cov(both[0], both[1])[0, 1] / spread**2, 0.5, 1.6)) if spread > 4.0 else 1.0
    base = np.where(known, gain * face, ring[None, :])
    # Where the face is known only in part, both kinds of angle must have the same level.
    level = np.median(np.where(known, field - base, np.nan)[known.all(axis=1)], axis=0) if known.any() else 0.0
    parts = (sign * (field - base - np.where(known, level, 0.0))).astype(np.float32)
    found: PolarImage = _contrast(parts).reshape(BINS, _PARTS, -1).mean(axis=2)
    return found


def _score(stripes: PolarImage, scale: float) -> FloatArray:
    score: FloatArray = np.clip(stripes / scale, -1.0, 1.2).mean(axis=1).astype(np.float64)
    return score


def _allowed(marks: DialMarks) -> NDArray[np.bool_]:
    """Return which angles the needle can stand at."""
    start = float(marks.angles_deg[0]) - 2.0 * BEYOND_DEG
    span = float(marks.angles_deg[-1] - marks.angles_deg[0]) + 4.0 * BEYOND_DEG
    allowed: NDArray[np.bool_] = np.mod(np.arange(BINS) / PER_DEG - start, 360.0) <= span
    return allowed


def _robust_peak(stripes: PolarImage, allowed: NDArray[np.bool_]) -> tuple[int, float]:
    """Return the angle whose weaker parts stand out most, and by how much."""
    weak = np.partition(stripes, 2, axis=1)[:, 2]
    weak = np.where(allowed, weak, -np.inf)
    best = int(np.argmax(weak))
    return best, float(np.median(stripes[best]))


def _sign(some: NDArray[np.uint8], marks: DialMarks) -> float:
    """Return +1 for a needle lighter than the face, -1 for a darker one."""
    if marks.needle != "either":
        return 1.0 if marks.needle == "light" else -1.0
    nothing = np.full((BINS, RADII), np.nan, dtype=np.float32)
    strength = []
    for sign in (1.0, -1.0):
        peaks = [_robust_peak(_stripes(one, nothing, sign), _allowed(marks))[1] for one in some[::4]]
        strength.append(float(np.median(peaks)))
    return 1.0 if strength[0] >= strength[1] else -1.0


def _first_look(some: NDArray[np.uint8], sign: float, marks: DialMarks) -> tuple[NDArray[np.int64], FloatArray]:
    """Return roughly where the needle stands in some frames, and its contrast there, the face not being known yet."""
    nothing = np.full((BINS, RADII), np.nan, dtype=np.float32)
    found = [_robust_peak(_stripes(one, nothing, sign), _allowed(marks)) for one in some]
    return np.array([at for at, _ in found]), np.array([strength for _, strength in found])


def _face(some: NDArray[np.uint8], rough: NDArray[np.int64]) -> PolarImage:
    """Return the dial without its needle: the median of the frames whose needle stands elsewhere; NaN where none."""
    face = np.full((BINS, RADII), np.nan, dtype=np.float32)
    for at in range(BINS):
        away = np.abs((rough - at + BINS // 2) % BINS - BINS // 2) > _AWAY_BINS
        if away.sum() >= 5:
            face[at] = np.median(some[away, at, :], axis=0)
    return face


def _path(scores: FloatArray, times_s: FloatArray, marks: DialMarks) -> NDArray[np.int64]:
    """Return the bins of the likeliest path that keeps to the pace of the instrument."""
    bins_per_unit = float(np.max(np.diff(marks.angles_deg) / np.diff(marks.speeds))) * PER_DEG
    allowed = _allowed(marks)
    start = int(np.argmax(allowed & ~np.roll(allowed, 1))) if not allowed.all() else 0
    order = (start + np.arange(int(allowed.sum()))) % BINS
    gain = np.where(np.isfinite(scores), scores, -1.0)[:, order] * _SHARPEST
    total = gain[0].copy()
    came = np.zeros(gain.shape, dtype=np.int64)
    for i in range(1, len(gain)):
        reach = max(2.0, marks.fastest * bins_per_unit * float(times_s[i] - times_s[i - 1]))
        most = min(int(np.ceil(reach)), order.size - 1)
        best = np.full(order.size, -np.inf)
        for step in range(-most, most + 1):
            moved = np.full(order.size, -np.inf)
            price = 0.5 * (step / reach) ** 2
            if step >= 0:
                moved[step:] = total[: order.size - step] - price
            else:
                moved[:step] = total[-step:] - price
            better = moved > best
            best[better] = moved[better]
            came[i, better] = step
        total = best + gain[i]
    at = int(np.argmax(total))
    path = np.empty(len(gain), dtype=np.int64)
    for i in range(len(gain) - 1, -1, -1):
        path[i] = at
        at -= int(came[i, at])
    return order[path]


def _refine(
    stack: NDArray[np.uint8], face: PolarImage, sign: float, scale: float, scores: FloatArray, path: NDArray[np.int64]
) -> tuple[FloatArray, FloatArray]:
    """Return angles finer than a bin, and how sure each is."""
    angles, confidence = np.empty(len(stack)), np.empty(len(stack))
    for i, one in enumerate(stack):
        stripes = _stripes(one, face, sign)
        near = np.clip(stripes / scale, -1.0, 1.2)
        at, height = _top(near.mean(axis=1), int(path[i]))
        halves = [_top(near[:, part::2].mean(axis=1), round(at) % BINS)[0] for part in (0, 1)]
        ends = [_top(part.mean(axis=1), round(at) % BINS)[0] for part in (near[:, :4], near[:, 4:])]
        apart = max(abs(halves[0] - halves[1]), 0.6 * abs(ends[0] - ends[1])) / PER_DEG
        angles[i] = at / PER_DEG
        away = np.abs((np.arange(BINS) - at + BINS / 2) % BINS - BINS / 2) > _RIVAL_DEG * PER_DEG
        rival = max(float(scores[i][away].max()), 0.0)
        whole = float(np.mean(near[round(at) % BINS] > 0.35))
        confidence[i] = _confidence(height, rival, apart, whole)
    return angles, confidence


def _top(profile: FloatArray, near: int) -> tuple[float, float]:
    """Return the peak of a circular profile within 5 bins of a bin, by the parabola through its top, and its height."""
    around = (near + np.arange(-5, 6)) % BINS
    best = int(np.argmax(profile[around])) - 5
    left, mid, right = (float(profile[(near + best + k) % BINS]) for k in (-2, 0, 2))
    bend = left - 2.0 * mid + right
    shift = float(np.clip((left - right) / bend, -2.0, 2.0)) if bend < -1e-9 else 0.0
    return near + best + shift, mid


def _confidence(height: float, rival: float, apart_deg: float, whole: float) -> float:
    """Return 0 to 1 from the needle's height, its best rival's, how far its parts disagree, and how much is seen."""
    seen = np.clip((height - 0.25) / 0.4, 0.0, 1.0)
    alone = np.clip((height - rival) / 0.3, 0.0, 1.0)
    straight = np.clip(1.5 - apart_deg / 2.0, 0.0, 1.0)
    return float(seen * alone * straight * np.clip(whole / 0.6, 0.0, 1.0))
