"""The joint fit as a least-squares problem in standard normal latents.

The unknowns are the airplane's parameters followed by each run's nuisances, all as latents ``z`` whose prior is the
standard normal, so that prior residuals are ``z`` itself and data residuals are (observed - predicted) / sd.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.vector import FloatArray
from wringout.methods.types import Method, Nuisance

DIFFERENCE_STEP = 1.0e-3


@dataclass(frozen=True, slots=True)
class StudyRun:
    """A run with the method that knows it."""

    run: Any
    method: Method


@dataclass(frozen=True, slots=True)
class Problem:
    """All runs of a study against one airplane.

    ``offsets[i]`` is where run i's nuisances start in ``z``; ``size`` is the number of latents. ``widths`` gives the
    estimated standard deviation of each group of nuisances (SI); a group not in it has the sd it was stated with.
    """

    beliefs: Beliefs
    runs: tuple[StudyRun, ...]
    nuisances: tuple[tuple[Nuisance, ...], ...]
    offsets: tuple[int, ...]
    size: int
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
        """Return d residuals / d z by central differences.

        A nuisance is only tried on its own run, an airplane parameter only on runs whose method heeds it.
        """
        starts = np.cumsum([self.size, *(sd.size for sd in sds)])
        out = np.zeros((int(starts[-1]), self.size))
        out[: self.size] = np.eye(self.size)
        for j in range(self.airplane_size):
            high, low = self._shifted(z, j)
            high_row, low_row = self.row(high), self.row(low)
            moved = set(np.flatnonzero(high_row != low_row).tolist())
            for i, sd in enumerate(sds):
                if moved <= self.runs[i].method.ignores:
                    continue
                change = self.predict(high, high_row, i) - self.predict(low, low_row, i)
                out[starts[i] : starts[i + 1], j] = -change / (2.0 * DIFFERENCE_STEP * sd)
        row = self.row(z)
        for i, sd in enumerate(sds):
            for j in range(self.offsets[i], self.offsets[i] + len(self.nuisances[i])):
                high, low = self._shifted(z, j)
                change = self.predict(high, row, i) - self.predict(low, row, i)
                out[starts[i] : starts[i + 1], j] = -change / (2.0 * DIFFERENCE_STEP * sd)
        return out

    @staticmethod
    def _shifted(z: FloatArray, j: int) -> tuple[FloatArray, FloatArray]:
        high, low = z.copy(), z.copy()
        high[j] += DIFFERENCE_STEP
        low[j] -= DIFFERENCE_STEP
        return high, low


def pose(beliefs: Beliefs, runs: Sequence[StudyRun]) -> Problem:
    """Return the least-squares problem of a study's runs."""
    nuisances = tuple(r.method.nuisances(r.run, beliefs) for r in runs)
    offsets, size = [], len(beliefs.parameters)
    for group in nuisances:
        offsets.append(size)
        size += len(group)
    return Problem(beliefs, tuple(runs), nuisances, tuple(offsets), size)
