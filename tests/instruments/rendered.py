"""Clips of instruments drawn here, whose true speed is known: shaking, noise, glare, and a hand before the glass."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

Picture = NDArray[np.uint8]
SCALE_KT = np.array([40.0, 60.0, 80.0, 100.0, 120.0, 140.0, 160.0])
SCALE_DEG = np.array([30.0, 68.0, 122.0, 178.0, 226.0, 268.0, 305.0])
"""An invented dial, not linear: speeds, and their angles clockwise from twelve o'clock."""
CENTRE, REACH = (150.0, 130.0), 100.0
MARKED = (0, 1, 2, 3, 4, 5, 6)


@dataclass(frozen=True)
class Trouble:
    """How bad the clip is."""

    shake_px: float = 2.0
    noise: float = 6.0
    glare: float = 0.6
    hidden: float = 0.3
    dark_needle: bool = False


def true_speeds(times_s: NDArray[np.float64], rng: np.random.Generator) -> NDArray[np.float64]:
    """Return a deceleration with a flick of air in it, within the scale [kt]."""
    start, end = rng.uniform(120.0, 150.0), rng.uniform(50.0, 75.0)
    share = times_s / max(times_s[-1], 1e-9)
    wave = rng.uniform(0.5, 2.5) * np.sin(2 * np.pi * times_s / rng.uniform(3.0, 8.0) + rng.uniform(0, 6))
    return np.clip(start + (end - start) * (1 - (1 - share) ** rng.uniform(1.0, 2.0)) + wave, 42.0, 158.0)


def angle_of(speed_kt: float) -> float:
    """Return where a speed stands [deg], smoothly between the numbers of the scale."""
    return float(CubicSpline(SCALE_KT, SCALE_DEG)(speed_kt))


def _at(centre: tuple[float, float], radius: float, angle_deg: float) -> tuple[int, int]:
    a = np.radians(angle_deg)
    return round(16 * (centre[0] + radius * np.sin(a))), round(16 * (centre[1] - radius * np.cos(a)))


def marks_toml() -> str:
    """Return the marks of the drawn dial as a user would write them, rounded to half a pixel."""
    lines = ['kind = "dial"', f"centre = [{CENTRE[0]:g}, {CENTRE[1]:g}]"]
    for i in MARKED:
        a = np.radians(SCALE_DEG[i])
        x, y = CENTRE[0] + 92.0 * np.sin(a), CENTRE[1] - 92.0 * np.cos(a)
        lines += ["[[speeds]]", f"value = {SCALE_KT[i]:g}", f"at = [{round(2 * x) / 2:g}, {round(2 * y) / 2:g}]"]
    return "\n".join(lines)


def dial_picture(speed_kt: float, trouble: Trouble, rng: np.random.Generator, phase: float) -> Picture:
    """Return one frame in shades of grey, 300 by 260 pixels."""
    face, ink = (215, 40) if trouble.dark_needle else (35, 225)
    centre = (CENTRE[0], CENTRE[1])
    if trouble.shake_px:
        centre = (CENTRE[0] + rng.normal(0, trouble.shake_px), CENTRE[1] + rng.normal(0, trouble.shake_px))
    picture = np.full((260, 300), 90, np.uint8)
    cv2.circle(picture, _at(centre, 0, 0), round(16 * REACH), face, -1, cv2.LINE_AA, 4)
    for kt in np.arange(40, 161, 5):
        long = 14 if kt % 20 == 0 else 7
        angle = angle_of(kt)
        cv2.line(picture, _at(centre, 97 - long, angle), _at(centre, 97, angle), ink, 2, cv2.LINE_AA, 4)
        if kt % 20 == 0:
            x, y = _at(centre, 72, angle)
            cv2.putText(
                picture, str(kt), (x // 16 - 10, y // 16 + 4), cv2.FONT_HERSHEY_SIMPLEX, 0.35, ink, 1, cv2.LINE_AA
            )
    x, y = _at(centre, 35, 0)
    cv2.putText(picture, "KNOTS", (x // 16 - 20, y // 16), cv2.FONT_HERSHEY_SIMPLEX, 0.35, ink, 1, cv2.LINE_AA)
    angle = angle_of(speed_kt)
    cv2.line(picture, _at(centre, -22, angle), _at(centre, 84, angle), ink, 4, cv2.LINE_AA, 4)
    cv2.circle(picture, _at(centre, 0, 0), 16 * 10, (ink + face) // 2, -1, cv2.LINE_AA, 4)
    return _spoil(picture, trouble, rng, phase, centre)


def _spoil(
    picture: Picture, trouble: Trouble, rng: np.random.Generator, phase: float, centre: tuple[float, float]
) -> Picture:
    field = picture.astype(np.float32) * rng.uniform(0.9, 1.1)
    ys, xs = np.mgrid[0 : picture.shape[0], 0 : picture.shape[1]]
    if trouble.glare:
        gx, gy = centre[0] + 55 * np.cos(3 * phase), centre[1] + 55 * np.sin(3 * phase)
        field += 255 * trouble.glare * np.exp(-(((xs - gx) / 28) ** 2 + ((ys - gy) / 16) ** 2))
        field += 160 * trouble.glare * (np.abs((xs - centre[0]) - 0.6 * (ys - centre[1]) - 90 * np.sin(2 * phase)) < 5)
    if trouble.hidden and rng.uniform() < trouble.hidden:
        left = int(rng.uniform(40, 220))
        field[:, left : left + int(rng.uniform(20, 70))] = rng.uniform(60, 160)
    field += rng.normal(0, trouble.noise, field.shape)
    blurred = cv2.GaussianBlur(np.clip(field, 0, 255).astype(np.uint8), (0, 0), 0.8)
    return np.asarray(blurred, dtype=np.uint8)


def digits_picture(
    speed_kt: float, trouble: Trouble, rng: np.random.Generator, phase: float, font: int = cv2.FONT_HERSHEY_DUPLEX
) -> Picture:
    """Return one frame of a digital read-out, 200 by 120 pixels; the digits stand within 40, 30, 110, 60."""
    picture = np.full((120, 200), 20, np.uint8)
    cv2.putText(picture, "IAS", (4, 20), cv2.FONT_HERSHEY_SIMPLEX, 0.5, 150, 1, cv2.LINE_AA)
    dx, dy = rng.normal(0, trouble.shake_px, 2) if trouble.shake_px else (0.0, 0.0)
    text = f"{round(speed_kt)}"
    right = 136.0
    for digit in reversed(text):
        (width, _), _ = cv2.getTextSize(digit, font, 1.15, 2)
        right -= width + 3
        cv2.putText(picture, digit, (round(right), 75), font, 1.15, 230, 2, cv2.LINE_AA)
    shift = np.array([[1, 0, dx], [0, 1, dy]], dtype=np.float32)
    picture = np.asarray(cv2.warpAffine(picture, shift, (200, 120), borderMode=cv2.BORDER_REPLICATE), dtype=np.uint8)
    field = picture.astype(np.float32)
    ys, xs = np.mgrid[0:120, 0:200]
    if trouble.glare:
        gx = 100 + 80 * np.cos(3 * phase)
        field += 220 * trouble.glare * np.exp(-(((xs - gx) / 25) ** 2 + ((ys - 55) / 20) ** 2))
    if trouble.hidden and rng.uniform() < trouble.hidden:
        left = int(rng.uniform(10, 150))
        field[:, left : left + int(rng.uniform(10, 40))] = 80
    field += rng.normal(0, trouble.noise, field.shape)
    return np.asarray(cv2.GaussianBlur(np.clip(field, 0, 255).astype(np.uint8), (0, 0), 0.7), dtype=np.uint8)
