"""A first second opinion: the fit's own draws weighed by how far the readings are from the straight line it took.

A draw's exact density over its Gaussian one is ``exp(-(|r(z)|^2 - |r + J (z - z0)|^2) / 2)``, residuals as they are
over residuals as linearised; priors and the scatter of repeats are in both. Whether weights can be trusted is told by
the tail of their distribution (A. Vehtari, D. Simpson, A. Gelman, Y. Yao and J. Gabry, "Pareto smoothed importance
sampling", Journal of Machine Learning Research 25, 2024): a shape below 0.7 is taken as trustworthy. Draws cannot weigh
what none of them reached, so a second, separate answer far away stays unseen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wringout.airplane.vector import FloatArray
from wringout.errors import BadInputError
from wringout.estimate.fit import JointFit, noise_of
from wringout.estimate.noise import whitened
from wringout.estimate.problem import Problem

TRUSTED_SHAPE = 0.7
TAIL_SHARE = 0.2


@dataclass(frozen=True, slots=True)
class Weighing:
    """Draws of all latents (n, p) with weights (n,) that add up to one; ``shape`` is that of the weights' tail."""

    z: FloatArray
    weights: FloatArray
    shape: float

    @property
    def independent(self) -> float:
        """Number of equally weighted draws that would be as good."""
        return float(1.0 / np.sum(self.weights**2))


def weigh(joint: JointFit, n: int, seed: int) -> Weighing:
    """Return ``n`` draws of the fit weighed by their exact density; the same seed gives the same draws."""
    z = joint.mixture.draw(n, np.random.default_rng(seed))
    logs, smooth = _excess(joint, z), np.full(n, -np.inf)
    good = np.isfinite(logs)
    if good.any():
        smooth[good] = logs[good] - logs[good].max()
    weights, shape = smoothed(np.exp(smooth))
    return Weighing(z, weights / weights.sum(), shape)


def _excess(joint: JointFit, z: FloatArray) -> FloatArray:
    """Return the log of exact over linearised density of every draw, (n,), up to a constant; -inf where none is."""
    problem, noise = joint.problem, noise_of(joint)
    rows = np.array([problem.row(one) for one in z])
    moved, p = z - joint.z, problem.airplane_size
    total = np.zeros(len(z))
    for i, run in enumerate(problem.runs):
        own = slice(problem.offsets[i], problem.offsets[i] + len(problem.nuisances[i]))
        line = (
            joint.linear.residuals[i] + moved[:, :p] @ joint.linear.common[i].T + moved[:, own] @ joint.linear.own[i].T
        )
        off = run.method.observed(run.run) - _predicted(problem, i, rows, z)
        exact = whitened(off.T, noise[i]).T
        total -= 0.5 * (np.sum(exact**2, axis=1) - np.sum(line**2, axis=1))
    return np.where(np.isfinite(total), total, -np.inf)


def _predicted(problem: Problem, i: int, rows: FloatArray, z: FloatArray) -> FloatArray:
    """Return run i's predictions for every draw, (n, readings); NaN where the model has no answer."""
    nuisances = np.array([problem.nuisance(one, i) for one in z])
    try:
        return problem.predict_all(i, rows, nuisances)
    except BadInputError:
        out = np.full((len(z), problem.runs[i].method.observed(problem.runs[i].run).size), np.nan)
        for k in range(len(z)):
            try:
                out[k] = problem.predict_all(i, rows[k : k + 1], nuisances[k : k + 1])[0]
            except BadInputError:
                continue
        return out


def smoothed(weights: FloatArray) -> tuple[FloatArray, float]:
    """Return the weights with their largest fifth put on a generalised Pareto curve, and the curve's shape.

    The fit of the curve is that of J. Zhang and M. A. Stephens, Technometrics 51 (2009), as the paper named above uses
    it. Weights that are all alike have shape -inf.
    """
    n, order = weights.size, np.argsort(weights)
    tail = order[-int(min(TAIL_SHARE * n, 3.0 * np.sqrt(n))) :]
    cut = float(weights[order[-tail.size - 1]])
    over = weights[tail] - cut
    if tail.size < 5 or not over[-1] > 1e-12 * max(cut, 1e-300) or not over[0] >= 0.0:
        return weights, -np.inf
    shape, scale = _pareto(np.maximum(over, 1e-300))
    places = (np.arange(tail.size) + 0.5) / tail.size
    steep = -np.log1p(-places) if abs(shape) < 1e-9 else np.expm1(-shape * np.log1p(-places)) / shape
    out = weights.copy()
    out[tail] = np.minimum(cut + scale * steep, weights.max())
    return out, shape


def _pareto(over: FloatArray) -> tuple[float, float]:
    """Return shape and scale of the generalised Pareto distribution of rising excesses (n,), by Zhang and Stephens."""
    n = over.size
    m = 30 + int(np.sqrt(n))
    quarter = over[int(n / 4 + 0.5) - 1]
    slopes = 1.0 / over[-1] + (1.0 - np.sqrt(m / (np.arange(1, m + 1) - 0.5))) / (3.0 * quarter)
    shapes = np.mean(np.log1p(-slopes[:, np.newaxis] * over), axis=1)
    likely = n * (np.log(-slopes / shapes) - shapes - 1.0)
    shares = 1.0 / np.sum(np.exp(likely - likely[:, np.newaxis]), axis=1)
    slope = float(np.sum(slopes * shares) / np.sum(shares))
    shape = float(np.mean(np.log1p(-slope * over)))
    return (n * shape + 5.0) / (n + 10.0), -shape / slope
