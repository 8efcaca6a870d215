"""The fitted study's own linearisation: residuals and slopes at the most probable airplane."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from wringout.airplane.vector import FloatArray
from wringout.estimate.fit import JointFit, weighted_sds


@dataclass(frozen=True, slots=True)
class Linearised:
    """Residuals and slopes at the fit. ``residuals[i]`` (n_i,) and ``slopes[i]`` (n_i, p) belong to run i."""

    residuals: tuple[FloatArray, ...]
    slopes: tuple[FloatArray, ...]
    information: FloatArray
    z: FloatArray

    def without(self, left_out: Sequence[int]) -> tuple[FloatArray, FloatArray]:
        """Return latents (p,) and covariance (p, p) with some runs left out.

        At the fit ``z + J'r = 0``; dropping runs leaves the gradient ``-J_i'r_i``, undone by one Newton step.
        """
        information = self.information.copy()
        gradient = np.zeros(self.z.size)
        for i in left_out:
            information -= self.slopes[i].T @ self.slopes[i]
            gradient -= self.slopes[i].T @ self.residuals[i]
        covariance = np.asarray(np.linalg.inv(information), dtype=np.float64)
        return self.z - covariance @ gradient, covariance


def linearise(joint: JointFit) -> Linearised:
    """Return the fit's linearisation."""
    problem = joint.problem
    sds = weighted_sds(joint)
    residuals = problem.residuals(joint.z, sds)
    jacobian = problem.jacobian(joint.z, sds)
    edges = np.cumsum([problem.size, *(sd.size for sd in sds)])
    parts = [slice(int(a), int(b)) for a, b in pairwise(edges)]
    return Linearised(
        tuple(residuals[part] for part in parts),
        tuple(jacobian[part] for part in parts),
        np.asarray(jacobian.T @ jacobian, dtype=np.float64),
        joint.z,
    )
