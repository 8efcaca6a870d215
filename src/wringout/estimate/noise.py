"""What the noise of a run's readings is: independent standard deviations, or errors that hang together.

The noise of run i is an array: (n,) standard deviations where its readings err one by one, or (n, n) where they err
together, the matrix that whitens them: ``W`` with ``W'W`` the inverse of their covariance. A fit sees readings only
*whitened*, so that every number it sees has a unit error of its own.
"""

from __future__ import annotations

import numpy as np

from wringout.airplane.vector import FloatArray


def whitened(values: FloatArray, noise: FloatArray) -> FloatArray:
    """Return values of n readings, (n,) or (n, k), in units of their noise."""
    if noise.ndim == 2:
        return np.asarray(noise @ values)
    return np.asarray(values / (noise if values.ndim == 1 else noise[:, np.newaxis]))


def restated(values: FloatArray, before: FloatArray, after: FloatArray) -> FloatArray:
    """Return whitened values, (n,) or (n, k), as they are with other noise."""
    if before.ndim == 2:
        return whitened(np.asarray(np.linalg.solve(before, values)), after)
    return whitened(values * (before if values.ndim == 1 else before[:, np.newaxis]), after)


def with_common(sd: FloatArray, covariance: FloatArray) -> FloatArray:
    """Return the noise (n, n) of independent errors ``sd`` (n,) beside errors of that ``covariance`` (n, n)."""
    return np.asarray(np.linalg.inv(np.linalg.cholesky(covariance + np.diag(sd**2))))


def log_size(noise: FloatArray) -> float:
    """Return half the logarithm of the determinant of the covariance."""
    return float(-np.sum(np.log(np.diag(noise))) if noise.ndim == 2 else np.sum(np.log(noise)))
