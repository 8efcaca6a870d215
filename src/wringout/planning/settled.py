"""How slow a point is believed to get: its settled speed by the believed airplane, low end of what is believed."""

from __future__ import annotations

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.errors import WringoutError
from wringout.planning.phases import Phase
from wringout.planning.plan import Point
from wringout.planning.template import CALLED, template_run

DRAWS = 40
SEED = 20_270_101
"""Of the draws from the beliefs: fixed, so that the same plan is always judged alike."""
LOW_SHARE = 0.1


def believed_slowest(point: Point, phase: Phase, beliefs: Beliefs) -> float | None:
    """Return the indicated speed, m/s, that one in ten of the believed airplanes falls below; None where none falls.

    The point is flown without noise by DRAWS airplanes drawn from the beliefs. Only points in which a device goes out
    at frozen power slow down by themselves.
    """
    if phase.name in ("entry", "gear up again") or point.method.key not in ("level deceleration", "out and back"):
        return None
    try:
        run = template_run(point, beliefs, CALLED)
    except WringoutError:
        return None
    rng = np.random.default_rng(SEED)
    z = rng.standard_normal((DRAWS, len(beliefs.parameters)))
    nuisance = np.array([n.mean for n in point.method.nuisances(run, beliefs)])
    slowest = [float(np.min(point.method.predict(run, beliefs.row_from_latent(one), nuisance, beliefs))) for one in z]
    return float(np.quantile(slowest, LOW_SHARE))
