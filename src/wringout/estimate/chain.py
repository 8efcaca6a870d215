"""A second opinion on the posterior: Markov chain Monte Carlo over the parameters the runs speak of.

The joint fit takes the posterior as Gaussian about its peak. Where a parameter sits against a bound or trades off along
a curve, that may be wrong. Here the airplane's parameters are sampled without that assumption by the affine-invariant
ensemble sampler of ``emcee`` (Goodman and Weare 2010); each run's nuisances are integrated out about the fit, where
they enter almost linearly.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import emcee
import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from wringout.airplane.vector import FloatArray
from wringout.errors import FitError
from wringout.estimate.fit import JointFit, weighted_sds
from wringout.estimate.linear import linearise
from wringout.estimate.posterior import Posterior, draw

IntArray = NDArray[np.int64]

TOLD = 0.01
DIFFER_SHIFT_SDS = 0.3
DIFFER_WIDTH = 1.3
ENOUGH_INDEPENDENT = 150.0
ENOUGH_LENGTHS = 10.0


@dataclass(frozen=True, slots=True)
class Opinion:
    """How the chain and the Gaussian approximation compare on one parameter.

    ``shift_sds`` is the difference of means in Gaussian sds; ``width`` the ratio of sds, chain over Gaussian.
    """

    parameter: str
    shift_sds: float
    width: float

    @property
    def differs(self) -> bool:
        """Whether the two would be quoted differently."""
        return abs(self.shift_sds) > DIFFER_SHIFT_SDS or not 1.0 / DIFFER_WIDTH < self.width < DIFFER_WIDTH


@dataclass(frozen=True, slots=True)
class ChainCheck:
    """The chain's draws (latents of all airplane parameters, (n, p)), its opinions, and how far it can be trusted.

    ``independent`` is the number of effectively independent draws of the slowest parameter, ``lengths`` how many times
    its correlation time fits into the chain. ``usable`` is False when either is too small, and the Gaussian draws
    should then be kept.
    """

    z: FloatArray
    opinions: tuple[Opinion, ...]
    independent: float
    lengths: float

    @property
    def usable(self) -> bool:
        """Whether the chain mixed well enough to be used."""
        return self.independent >= ENOUGH_INDEPENDENT and self.lengths >= ENOUGH_LENGTHS

    @property
    def differs(self) -> bool:
        """Whether any parameter would be quoted differently."""
        return any(opinion.differs for opinion in self.opinions)

    def sentence(self) -> str:
        """Say in one sentence what came of the comparison."""
        if not self.usable:
            return "The chain did not mix well enough to judge the Gaussian approximation, which is kept."
        apart = [opinion.parameter for opinion in self.opinions if opinion.differs]
        if not apart:
            return "A Markov chain gives the same answer as the Gaussian approximation for every parameter."
        return f"A Markov chain differs from the Gaussian approximation for {', '.join(apart)}; the chain is used."


def log_density(joint: JointFit, places: IntArray) -> Callable[[FloatArray], float]:
    """Return the log posterior density of the airplane latents at ``places``, the other latents held at the fit.

    Nuisances are integrated out: with slopes ``N`` a run's residual at nuisances 0 has covariance ``I + N N'``.
    """
    problem, line = joint.problem, linearise(joint)
    sds = weighted_sds(joint)
    observed = [r.method.observed(r.run) for r in problem.runs]
    factors, offsets = [], []
    for i, slopes in enumerate(line.slopes):
        own = slice(problem.offsets[i], problem.offsets[i] + len(problem.nuisances[i]))
        nuisance_slopes = slopes[:, own]
        factors.append(cho_factor(np.eye(slopes.shape[0]) + nuisance_slopes @ nuisance_slopes.T))
        offsets.append(nuisance_slopes @ joint.z[own])

    def density(part: FloatArray) -> float:
        z = joint.z.copy()
        z[places] = part
        row = problem.row(z)
        total = float(part @ part)
        for i, seen in enumerate(observed):
            residual = (seen - problem.predict(z, row, i)) / sds[i] - offsets[i]
            total += float(residual @ cho_solve(factors[i], residual))
        return -0.5 * total if np.isfinite(total) else -np.inf

    return density


def check_with_chain(joint: JointFit, seed: int, steps: int = 1200, burn: int = 300) -> ChainCheck:
    """Sample the posterior and compare it with the Gaussian approximation.

    Only parameters the runs sharpened by more than 1 % are sampled; the rest keep their Gaussian draws. Raises FitError
    when the runs say nothing about any parameter.
    """
    n = joint.problem.airplane_size
    sd = np.sqrt(np.diag(joint.covariance))
    places = np.flatnonzero(sd[:n] < 1.0 - TOLD)
    if not places.size:
        raise FitError("the runs say nothing about any parameter", "chain", "take in runs first")
    walkers = 2 * (places.size + 2)
    rng = np.random.default_rng(seed)
    factor = np.linalg.cholesky(joint.covariance[np.ix_(places, places)])
    start = joint.z[places] + rng.standard_normal((walkers, places.size)) @ factor.T
    sampler = emcee.EnsembleSampler(walkers, places.size, log_density(joint, places))
    sampler.random_state = np.random.RandomState(seed).get_state()
    sampler.run_mcmc(start, steps)
    chain = np.asarray(sampler.get_chain(discard=burn, flat=True), dtype=np.float64)
    slowest = float(np.max(sampler.get_autocorr_time(discard=burn, tol=0)))
    z = draw(joint, chain.shape[0], seed).z[:, :n].copy()
    z[:, places] = chain
    opinions = tuple(
        Opinion(
            joint.problem.beliefs.parameters[j].key,
            float((chain[:, k].mean() - joint.z[j]) / sd[j]),
            float(chain[:, k].std() / sd[j]),
        )
        for k, j in enumerate(places)
    )
    return ChainCheck(z, opinions, chain.shape[0] / max(slowest, 1.0), (steps - burn) / max(slowest, 1.0))


def better_draws(joint: JointFit, check: ChainCheck, n: int, seed: int) -> Posterior:
    """Return ``n`` draws: the chain's where it is usable and differs, else those of the Gaussian approximation."""
    gaussian = draw(joint, n, seed)
    if not (check.usable and check.differs):
        return gaussian
    chosen = np.random.default_rng(seed).choice(check.z.shape[0], size=n, replace=check.z.shape[0] < n)
    z = gaussian.z.copy()
    z[:, : check.z.shape[1]] = check.z[chosen]
    rows = np.array([joint.problem.row(part) for part in z])
    return Posterior(z, rows, seed)
