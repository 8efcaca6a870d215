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
from wringout.estimate.noise import whitened
from wringout.estimate.problem import Problem, StudyRun, pose
from wringout.estimate.solver import Linear, solve
from wringout.estimate.unsteady import Air, likely_strength, log_evidence, still_air
from wringout.estimate.widths import repeats_of, with_widths

FLAG_AT = 4.0
FLAGGED_SD_FACTOR = 30.0
NOISE_PRIOR_READINGS = 10.0
MOST_ROUNDS = 6
ROBUST_ROUNDS = 3
ROBUST_SCALE = 2.0
ROUGHLY, EXACTLY = 0.05, 1.0e-7
"""How still the fit must stand, in posterior standard deviations, between rounds and at the end."""
WIDTHS_SEED = 1
CLEARLY = 4.0
"""By how much less the cost of the second start must be to count: e squared times as likely (judged)."""
STEADY_MPS = 0.005
"""How closely the strength of the air must stand still between rounds [m/s], one foot a minute."""


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
    """How one run was fitted. Arrays have shape (n,).

    ``sd`` is the whole noise of each reading, that of moving air in it, before any enlargement for a flag.
    """

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
    noise: Sequence[FloatArray]
    prior: float = 1.0

    def residuals(self, z: FloatArray) -> list[FloatArray]:
        """Return observed - predicted of every run in units of its noise."""
        return self.problem.run_residuals(z, self.noise)

    def linear(self, z: FloatArray) -> Linear:
        """Return residuals and slopes of every run."""
        return self.problem.linear(z, self.noise)


@dataclass(frozen=True, slots=True)
class JointFit:
    """The fitted study. ``z`` (p,) and ``covariance`` (p, p) are in latents; ``noise_factor`` is by method key.

    ``air`` is how strongly the air moved up and down, with what that does to the readings of each run.

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
    air: Air
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
    robust loss, so that one wrong call cannot drag the curve), re-state the noise, how strongly the air moves and how
    much repeats scatter; until nothing changes.
    Raises FitError when there are no runs or the solver fails.
    """
    if not runs:
        raise FitError(
            "there are no runs in use", "reduction", "take in at least one recording, or put a run back in use"
        )
    problem = pose(beliefs, runs)
    noise = {r.method.key: 1.0 for r in runs}
    flagged: list[frozenset[int]] = [frozenset()] * len(runs)
    z, linear, used = _best_start(problem)
    air = still_air(problem)
    rounds, settled = 1, False
    while True:
        seen = _Seen(problem, problem.deviations(z), problem.reading_sds(z))
        now_flagged = _flagged(seen, air, noise)
        now_air = _moving_air(seen, now_flagged, air, z, linear, used)
        now_noise = _noise(seen, now_flagged, now_air)
        now_used = now_air.noises(_weighted(problem, seen.sds, now_flagged, now_noise))
        linear = linear.restated(used, now_used)
        widths = problem.widths
        problem, z, linear = with_widths(problem, z, linear)
        alike = now_flagged == flagged and _alike(now_noise, noise) and _alike(problem.widths, widths)
        alike = alike and abs(now_air.strength_mps - air.strength_mps) < STEADY_MPS
        flagged, noise, used, air, settled = now_flagged, now_noise, now_used, now_air, alike and rounds > 2
        if progress is not None:
            progress(rounds / MOST_ROUNDS, f"joint fit, round {rounds}")
        if settled or rounds == MOST_ROUNDS:
            break
        rounds += 1
        z, linear = solve(Weighted(problem, used), z, ROUGHLY, linear)
    z, linear = solve(Weighted(problem, used), z, EXACTLY)
    return _assemble(problem, z, linear, flagged, noise, air, rounds, settled)


def _alike(one: Mapping[str, float], other: Mapping[str, float]) -> bool:
    """Return whether two sets of scales name the same things and differ by less than 1 % each."""
    return one.keys() == other.keys() and all(abs(one[name] / other[name] - 1.0) < 0.01 for name in one)


def _best_start(problem: Problem) -> tuple[FloatArray, Linear, list[FloatArray]]:
    """Return the better of two starts, solved robustly: all as believed, and flaps whose drag falls fast with lift.

    A flap's area is a straight line in CL down to a floor, and readings on both sides of the bend can be explained,
    much worse, by one flat line: from the middle of what is believed the solver may stay there (six pairs of flaps at
    entries from 120 to 92 kt on JSBSim's model L17 ended 28 % off; from the second start, 3 %).
    """
    plain, steep = np.zeros(problem.size), problem.steep
    sds = problem.reading_sds(plain)
    first = _solve_robustly(problem, plain, sds)
    if not any(steep[list(heeded)].any() for heeded in problem.heeded):
        return first
    try:
        second = _solve_robustly(problem, steep, sds)
    except FitError:
        return first
    gain = _robust_cost(problem, first[0], sds) - _robust_cost(problem, second[0], sds)
    return second if gain > CLEARLY else first


def _robust_cost(problem: Problem, z: FloatArray, sds: Sequence[FloatArray]) -> float:
    """Return what :func:`_solve_robustly` makes small: priors squared and the smooth L1 loss of every reading."""
    off = np.concatenate(problem.run_residuals(z, sds)) / ROBUST_SCALE
    return float(z @ z + 2.0 * ROBUST_SCALE**2 * np.sum(np.sqrt(1.0 + off**2) - 1.0))


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
        z, linear = solve(Weighted(problem, used), z, ROUGHLY, linear.restated(before, used))
    return z, linear, used


def _weighted(
    problem: Problem, base: Sequence[FloatArray], flagged: Sequence[frozenset[int]], noise: dict[str, float]
) -> list[FloatArray]:
    """Return the noise used: stated times the method's factor, flagged readings made almost weightless."""
    out = []
    for run, sd, out_of_line in zip(problem.runs, base, flagged, strict=True):
        used = sd * noise[run.method.key]
        used[list(out_of_line)] *= FLAGGED_SD_FACTOR
        out.append(used)
    return out


@dataclass(frozen=True, slots=True)
class _Seen:
    """What a round sees: each run's observed - predicted (n_i,) and stated standard deviations (n_i,), SI."""

    problem: Problem
    off: Sequence[FloatArray]
    sds: Sequence[FloatArray]


def _flagged(seen: _Seen, air: Air, noise: dict[str, float]) -> list[frozenset[int]]:
    """Return the flagged readings of each run; at most one in five, worst first."""
    out = []
    for run, off, sd in zip(seen.problem.runs, seen.off, air.together(seen.sds), strict=True):
        size = np.abs(off / sd) / min(noise[run.method.key], 1.5)
        most = max(1, off.size // 5)
        worst = np.argsort(size)[::-1][:most]
        out.append(frozenset(int(i) for i in worst if size[i] > FLAG_AT))
    return out


def _moving_air(
    seen: _Seen, flagged: Sequence[frozenset[int]], air: Air, z: FloatArray, linear: Linear, used: Sequence[FloatArray]
) -> Air:
    """Return the air in the strength that the readings, with their own scatter beside it, make likely.

    ``linear`` is the linearisation at ``z``, counted in the noise ``used``.
    """
    if not air.matters:
        return air

    def log_likelihood(strength_mps: float) -> float:
        tried = air.of(strength_mps)
        noise = tried.noises(_weighted(seen.problem, seen.sds, flagged, _noise(seen, flagged, tried)))
        return log_evidence(linear.restated(used, noise), z, noise)

    return air.of(likely_strength(log_likelihood))


def _noise(seen: _Seen, flagged: Sequence[frozenset[int]], air: Air) -> dict[str, float]:
    """Return by method how much larger the scatter is than stated: chi square shrunk towards 1, never below 1.

    Only scatter about a straight line through each run's residuals counts: a curve that lies wrong as a whole is a
    disagreement between runs, to be shown as one, not noise. Nor does what moving air explains.
    """
    sums: dict[str, float] = {}
    counts: dict[str, float] = {}
    for run, off, noise, out_of_line in zip(seen.problem.runs, seen.off, air.noises(seen.sds), flagged, strict=True):
        residual = whitened(off, noise)
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
    air: Air,
    rounds: int,
    settled: bool,
) -> JointFit:
    row = problem.row(z)
    base = problem.reading_sds(z)
    whole = air.together([sd * noise[r.method.key] for r, sd in zip(problem.runs, base, strict=True)])
    fits, flags = [], []
    for i, r in enumerate(problem.runs):
        observed, predicted = r.method.observed(r.run), problem.predict(z, row, i)
        fits.append(RunFit(r.run.key, observed, predicted, whole[i], problem.nuisance(z, i), tuple(sorted(flagged[i]))))
        for k in sorted(flagged[i]):
            deviation = float(observed[k] - predicted[k])
            flags.append(
                Flag(r.run.key, k, int(r.run.rows[k]), float(observed[k]), deviation, deviation / float(base[i][k]))
            )
    mixture = mixture_of(linear, z, repeats_of(problem, z, linear), WIDTHS_SEED)
    return JointFit(
        problem, z, mixture.covariance(), mixture, linear, tuple(fits), tuple(flags), noise, air, rounds, settled
    )


def noise_of(joint: JointFit) -> list[FloatArray]:
    """Return the noise the fit used for every run (see :mod:`wringout.estimate.noise`).

    It is the stated one times the method's factor, flagged readings enlarged, with that of moving air.
    """
    flagged = [frozenset(run.flagged) for run in joint.runs]
    own = _weighted(joint.problem, joint.problem.reading_sds(joint.z), flagged, joint.noise_factor)
    return joint.air.noises(own)
