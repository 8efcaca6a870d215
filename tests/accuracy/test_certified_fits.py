"""The solver of the joint fit against fits that NIST certified: values, standard errors and residual scatter.

Source: NIST Statistical Reference Datasets, nonlinear regression (see certified_fits.py). The very function that the
joint fit calls is called here, with its settings, its difference step and its covariance formula; parameters are given
to it as it always gets them, as multiples of a believed spread (here a tenth of NIST's starting value). A free fit has
no stated reading noise, so the covariance is scaled by the residual variance, as NIST does.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from tests.accuracy.certified_fits import DATA_SETS, Array, CertifiedFit
from wringout.estimate.fit import EXACTLY
from wringout.estimate.problem import DIFFERENCE_STEP
from wringout.estimate.solver import Linear, solve

SPREAD = 0.1
DIGITS_OF_VALUES = 4.5
DIGITS_OF_ERRORS = 4.3
DIGITS_OF_SCATTER = 9.0


@dataclass(frozen=True, slots=True)
class FreeFit:
    """A data set posed as the joint fit poses its problem, but without priors."""

    data: CertifiedFit
    start: Array
    prior: float = 0.0

    def values(self, z: Array) -> Array:
        return np.asarray(self.start + SPREAD * np.abs(self.start) * z)

    def residuals(self, z: Array) -> list[Array]:
        return [np.asarray((self.data.y - self.data.model(self.data.x, self.values(z))) / self.data.residual_sd)]

    def linear(self, z: Array) -> Linear:
        steps = DIFFERENCE_STEP * np.eye(z.size)
        columns = [self.residuals(z + step)[0] - self.residuals(z - step)[0] for step in steps]
        slopes = np.array(columns).T / (2.0 * DIFFERENCE_STEP)
        return Linear(tuple(self.residuals(z)), (slopes,), (np.zeros((slopes.shape[0], 0)),))


def solved(data: CertifiedFit, start: Array) -> tuple[Array, Array, float]:
    """Return values, standard errors and residual standard deviation as the solver finds them."""
    problem = FreeFit(data, start)
    z, _ = solve(problem, np.zeros(start.size), EXACTLY)
    residuals, jacobian = problem.residuals(z)[0], problem.linear(z).dense()
    variance = float(residuals @ residuals) / (data.x.size - start.size)
    covariance = variance * np.linalg.inv(jacobian.T @ jacobian)
    errors = SPREAD * np.abs(start) * np.sqrt(np.diag(covariance))
    return problem.values(z), errors, float(np.sqrt(variance)) * data.residual_sd


def matching_digits(found: Array | float, certified: Array | float) -> float:
    """Return how many leading digits match in the worst case: -log10 of the relative error, as NIST counts them."""
    relative = np.max(np.abs(np.asarray(found) / np.asarray(certified) - 1.0))
    return float(-np.log10(max(relative, 1e-12)))


NEAR = [pytest.param(data, data.starts[1], id=f"{data.name} near") for data in DATA_SETS]
FAR = [pytest.param(data, data.starts[0], id=f"{data.name} far") for data in DATA_SETS]


@pytest.mark.parametrize(("data", "start"), [*NEAR, *FAR])
def test_the_certified_answer_is_found(data: CertifiedFit, start: Array) -> None:
    values, errors, scatter = solved(data, start)
    assert matching_digits(values, data.values) > DIGITS_OF_VALUES
    assert matching_digits(errors, data.errors) > DIGITS_OF_ERRORS
    assert matching_digits(scatter, data.residual_sd) > DIGITS_OF_SCATTER
    assert np.all(np.abs(values - data.values) < 0.001 * data.errors), "far less than the error itself"
