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
from wringout.methods.types import Method, Nuisance

DIFFERENCE_STEP = 1.0e-4
PROBES = 3


@dataclass(frozen=True, slots=True)
class StudyRun:
    """A run with the method that knows it."""

    run: Any
    method: Method


@dataclass(frozen=True, slots=True)
class Problem:
    """All runs of a study against one airplane.

    ``offsets[i]`` is where run i's nuisances start in ``z``; ``size`` is the number of latents. ``heed[j]`` lists the
    runs whose readings latent j can change at all. ``widths`` gives the estimated standard deviation of each group of
    nuisances (SI); a group not in it has the sd it was stated with.
    """

    beliefs: Beliefs
    runs: tuple[StudyRun, ...]
    nuisances: tuple[tuple[Nuisance, ...], ...]
    offsets: tuple[int, ...]
    size: int
    heed: tuple[tuple[int, ...], ...] = ()
    widths: Mapping[str, float] = field(default_factory=dict)

    @property
    def airplane_size(self) -> int:
        """Number of airplane parameters, the first entries of ``z``."""
        return len(self.beliefs.parameters)

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

    def reading_sds(self, z: FloatArray) -> list[FloatArray]:
        """Return each run's reading standard deviations at ``z``."""
        row = self.row(z)
        return [r.method.reading_sd(r.run, row, self.nuisance(z, i), self.beliefs) for i, r in enumerate(self.runs)]

    def residuals(self, z: FloatArray, sds: Sequence[FloatArray]) -> FloatArray:
        """Return prior residuals followed by every run's (observed - predicted) / sd."""
        row = self.row(z)
        parts = [z]
        for i, r in enumerate(self.runs):
            parts.append((r.method.observed(r.run) - self.predict(z, row, i)) / sds[i])
        return np.concatenate(parts)

    def jacobian(self, z: FloatArray, sds: Sequence[FloatArray]) -> FloatArray:
        """Return d residuals / d z by forward differences, trying a latent only on the runs that heed it."""
        starts = np.cumsum([self.size, *(sd.size for sd in sds)])
        out = np.zeros((int(starts[-1]), self.size))
        out[: self.size] = np.eye(self.size)
        row = self.row(z)
        here = [self.predict(z, row, i) for i in range(len(self.runs))]
        moved = np.array(z)
        for j in range(self.size):
            heeding = self.heed[j]
            if not heeding:
                continue
            moved[j] = z[j] + DIFFERENCE_STEP
            moved_row = self.row(moved) if j < self.airplane_size else row
            for i in heeding:
                change = self.predict(moved, moved_row, i) - here[i]
                out[starts[i] : starts[i + 1], j] = -change / (DIFFERENCE_STEP * sds[i])
            moved[j] = z[j]
        return out


def pose(beliefs: Beliefs, runs: Sequence[StudyRun]) -> Problem:
    """Return the least-squares problem of a study's runs."""
    nuisances = tuple(r.method.nuisances(r.run, beliefs) for r in runs)
    offsets, size = [], len(beliefs.parameters)
    for group in nuisances:
        offsets.append(size)
        size += len(group)
    bare = Problem(beliefs, tuple(runs), nuisances, tuple(offsets), size)
    return replace(bare, heed=_heeding(bare))


def _heeding(problem: Problem) -> tuple[tuple[int, ...], ...]:
    """Return, for each latent, the runs whose predictions it changes at any of a few places drawn from the priors.

    A nuisance belongs to its own run. For the airplane's parameters this is found by trying, so that a method need not
    say what it leans on: most runs lean on few of them (a gear run on no flap, a stall on no drag).
    """
    rng = np.random.default_rng(0)
    found: list[set[int]] = [set() for _ in range(problem.size)]
    for probe in range(PROBES):
        z = rng.standard_normal(problem.size) * min(probe, 1)
        row = problem.row(z)
        here = [problem.predict(z, row, i) for i in range(len(problem.runs))]
        for j in range(problem.airplane_size):
            moved = z.copy()
            moved[j] += 0.1
            moved_row = problem.row(moved)
            for i, before in enumerate(here):
                if i not in found[j] and not np.array_equal(problem.predict(moved, moved_row, i), before):
                    found[j].add(i)
    for i, group in enumerate(problem.nuisances):
        for j in range(problem.offsets[i], problem.offsets[i] + len(group)):
            found[j].add(i)
    return tuple(tuple(sorted(runs)) for runs in found)
