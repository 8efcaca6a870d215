"""Air that is not still: how its rising and sinking makes the speeds of a level run err together.

An airplane that holds its height in rising air gains speed, as in a descent: ``dV/dt = (g/V) w``. What the air does is
not read, and after a gust the speed stays off for as long as the airplane takes to come back, so that readings half a
minute apart still err together. Taken one by one they would say more than they do.

The vertical movement is taken as white noise: the spectrum of turbulence in MIL-F-8785C is flat over times longer than
the few seconds it takes to fly through a gust. The speed comes back as of a level airplane near its best glide, from
``m dV/dt = T - D`` linearised there. That makes the speed error an Ornstein-Uhlenbeck process. Its strength is found
with the fit, by the marginal likelihood of all readings on the linearisation, every other unknown integrated out
(restricted maximum likelihood; D. A. Harville, Journal of the American Statistical Association 72, 1977), times a
belief that the air is smooth. What is used is the root mean square over what is then likely, so that a few readings,
which cannot tell, count as in air that is believed smooth and not as in air known to be still.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from wringout.airplane.vector import FloatArray
from wringout.estimate.noise import log_size, with_common
from wringout.estimate.problem import Problem
from wringout.estimate.solver import Linear
from wringout.units import FOOT_PER_MINUTE, STANDARD_GRAVITY

RETURNS = 7.0
"""Time in which a disturbed speed comes back, over V/g: the lift-drag ratio near best glide, less above it (judged)."""
MEAN_OVER_S = 60.0
SMOOTH_MPS = 20.0 * FOOT_PER_MINUTE
"""Mean of the exponential belief in the vertical movement, root mean square of its means over a minute (judged)."""
TRIED_MPS = np.array([0.0, 5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 55.0, 75.0, 100.0, 140.0, 200.0]) * FOOT_PER_MINUTE
UNLIKELY = 8.0
"""Natural logarithm of how much less likely than the best a strength is where no stronger one is tried."""


@dataclass(frozen=True, slots=True)
class Air:
    """The air of a study: ``strength_mps`` is the root mean square of its vertical movement averaged over a minute.

    ``spread[i]`` is the covariance (n, n) of run i's readings per unit of its square; None where height is not held.
    """

    spread: tuple[FloatArray | None, ...]
    strength_mps: float = 0.0

    def noises(self, sds: Sequence[FloatArray]) -> list[FloatArray]:
        """Return the noise of every run: its own errors ``sds``, and those its readings share through the air."""
        if self.strength_mps == 0.0:
            return list(sds)
        pairs = zip(sds, self.spread, strict=True)
        return [sd if one is None else with_common(sd, self.strength_mps**2 * one) for sd, one in pairs]

    def together(self, sds: Sequence[FloatArray]) -> list[FloatArray]:
        """Return the standard deviation (n,) of every reading of every run, its own error and the air's together."""
        pairs, square = zip(sds, self.spread, strict=True), self.strength_mps**2
        return [sd if one is None else np.sqrt(sd**2 + square * np.diag(one)) for sd, one in pairs]

    def of(self, strength_mps: float) -> Air:
        """Return air of another strength."""
        return replace(self, strength_mps=strength_mps)

    @property
    def rough(self) -> bool:
        """Whether it moved more than smooth air is believed to."""
        return self.strength_mps > SMOOTH_MPS

    @property
    def matters(self) -> bool:
        """Whether any run could feel it."""
        return any(one is not None for one in self.spread)


def still_air(problem: Problem) -> Air:
    """Return the air of a study before its strength is known.

    The runs it moves are those whose unseen climb is one of their own unknowns, read over time.
    """
    out: list[FloatArray | None] = []
    for run, group in zip(problem.runs, problem.nuisances, strict=True):
        level = any(nuisance.key == "climb" for nuisance in group) and hasattr(run.run, "time_s")
        out.append(kernel(run.run.time_s, run.method.observed(run.run)) if level else None)
    return Air(tuple(out))


def kernel(times_s: FloatArray, speeds_mps: FloatArray) -> FloatArray:
    """Return the covariance (n, n) of speeds at rising times for movement of 1 m/s over MEAN_OVER_S, (m/s)^2.

    The error is nought at the first reading: what was before it is in the run's own entry speed.
    """
    out = np.zeros((times_s.size, times_s.size))
    for i, (start, end) in enumerate(pairwise(times_s.tolist()), start=1):
        speed = float(speeds_mps[i - 1])
        back = float(np.exp(-(end - start) * STANDARD_GRAVITY / (RETURNS * speed)))
        out[i, :i] = out[:i, i] = back * out[i - 1, :i]
        stirred = MEAN_OVER_S * RETURNS * STANDARD_GRAVITY / (2.0 * speed)
        out[i, i] = back**2 * out[i - 1, i - 1] + stirred * (1.0 - back**2)
    return out


def log_evidence(linear: Linear, z: FloatArray, noise: Sequence[FloatArray]) -> float:
    """Return the log marginal likelihood of the readings, up to a constant; ``linear`` at ``z`` counts in ``noise``.

    With y the readings less what the means of the priors predict and J the slopes, y has covariance ``I + J J'`` in
    units of the noise. Each run's own unknowns are integrated out first, then the common ones.
    """
    p = linear.common[0].shape[1]
    shared, pull, total, at = np.eye(p), np.zeros(p), 0.0, p
    for residual, common, own in zip(linear.residuals, linear.common, linear.own, strict=True):
        m = own.shape[1]
        y = residual - common @ z[:p] - own @ z[at : at + m]
        within = np.eye(m) + own.T @ own
        gain = np.linalg.solve(within, np.column_stack((own.T @ common, own.T @ y)))
        shared += common.T @ common - common.T @ own @ gain[:, :p]
        pull += common.T @ y - common.T @ own @ gain[:, p]
        total += float(y @ y - y @ own @ gain[:, p] + np.linalg.slogdet(within)[1])
        at += m
    total += float(np.linalg.slogdet(shared)[1] - pull @ np.linalg.solve(shared, pull))
    return -sum(log_size(one) for one in noise) - 0.5 * total


def likely_strength(log_likelihood: Callable[[float], float]) -> float:
    """Return the root mean square strength, m/s, over its posterior on TRIED_MPS, from its log likelihood."""
    found: list[float] = []
    for strength in TRIED_MPS.tolist():
        found.append(log_likelihood(strength) - strength / SMOOTH_MPS)
        if found[-1] < max(found) - UNLIKELY:
            break
    weights = np.exp(np.array(found) - max(found)) * np.gradient(TRIED_MPS)[: len(found)]
    return float(np.sqrt(weights @ TRIED_MPS[: len(found)] ** 2 / weights.sum()))
