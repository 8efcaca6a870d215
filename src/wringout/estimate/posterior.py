"""Posterior draws of the airplane, and what the runs taught about each parameter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wringout.airplane.vector import SIZE, FloatArray
from wringout.estimate.fit import JointFit

MEASURED, SHARPENED = 0.5, 0.15


@dataclass(frozen=True, slots=True)
class Posterior:
    """Draws from the posterior: latents ``z`` (n, p) and parameter rows ``rows`` (n, SIZE)."""

    z: FloatArray
    rows: FloatArray
    seed: int


@dataclass(frozen=True, slots=True)
class Learned:
    """What the runs taught about one airplane parameter; values SI.

    ``contraction`` is 1 - posterior sd / prior sd in the latent; ``shift`` is how far the estimate moved, in prior sds.
    ``verdict`` is "measured", "sharpened" or "still the prior".
    """

    key: str
    label: str
    unit: str
    prior: tuple[float, float, float]
    posterior: tuple[float, float, float]
    contraction: float
    shift: float
    verdict: str
    source: str


def draw(joint: JointFit, n: int, seed: int) -> Posterior:
    """Return ``n`` draws of the fit's posterior; the same seed gives the same draws."""
    z = joint.mixture.draw(n, np.random.default_rng(seed))
    rows = np.empty((n, SIZE))
    for i in range(n):
        rows[i] = joint.problem.row(z[i])
    return Posterior(z, rows, seed)


def learned(joint: JointFit) -> list[Learned]:
    """Return, for each airplane parameter, prior and posterior (median and 95 % limits) and how much was learned."""
    out = []
    for j, parameter in enumerate(joint.problem.beliefs.parameters):
        sd = float(np.sqrt(joint.covariance[j, j]))
        z = float(joint.z[j])
        contraction = 1.0 - sd
        verdict = (
            "measured" if contraction > MEASURED else "sharpened" if contraction > SHARPENED else "still the prior"
        )
        p = parameter.prior
        out.append(
            Learned(
                key=parameter.key,
                label=parameter.label,
                unit=parameter.display_unit,
                prior=(p.from_latent(-1.96), p.from_latent(0.0), p.from_latent(1.96)),
                posterior=(p.from_latent(z - 1.96 * sd), p.from_latent(z), p.from_latent(z + 1.96 * sd)),
                contraction=contraction,
                shift=z,
                verdict=verdict,
                source=p.source,
            )
        )
    return out
