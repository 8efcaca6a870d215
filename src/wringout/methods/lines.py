"""Straight lines through steady points: which points lie on one, and what the doubt of the line is."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from wringout.methods.types import FloatArray

FEWEST = 3
LEFT_OUT_SDS = 4.0


def in_line(x: FloatArray, y: FloatArray, sd: FloatArray) -> NDArray[np.bool_]:
    """Return which points lie on one straight line.

    The worst point beyond LEFT_OUT_SDS standard deviations of the line through the others is left out, then again, as
    long as more than FEWEST are left. ``sd`` is what each reading is stated to be good for.
    """
    used = np.ones(x.size, dtype=bool)
    while used.sum() > FEWEST:
        off = np.zeros(x.size)
        for i in np.flatnonzero(used):
            others = used.copy()
            others[i] = False
            if np.ptp(x[others]) <= 0.0:
                continue
            slope, intercept = np.polyfit(x[others], y[others], 1)
            middle = x[others].mean()
            leverage = 1.0 / others.sum() + (x[i] - middle) ** 2 / np.sum((x[others] - middle) ** 2)
            spread = math.sqrt(float(sd[i] ** 2 + leverage * np.mean(sd[others] ** 2)))
            off[i] = abs(float(y[i] - intercept - slope * x[i])) / spread
        worst = int(np.argmax(off))
        if off[worst] <= LEFT_OUT_SDS:
            break
        used[worst] = False
    return used


def line_doubt(x: FloatArray, seen_sd: float, stated_sd: float) -> tuple[float, float, float, float]:
    """Return standard uncertainties of intercept and slope, their correlation, and degrees of freedom.

    The scatter is what was seen about the line (``n - 2`` degrees of freedom), or what the readings are stated to be
    good for if that is more (then taken as known). JCGM 100:2008, H.3, equations H.13.
    """
    sd, dof = (stated_sd, math.inf) if stated_sd >= seen_sd else (seen_sd, float(x.size - 2))
    mean_square, spread = float(np.mean(x**2)), float(np.sum((x - x.mean()) ** 2))
    root = math.sqrt(mean_square)
    return sd * root / math.sqrt(spread), sd / math.sqrt(spread), -float(x.mean()) / root, dof
