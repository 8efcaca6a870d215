"""How much repeats of one thing scatter from run to run: variance components of the joint fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.vector import FloatArray
from wringout.estimate.problem import Problem

SCATTER_PRIOR_RUNS = 3.0
MOST_STEPS = 300
STILL = 1.0e-4


def with_widths(problem: Problem, z: FloatArray, sds: Sequence[FloatArray]) -> tuple[Problem, FloatArray]:
    """Return the problem with each group's run-to-run scatter re-estimated, and latents that mean the same as before.

    Expectation-maximisation on the linearised fit, until it stands still: the variance is the mean of value squared
    plus its posterior variance over the group, with the stated variance counting as SCATTER_PRIOR_RUNS runs (a scaled
    inverse chi square prior). Single steps between solves would stop far short: each moves only a part of the way.
    """
    repeats = [
        (offset + k, nuisance)
        for group, offset in zip(problem.nuisances, problem.offsets, strict=True)
        for k, nuisance in enumerate(group)
        if nuisance.group
    ]
    if not repeats:
        return problem, z
    places = np.array([place for place, _ in repeats])
    names, group_of = np.unique([nuisance.group for _, nuisance in repeats], return_inverse=True)
    stated = np.array([next(n.sd for _, n in repeats if n.group == name) for name in names])
    before = np.array([problem.width(nuisance) for _, nuisance in repeats])
    slopes, residual = problem.jacobian(z, sds)[problem.size :], problem.residuals(z, sds)[problem.size :]
    widths = _still_widths(slopes, slopes.T @ (slopes @ z - residual), places, group_of, stated, before)
    moved = z.copy()
    moved[places] *= before / widths[group_of]
    return replace(problem, widths=dict(zip(names.tolist(), widths.tolist(), strict=True))), moved


def _still_widths(
    slopes: FloatArray,
    pull: FloatArray,
    places: NDArray[np.int64],
    group_of: NDArray[np.int64],
    stated: FloatArray,
    before: FloatArray,
) -> FloatArray:
    """Return the standard deviation of each group, shape (groups,), at which expectation-maximisation stands still.

    ``pull`` is ``J'(J z - r)``; ``places`` are the repeats' latents, counted in widths ``before``, and ``group_of``
    their groups.
    """
    information, counts = slopes.T @ slopes, np.bincount(group_of)
    widths = np.array([before[group_of == k][0] for k in range(counts.size)])
    for _ in range(MOST_STEPS):
        precision = np.ones(pull.size)
        precision[places] = (before / widths[group_of]) ** 2
        covariance = np.linalg.inv(information + np.diag(precision))
        squares = before**2 * ((covariance @ pull)[places] ** 2 + np.diag(covariance)[places])
        totals = SCATTER_PRIOR_RUNS * stated**2 + np.bincount(group_of, weights=squares)
        last, widths = widths, np.sqrt(totals / (SCATTER_PRIOR_RUNS + counts))
        if np.all(np.abs(widths / last - 1.0) < STILL):
            break
    return np.asarray(widths)
