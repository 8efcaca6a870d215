"""Least squares through steady points: which points belong, and what the doubt of the curve is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wringout.methods.types import FloatArray

FEWEST = 3
LEFT_OUT_SDS = 4.0


@dataclass(frozen=True, slots=True)
class LinearFit:
    """A fit linear in its coefficients (p,), with their covariance (p, p).

    The scatter is what was seen (``dof`` degrees of freedom), or what the readings are stated to be good for if that is
    more (then taken as known, ``dof`` infinite). JCGM 100:2008, H.3, for the straight line.
    """

    coefficients: FloatArray
    covariance: FloatArray
    dof: float

    def correlation(self, i: int, j: int) -> float:
        """Return the correlation of two coefficients."""
        sds = np.sqrt(np.diag(self.covariance))
        return float(np.clip(self.covariance[i, j] / (sds[i] * sds[j]), -1.0, 1.0))

    def sd(self, i: int) -> float:
        """Return the standard uncertainty of a coefficient."""
        return float(math.sqrt(self.covariance[i, i]))


def linear_fit(design: FloatArray, y: FloatArray, stated_sd: float) -> LinearFit:
    """Fit ``y ~ design @ coefficients``; ``design`` has shape (n, p), n at least p and of full rank."""
    coefficients = np.linalg.lstsq(design, y)[0]
    n, p = design.shape
    off = y - design @ coefficients
    seen = math.sqrt(float(off @ off) / (n - p)) if n > p else 0.0
    sd, dof = (stated_sd, math.inf) if stated_sd >= seen else (seen, float(n - p))
    covariance = np.asarray(np.linalg.inv(design.T @ design) * sd**2, dtype=np.float64)
    return LinearFit(np.asarray(coefficients), covariance, dof)


def belonging(design: FloatArray, y: FloatArray, sd: FloatArray) -> NDArray[np.bool_]:
    """Return which points belong to one curve ``design @ coefficients``.

    The worst point beyond LEFT_OUT_SDS standard deviations of the curve through the others is left out, then again, as
    long as one more than the coefficients are left. ``sd`` is what each reading is stated to be good for.
    """
    used = np.ones(y.size, dtype=bool)
    while used.sum() > max(FEWEST, design.shape[1]):
        off = np.zeros(y.size)
        for i in np.flatnonzero(used):
            others = used.copy()
            others[i] = False
            part = design[others]
            if np.linalg.matrix_rank(part / np.abs(design).max(axis=0)) < design.shape[1]:
                continue
            gain = design[i] @ np.linalg.pinv(part)
            spread = math.sqrt(float(sd[i] ** 2 + np.sum((gain * sd[others]) ** 2)))
            off[i] = abs(float(y[i] - gain @ y[others])) / spread
        worst = int(np.argmax(off))
        if off[worst] <= LEFT_OUT_SDS:
            break
        used[worst] = False
    return used


def in_line(x: FloatArray, y: FloatArray, sd: FloatArray) -> NDArray[np.bool_]:
    """Return which points belong to one straight line in ``x``."""
    scaled = (x - x.mean()) / max(float(np.ptp(x)), 1e-300)
    return belonging(np.stack([np.ones_like(x), scaled], axis=1), y, sd)


def line_doubt(x: FloatArray, seen_sd: float, stated_sd: float) -> tuple[float, float, float, float]:
    """Return standard uncertainties of intercept and slope, their correlation, and degrees of freedom.

    The scatter is chosen as in :class:`LinearFit`. JCGM 100:2008, H.3, equations H.13.
    """
    sd, dof = (stated_sd, math.inf) if stated_sd >= seen_sd else (seen_sd, float(x.size - 2))
    mean_square, spread = float(np.mean(x**2)), float(np.sum((x - x.mean()) ** 2))
    root = math.sqrt(mean_square)
    return sd * root / math.sqrt(spread), sd / math.sqrt(spread), -float(x.mean()) / root, dof
