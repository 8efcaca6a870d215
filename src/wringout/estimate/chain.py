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

from wringout.airplane.vector import FloatArray
from wringout.errors import BadInputError, FitError
from wringout.estimate.fit import JointFit, Progress, noise_of
from wringout.estimate.importance import TRUSTED_SHAPE, weigh
from wringout.estimate.noise import whitened
from wringout.estimate.posterior import Posterior, draw

IntArray = NDArray[np.int64]

TOLD = 0.01
DIFFER_SHIFT_SDS = 0.3
DIFFER_WIDTH = 1.3
ENOUGH_INDEPENDENT = 150.0
ENOUGH_LENGTHS = 10.0
WEIGHED_DRAWS = 2000
LOOK_EVERY = 100


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
    """Draws of a second opinion (latents of the airplane's parameters, or of all, (n, p)), and how far to trust it.

    ``how`` is "chain" for a Markov chain, "weights" for the fit's own draws weighed by their exact density.

    ``independent`` is the number of effectively independent draws of the slowest parameter, ``lengths`` how many times
    its correlation time fits into the chain. ``usable`` is False when either is too small, and the Gaussian draws
    should then be kept.
    """

    z: FloatArray
    opinions: tuple[Opinion, ...]
    independent: float
    lengths: float
    how: str = "chain"

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
        named = "A Markov chain" if self.how == "chain" else "Weighing the draws by their exact density"
        if not self.usable:
            return "The second opinion is too unsure to judge the Gaussian approximation, which is kept."
        apart = [opinion.parameter for opinion in self.opinions if opinion.differs]
        if not apart:
            return f"{named} gives the same answer as the Gaussian approximation for every parameter."
        return f"{named} differs from the Gaussian approximation for {', '.join(apart)}; its draws are used."


def log_density(joint: JointFit, places: IntArray) -> Callable[[FloatArray], FloatArray]:
    """Return the log posterior density of airplane latents at ``places``, from (k, d) to (k,), the others at the fit.

    Nuisances are integrated out: with slopes ``N`` a run's residual at nuisances 0 has covariance ``I + N N'``.
    """
    problem, linear = joint.problem, joint.linear
    noise = noise_of(joint)
    observed = [r.method.observed(r.run) for r in problem.runs]
    own = [slice(at, at + len(group)) for at, group in zip(problem.offsets, problem.nuisances, strict=True)]
    values = [problem.nuisance(joint.z, i) for i in range(len(own))]
    offsets = [slopes @ joint.z[part] for slopes, part in zip(linear.own, own, strict=True)]
    inverses = [np.linalg.inv(np.eye(slopes.shape[0]) + slopes @ slopes.T) for slopes in linear.own]

    def density(parts: FloatArray) -> FloatArray:
        z = np.tile(joint.z, (len(parts), 1))
        z[:, places] = parts
        rows = np.array([problem.row(one) for one in z])
        total = np.sum(parts**2, axis=1)
        for i, seen in enumerate(observed):
            try:
                predicted = problem.predict_all(i, rows, np.tile(values[i], (len(parts), 1)))
            except BadInputError:
                if len(parts) == 1:
                    return np.full(1, -np.inf)
                return np.concatenate([density(parts[k : k + 1]) for k in range(len(parts))])
            residual = whitened((seen - predicted).T, noise[i]).T - offsets[i]
            total += np.einsum("ki,ij,kj->k", residual, inverses[i], residual)
        return np.where(np.isfinite(total), -0.5 * total, -np.inf)

    return density


def second_opinion(joint: JointFit, seed: int, progress: Progress | None = None) -> ChainCheck:
    """Return the better founded of two opinions: the fit's draws weighed, or a Markov chain where weights fail.

    Weighing takes seconds and a chain a minute or so; ``progress`` is told the share done and words. Raises FitError
    when the runs say nothing about any parameter.
    """
    if progress is not None:
        progress(0.0, "second opinion: weighing the draws")
    weighed = check_by_weights(joint, seed)
    return weighed if weighed.usable else check_with_chain(joint, seed, progress=progress)


def _told(joint: JointFit) -> IntArray:
    """Return the airplane latents that the runs sharpened by more than 1 %; raises FitError when there is none."""
    sd = np.sqrt(np.diag(joint.covariance))[: joint.problem.airplane_size]
    places = np.flatnonzero(sd < 1.0 - TOLD)
    if not places.size:
        raise FitError("the runs say nothing about any parameter", "second opinion", "take in runs first")
    return places


def check_by_weights(joint: JointFit, seed: int, draws: int = WEIGHED_DRAWS) -> ChainCheck:
    """Weigh the fit's draws by their exact density and compare; see :mod:`wringout.estimate.importance`."""
    places, weighing = _told(joint), weigh(joint, draws, seed)
    shares = np.cumsum(weighing.weights)
    rng = np.random.default_rng(seed)
    chosen = np.searchsorted(shares / shares[-1], (np.arange(draws) + rng.random()) / draws)
    means = weighing.weights @ weighing.z
    sds = np.sqrt(weighing.weights @ (weighing.z - means) ** 2)
    trusted = weighing.shape < TRUSTED_SHAPE
    lengths = np.inf if trusted else 0.0
    opinions = _opinions(joint, places, means[places], sds[places])
    return ChainCheck(weighing.z[np.minimum(chosen, draws - 1)], opinions, weighing.independent, lengths, "weights")


def _opinions(joint: JointFit, places: IntArray, means: FloatArray, sds: FloatArray) -> tuple[Opinion, ...]:
    """Return how means and sds of the airplane latents at ``places`` compare with the fit's."""
    sd, parameters = np.sqrt(np.diag(joint.covariance)), joint.problem.beliefs.parameters
    return tuple(
        Opinion(parameters[j].key, float((means[k] - joint.z[j]) / sd[j]), float(sds[k] / sd[j]))
        for k, j in enumerate(places)
    )


def check_with_chain(
    joint: JointFit, seed: int, steps: int = 1200, burn: int = 300, progress: Progress | None = None
) -> ChainCheck:
    """Sample the posterior and compare it with the Gaussian approximation.

    Only parameters the runs sharpened by more than 1 % are sampled; the rest keep their Gaussian draws. It stops before
    ``steps`` when it has run for twice ENOUGH_LENGTHS correlation times. Raises FitError when the runs say nothing
    about any parameter.
    """
    n, places = joint.problem.airplane_size, _told(joint)
    walkers = 2 * (places.size + 2)
    rng = np.random.default_rng(seed)
    factor = np.linalg.cholesky(joint.covariance[np.ix_(places, places)])
    start = joint.z[places] + rng.standard_normal((walkers, places.size)) @ factor.T
    sampler = emcee.EnsembleSampler(walkers, places.size, log_density(joint, places), vectorize=True)
    sampler.random_state = np.random.RandomState(seed).get_state()
    slowest, done = np.inf, 0
    for done, _ in enumerate(sampler.sample(start, iterations=steps), start=1):
        if done % LOOK_EVERY == 0 or done == steps:
            slowest = float(np.max(sampler.get_autocorr_time(discard=min(burn, done // 2), tol=0)))
            if progress is not None:
                progress(done / steps, f"second opinion: Markov chain, step {done} of at most {steps}")
            if done > 2 * burn and done - burn > 2.0 * ENOUGH_LENGTHS * slowest:
                break
    chain = np.asarray(sampler.get_chain(discard=burn, flat=True), dtype=np.float64)
    z = draw(joint, chain.shape[0], seed).z[:, :n].copy()
    z[:, places] = chain
    opinions = _opinions(joint, places, chain.mean(axis=0), chain.std(axis=0))
    return ChainCheck(z, opinions, chain.shape[0] / max(slowest, 1.0), (done - burn) / max(slowest, 1.0))


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
