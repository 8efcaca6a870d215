"""A smooth acceleration out of read speeds: ``V dV/dt = b0 + b1 u + b2 u^2``, ``u`` the speed less its middle.

``V dV/dt / g`` is the specific excess power; power and drag are smooth functions of speed, so over one leg it is nearly
a parabola in speed (of an invented airplane from 75 to 130 kt within 5 ft/min). Its three coefficients and the speed at
the first reading are fitted to the speeds themselves through the equation of motion, so nothing is differenced and
uneven or missing readings do no harm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from wringout.methods.types import FloatArray

FEWEST = 5
STEP_S = 3.0
SLOPE_SD, CURVATURE_SD = 5.0, 0.1
"""Prior standard deviations of ``b1`` [m/s2] and ``b2`` [1/s] about zero (judged, several times what light airplanes
show)."""


@dataclass(frozen=True, slots=True)
class SpeedTrend:
    """A fitted leg. ``coefficients`` are (V0 - middle, b0, b1, b2) in SI with their ``covariance`` (4, 4).

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
        """Return the derivatives of the acceleration with respect to (b0, b1, b2), shape (m, 3)."""
        speeds = np.asarray(speeds_mps)
        u = speeds - self.middle_mps
        return np.stack([np.ones_like(u), u, u**2], axis=-1) / speeds[..., None]

    def weighted_sd(self, weights: FloatArray) -> float:
        """Return the standard uncertainty of a weighted sum ``weights (3,)`` of (b0, b1, b2)."""
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
        off = (_history(p[:, None], times_s, middle)[:, 0] + middle - speeds_mps) / sd
        return np.concatenate([off, p[2:] / prior_sd])

    def jacobian(p: FloatArray) -> FloatArray:
        steps = np.array([0.01, 5e-3, 5e-4, 5e-5])
        high, low = p[:, None] + np.diag(steps), p[:, None] - np.diag(steps)
        out = np.zeros((times_s.size + 2, 4))
        out[: times_s.size] = (_history(high, times_s, middle) - _history(low, times_s, middle)) / (2.0 * steps) / sd
        out[times_s.size, 2], out[times_s.size + 1, 3] = 1.0 / prior_sd
        return out

    found = least_squares(residuals, _first_guess(times_s, speeds_mps, middle), jacobian, method="lm", max_nfev=100)
    p = np.asarray(found.x)
    normal = found.jac.T @ found.jac
    off = found.fun[: times_s.size] * sd
    dof = times_s.size - 4
    scatter = float(np.sqrt(off @ off / dof)) if dof > 0 else sd
    covariance = np.linalg.inv(normal) * max(1.0, (scatter / sd) ** 2)
    fitted = _history(p[:, None], times_s, middle)[:, 0] + middle
    return SpeedTrend(middle, p, covariance, float(fitted.min()), float(fitted.max()), scatter, max(dof, 1))


def _first_guess(times_s: FloatArray, speeds_mps: FloatArray, middle: float) -> FloatArray:
    curve = np.polynomial.Polynomial.fit(times_s, speeds_mps, 2 if times_s.size < 8 else 3)
    fitted = curve(times_s)
    power = fitted * curve.deriv()(times_s)
    b1, b0 = np.polyfit(fitted - middle, power, 1) if float(np.ptp(fitted)) > 1.0 else (0.0, float(power.mean()))
    return np.array([float(fitted[0]) - middle, float(b0), float(np.clip(b1, -SLOPE_SD, SLOPE_SD)), 0.0])


def _history(p: FloatArray, times_s: FloatArray, middle_mps: float) -> FloatArray:
    """Return speeds less the middle for parameter columns ``p`` (4, m) at ``times_s`` (n,), shape (n, m).

    Classical fourth-order Runge-Kutta; speeds are held within 15 m/s and twice the middle, where no leg is flown.
    """
    u = p[0].copy()
    out = np.empty((times_s.size, u.size))
    out[0] = u

    def rate(u: FloatArray) -> FloatArray:
        return np.asarray((p[1] + u * (p[2] + u * p[3])) / np.maximum(u + middle_mps, 15.0))

    for i in range(1, times_s.size):
        count = max(1, int(np.ceil((times_s[i] - times_s[i - 1]) / STEP_S)))
        h = (times_s[i] - times_s[i - 1]) / count
        for _ in range(count):
            k1 = rate(u)
            k2 = rate(u + 0.5 * h * k1)
            k3 = rate(u + 0.5 * h * k2)
            k4 = rate(u + h * k3)
            u = np.clip(u + h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4), 15.0 - middle_mps, middle_mps)
        out[i] = u
    return out
