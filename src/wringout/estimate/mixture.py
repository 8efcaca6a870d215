"""The posterior in latents: Gaussian for each scatter that repeats may have, and a mixture over those scatters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.vector import FloatArray
from wringout.estimate.solver import Linear
from wringout.estimate.widths import Repeats, width_draws


@dataclass(frozen=True, slots=True)
class Mixture:
    """Equally likely Gaussians over p latents that differ only in the k latents of repeats.

    ``places`` (k,) and ``rest`` (p - k,) divide the latents. Part i has the repeats at ``means[i]`` (k,) with
    covariance ``covariances[i]`` (k, k). Whatever the scatter, the rest given the repeats u is ``offset + gain u`` with
    covariance ``conditional``: the scatter speaks to the rest through the repeats alone.
    """

    places: NDArray[np.int64]
    rest: NDArray[np.int64]
    means: FloatArray
    covariances: FloatArray
    offset: FloatArray
    gain: FloatArray
    conditional: FloatArray

    def covariance(self) -> FloatArray:
        """Return the covariance of the whole mixture, (p, p)."""
        off = self.means - self.means.mean(axis=0)
        own = np.mean(self.covariances, axis=0) + off.T @ off / len(self.means)
        across = self.gain @ own
        out = np.empty((self.places.size + self.rest.size,) * 2)
        out[np.ix_(self.places, self.places)] = own
        out[np.ix_(self.rest, self.places)] = across
        out[np.ix_(self.places, self.rest)] = across.T
        out[np.ix_(self.rest, self.rest)] = self.conditional + across @ self.gain.T
        return out

    def draw(self, n: int, rng: np.random.Generator) -> FloatArray:
        """Return ``n`` draws, (n, p), from each part alike."""
        part = rng.permutation(np.arange(n) % len(self.means))
        own = rng.standard_normal((n, self.places.size))
        for i, (mean, covariance) in enumerate(zip(self.means, self.covariances, strict=True)):
            mine = part == i
            own[mine] = mean + own[mine] @ np.linalg.cholesky(covariance).T
        free = rng.standard_normal((n, self.rest.size)) @ np.linalg.cholesky(self.conditional).T
        out = np.empty((n, self.places.size + self.rest.size))
        out[:, self.places] = own
        out[:, self.rest] = self.offset + own @ self.gain.T + free
        return out


def mixture_of(linear: Linear, z: FloatArray, repeats: Repeats | None, seed: int) -> Mixture:
    """Return the posterior of a fit linearised at ``z``; without repeats it is one Gaussian."""
    information, pull = linear.information(), linear.pull(z)
    places = np.zeros(0, dtype=np.int64) if repeats is None else repeats.places
    rest = np.setdiff1d(np.arange(z.size), places)
    conditional: FloatArray = np.asarray(np.linalg.inv(information[np.ix_(rest, rest)] + np.eye(rest.size)))
    means: FloatArray = np.zeros((1, 0))
    covariances: FloatArray = np.zeros((1, 0, 0))
    if repeats is not None:
        precision = repeats.precision(width_draws(repeats, seed))
        whole = repeats.information + np.eye(places.size) * precision[:, np.newaxis, :]
        covariances = np.asarray(np.linalg.inv(whole))
        means = covariances @ repeats.pull
    return Mixture(
        places=places,
        rest=rest,
        means=means,
        covariances=covariances,
        offset=conditional @ pull[rest],
        gain=-conditional @ information[np.ix_(rest, places)],
        conditional=conditional,
    )
