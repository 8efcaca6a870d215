"""Uncertainty by linear propagation, with a budget that names what each input contributes.

The law of propagation is that of JCGM 100:2008 (GUM), section 5; the combination is done by the
`uncertainties` library, which keeps correlations. Derivatives are central differences over a small part of
each input's own standard uncertainty. Where a function bends within that uncertainty, linear propagation is
not enough; use random draws there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import uncertainties
from scipy import stats

from wringout.errors import BadInputError
from wringout.rounding import round_with_uncertainty
from wringout.units import FloatArray

_STEP = 1e-2  # finite-difference step as a part of the input's standard uncertainty


@dataclass(frozen=True, slots=True)
class Measured:
    """A value with its standard uncertainty and where that uncertainty comes from.

    Attributes:
        value: best estimate, in `unit`.
        standard_uncertainty: one standard deviation, in `unit`.
        unit: SI unless it says otherwise.
        budget: for each input by name, the standard uncertainty it alone would cause, in `unit`. Without
            correlation the squares add up to the square of `standard_uncertainty`.
        dof: effective degrees of freedom, infinite if the uncertainties are taken as known.
    """

    value: float
    standard_uncertainty: float
    unit: str
    budget: Mapping[str, float] = field(default_factory=dict)
    dof: float = math.inf

    def interval(self, coverage: float = 0.95) -> tuple[float, float]:
        """Return the two-sided interval that holds the true value with probability `coverage`, in `unit`.

        Student's t with `dof` degrees of freedom (JCGM 100:2008, G.3), normal if they are infinite.

        Raises:
            BadInputError: `coverage` is not between 0 and 1.
        """
        half = coverage_factor(coverage, self.dof) * self.standard_uncertainty
        return self.value - half, self.value + half

    def largest_source(self) -> str | None:
        """Return the name of the input that contributes most, None if the budget is empty."""
        return max(self.budget, key=lambda name: self.budget[name]) if self.budget else None

    def __str__(self) -> str:
        """Return the value with its standard uncertainty, rounded together, and the unit."""
        value, uncertainty = round_with_uncertainty(self.value, self.standard_uncertainty)
        return f"{value} ± {uncertainty} {self.unit}".rstrip()


def coverage_factor(coverage: float = 0.95, dof: float = math.inf) -> float:
    """Return the factor from a standard uncertainty to the half width of a two-sided interval [1].

    Raises:
        BadInputError: `coverage` is not between 0 and 1, or `dof` is not positive.
    """
    if not 0.0 < coverage < 1.0:
        raise BadInputError(f"a coverage of {coverage!r} is not a probability", "", "write for example 0.95")
    if not dof > 0.0:
        raise BadInputError(f"{dof!r} degrees of freedom are too few", "", "take at least two readings")
    upper = 0.5 + coverage / 2.0
    return float(stats.norm.ppf(upper) if math.isinf(dof) else stats.t.ppf(upper, dof))


def propagate(
    function: Callable[..., float],
    inputs: Mapping[str, tuple[float, float]],
    unit: str,
    correlations: Mapping[tuple[str, str], float] | None = None,
    degrees_of_freedom: Mapping[str, float] | None = None,
) -> Measured:
    """Return the function's value at the inputs, its standard uncertainty and the budget by input.

    ``u^2 = sum_i sum_j c_i c_j r_ij u_i u_j`` with ``c_i = df/dx_i`` (JCGM 100:2008, equation 16).

    Args:
        function: takes the inputs as keyword arguments, each a float, and returns a float in `unit`.
        inputs: value and standard uncertainty by name; an uncertainty of zero marks a constant.
        unit: unit of the result.
        correlations: correlation coefficients by pair of names; pairs not given are uncorrelated.
        degrees_of_freedom: of the input uncertainties, by name; those not given are infinite. With
            uncorrelated inputs they combine by `welch_satterthwaite`; with correlated ones the smallest is
            taken, which errs on the wide side (our choice; the formula does not hold there).

    Raises:
        BadInputError: an input is not finite, an uncertainty negative, a correlation impossible or of an
            unknown input, or the function has no finite value at or next to the inputs.
    """
    _check_inputs(inputs)
    names = list(inputs)
    matrix = _correlation_matrix(names, correlations or {})
    values = {name: float(value) for name, (value, _) in inputs.items()}
    centre = _finite(function, values)
    slopes = {name: _slope(function, values, name, inputs[name][1]) for name in names}
    budget = {name: abs(slopes[name]) * inputs[name][1] for name in names}
    dof = _effective_dof(budget, degrees_of_freedom or {}, correlated=bool(correlations))
    return Measured(centre, _combine(names, inputs, slopes, matrix), unit, budget, dof)


def _check_inputs(inputs: Mapping[str, tuple[float, float]]) -> None:
    for name, (value, sd) in inputs.items():
        if not (math.isfinite(value) and math.isfinite(sd)) or sd < 0.0:
            raise BadInputError(
                f"{value!r} with standard uncertainty {sd!r} cannot be used",
                name,
                "both must be finite and the uncertainty not negative",
            )


def _finite(function: Callable[..., float], values: Mapping[str, float]) -> float:
    result = float(function(**values))
    if not math.isfinite(result):
        at = ", ".join(f"{name} {value:.6g}" for name, value in values.items())
        raise BadInputError(f"the result is not a finite number at {at}", "", "check these inputs")
    return result


def _slope(function: Callable[..., float], values: Mapping[str, float], name: str, sd: float) -> float:
    """Return the central-difference derivative with respect to one input, zero for a constant."""
    if sd == 0.0:
        return 0.0
    low, high = values[name] - _STEP * sd, values[name] + _STEP * sd
    if low == high:
        raise BadInputError(f"standard uncertainty {sd!r} is lost in rounding", name, "write 0 for a constant")
    rise = _finite(function, {**values, name: high}) - _finite(function, {**values, name: low})
    return rise / (high - low)


def _correlation_matrix(names: Sequence[str], correlations: Mapping[tuple[str, str], float]) -> FloatArray:
    matrix = np.eye(len(names))
    for (first, second), r in correlations.items():
        unknown = {first, second} - set(names)
        if unknown or first == second or not -1.0 <= r <= 1.0:
            raise BadInputError(
                f"correlation {r!r} between {first!r} and {second!r} cannot be used",
                "",
                f"name two of {', '.join(names)} and a number between -1 and 1",
            )
        i, j = names.index(first), names.index(second)
        matrix[i, j] = matrix[j, i] = r
    if correlations and np.linalg.eigvalsh(matrix)[0] < -1e-9:
        raise BadInputError("the correlations contradict each other", "", "estimate them all from the same readings")
    return matrix


def _combine(
    names: Sequence[str],
    inputs: Mapping[str, tuple[float, float]],
    slopes: Mapping[str, float],
    matrix: FloatArray,
) -> float:
    """Return the standard uncertainty of the linearised function of correlated inputs."""
    if not names:
        return 0.0
    variables = uncertainties.correlated_values_norm([inputs[name] for name in names], matrix)
    linear = sum(slopes[name] * variable for name, variable in zip(names, variables, strict=True))
    return float(uncertainties.std_dev(linear))


def _effective_dof(budget: Mapping[str, float], given: Mapping[str, float], *, correlated: bool) -> float:
    unknown = set(given) - set(budget)
    if unknown:
        raise BadInputError(f"degrees of freedom are given for {sorted(unknown)[0]!r}, which is not an input")
    active = [name for name in budget if budget[name] > 0.0]
    dofs = [given.get(name, math.inf) for name in active]
    if correlated:
        return min(dofs, default=math.inf)
    return welch_satterthwaite([budget[name] for name in active], dofs)


def welch_satterthwaite(contributions: Sequence[float], degrees_of_freedom: Sequence[float]) -> float:
    """Return the effective degrees of freedom [1] of a sum of independent contributions, not truncated.

    ``nu = u^4 / sum(u_i^4 / nu_i)`` with ``u^2 = sum(u_i^2)`` (JCGM 100:2008, equation G.2b).

    Args:
        contributions: standard uncertainties in the result, all in one unit, not negative.
        degrees_of_freedom: of each, positive, may be infinite.

    Raises:
        BadInputError: lengths differ, a contribution is negative or a degree of freedom not positive.
    """
    u = np.asarray(contributions, dtype=np.float64)
    nu = np.asarray(degrees_of_freedom, dtype=np.float64)
    if u.shape != nu.shape or not (np.all(u >= 0.0) and np.all(nu > 0.0)):
        raise BadInputError(
            f"{u.size} contributions with {nu.size} degrees of freedom cannot be combined",
            "",
            "give one positive number of degrees of freedom for each contribution",
        )
    largest = float(u.max(initial=0.0))
    if largest == 0.0:
        return math.inf
    share = u / largest
    bottom = float(np.sum(share**4 / nu))
    return float(np.sum(share**2)) ** 2 / bottom if bottom > 0.0 else math.inf


@dataclass(frozen=True, slots=True)
class StraightLine:
    """A straight line fitted by least squares, the scatter estimated from the residuals.

    Attributes:
        intercept: at x = 0, in units of y.
        slope: in units of y over x.
        intercept_uncertainty: standard uncertainty of the intercept.
        slope_uncertainty: standard uncertainty of the slope.
        correlation: between intercept and slope [1].
        residual_sd: standard deviation of the residuals, in units of y, with `dof` degrees of freedom.
        dof: number of points less two.
    """

    intercept: float
    slope: float
    intercept_uncertainty: float
    slope_uncertainty: float
    correlation: float
    residual_sd: float
    dof: int

    def at(self, x: float) -> tuple[float, float]:
        """Return the value of the line at `x` and its standard uncertainty (not that of one more reading)."""
        covariance = self.correlation * self.intercept_uncertainty * self.slope_uncertainty
        variance = self.intercept_uncertainty**2 + (x * self.slope_uncertainty) ** 2 + 2.0 * x * covariance
        return self.intercept + self.slope * x, math.sqrt(max(variance, 0.0))


def straight_line_fit(x: Sequence[float] | FloatArray, y: Sequence[float] | FloatArray) -> StraightLine:
    """Fit ``y = intercept + slope x`` by least squares with equal weights.

    Args:
        x: shape (n,), taken as exact.
        y: shape (n,), with one unknown scatter.

    Raises:
        BadInputError: lengths differ, fewer than three points, a number is not finite, or all x are equal.

    References:
        JCGM 100:2008, Annex H.3, equations H.13.
    """
    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if xs.shape != ys.shape or xs.ndim != 1 or xs.size < 3:
        raise BadInputError(f"{xs.size} x with {ys.size} y do not make a line", "", "give at least three pairs")
    if not (np.all(np.isfinite(xs)) and np.all(np.isfinite(ys))):
        raise BadInputError("a point of the line is not a finite number", "", "leave that point out")
    mean_x, mean_y = float(xs.mean()), float(ys.mean())
    spread = float(np.sum((xs - mean_x) ** 2))
    if spread <= (1e-14 * abs(mean_x)) ** 2 * xs.size:
        raise BadInputError("all x of the line are equal", "", "take readings at two or more values of x")
    slope = float(np.sum((xs - mean_x) * (ys - mean_y))) / spread
    intercept = mean_y - slope * mean_x
    dof = xs.size - 2
    s = math.sqrt(float(np.sum((ys - mean_y - slope * (xs - mean_x)) ** 2)) / dof)
    mean_square = float(np.mean(xs**2))
    return StraightLine(
        intercept=intercept,
        slope=slope,
        intercept_uncertainty=s * math.sqrt(mean_square / spread),
        slope_uncertainty=s / math.sqrt(spread),
        correlation=-mean_x / math.sqrt(mean_square),
        residual_sd=s,
        dof=dof,
    )
