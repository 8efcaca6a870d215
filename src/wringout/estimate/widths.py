"""How much repeats of one thing scatter from run to run: variance components of the joint fit, and how sure they are.

Everything here is done on the fit's linearisation: given the scatter, values of the repeats are Gaussian, so that what
the readings say of the scatter itself is a closed form (a random-effects model; Gelman et al., Bayesian Data Analysis,
3rd ed., section 5.4). The stated scatter counts as SCATTER_PRIOR_RUNS runs, a scaled inverse chi square prior.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.vector import FloatArray
from wringout.estimate.problem import Problem
from wringout.estimate.solver import Linear

SCATTER_PRIOR_RUNS = 3.0
MOST_STEPS = 300
STILL = 1.0e-4
TRIED, KEPT = 512, 32
"""How many scatters are tried in weighing them, and how many stand for them all afterwards."""
TAILS = 5.0
"""Degrees of freedom of Student's t that scatters are tried from, so that wide ones are tried too."""


@dataclass(frozen=True, slots=True)
class Repeats:
    """What the readings say of the repeats alone, all other latents integrated out.

    ``places`` (k,) are their latents, counted in widths ``before`` (k,), ``group_of`` (k,) their groups;
    ``information`` (k, k) and ``pull`` (k,) are of the readings, ``stated`` (groups,) the widths as stated.
    """

    names: tuple[str, ...]
    places: NDArray[np.int64]
    group_of: NDArray[np.int64]
    stated: FloatArray
    before: FloatArray
    information: FloatArray
    pull: FloatArray

    @property
    def counts(self) -> NDArray[np.int64]:
        """Number of repeats in each group."""
        return np.bincount(self.group_of)

    @property
    def first(self) -> FloatArray:
        """Widths the repeats are counted in, by group."""
        return np.array([self.before[self.group_of == k][0] for k in range(len(self.names))])

    def precision(self, widths: FloatArray) -> FloatArray:
        """Return the prior precision (..., k) of the repeats' latents at widths (..., groups)."""
        return np.asarray((self.before / widths[..., self.group_of]) ** 2)


def repeats_of(problem: Problem, z: FloatArray, linear: Linear) -> Repeats | None:
    """Return the repeats of a problem linearised at ``z``; None without any."""
    found = [
        (offset + k, nuisance)
        for group, offset in zip(problem.nuisances, problem.offsets, strict=True)
        for k, nuisance in enumerate(group)
        if nuisance.group
    ]
    if not found:
        return None
    places = np.array([place for place, _ in found])
    names, group_of = np.unique([nuisance.group for _, nuisance in found], return_inverse=True)
    rest = np.setdiff1d(np.arange(problem.size), places)
    information, pull = linear.information(), linear.pull(z)
    others = information[np.ix_(rest, rest)] + np.eye(rest.size)
    across = information[np.ix_(places, rest)]
    gain = np.linalg.solve(others, across.T).T
    return Repeats(
        names=tuple(names.tolist()),
        places=places,
        group_of=group_of,
        stated=np.array([next(n.sd for _, n in found if n.group == name) for name in names]),
        before=np.array([problem.width(nuisance) for _, nuisance in found]),
        information=information[np.ix_(places, places)] - gain @ across.T,
        pull=pull[places] - gain @ pull[rest],
    )


def with_widths(problem: Problem, z: FloatArray, linear: Linear) -> tuple[Problem, FloatArray, Linear]:
    """Return the problem with each group's run-to-run scatter re-estimated, and latents and slopes that mean the same.

    Expectation-maximisation on the linearised fit, until it stands still: the variance is the mean of value squared
    plus its posterior variance over the group, with the stated variance counting as SCATTER_PRIOR_RUNS runs. Single
    steps between solves would stop far short: each moves only a part of the way.
    """
    repeats = repeats_of(problem, z, linear)
    if repeats is None:
        return problem, z, linear
    widths = still_widths(repeats)
    factors = np.ones(problem.size)
    factors[repeats.places] = widths[repeats.group_of] / repeats.before
    named: Mapping[str, float] = dict(zip(repeats.names, widths.tolist(), strict=True))
    return replace(problem, widths=named), z / factors, linear.rescaled(factors[problem.airplane_size :])


def still_widths(repeats: Repeats) -> FloatArray:
    """Return the standard deviation of each group, (groups,), at which expectation-maximisation stands still."""
    widths = repeats.first
    for _ in range(MOST_STEPS):
        covariance = np.linalg.inv(repeats.information + np.diag(repeats.precision(widths)))
        squares = repeats.before**2 * ((covariance @ repeats.pull) ** 2 + np.diag(covariance))
        totals = SCATTER_PRIOR_RUNS * repeats.stated**2 + np.bincount(repeats.group_of, weights=squares)
        last, widths = widths, np.sqrt(totals / (SCATTER_PRIOR_RUNS + repeats.counts))
        if np.all(np.abs(widths / last - 1.0) < STILL):
            break
    return np.asarray(widths)


def log_density(repeats: Repeats, log_widths: FloatArray) -> FloatArray:
    """Return the log posterior density (t,) of the logarithms of the widths, (t, groups), up to a constant.

    With precision P of the repeats, ``|P|^(1/2) |S + P|^(-1/2) exp(g'(S + P)^-1 g / 2)`` times the prior.
    """
    widths = np.exp(log_widths)
    precision = repeats.precision(widths)
    whole = repeats.information + np.eye(repeats.places.size) * precision[:, np.newaxis, :]
    _, size = np.linalg.slogdet(whole)
    pulled = np.linalg.solve(whole, np.broadcast_to(repeats.pull[:, np.newaxis], (*precision.shape, 1)))[..., 0]
    prior = -SCATTER_PRIOR_RUNS * (log_widths + 0.5 * (repeats.stated / widths) ** 2)
    likely = np.sum(np.log(precision), axis=1) - size + pulled @ repeats.pull
    return np.asarray(0.5 * likely + np.sum(prior, axis=1))


def width_draws(repeats: Repeats, seed: int) -> FloatArray:
    """Return KEPT equally likely widths (KEPT, groups), drawn from their posterior by weighing TRIED of them.

    Two or three repeats leave their scatter open by a factor; a fit at the most probable one alone would be too sure.
    """
    top = np.log(still_widths(repeats))
    factor = np.linalg.cholesky(_spread(repeats, top))
    rng = np.random.default_rng(seed)
    straight = rng.standard_normal((TRIED, top.size)) / np.sqrt(rng.chisquare(TAILS, TRIED) / TAILS)[:, np.newaxis]
    tried = top + straight @ factor.T
    far = 0.5 * (TAILS + top.size) * np.log1p(np.sum(straight**2, axis=1) / TAILS)
    weights = log_density(repeats, tried) + far
    shares = np.cumsum(np.exp(weights - weights.max()))
    order = np.searchsorted(shares / shares[-1], (np.arange(KEPT) + rng.random()) / KEPT)
    return np.asarray(np.exp(tried[np.minimum(order, TRIED - 1)]))


def _spread(repeats: Repeats, top: FloatArray) -> FloatArray:
    """Return the covariance of the log widths at their top, from second differences; kept between 0.1 and 1.5."""
    k, h = top.size, 0.1
    corners = np.array([(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)])
    steps = [
        h * (np.eye(k)[i] * one + np.eye(k)[j] * other) for i in range(k) for j in range(k) for one, other in corners
    ]
    values = log_density(repeats, top + np.array(steps)).reshape(k, k, 4)
    curve = -(values[..., 0] - values[..., 1] - values[..., 2] + values[..., 3]) / (4.0 * h * h)
    sizes, ways = np.linalg.eigh(0.5 * (curve + curve.T))
    return np.asarray((ways / np.clip(sizes, 1.5**-2, 0.1**-2)) @ ways.T)
