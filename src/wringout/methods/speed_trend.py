"""A smooth acceleration out of read speeds: ``dV/dt = a0 + a1 u + a2 u^2``, ``u`` the speed less its middle.

Thrust and drag are smooth functions of speed, so over one leg the acceleration is nearly a parabola in speed. Its three
coefficients and the speed at the first reading are fitted to the speeds themselves through the equation of motion, so
nothing is differenced and uneven or missing readings do no harm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from wringout.methods.types import FloatArray

FEWEST = 5
CURVATURE_SD = 0.002
"""Prior standard deviation of ``a2`` about zero [1/m] (judged; drag and thrust of light airplanes give under 0.001)."""
SLOPE_SD = 0.1
"""Prior standard deviation of ``a1`` about zero [1/s] (judged, wide)."""


@dataclass(frozen=True, slots=True)
class SpeedTrend:
    """A fitted leg. ``coefficients`` are (V0 - middle, a0, a1, a2) in SI with their ``covariance`` (4, 4).

    ``low_mps`` and ``high_mps`` bound the fitted speeds over the leg. ``scatter_mps`` is what the speeds left over.
    """

    middle_mps: float
    coefficients: FloatArray
    covariance: FloatArray
    low_mps: float
    high_mps: float
    scatter_mps: float
    dof: int

    def acceleration(self, speeds_mps: FloatArray) -> FloatArray:
        """Return dV/dt, m/s2, at speeds, shape (m,)."""
        return np.asarray(self.basis(speeds_mps) @ self.coefficients[1:])

    def basis(self, speeds_mps: FloatArray) -> FloatArray:
        """Return the derivatives of the acceleration with respect to (a0, a1, a2), shape (m, 3)."""
        u = np.asarray(speeds_mps) - self.middle_mps
        return np.stack([np.ones_like(u), u, u**2], axis=-1)

    def weighted_sd(self, weights: FloatArray) -> float:
        """Return the standard uncertainty of a weighted sum ``weights (3,)`` of (a0, a1, a2)."""
        return float(np.sqrt(weights @ self.covariance[1:, 1:] @ weights))


def speed_trend(times_s: FloatArray, speeds_mps: FloatArray, sd_mps: float, clock_sd_s: float) -> SpeedTrend | None:
    """Fit a leg; None with fewer than FEWEST readings or under 10 s.

    ``sd_mps`` is that of a reading; that of its clock, times the slope, joins it. Where the speeds scatter more than
    stated, the covariance is enlarged to what was seen; it is never reduced.
    """
    if times_s.size < FEWEST or float(np.ptp(times_s)) < 10.0:
        return None
    middle = 0.5 * float(speeds_mps.min() + speeds_mps.max())
    slope = float(np.polyfit(times_s, speeds_mps, 1)[0])
    sd = float(np.hypot(sd_mps, slope * clock_sd_s))
    prior_sd = np.array([SLOPE_SD, CURVATURE_SD])

    def residuals(p: FloatArray) -> FloatArray:
        off = (_history(p[:, None], times_s)[:, 0] + middle - speeds_mps) / sd
        return np.concatenate([off, p[2:] / prior_sd])

    def jacobian(p: FloatArray) -> FloatArray:
        steps = np.array([0.01, 1e-4, 1e-5, 1e-6])
        high, low = p[:, None] + np.diag(steps), p[:, None] - np.diag(steps)
        out = np.zeros((times_s.size + 2, 4))
        out[: times_s.size] = (_history(high, times_s) - _history(low, times_s)) / (2.0 * steps) / sd
        out[times_s.size, 2], out[times_s.size + 1, 3] = 1.0 / prior_sd
        return out

    found = least_squares(residuals, _first_guess(times_s, speeds_mps, middle), jacobian, method="lm", max_nfev=100)
    p = np.asarray(found.x)
    normal = found.jac.T @ found.jac
    off = found.fun[: times_s.size] * sd
    dof = times_s.size - 4
    scatter = float(np.sqrt(off @ off / dof)) if dof > 0 else sd
    covariance = np.linalg.inv(normal) * max(1.0, (scatter / sd) ** 2)
    fitted = _history(p[:, None], times_s)[:, 0] + middle
    return SpeedTrend(middle, p, covariance, float(fitted.min()), float(fitted.max()), scatter, max(dof, 1))


def _first_guess(times_s: FloatArray, speeds_mps: FloatArray, middle: float) -> FloatArray:
    curve = np.polynomial.Polynomial.fit(times_s, speeds_mps, 2 if times_s.size < 8 else 3)
    fitted, slopes = curve(times_s), curve.deriv()(times_s)
    a1, a0 = np.polyfit(fitted - middle, slopes, 1) if float(np.ptp(fitted)) > 1.0 else (0.0, float(slopes.mean()))
    return np.array([float(fitted[0]) - middle, float(a0), float(np.clip(a1, -0.2, 0.2)), 0.0])


def _history(p: FloatArray, times_s: FloatArray) -> FloatArray:
    """Return speeds less the middle for parameter columns ``p`` (4, m) at ``times_s`` (n,), shape (n, m).

    Closed form of the Riccati equation ``du/dt = a0 + a1 u + a2 u^2``: with u = y/z it is linear, and with
    ``s^2 = a1^2/4 - a0 a2``, C = cosh(s t), S = sinh(s t)/s (cosine and sine where ``s^2`` is negative),
    ``u = ((C + a1 S/2) u0 + a0 S) / (C - a1 S/2 - a2 S u0)``.
    """
    start, a0, a1, a2 = p
    t = (times_s - times_s[0])[:, None]
    x = (0.25 * a1**2 - a0 * a2) * t**2
    root = np.minimum(np.sqrt(np.abs(x)), 200.0)
    small = root < 1e-6
    safe = np.where(small, 1.0, root)
    c = np.where(x >= 0.0, np.cosh(root), np.cos(root))
    s = t * np.where(small, 1.0, np.where(x >= 0.0, np.sinh(root), np.sin(root)) / safe)
    bottom = c - 0.5 * a1 * s - a2 * s * start
    bottom = np.where(bottom < 1e-9, 1e-9, bottom)
    return np.asarray(np.clip(((c + 0.5 * a1 * s) * start + a0 * s) / bottom, -100.0, 100.0))
