"""What the readings of a flight-test programme allow at best: the Cramér-Rao bound with the stated beliefs.

No answer to the readings as flown can have, on average over airplanes as believed, a smaller mean square error than
``g' (J'J + I)^-1 g``, where ``J`` are the slopes of the readings in units of their noise with all unknowns, each
counted in standard deviations of what is believed of it, and ``g`` those of the quantity (Fisher information with
beliefs: H. L. Van Trees, Detection, Estimation, and Modulation Theory, part I, 1968, section 2.4). The readings are
those of the trials: whole knots every 6 s, with the noise that the airplane file states; air that is still and known
to be so.

The bound takes the laws of the reduction to be the airplane's own. An airplane that follows others adds its bias.
"""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np

from tests.accuracy.outside_programme import PROGRAMMES, STEADY, Hand, new_crew, stated_weight_lb
from tests.accuracy.outside_trials import Campaign, found_values, study, true_values
from wringout.estimate.fit import JointFit, fit
from wringout.estimate.posterior import Posterior

CREWS = (1, 2, 3)
DRAWS = 400
ONE_SD = (15.865525, 84.134475)


@functools.cache
def least_errors(
    model: str, campaign: Campaign, crews: tuple[int, ...] = CREWS, hand: Hand = STEADY
) -> dict[str, float]:
    """Return the least root mean square error of every quantity of a campaign: per cent of the truth, or its unit.

    It hardly depends on what was read: the root mean square over a few crews is taken.
    """
    programme = PROGRAMMES[model]
    squares: dict[str, list[float]] = {}
    for seed in crews:
        crew = new_crew(seed, hand=hand)
        joint = fit(*study(programme, campaign, crew))
        found = found_values(programme, campaign, joint, ideal(joint, seed), stated_weight_lb(programme, crew))
        for name, values in found.items():
            low, high = np.percentile(values, ONE_SD)
            squares.setdefault(name, []).append((0.5 * float(high - low)) ** 2)
    truths = true_values(programme, campaign)
    sizes = {name: float(np.sqrt(np.mean(values))) for name, values in squares.items()}
    return {name: 100.0 * sd / truths[name][0] if truths[name][1] == "%" else sd for name, sd in sizes.items()}


def ideal(joint: JointFit, seed: int) -> Posterior:
    """Return draws with the bound's covariance, at the fit: noise and scatter of repeats as stated."""
    problem = replace(joint.problem, widths={})
    linear = problem.linear(joint.z, problem.reading_sds(joint.z))
    covariance = np.linalg.inv(linear.information() + np.eye(problem.size))
    z = np.random.default_rng(seed).multivariate_normal(joint.z, covariance, DRAWS, method="cholesky")
    return Posterior(z, np.array([problem.row(one) for one in z]), seed)
