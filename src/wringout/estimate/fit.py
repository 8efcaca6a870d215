"""The joint fit: most probable airplane, its covariance, the scatter of readings and the readings that do not belong.

Maximum a posteriori by Levenberg-Marquardt (:mod:`wringout.estimate.solver`), Gaussian (Laplace) approximation of the
posterior in the latents for each scatter that repeats may have. Reading noise is the stated one; where the residuals of
a method scatter more than stated, it is enlarged to what was seen and the fit says so. It is never reduced.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.vector import FloatArray
from wringout.errors import FitError
from wringout.estimate.mixture import Mixture, mixture_of
from wringout.estimate.problem import Problem, StudyRun, pose
from wringout.estimate.solver import Linear, solve
from wringout.estimate.widths import repeats_of, with_widths

FLAG_AT = 4.0
FLAGGED_SD_FACTOR = 30.0
NOISE_PRIOR_READINGS = 10.0
MOST_ROUNDS = 6
ROBUST_ROUNDS = 3
ROBUST_SCALE = 2.0
ROUGHLY, EXACTLY = 0.05, 1.0e-5
"""How still the fit must stand, in posterior standard deviations, between rounds and at the end."""
WIDTHS_SEED = 1


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
class Weighted:
    """A problem with the noise of its readings, as the solver takes it."""

    problem: Problem
    sds: Sequence[FloatArray]
    prior: float = 1.0

    def residuals(self, z: FloatArray) -> list[FloatArray]:
        """Return (observed - predicted) / sd of every run."""
        return self.problem.run_residuals(z, self.sds)

    def linear(self, z: FloatArray) -> Linear:
        """Return residuals and slopes of every run."""
        return self.problem.linear(z, self.sds)


@dataclass(frozen=True, slots=True)
class JointFit:
    """The fitted study. ``z`` (p,) and ``covariance`` (p, p) are in latents; ``noise_factor`` is by method key.

    ``covariance`` is that of ``mixture``: it counts the doubt about how much repeats scatter. ``linear`` is the
    linearisation at ``z``. ``settled`` is False when flags or noise still changed in the last round.
    """

    problem: Problem
    z: FloatArray
    covariance: FloatArray
    mixture: Mixture
    linear: Linear
    runs: tuple[RunFit, ...]
    flags: tuple[Flag, ...]
    noise_factor: dict[str, float]
    rounds: int
    settled: bool = True

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
    noise = {r.method.key: 1.0 for r in runs}
    flagged: list[frozenset[int]] = [frozenset()] * len(runs)
    z = np.zeros(problem.size)
    z, linear, used = _solve_robustly(problem, z, problem.reading_sds(z))
    rounds, settled = 1, False
    while True:
        base = problem.reading_sds(z)
        now_flagged = _flagged(problem, z, base, noise)
        now_noise = _noise(problem, z, base, now_flagged)
        sds = _weighted(base, now_flagged, now_noise, problem)
        linear = linear.reweighted([one / other for one, other in zip(used, sds, strict=True)])
        widths = problem.widths
        problem, z, linear = with_widths(problem, z, linear)
        alike = now_flagged == flagged and _alike(now_noise, noise) and _alike(problem.widths, widths)
        flagged, noise, used, settled = now_flagged, now_noise, sds, alike and rounds > 2
        if progress is not None:
            progress(rounds / MOST_ROUNDS, f"joint fit, round {rounds}")
        if settled or rounds == MOST_ROUNDS:
            break
        rounds += 1
        z, linear = solve(Weighted(problem, sds), z, ROUGHLY, linear)
    z, linear = solve(Weighted(problem, used), z, EXACTLY)
    return _assemble(problem, z, linear, flagged, noise, rounds, settled)


def _alike(one: Mapping[str, float], other: Mapping[str, float]) -> bool:
    """Return whether two sets of scales name the same things and differ by less than 1 % each."""
    return one.keys() == other.keys() and all(abs(one[name] / other[name] - 1.0) < 0.01 for name in one)


def _solve_robustly(
    problem: Problem, z: FloatArray, sds: Sequence[FloatArray]
) -> tuple[FloatArray, Linear, list[FloatArray]]:
    """Return latents that one wild reading cannot drag along, as a start: readings reweighted by how far off they are.

    Beside them stand the linearisation there and the noise it counts in.

    Iteratively reweighted least squares with the weights of the smooth L1 loss, ``1 / sqrt(1 + (r/2)^2)``; priors keep
    their weight.
    """
    z, linear = solve(Weighted(problem, sds), z, ROUGHLY)
    used = list(sds)
    for _ in range(ROBUST_ROUNDS - 1):
        off = problem.run_residuals(z, sds)
        before, used = used, [sd * (1.0 + (r / ROBUST_SCALE) ** 2) ** 0.25 for sd, r in zip(sds, off, strict=True)]
        known = linear.reweighted([one / other for one, other in zip(before, used, strict=True)])
        z, linear = solve(Weighted(problem, used), z, ROUGHLY, known)
    return z, linear, used


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


def _flagged(
    problem: Problem, z: FloatArray, base: Sequence[FloatArray], noise: dict[str, float]
) -> list[frozenset[int]]:
    """Return the flagged readings of each run; at most one in five, worst first."""
    out = []
    for run, residual in zip(problem.runs, problem.run_residuals(z, base), strict=True):
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
    for run, residual, out_of_line in zip(problem.runs, problem.run_residuals(z, base), flagged, strict=True):
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
    linear: Linear,
    flagged: Sequence[frozenset[int]],
    noise: dict[str, float],
    rounds: int,
    settled: bool,
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
    mixture = mixture_of(linear, z, repeats_of(problem, z, linear), WIDTHS_SEED)
    return JointFit(
        problem, z, mixture.covariance(), mixture, linear, tuple(fits), tuple(flags), noise, rounds, settled
    )


def weighted_sds(joint: JointFit) -> list[FloatArray]:
    """Return the noise the fit used for every reading: stated, times the method's factor, flagged ones enlarged."""
    flagged = [frozenset(run.flagged) for run in joint.runs]
    return _weighted(joint.problem.reading_sds(joint.z), flagged, joint.noise_factor, joint.problem)
