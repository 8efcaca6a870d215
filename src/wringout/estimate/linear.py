"""The fitted study's own linearisation: residuals and slopes at the most probable airplane."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from wringout.airplane.vector import FloatArray
from wringout.estimate.fit import JointFit


@dataclass(frozen=True, slots=True)
class Linearised:
    """Residuals and slopes at the fit. ``residuals[i]`` (n_i,) and ``slopes[i]`` (n_i, p) belong to run i.

    ``covariance`` (p, p) is the inverse of ``information``, the prior's counted in.
    """

    residuals: tuple[FloatArray, ...]
    slopes: tuple[FloatArray, ...]
    information: FloatArray
    covariance: FloatArray
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
    """Return the fit's linearisation, at the most probable scatter of repeats."""
    dense, information = joint.linear.dense(), joint.linear.information() + np.eye(joint.z.size)
    edges = np.cumsum([0, *(residual.size for residual in joint.linear.residuals)])
    parts = [slice(int(a), int(b)) for a, b in pairwise(edges)]
    return Linearised(
        joint.linear.residuals,
        tuple(dense[part] for part in parts),
        information,
        np.asarray(np.linalg.inv(information), dtype=np.float64),
        joint.z,
    )
