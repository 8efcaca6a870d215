"""The straight line of CD on CL squared through the glides of one configuration, with what its doubt is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.methods.glide.run import coefficients, glide_airs
from wringout.methods.lines import line_doubt
from wringout.methods.steady_run import SteadyRun
from wringout.methods.types import FloatArray, Nuisance
from wringout.propagation import straight_line_fit
from wringout.units import STANDARD_GRAVITY

PROPELLER, BIAS, WEIGHT = "propeller drag", "dial bias", "weight"
AT_ZERO_LIFT, SLOPE = "scatter of the glides, at zero lift", "scatter of the glides, slope"


@dataclass(frozen=True, slots=True)
class Polar:
    """The straight line of one configuration, as flown, with its inputs ready for propagation.

    ``shifts`` gives the change of (CD0, k) per unit of dial bias (m/s) and of the weight factor. ``used`` says which
    of its glides the line is drawn through.
    """

    name: str
    inputs: Mapping[str, tuple[float, float]]
    correlation: float
    dof: float
    shifts: Mapping[str, tuple[float, float]]
    used: NDArray[np.bool_]
    where: NDArray[np.bool_]

    def at(self, x: Mapping[str, float]) -> tuple[float, float]:
        """Return (CD0, k) as flown with the inputs at ``x``."""
        cd0, k = x[AT_ZERO_LIFT], x[SLOPE]
        for name, (per_cd0, per_k) in self.shifts.items():
            off = x[name] - self.inputs[name][0]
            cd0, k = cd0 + per_cd0 * off, k + per_k * off
        return cd0, k


def seen_polar(
    run: SteadyRun, where: NDArray[np.bool_], reading_sd_mps: FloatArray, beliefs: Beliefs
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return CL, CD and the standard deviation of CD that the readings are stated to be good for."""
    points = run.points.only(where)
    wing, (bias, factor) = float(beliefs.base[v.WING_AREA]), common_inputs(beliefs)
    cl, cd = coefficients(points, beliefs, wing, bias[0], factor[0])
    per_rate = []
    for air, mass in zip(glide_airs(points, beliefs, bias[0]), points.mass_kg.tolist(), strict=True):
        ratio = 1.0 if points.geometric else air.temperature_ratio
        force = mass * STANDARD_GRAVITY / air.speed_mps * (1.0 + air.acceleration_factor) * ratio
        per_rate.append(force / (0.5 * air.density_kgm3 * air.speed_mps**2 * wing))
    return cl, cd, np.array(per_rate) * reading_sd_mps[where]


def common_inputs(beliefs: Beliefs) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return (value, sd) of the dial's bias, m/s, and of the weight factor."""
    bias = beliefs.parameters[beliefs.index("ias_bias")].prior
    factor = beliefs.parameters[beliefs.index("mass_factor")].prior
    return (bias.value, bias.sd), (factor.value, factor.sd)


def left_out_words(
    run: SteadyRun, where: NDArray[np.bool_], used: NDArray[np.bool_], cl: FloatArray, cd: FloatArray
) -> str:
    """Return a sentence for each row set aside on reading and each left out of the line, or nothing."""
    said = [aside.sentence() for aside in run.set_aside]
    rows = run.points.rows[where]
    for i in np.flatnonzero(~used):
        slope, intercept = np.polyfit(cl[used] ** 2, cd[used], 1)
        share = float(cd[i] / (intercept + slope * cl[i] ** 2))
        cause = (
            "as with power left on, or in rising air" if share < 1.0 else "as in sinking air, or with a device left out"
        )
        said.append(
            f"Row {int(rows[i])} shows {share:.0%} of the drag the other glides lead to expect, {cause}: it is kept "
            "but left out of the line."
        )
    return "".join(f" {sentence}" for sentence in said)


def fitted_polar(
    run: SteadyRun,
    where: NDArray[np.bool_],
    used: NDArray[np.bool_],
    name: str,
    cd_sd: FloatArray,
    propeller: Nuisance,
    beliefs: Beliefs,
) -> Polar:
    """Return the line through the used glides; their scatter is what was seen, or what was stated if that is more."""
    wing, (bias, factor) = float(beliefs.base[v.WING_AREA]), common_inputs(beliefs)
    points = run.points.only(where).only(used)

    def line(bias_mps: float, mass_factor: float) -> tuple[FloatArray, tuple[float, float], float]:
        cl, cd = coefficients(points, beliefs, wing, bias_mps, mass_factor)
        fitted = straight_line_fit(cl**2, cd)
        return cl**2, (fitted.intercept, fitted.slope), fitted.residual_sd

    x, (cd0, k), seen = line(bias[0], factor[0])
    stated = float(np.sqrt(np.mean(cd_sd[used] ** 2)))
    cd0_sd, k_sd, correlation, dof = line_doubt(x, seen, stated)
    steps = {BIAS: ((0.1, 0.0), 0.1), WEIGHT: ((0.0, 0.001), 0.001)}
    shifts = {}
    for key, ((more_bias, more_mass), step) in steps.items():
        _, high, _ = line(bias[0] + more_bias, factor[0] + more_mass)
        _, low, _ = line(bias[0] - more_bias, factor[0] - more_mass)
        shifts[key] = ((high[0] - low[0]) / (2.0 * step), (high[1] - low[1]) / (2.0 * step))
    inputs = {
        AT_ZERO_LIFT: (cd0, cd0_sd),
        SLOPE: (k, k_sd),
        BIAS: bias,
        WEIGHT: factor,
        PROPELLER: (propeller.mean, propeller.sd),
    }
    return Polar(name, inputs, correlation, dof, shifts, used, where)
