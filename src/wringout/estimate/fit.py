"""The joint fit: most probable airplane, its covariance, the scatter of readings and the readings that do not belong.

Maximum a posteriori by Levenberg-Marquardt (``scipy.optimize.least_squares``), Gaussian (Laplace) approximation of the
posterior in the latents. Reading noise is the stated one; where the residuals of a method scatter more than stated,
it is enlarged to what was seen and the fit says so. It is never reduced.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.vector import FloatArray
from wringout.errors import FitError
from wringout.estimate.problem import Problem, StudyRun, pose
from wringout.estimate.widths import with_widths

FLAG_AT = 4.0
FLAGGED_SD_FACTOR = 30.0
NOISE_PRIOR_READINGS = 10.0
MOST_ROUNDS = 6
ROBUST_ROUNDS = 3
ROBUST_SCALE = 2.0
MOST_EVALUATIONS = 200


@dataclass(frozen=True, slots=True)
class Flag:
    """A reading that does not belong to the curve: kept, shown, and given almost no weight.

    ``deviation`` is observed minus predicted, SI; ``sds`` the same in stated standard deviations.
    """

    run: str
    index: int
    row: int
    observed: float
    deviation: float
    sds: float


@dataclass(frozen=True, slots=True)
class RunFit:
    """How one run was fitted. Arrays have shape (n,); ``sd`` is the noise used, before any enlargement for a flag."""

    key: str
    observed: FloatArray
    predicted: FloatArray
    sd: FloatArray
    nuisance: FloatArray
    flagged: tuple[int, ...]

    @property
    def standardised(self) -> FloatArray:
        """Residuals in standard deviations."""
        return (self.observed - self.predicted) / self.sd


@dataclass(frozen=True, slots=True)
class JointFit:
    """The fitted study. ``z`` (p,) and ``covariance`` (p, p) are in latents; ``noise_factor`` is by method key."""

    problem: Problem
    z: FloatArray
    covariance: FloatArray
    runs: tuple[RunFit, ...]
    flags: tuple[Flag, ...]
    noise_factor: dict[str, float]
    rounds: int

    @property
    def run_to_run(self) -> dict[str, float]:
        """Estimated standard deviation of each group of repeats between runs (SI; a share for drag areas)."""
        return dict(self.problem.widths)

    @property
    def row(self) -> FloatArray:
        """Most probable parameter row."""
        return self.problem.row(self.z)


Progress = Callable[[float, str], None]


def fit(beliefs: Beliefs, runs: Sequence[StudyRun], progress: Progress | None = None) -> JointFit:
    """Fit one airplane to all runs.

    Rounds of: solve at fixed reading noise, flag readings beyond FLAG_AT standard deviations (the first round uses a
    robust loss, so that one wrong call cannot drag the curve), re-state the noise and how much repeats scatter; until
    nothing changes.
    Raises FitError when there are no runs or the solver fails.
    """
    if not runs:
        raise FitError(
            "there are no runs in use", "reduction", "take in at least one recording, or put a run back in use"
        )
    problem = pose(beliefs, runs)
    z = np.zeros(problem.size)
    flagged: list[frozenset[int]] = [frozenset()] * len(runs)
    noise = {r.method.key: 1.0 for r in runs}
    rounds = 0
    for rounds in range(1, MOST_ROUNDS + 1):
        base = problem.reading_sds(z)
        solve = _solve_robustly if rounds == 1 else _solve
        z = solve(problem, z, _weighted(base, flagged, noise, problem))
        base = problem.reading_sds(z)
        now_flagged = _flagged(problem, z, base, noise)
        now_noise = _noise(problem, z, base, now_flagged)
        widths = problem.widths
        problem, z = with_widths(problem, z, _weighted(base, now_flagged, now_noise, problem))
        settled = now_flagged == flagged and _alike(now_noise, noise) and _alike(problem.widths, widths)
        flagged, noise = now_flagged, now_noise
        if progress is not None:
            progress(rounds / MOST_ROUNDS, f"joint fit, round {rounds}")
        if settled and rounds > 2:
            break
    sds = _weighted(problem.reading_sds(z), flagged, noise, problem)
    z = _solve(problem, z, sds)
    jacobian = problem.jacobian(z, sds)
    covariance = np.asarray(np.linalg.inv(jacobian.T @ jacobian), dtype=np.float64)
    return _assemble(problem, z, covariance, flagged, noise, rounds)


def _alike(one: Mapping[str, float], other: Mapping[str, float]) -> bool:
    """Return whether two sets of scales name the same things and differ by less than 1 % each."""
    return one.keys() == other.keys() and all(abs(one[name] / other[name] - 1.0) < 0.01 for name in one)


def _solve(problem: Problem, z: FloatArray, sds: Sequence[FloatArray]) -> FloatArray:
    """Return the latents of least squares at fixed noise (MINPACK's Levenberg-Marquardt); raises FitError."""
    result = least_squares(
        lambda x: problem.residuals(x, sds),
        z,
        jac=lambda x: problem.jacobian(x, sds),
        method="lm",
        xtol=1e-9,
        ftol=1e-9,
        gtol=1e-6,
        max_nfev=MOST_EVALUATIONS,
    )
    if not np.all(np.isfinite(result.x)):
        raise FitError("the fit ran away", "reduction", "check weights, altitudes and units of the runs")
    if not result.success:
        raise FitError("the fit did not settle", "reduction", "set aside the run that lies farthest from its curve")
    return np.asarray(result.x, dtype=np.float64)


def _solve_robustly(problem: Problem, z: FloatArray, sds: Sequence[FloatArray]) -> FloatArray:
    """Return latents that one wild reading cannot drag along, as a start: readings reweighted by how far off they are.

    Iteratively reweighted least squares with the weights of the smooth L1 loss, ``1 / sqrt(1 + (r/2)^2)``; priors keep
    their weight.
    """
    weighted = list(sds)
    for _ in range(ROBUST_ROUNDS):
        z = _solve(problem, z, weighted)
        off = _standardised(problem, z, sds)
        weighted = [sd * (1.0 + (r / ROBUST_SCALE) ** 2) ** 0.25 for sd, r in zip(sds, off, strict=True)]
    return z


def _weighted(
    base: Sequence[FloatArray], flagged: Sequence[frozenset[int]], noise: dict[str, float], problem: Problem
) -> list[FloatArray]:
    """Return the noise used: stated times the method's factor, flagged readings made almost weightless."""
    out = []
    for run, sd, out_of_line in zip(problem.runs, base, flagged, strict=True):
        used = sd * noise[run.method.key]
        used[list(out_of_line)] *= FLAGGED_SD_FACTOR
        out.append(used)
    return out


def _standardised(problem: Problem, z: FloatArray, base: Sequence[FloatArray]) -> list[FloatArray]:
    row = problem.row(z)
    return [(r.method.observed(r.run) - problem.predict(z, row, i)) / base[i] for i, r in enumerate(problem.runs)]


def _flagged(
    problem: Problem, z: FloatArray, base: Sequence[FloatArray], noise: dict[str, float]
) -> list[frozenset[int]]:
    """Return the flagged readings of each run; at most one in five, worst first."""
    out = []
    for run, residual in zip(problem.runs, _standardised(problem, z, base), strict=True):
        size = np.abs(residual) / min(noise[run.method.key], 1.5)
        most = max(1, residual.size // 5)
        worst = np.argsort(size)[::-1][:most]
        out.append(frozenset(int(i) for i in worst if size[i] > FLAG_AT))
    return out


def _noise(
    problem: Problem, z: FloatArray, base: Sequence[FloatArray], flagged: Sequence[frozenset[int]]
) -> dict[str, float]:
    """Return by method how much larger the scatter is than stated: chi square shrunk towards 1, never below 1.

    Only scatter about a straight line through each run's residuals counts: a curve that lies wrong as a whole is a
    disagreement between runs, to be shown as one, not noise.
    """
    sums: dict[str, float] = {}
    counts: dict[str, float] = {}
    for run, residual, out_of_line in zip(problem.runs, _standardised(problem, z, base), flagged, strict=True):
        keep = np.setdiff1d(np.arange(residual.size), list(out_of_line))
        key = run.method.key
        squares, freedom = _scatter(residual[keep])
        sums[key] = sums.get(key, 0.0) + squares
        counts[key] = counts.get(key, 0.0) + freedom
    return {
        key: max(1.0, float(np.sqrt((NOISE_PRIOR_READINGS + sums[key]) / (NOISE_PRIOR_READINGS + counts[key]))))
        for key in sums
    }


def _scatter(residual: FloatArray) -> tuple[float, int]:
    """Return the sum of squares about a line (about the mean below six readings) and its degrees of freedom."""
    degree = 1 if residual.size >= 6 else 0
    if residual.size <= degree + 1:
        return 0.0, 0
    at = np.arange(residual.size, dtype=np.float64)
    trend = np.polynomial.polynomial.polyval(at, np.polynomial.polynomial.polyfit(at, residual, degree))
    return float(np.sum((residual - trend) ** 2)), residual.size - degree - 1


def _assemble(
    problem: Problem,
    z: FloatArray,
    covariance: FloatArray,
    flagged: Sequence[frozenset[int]],
    noise: dict[str, float],
    rounds: int,
) -> JointFit:
    row = problem.row(z)
    base = problem.reading_sds(z)
    fits, flags = [], []
    for i, r in enumerate(problem.runs):
        observed, predicted = r.method.observed(r.run), problem.predict(z, row, i)
        sd = base[i] * noise[r.method.key]
        fits.append(RunFit(r.run.key, observed, predicted, sd, problem.nuisance(z, i), tuple(sorted(flagged[i]))))
        for k in sorted(flagged[i]):
            deviation = float(observed[k] - predicted[k])
            flags.append(
                Flag(r.run.key, k, int(r.run.rows[k]), float(observed[k]), deviation, deviation / float(base[i][k]))
            )
    return JointFit(problem, z, covariance, tuple(fits), tuple(flags), noise, rounds)


def weighted_sds(joint: JointFit) -> list[FloatArray]:
    """Return the noise the fit used for every reading: stated, times the method's factor, flagged ones enlarged."""
    flagged = [frozenset(run.flagged) for run in joint.runs]
    return _weighted(joint.problem.reading_sds(joint.z), flagged, joint.noise_factor, joint.problem)
