"""Findings of several airplanes pooled with random effects: one mean, and how much airplanes differ.

Each airplane's finding ``y_i`` has a known standard uncertainty ``s_i``; the airplanes' own values scatter about the
mean of the type with variance ``tau2``. Estimators of ``tau2``: DerSimonian and Laird (1986, Controlled Clinical
Trials 7, 177-188) and Paule and Mandel (1982) from statsmodels; restricted maximum likelihood (Viechtbauer 2005, J.
Educational and Behavioral Statistics 30, 261-293), which is the usual one here. The interval of the mean is that of
Hartung and Knapp (2001, Statistics in Medicine 20, 3875-3889); the prediction interval that of Higgins, Thompson and
Spiegelhalter (2009, J. Royal Statistical Society A 172, 137-159), equation 12.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.stats import chi2
from scipy.stats import t as student
from statsmodels.stats.meta_analysis import combine_effects

from wringout.errors import BadInputError, FitError

FloatArray = NDArray[np.float64]
Range = tuple[float, float]
FEWEST_FOR_PREDICTION = 3


class Estimator(StrEnum):
    """How the variance between airplanes is estimated."""

    REML = "restricted maximum likelihood"
    DERSIMONIAN_LAIRD = "DerSimonian and Laird"
    PAULE_MANDEL = "Paule and Mandel"


@dataclass(frozen=True, slots=True)
class Shrunk:
    """One finding drawn towards the mean of its type, as far as its own doubt and the scatter ask.

    Attributes:
        value, standard_uncertainty: the best estimate for this one airplane, and its doubt (the mean's included).
        weight: its share in the mean, 0 to 1.
        kept: how much of its distance from the mean it keeps, 0 to 1.
    """

    value: float
    standard_uncertainty: float
    weight: float
    kept: float


@dataclass(frozen=True, slots=True)
class Outlier:
    """How far a finding lies from what the others predict for it (leave one out).

    ``z`` is the deleted residual over its standard deviation; ``p`` two-sided, from Student's t with two degrees of
    freedom less than there are findings, as their scatter is itself estimated; ``flagged`` where p is below 0.05 over
    the number of findings (Bonferroni).
    """

    predicted: float
    z: float
    p: float
    flagged: bool


@dataclass(frozen=True, slots=True)
class Pooled:
    """The pooled finding of a type; values in the unit of the findings.

    Attributes:
        count: of findings.
        mean, standard_uncertainty: of the type, normal theory. interval_95: Hartung and Knapp, Student's t.
        knapp_hartung_uncertainty: the standard uncertainty behind that interval.
        tau2: variance between airplanes. tau: its root.
        q, q_p: Cochran's Q and its p value.
        i2: share of the scatter that is not reading doubt, 0 to 1; ``tau2`` over it and the typical variance.
        prediction_95: where the next airplane of the type is expected; None with fewer than three findings.
        fixed_mean, fixed_uncertainty: if all airplanes were alike (tau2 = 0).
        shrunk, outliers: one for each finding, in order; outliers are empty with fewer than three findings.
    """

    estimator: Estimator
    count: int
    mean: float
    standard_uncertainty: float
    knapp_hartung_uncertainty: float
    interval_95: Range
    tau2: float
    q: float
    q_p: float
    i2: float
    prediction_95: Range | None
    fixed_mean: float
    fixed_uncertainty: float
    shrunk: tuple[Shrunk, ...]
    outliers: tuple[Outlier, ...]

    @property
    def tau(self) -> float:
        """Standard deviation between airplanes."""
        return math.sqrt(self.tau2)


def pool(values: Sequence[float], uncertainties: Sequence[float], estimator: Estimator = Estimator.REML) -> Pooled:
    """Pool findings that have standard uncertainties, one for each airplane.

    Raises:
        BadInputError: the lists differ in length, or a value is not finite, or an uncertainty not above zero.
        FitError: fewer than two findings.
    """
    y, v = checked(values, uncertainties)
    tau2 = _tau2(y, v, estimator)
    mean, se, weights = weighted_mean(y, v + tau2)
    hk = _knapp_hartung(y, mean, weights)
    half = float(student.ppf(0.975, y.size - 1)) * hk
    fixed, fixed_se, _ = weighted_mean(y, v)
    q = float(np.sum((y - fixed) ** 2 / v))
    return Pooled(
        estimator=estimator,
        count=int(y.size),
        mean=mean,
        standard_uncertainty=se,
        knapp_hartung_uncertainty=hk,
        interval_95=(mean - half, mean + half),
        tau2=tau2,
        q=q,
        q_p=float(chi2.sf(q, y.size - 1)),
        i2=_i2(v, tau2),
        prediction_95=prediction_interval(mean, se, tau2, y.size),
        fixed_mean=fixed,
        fixed_uncertainty=fixed_se,
        shrunk=_shrunk(y, v, tau2, mean, se, weights),
        outliers=_outliers(y, v, estimator) if y.size >= FEWEST_FOR_PREDICTION else (),
    )


def checked(values: Sequence[float], uncertainties: Sequence[float]) -> tuple[FloatArray, FloatArray]:
    """Return values and variances as arrays.

    Raises:
        BadInputError, FitError: as :func:`pool` says.
    """
    y, s = np.asarray(values, dtype=np.float64), np.asarray(uncertainties, dtype=np.float64)
    if y.shape != s.shape or y.ndim != 1:
        raise BadInputError(f"{y.size} values have {s.size} uncertainties", "findings", "give one for each")
    if not np.isfinite(y).all():
        raise BadInputError("a value is missing or infinite", "findings", "every finding needs a number")
    if not (np.isfinite(s).all() and (s > 0.0).all()):
        raise BadInputError("an uncertainty is missing or not above zero", "findings", "give one standard deviation")
    if y.size < 2:
        raise FitError("one finding cannot be pooled", "", "collect findings of at least two airplanes")
    return y, s**2


def weighted_mean(y: FloatArray, variances: FloatArray) -> tuple[float, float, FloatArray]:
    """Return the inverse-variance mean, its standard uncertainty, and the weights (not normalised)."""
    weights = 1.0 / variances
    total = float(weights.sum())
    return float(weights @ y) / total, math.sqrt(1.0 / total), weights


def _tau2(y: FloatArray, v: FloatArray, estimator: Estimator) -> float:
    if estimator is Estimator.REML:
        return _tau2_reml(y, v)
    method = "chi2" if estimator is Estimator.DERSIMONIAN_LAIRD else "iterated"
    return max(float(combine_effects(y, v, method_re=method).tau2), 0.0)


def _reml_slope(tau2: float, y: FloatArray, v: FloatArray) -> float:
    """Return the derivative of the restricted log likelihood with respect to tau2, times two."""
    mean, _, w = weighted_mean(y, v + tau2)
    return float(np.sum(w**2 * (y - mean) ** 2) - np.sum(w) + np.sum(w**2) / np.sum(w))


def _tau2_reml(y: FloatArray, v: FloatArray) -> float:
    """Return the REML estimate: where the slope of the restricted likelihood is zero, or 0 where it only falls.

    The likelihood may have several humps; the highest over a grid is taken and polished.
    """
    top = 4.0 * float(np.var(y, ddof=1)) + float(v.max())
    grid = np.concatenate([[0.0], np.geomspace(1e-6 * top, top, 400)])
    best = int(np.argmax([restricted_likelihood(float(x), y, v) for x in grid]))
    if best == 0:
        return 0.0
    low, high = float(grid[best - 1]), float(grid[min(best + 1, grid.size - 1)])
    if _reml_slope(low, y, v) <= 0.0 or _reml_slope(high, y, v) >= 0.0:
        return float(grid[best])
    return float(brentq(_reml_slope, low, high, args=(y, v), xtol=1e-14, rtol=1e-12))


def restricted_likelihood(tau2: float, y: FloatArray, v: FloatArray) -> float:
    """Return the restricted log likelihood of tau2, without its constant."""
    mean, _, w = weighted_mean(y, v + tau2)
    return float(0.5 * np.sum(np.log(w)) - 0.5 * math.log(np.sum(w)) - 0.5 * np.sum(w * (y - mean) ** 2))


def _knapp_hartung(y: FloatArray, mean: float, weights: FloatArray) -> float:
    """Return the standard uncertainty of the mean by Hartung and Knapp; never below the normal one.

    Where the findings scatter less than their uncertainties say, the plain formula would shrink the interval; the usual
    safeguard (Knapp and Hartung 2003, "ad hoc") is applied.
    """
    scale = float(np.sum(weights * (y - mean) ** 2)) / (y.size - 1)
    return math.sqrt(max(scale, 1.0) / float(weights.sum()))


def _i2(v: FloatArray, tau2: float) -> float:
    """Return I2 = tau2 / (tau2 + typical variance), the typical variance after Higgins and Thompson (2002), eq. 9."""
    w = 1.0 / v
    typical = (v.size - 1) * float(w.sum()) / (float(w.sum()) ** 2 - float((w**2).sum()))
    return tau2 / (tau2 + typical)


def prediction_interval(mean: float, standard_uncertainty: float, tau2: float, count: int) -> Range | None:
    """Return the 95 % interval for the true value of the next airplane; None with fewer than three findings."""
    if count < FEWEST_FOR_PREDICTION:
        return None
    half = float(student.ppf(0.975, count - 2)) * math.sqrt(tau2 + standard_uncertainty**2)
    return mean - half, mean + half


def _shrunk(
    y: FloatArray, v: FloatArray, tau2: float, mean: float, se: float, weights: FloatArray
) -> tuple[Shrunk, ...]:
    """Return the best linear unbiased predictions with their standard errors, the mean's doubt included."""
    kept = tau2 / (tau2 + v)
    values = mean + kept * (y - mean)
    doubt = np.sqrt(kept * v + (1.0 - kept) ** 2 * se**2)
    shares = weights / weights.sum()
    return tuple(
        Shrunk(float(a), float(b), float(c), float(d)) for a, b, c, d in zip(values, doubt, shares, kept, strict=True)
    )


def _outliers(y: FloatArray, v: FloatArray, estimator: Estimator) -> tuple[Outlier, ...]:
    found = []
    for i in range(y.size):
        rest = np.arange(y.size) != i
        tau2 = _tau2(y[rest], v[rest], estimator)
        mean, se, _ = weighted_mean(y[rest], v[rest] + tau2)
        z = float((y[i] - mean) / math.sqrt(v[i] + tau2 + se**2))
        p = float(2.0 * student.sf(abs(z), y.size - 2))
        found.append(Outlier(mean, z, p, p < 0.05 / y.size))
    return tuple(found)
