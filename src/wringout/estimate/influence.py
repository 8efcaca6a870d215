"""Which runs pull which parameter, what the answer would be without one, and where methods disagree.

All from the fitted study's own linearisation: with residuals ``r`` and slopes ``J`` at the most probable airplane, the
information is ``J'J`` and a run's part of it ``J_i'J_i``. Leaving runs out is then one linear solve; ``leave_one_out``
says how good that is by refitting when asked to.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2, norm

from wringout.airplane.vector import FloatArray
from wringout.estimate.fit import JointFit, fit
from wringout.estimate.linear import Linearised


@dataclass(frozen=True, slots=True)
class Pull:
    """How one run pulls one airplane parameter: shift, in posterior sds, if it were left out; share of information."""

    run: str
    parameter: str
    shift_sds: float
    wider: float


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A quantity without one run: value and sd, and the exact refit's value where it was made."""

    run: str
    value: float
    sd: float
    refitted: float | None


@dataclass(frozen=True, slots=True)
class Tension:
    """How one method's runs sit with all others on one quantity.

    ``sigma`` is (value with all - value without) over ``sqrt(var without - var with all)``, standard normal when they
    agree; ``inf`` never occurs: a method that says nothing about the quantity has ``sigma`` 0 and ``adds`` 0.
    ``adds`` is the share of variance the method removes.
    """

    method: str
    quantity: str
    without: float
    together: float
    sigma: float
    adds: float


@dataclass(frozen=True, slots=True)
class MethodCheck:
    """Posterior predictive check of one method: chi square of its residuals left-out, degrees of freedom, p value."""

    method: str
    chi_square: float
    degrees_of_freedom: int
    p_value: float
    sigma: float


def pulls(joint: JointFit, line: Linearised) -> list[Pull]:
    """Return every run's pull on every airplane parameter that the runs moved at all, strongest first."""
    out = []
    n = joint.problem.airplane_size
    sd = np.sqrt(np.diag(line.covariance))[:n]
    for i, r in enumerate(joint.problem.runs):
        z, covariance = line.without([i])
        wider = np.sqrt(np.diag(covariance))[:n] / sd
        for j, parameter in enumerate(joint.problem.beliefs.parameters):
            shift = float((joint.z[j] - z[j]) / sd[j])
            if abs(shift) > 0.02 or wider[j] > 1.005:
                out.append(Pull(r.run.key, parameter.key, shift, float(wider[j])))
    return sorted(out, key=lambda pull: -(abs(pull.shift_sds) + pull.wider - 1.0))


Quantity = Callable[[FloatArray], float]
"""A quantity of the airplane as a function of its parameter row."""


def gradient_of(quantity: Quantity, joint: JointFit) -> FloatArray:
    """Return the slope of a quantity with every latent, shape (p,), by central differences."""
    out = np.zeros(joint.z.size)
    for j in range(joint.problem.airplane_size):
        step = np.zeros(joint.z.size)
        step[j] = 1e-3
        high, low = joint.problem.row(joint.z + step), joint.problem.row(joint.z - step)
        out[j] = (quantity(high) - quantity(low)) / 2e-3
    return out


def leave_one_out(joint: JointFit, line: Linearised, quantity: Quantity, refit: bool = False) -> list[LeftOut]:
    """Return the quantity without each run in turn; with ``refit`` also by fitting the rest again (slow, exact)."""
    slope = gradient_of(quantity, joint)
    here = quantity(joint.row)
    out = []
    for i, r in enumerate(joint.problem.runs):
        z, covariance = line.without([i])
        value = here + float(slope @ (z - joint.z))
        exact = None
        if refit and len(joint.problem.runs) > 1:
            rest = [other for k, other in enumerate(joint.problem.runs) if k != i]
            exact = quantity(fit(joint.problem.beliefs, rest).row)
        out.append(LeftOut(r.run.key, value, float(np.sqrt(slope @ covariance @ slope)), exact))
    return out


def tensions(joint: JointFit, line: Linearised, quantities: dict[str, Quantity]) -> list[Tension]:
    """Return, for each method with other methods beside it and each quantity, how they agree, worst first.

    For nested Gaussian posteriors the shift caused by adding data has variance ``var(without) - var(with)``.
    """
    keys = sorted({r.method.key for r in joint.problem.runs})
    out = []
    for key in keys if len(keys) > 1 else []:
        own = [i for i, r in enumerate(joint.problem.runs) if r.method.key == key]
        z, covariance = line.without(own)
        for name, quantity in quantities.items():
            slope = gradient_of(quantity, joint)
            together, shift = quantity(joint.row), float(slope @ (joint.z - z))
            before, after = float(slope @ covariance @ slope), float(slope @ line.covariance @ slope)
            adds = 1.0 - after / before if before > 0.0 else 0.0
            sigma = shift / float(np.sqrt(before - after)) if adds > 1e-4 else 0.0
            out.append(Tension(key, name, together - shift, together, sigma, adds))
    return sorted(out, key=lambda tension: -abs(tension.sigma))


def method_checks(joint: JointFit, line: Linearised) -> list[MethodCheck]:
    """Return a predictive check per method: its readings against what all other methods and the prior predict.

    Each run's residual is taken against the fit without that method, with covariance ``I + J_i C J_i'``, C being the
    covariance without it; the chi square over the method's runs has as many degrees of freedom as readings.
    """
    out = []
    for key in sorted({r.method.key for r in joint.problem.runs}):
        own = [i for i, r in enumerate(joint.problem.runs) if r.method.key == key]
        z, covariance = line.without(own)
        slopes = np.vstack([line.slopes[i] for i in own])
        if not slopes.shape[0]:
            continue  # a method that checks techniques has no residuals here
        residual = np.concatenate([line.residuals[i] for i in own]) + slopes @ (z - joint.z)
        spread = np.eye(residual.size) + slopes @ covariance @ slopes.T
        chi_square = float(residual @ np.linalg.solve(spread, residual))
        p = float(chi2.sf(chi_square, residual.size))
        out.append(MethodCheck(key, chi_square, int(residual.size), p, float(norm.isf(max(p, 1e-300)))))
    return out
