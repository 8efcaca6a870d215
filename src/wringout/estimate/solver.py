"""Least squares in the shape of a joint fit: some unknowns common to all runs, some that belong to one run alone.

Levenberg-Marquardt with the damping scaled by column norms (J. J. More, "The Levenberg-Marquardt algorithm:
implementation and theory", Lecture Notes in Mathematics 630, 1978). Each run's own unknowns are eliminated by an
orthogonal factorisation of its few rows, so that a step costs in proportion to the number of runs; nothing is squared.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from scipy.linalg import solve_triangular

from wringout.airplane.vector import FloatArray
from wringout.errors import BadInputError, FitError
from wringout.estimate.noise import restated

MOST_STEPS = 200
FIRST_DAMPING = 1.0e-2
LEAST_GAIN = 1.0e-4
MOST_DAMPING = 1.0e12
ROUNDING = 1.0e-11
COARSE = 0.02
"""Length of a step, in standard deviations, below which failing to improve is put down to coarse slopes."""
FINE = 1.0e-3
"""Length of a step below which only its halving counts: the cost is too flat there to be a judge."""


@dataclass(frozen=True, slots=True)
class Linear:
    """A problem's linearisation at one place: for run i, residuals (n_i,), slopes with the common unknowns (n_i, p)
    and with its own unknowns (n_i, m_i)."""

    residuals: tuple[FloatArray, ...]
    common: tuple[FloatArray, ...]
    own: tuple[FloatArray, ...]

    def dense(self) -> FloatArray:
        """Return the slopes as one matrix, runs below each other: common unknowns, then each run's own."""
        own = [block.shape[1] for block in self.own]
        starts = np.cumsum([self.common[0].shape[1], *own])
        out = np.zeros((sum(r.size for r in self.residuals), int(starts[-1])))
        at = 0
        for common, mine, start in zip(self.common, self.own, starts, strict=False):
            rows = slice(at, at + common.shape[0])
            out[rows, : common.shape[1]] = common
            out[rows, start : start + mine.shape[1]] = mine
            at += common.shape[0]
        return out

    def information(self) -> FloatArray:
        """Return ``J'J`` of the readings, (size, size), in the order of :meth:`dense`."""
        p = self.common[0].shape[1]
        starts = np.cumsum([p, *(block.shape[1] for block in self.own)])
        out = np.zeros((int(starts[-1]), int(starts[-1])))
        for common, mine, start in zip(self.common, self.own, starts, strict=False):
            own = slice(int(start), int(start) + mine.shape[1])
            out[:p, :p] += common.T @ common
            out[own, :p] = mine.T @ common
            out[:p, own] = out[own, :p].T
            out[own, own] = mine.T @ mine
        return out

    def pull(self, z: FloatArray) -> FloatArray:
        """Return ``J'(J z - r)``, (size,); with precision P of the priors, ``(J'J + P)^-1`` times it solves the fit."""
        p = self.common[0].shape[1]
        shared, parts, at = np.zeros(p), [], p
        for residual, common, mine in zip(self.residuals, self.common, self.own, strict=True):
            target = common @ z[:p] + mine @ z[at : at + mine.shape[1]] - residual
            shared += common.T @ target
            parts.append(mine.T @ target)
            at += mine.shape[1]
        return np.concatenate([shared, *parts])

    def at(self, residuals: Sequence[FloatArray]) -> Linear:
        """Return the same slopes with the residuals of another place near by."""
        return replace(self, residuals=tuple(residuals))

    def restated(self, before: Sequence[FloatArray], after: Sequence[FloatArray]) -> Linear:
        """Return it in units of other noise than ``before``, by run (see :mod:`wringout.estimate.noise`)."""

        def anew(blocks: Sequence[FloatArray]) -> tuple[FloatArray, ...]:
            return tuple(restated(*one) for one in zip(blocks, before, after, strict=True))

        return Linear(anew(self.residuals), anew(self.common), anew(self.own))

    def rescaled(self, factors: FloatArray) -> Linear:
        """Return the slopes with the runs' own unknowns in other units: multiplied by ``factors``, (sum m_i,)."""
        edges = np.cumsum([block.shape[1] for block in self.own])[:-1]
        parts = np.split(factors, edges)
        return replace(self, own=tuple(block * part for block, part in zip(self.own, parts, strict=True)))

    def squares(self) -> FloatArray:
        """Return the sum of squares of every column, (size,)."""
        shared = np.sum([np.sum(common**2, axis=0) for common in self.common], axis=0)
        return np.concatenate([shared, *(np.sum(block**2, axis=0) for block in self.own)])


class System(Protocol):
    """What can be solved. The ``prior`` is 1 for latents, 0 for a free fit."""

    @property
    def prior(self) -> float:
        """Precision of every unknown about nought."""

    def residuals(self, z: FloatArray) -> list[FloatArray]:
        """Return the residuals of every run at ``z``."""

    def linear(self, z: FloatArray) -> Linear:
        """Return residuals and slopes of every run at ``z``."""


def solve(
    system: System, start: FloatArray, tolerance: float, known: Linear | None = None
) -> tuple[FloatArray, Linear]:
    """Return the unknowns of least squares, and there the residuals with slopes of a place within ``tolerance``.

    It is settled when the next step is shorter than ``tolerance`` standard deviations by the information there (its
    square is what the cost would fall by). Steps below FINE that halve at least are taken whatever the cost says:
    slopes by differences lead to a place a hair beside its least, the same on every processor. Where they are too
    coarse for that, a step shorter than COARSE that no longer helps, or is no shorter than the one before, ends it as
    well. ``known`` is the linearisation at ``start`` if it is there already. Raises FitError when the fit runs away or
    does not settle.
    """
    z, here = np.array(start), system.linear(start) if known is None else known
    cost = _cost(system.prior, z, here.residuals)
    damping = 0.0 if system.prior > 0.0 else FIRST_DAMPING  # priors keep a step within reach
    scale = here.squares() + system.prior
    if not np.isfinite(cost):
        raise FitError("the fit ran away", "reduction", "check weights, altitudes and units of the runs")
    harder, last = 2.0, np.inf
    for _ in range(MOST_STEPS):
        moved = step(z, here, system.prior, damping * scale)
        size = _length(moved, here, system.prior)
        there = _tried(system, z + moved)
        after = np.inf if there is None else _cost(system.prior, z + moved, there)
        gain = (cost - after) / max(size**2 + 2.0 * damping * float(scale @ moved**2), 1e-300)
        sinking = size < FINE and size < 0.5 * last
        if there is not None and (gain > LEAST_GAIN or sinking or (size < tolerance and after <= cost)):
            z, cost = z + moved, after
            if size < tolerance or last <= size < COARSE:
                return z, here.at(there)
            here, last = system.linear(z), size
            scale = np.maximum(scale, here.squares() + system.prior)
            damping *= max(0.1, 1.0 - (2.0 * min(gain, 1.0) - 1.0) ** 3)
            harder = 2.0
        elif size < max(tolerance, COARSE) or damping > MOST_DAMPING:
            return z, here
        else:
            damping, harder = damping * harder if damping > 0.0 else FIRST_DAMPING, 2.0 * harder
    raise FitError("the fit did not settle", "reduction", "set aside the run that lies farthest from its curve")


def _length(moved: FloatArray, here: Linear, prior: float) -> float:
    """Return the length of a step in standard deviations, ``sqrt(d'(J'J + P)d)``."""
    p, at = here.common[0].shape[1], here.common[0].shape[1]
    total = prior * float(moved @ moved)
    for common, own in zip(here.common, here.own, strict=True):
        change = common @ moved[:p] + own @ moved[at : at + own.shape[1]]
        total += float(change @ change)
        at += own.shape[1]
    return float(np.sqrt(total))


def _cost(prior: float, z: FloatArray, residuals: Sequence[FloatArray]) -> float:
    return prior * float(z @ z) + sum(float(r @ r) for r in residuals)


def _tried(system: System, z: FloatArray) -> list[FloatArray] | None:
    """Return the residuals at ``z``, None where the model has no answer."""
    try:
        found = system.residuals(z)
    except BadInputError:
        return None
    return found if all(bool(np.all(np.isfinite(r))) for r in found) else None


def step(z: FloatArray, here: Linear, prior: float, damping: FloatArray) -> FloatArray:
    """Return the damped Gauss-Newton step, (size,), by eliminating each run's own unknowns first.

    Minimises ``sum |r + J d|^2 + prior |z + d|^2 + sum damping d^2``; ``damping`` has shape (size,).
    """
    p = here.common[0].shape[1]
    weight = np.sqrt(prior + damping)
    target = -prior * z / np.where(weight > 0.0, weight, 1.0)
    stacked, factors, at = np.column_stack((np.diag(weight[:p]), target[:p])), [], p
    for residual, common, own in zip(here.residuals, here.common, here.own, strict=True):
        m = own.shape[1]
        reading = np.column_stack((own, common, -residual))
        if m:
            believed = np.zeros((m, reading.shape[1]))
            believed[:, :m], believed[:, -1] = np.diag(weight[at : at + m]), target[at : at + m]
            triangle = _triangle(np.vstack((believed, reading)))
            reading = triangle[m:, m:]
        factors.append(triangle[:m] if m else reading[:0])
        stacked = _triangle(np.vstack((stacked, reading)))
        at += m
    shared = solve_triangular(stacked[:p, :p], stacked[:p, p], check_finite=False)
    parts = [shared]
    for factor in factors:
        m = factor.shape[0]
        if m:
            left = factor[:, -1] - factor[:, m:-1] @ shared
            parts.append(solve_triangular(factor[:, :m], left, check_finite=False))
    return np.concatenate(parts)


def _triangle(rows: FloatArray) -> FloatArray:
    """Return the triangular factor of an orthogonal factorisation."""
    return np.asarray(np.linalg.qr(rows, mode="r"), dtype=np.float64)
