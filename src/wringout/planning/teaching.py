"""Which run teaches most next: the expected cut in the variance of what decides, by the linearised posterior.

With latents whose covariance now is ``C`` (p, p), a run with slopes ``A`` (n, p) on the airplane and ``B`` (n, m) on
its own nuisances, both per standard deviation of a reading, has noise ``S = I + B B'`` after its nuisances (standard
normal) are integrated out. It adds information ``A' S^-1 A``; the variance of a quantity with slopes ``g`` falls from
``g' C g`` to ``g' (C^-1 + A' S^-1 A)^-1 g``. For a linear Gaussian problem that is exact and does not depend on what
will be read (Lindley 1956; Chaloner and Verdinelli 1995, "Bayesian experimental design: a review"; both from memory).
The information in nats about all parameters is ``log det(C (C^-1 + A' S^-1 A)) / 2``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.vector import FloatArray
from wringout.estimate.problem import StudyRun, pose
from wringout.planning.deciding import Contest, difference_gradient
from wringout.planning.readings import Planned

STEP = 0.25
"""Step of the slopes of the deciding difference, in standard deviations of the beliefs."""
CONDITIONS = 48


@dataclass(frozen=True, slots=True)
class State:
    """What is known now, in the airplane's latents: most probable value (p,) and covariance (p, p)."""

    z: FloatArray
    covariance: FloatArray


@dataclass(frozen=True, slots=True)
class Lesson:
    """What one more run is expected to teach.

    ``share`` is the part of the variance of the deciding difference that it takes away; ``sd_after`` what is left as a
    standard deviation, SI; ``nats`` the information about all parameters together.
    """

    key: str
    share: float
    sd_before: float
    sd_after: float
    nats: float


def before_flying(beliefs: Beliefs) -> State:
    """Return the state of the priors: standard normal latents."""
    p = len(beliefs.parameters)
    return State(np.zeros(p), np.eye(p))


def information_of(run: StudyRun, beliefs: Beliefs, z: FloatArray) -> FloatArray:
    """Return what a run tells of the airplane's latents at ``z`` (p,), its own nuisances integrated out, (p, p)."""
    problem = pose(beliefs, [run])
    here = np.concatenate((z, np.zeros(problem.size - z.size)))
    line = problem.linear(here, problem.reading_sds(here))
    return marginal_information(line.common[0], line.own[0])


def marginal_information(common: FloatArray, own: FloatArray) -> FloatArray:
    """Return ``A' (I + B B')^-1 A`` for slopes ``A`` (n, p) and ``B`` (n, m) per standard deviation of a reading."""
    noise = np.eye(common.shape[0]) + own @ own.T
    return np.asarray(common.T @ np.linalg.solve(noise, common))


def after(state: State, information: FloatArray) -> State:
    """Return the expected state after a run that adds that information."""
    return State(state.z, np.asarray(np.linalg.inv(np.linalg.inv(state.covariance) + information)))


def lesson(key: str, state: State, information: FloatArray, gradient: FloatArray) -> Lesson:
    """Return what a run of that information teaches about a quantity with slopes ``gradient`` (p,)."""
    now = float(gradient @ state.covariance @ gradient)
    then = float(gradient @ after(state, information).covariance @ gradient)
    _, logdet = np.linalg.slogdet(np.eye(state.z.size) + state.covariance @ information)
    share = 0.0 if now <= 0.0 else max(1.0 - then / now, 0.0)
    return Lesson(key, share, now**0.5, max(then, 0.0) ** 0.5, 0.5 * float(logdet))


def gradient_of(beliefs: Beliefs, state: State, contest: Contest, conditions: int = CONDITIONS) -> FloatArray:
    """Return the slopes (p,) of the deciding difference with the airplane's latents, SI per unit latent.

    Raises BadInputError where the believed airplane cannot fly the approach.
    """
    p = state.z.size
    ahead = np.array([beliefs.row_from_latent(state.z + STEP * np.eye(p)[j]) for j in range(p)])
    behind = np.array([beliefs.row_from_latent(state.z - STEP * np.eye(p)[j]) for j in range(p)])
    return difference_gradient(ahead, behind, contest, conditions, STEP)


def lessons(planned: Sequence[Planned], beliefs: Beliefs, state: State, gradient: FloatArray) -> tuple[Lesson, ...]:
    """Return what each run would teach by itself, most first; equal ones in the order they were given.

    Runs that no fit takes (go-arounds in pairs) are left out.
    """
    fitted = [p for p in planned if p.is_fitted]
    found = [lesson(p.key, state, information_of(p.as_planned, beliefs, state.z), gradient) for p in fitted]
    return tuple(sorted(found, key=lambda one: -one.share))
