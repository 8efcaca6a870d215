"""The joint fit as a least-squares problem in standard normal latents.

The unknowns are the airplane's parameters followed by each run's nuisances, all as latents ``z`` whose prior is the
standard normal, so that prior residuals are ``z`` itself and data residuals are (observed - predicted) / sd.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.vector import FloatArray
from wringout.errors import BadInputError
from wringout.estimate.noise import whitened
from wringout.estimate.solver import Linear
from wringout.methods.types import BatchMethod, Method, Nuisance

DIFFERENCE_STEP = 1.0e-4
PROBES = 3
STEEP_FLAPS, STEEP_SDS = "flap_lift_slope", -1.5
"""Parameters of flaps whose drag falls with lift, and where it falls fast, in standard deviations of the belief."""


@dataclass(frozen=True, slots=True)
class StudyRun:
    """A run with the method that knows it."""

    run: Any
    method: Method


@dataclass(frozen=True, slots=True)
class Problem:
    """All runs of a study against one airplane.

    ``offsets[i]`` is where run i's nuisances start in ``z``; ``size`` is the number of latents. ``heeded[i]`` lists the
    airplane's latents that can change run i's readings at all. ``widths`` gives the estimated standard deviation of
    each group of nuisances (SI); a group not in it has the sd it was stated with.
    """

    beliefs: Beliefs
    runs: tuple[StudyRun, ...]
    nuisances: tuple[tuple[Nuisance, ...], ...]
    offsets: tuple[int, ...]
    size: int
    heeded: tuple[tuple[int, ...], ...] = ()
    widths: Mapping[str, float] = field(default_factory=dict)

    @property
    def airplane_size(self) -> int:
        """Number of airplane parameters, the first entries of ``z``."""
        return len(self.beliefs.parameters)

    @property
    def steep(self) -> FloatArray:
        """Latents (size,): all as believed, but flaps whose drag falls so fast with lift that it meets its floor."""
        out = np.zeros(self.size)
        out[[i for i, p in enumerate(self.beliefs.parameters) if p.key.startswith(STEEP_FLAPS)]] = STEEP_SDS
        return out

    def row(self, z: FloatArray) -> FloatArray:
        """Return the parameter row at ``z``."""
        return self.beliefs.row_from_latent(z[: self.airplane_size])

    def nuisance(self, z: FloatArray, i: int) -> FloatArray:
        """Return run i's nuisance values, SI."""
        part = z[self.offsets[i] : self.offsets[i] + len(self.nuisances[i])]
        return np.array([n.mean + self.width(n) * zi for n, zi in zip(self.nuisances[i], part, strict=True)])

    def width(self, nuisance: Nuisance) -> float:
        """Return the standard deviation of a nuisance: its group's estimated one, else the stated one."""
        return self.widths.get(nuisance.group, nuisance.sd)

    def predict(self, z: FloatArray, row: FloatArray, i: int) -> FloatArray:
        """Return run i's predicted readings, SI."""
        run = self.runs[i]
        return run.method.predict(run.run, row, self.nuisance(z, i), self.beliefs)

    def predict_all(self, i: int, rows: FloatArray, nuisances: FloatArray) -> FloatArray:
        """Return run i's predictions for k candidates, (k, n), from ``rows`` (k, SIZE) and ``nuisances`` (k, m), SI."""
        run, method = self.runs[i].run, self.runs[i].method
        if isinstance(method, BatchMethod):
            return method.predict_many(run, rows, nuisances, self.beliefs)
        pairs = zip(rows, nuisances, strict=True)
        return np.array([method.predict(run, row, nuisance, self.beliefs) for row, nuisance in pairs])

    def reading_sds(self, z: FloatArray) -> list[FloatArray]:
        """Return each run's reading standard deviations at ``z``."""
        row = self.row(z)
        return [r.method.reading_sd(r.run, row, self.nuisance(z, i), self.beliefs) for i, r in enumerate(self.runs)]

    def deviations(self, z: FloatArray) -> list[FloatArray]:
        """Return every run's observed - predicted, SI."""
        row = self.row(z)
        return [r.method.observed(r.run) - self.predict(z, row, i) for i, r in enumerate(self.runs)]

    def run_residuals(self, z: FloatArray, noise: Sequence[FloatArray]) -> list[FloatArray]:
        """Return every run's observed - predicted in units of its noise (see :mod:`wringout.estimate.noise`)."""
        return [whitened(*one) for one in zip(self.deviations(z), noise, strict=True)]

    def residuals(self, z: FloatArray, noise: Sequence[FloatArray]) -> FloatArray:
        """Return prior residuals followed by every run's observed - predicted in units of its noise."""
        return np.concatenate([z, *self.run_residuals(z, noise)])

    def jacobian(self, z: FloatArray, noise: Sequence[FloatArray]) -> FloatArray:
        """Return d residuals / d z, (size + readings, size)."""
        return np.vstack((np.eye(self.size), self.linear(z, noise).dense()))

    def linear(self, z: FloatArray, noise: Sequence[FloatArray]) -> Linear:
        """Return residuals and their slopes by forward differences, a latent tried only on the runs that heed it."""
        n = self.airplane_size
        row, moved = self.row(z), np.array(z)
        rows = np.empty((n, row.size))
        for j in range(n):
            moved[j] = z[j] + DIFFERENCE_STEP
            rows[j] = self.row(moved)
            moved[j] = z[j]
        residuals, common, own = [], [], []
        for i, r in enumerate(self.runs):
            here, slopes, mine = self._run_slopes(z, i, row, rows)
            residuals.append(whitened(r.method.observed(r.run) - here, noise[i]))
            common.append(-whitened(slopes, noise[i]))
            own.append(-whitened(mine, noise[i]))
        return Linear(tuple(residuals), tuple(common), tuple(own))

    def _run_slopes(
        self, z: FloatArray, i: int, row: FloatArray, rows: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return run i's prediction (n,) and its slopes with the airplane's latents (n, p) and its own (n, m)."""
        heeded, values = self.heeded[i], self.nuisance(z, i)
        widths = np.array([self.width(nuisance) for nuisance in self.nuisances[i]])
        m, first = values.size, 1 + len(heeded)
        candidates = np.vstack((row[np.newaxis], rows[list(heeded)], np.tile(row, (m, 1))))
        nuisances = np.tile(values, (first + m, 1))
        nuisances[first:] += np.diag(DIFFERENCE_STEP * widths)
        seen = self.predict_all(i, candidates, nuisances)
        changes = (seen[1:] - seen[0]).T / DIFFERENCE_STEP
        slopes = np.zeros((seen.shape[1], self.airplane_size))
        slopes[:, list(heeded)] = changes[:, : len(heeded)]
        return seen[0], slopes, changes[:, len(heeded) :]


def pose(beliefs: Beliefs, runs: Sequence[StudyRun]) -> Problem:
    """Return the least-squares problem of a study's runs."""
    nuisances = tuple(r.method.nuisances(r.run, beliefs) for r in runs)
    offsets, size = [], len(beliefs.parameters)
    for group in nuisances:
        offsets.append(size)
        size += len(group)
    bare = Problem(beliefs, tuple(runs), nuisances, tuple(offsets), size)
    return replace(bare, heeded=_heeded(bare))


def _heeded(problem: Problem) -> tuple[tuple[int, ...], ...]:
    """Return, for each run, the airplane's latents that change its prediction at any of a few places of the priors.

    This is found by trying, so that a method need not say what it leans on: most runs lean on few of them (a gear run
    on no flap, a stall on no drag).
    """
    rng = np.random.default_rng(0)
    found: list[set[int]] = [set() for _ in problem.runs]
    probes = [rng.standard_normal(problem.size) * min(probe, 1) for probe in range(PROBES)]
    for z in (*probes, problem.steep):
        rows = [problem.row(z)]
        for j in range(problem.airplane_size):
            moved = z.copy()
            moved[j] += 0.1
            rows.append(problem.row(moved))
        for i, known in enumerate(found):
            untried = [j for j in range(problem.airplane_size) if j not in known]
            candidates = np.array([rows[0], *(rows[j + 1] for j in untried)])
            try:
                seen = problem.predict_all(i, candidates, np.tile(problem.nuisance(z, i), (len(candidates), 1)))
            except BadInputError:  # an airplane drawn so far out that it leaves the air the equations hold in
                continue
            known.update(j for j, after in zip(untried, seen[1:], strict=True) if not np.array_equal(after, seen[0]))
    return tuple(tuple(sorted(known)) for known in found)
