"""Closed-form reduction of glides: the polar of each configuration, best glide and minimum sink, with intervals.

``CD = CD0 + k CL^2`` is a straight line on CL squared. With it, at weight W and sea level, any performance textbook has
best glide ratio ``1 / (2 sqrt(CD0 k))`` at ``V = sqrt(2 W / (rho0 S)) (k / CD0)^(1/4)``, and minimum sink at that speed
over ``3^(1/4)``, where the ratio is ``sqrt(3)/2`` of the best.

The scatter about the line is what was seen, or what the readings are stated to be good for if that is more. The dial's
bias, the weight and the propeller's own drag are common to all glides.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.methods.believed import believed
from wringout.methods.glide.line import (
    AT_ZERO_LIFT,
    PROPELLER,
    SLOPE,
    Polar,
    common_inputs,
    fitted_polar,
    left_out_words,
    seen_polar,
)
from wringout.methods.glide.polar import (
    best_glide_ratio,
    best_glide_speed_mps,
    minimum_sink_mps,
    minimum_sink_speed_mps,
    speed_at,
)
from wringout.methods.glide.run import coefficients, glide_airs, named_propeller
from wringout.methods.lines import FEWEST, in_line
from wringout.methods.power_words import PowerKind
from wringout.methods.steady_points import configuration_words, configurations_of, in_configuration
from wringout.methods.steady_run import SteadyRun
from wringout.methods.types import FloatArray, HandResult, Nuisance
from wringout.propagation import Measured, propagate
from wringout.units import FOOT_PER_MINUTE, KNOT, POUND_FORCE, SQUARE_FOOT, STANDARD_GRAVITY, to_si

DOUBTED_SDS = 3.0


class AsFlown(NamedTuple):
    """The polar as flown, with the drag area of the propeller, m2, that is in its CD0."""

    cd0: float
    k: float
    propeller_m2: float


def hand_results(
    run: SteadyRun,
    propeller: Nuisance,
    reading_sd_mps: FloatArray,
    predict: Callable[[FloatArray], FloatArray],
    beliefs: Beliefs,
) -> list[HandResult]:
    """Return the results of each configuration with three glides or more, then the sink against what was believed.

    ``propeller`` is the run's nuisance, ``predict`` the vertical speeds (m/s) of a parameter row with it at its mean.
    """
    out: list[HandResult] = []
    for flap, gear in configurations_of(run.points):
        where = in_configuration(run.points, flap, gear)
        if where.sum() >= FEWEST:
            out += _configuration(
                run, where, configuration_words(flap, gear, beliefs), propeller, reading_sd_mps, beliefs
            )
    if out and run.power.kind is PowerKind.IDLE:
        out.append(_windmilling(propeller))
    return [*out, _against_belief(run, propeller, reading_sd_mps, predict, beliefs)]


def _configuration(
    run: SteadyRun,
    where: NDArray[np.bool_],
    name: str,
    propeller: Nuisance,
    reading_sd_mps: FloatArray,
    beliefs: Beliefs,
) -> list[HandResult]:
    wing = float(beliefs.base[v.WING_AREA])
    cl, cd, cd_sd = seen_polar(run, where, reading_sd_mps, beliefs)
    used = in_line(cl**2, cd, cd_sd)
    said = left_out_words(run, where, used, cl, cd)
    cl_squared = cl[used] ** 2
    if float(np.ptp(cl_squared)) < 0.05 * float(cl_squared.mean()):
        return []
    polar = fitted_polar(run, where, used, name, cd_sd, propeller, beliefs)
    cd0, k = polar.inputs[AT_ZERO_LIFT][0], polar.inputs[SLOPE][0]
    if cd0 <= 0.0 or k <= 0.0:
        return [_no_polar(name, polar, said)]
    return _results(run, polar, wing, said, beliefs)


def _no_polar(name: str, polar: Polar, said: str) -> HandResult:
    cd0, k = polar.inputs[AT_ZERO_LIFT][0], polar.inputs[SLOPE][0]
    return HandResult(
        f"k, {name}",
        f"Lift-dependent drag, {name}",
        2,
        False,
        Measured(k, polar.inputs[SLOPE][1], "", {SLOPE: polar.inputs[SLOPE][1]}, polar.dof),
        float("nan"),
        f"The line gives CD0 {cd0:.4f} and k {k:.4f}, which no airplane has: the speeds lie too close together, or not "
        f"all glides were without power.{said}",
    )


def _results(run: SteadyRun, polar: Polar, wing: float, said: str, beliefs: Beliefs) -> list[HandResult]:
    span, mass, name = float(beliefs.base[v.SPAN]), beliefs.limits.max_mass_kg, polar.name
    finite = {AT_ZERO_LIFT: polar.dof, SLOPE: polar.dof} if math.isfinite(polar.dof) else None

    def measured(function: Callable[[AsFlown], float], unit: str) -> Measured:
        """Return a function of the polar as flown, SI, in ``unit``."""

        def of(**x: float) -> float:
            return function(AsFlown(*polar.at(x), x[PROPELLER])) / (to_si(1.0, unit) if unit else 1.0)

        return propagate(of, polar.inputs, unit, {(AT_ZERO_LIFT, SLOPE): polar.correlation}, finite)

    def result(key: str, title: str, value: Measured, sentence: str, speed: float = math.nan) -> HandResult:
        return HandResult(f"{key}, {name}", f"{title}, {name}", 1, False, value, speed, sentence)

    how = named_propeller(run.power.kind)
    line = f"Straight line of CD on CL squared through {int(polar.used.sum())} glides ({how})."
    less = " The believed drag of the windmilling propeller is taken off." if run.power.kind is PowerKind.IDLE else ""
    at_weight = f"At maximum weight and sea level, equivalent airspeed, as flown ({how})"
    best = measured(lambda a: best_glide_speed_mps(a.cd0, a.k, mass, wing), "kt")
    slow = measured(lambda a: minimum_sink_speed_mps(a.cd0, a.k, mass, wing), "kt")
    at_best, at_slow = best.value * KNOT, slow.value * KNOT
    ratio = measured(lambda a: best_glide_ratio(a.cd0, a.k), "")
    sink = measured(lambda a: minimum_sink_mps(a.cd0, a.k, mass, wing), "ft/min")
    area = measured(lambda a: a.cd0 * wing - a.propeller_m2, "ft2")
    efficiency = measured(lambda a: wing / (math.pi * span * span * a.k), "")
    fast, slower = _outside(run, polar, mass, wing, (at_best, at_slow), beliefs)
    return [
        result("drag area", "Drag area", area, line + less + said),
        result("span efficiency", "Span efficiency", efficiency, line),
        result("CD0", "CD0", measured(lambda a: a.cd0 - a.propeller_m2 / wing, ""), line + less),
        result("k", "k", measured(lambda a: a.k, ""), line),
        result("best glide ratio", "Best glide ratio", ratio, f"As flown ({how}), at any weight.{fast}"),
        result("best glide speed", "Best glide speed", best, f"{at_weight}.{fast}", at_best),
        result("minimum sink", "Minimum sink", sink, f"{at_weight}.{slower}", at_slow),
        result("minimum-sink speed", "Minimum-sink speed", slow, f"{at_weight}.{slower}", at_slow),
    ]


def _outside(
    run: SteadyRun, polar: Polar, mass: float, wing: float, speeds_mps: tuple[float, float], beliefs: Beliefs
) -> tuple[str, str]:
    """Return a caution for best glide and one for minimum sink where they lie outside the lift flown."""
    (bias, factor) = common_inputs(beliefs)
    points = run.points.only(polar.where).only(polar.used)
    cl, _ = coefficients(points, beliefs, wing, bias[0], factor[0])
    low, high = speed_at(float(cl.max()), mass, wing), speed_at(float(cl.min()), mass, wing)
    flown = f"the glides cover {low / KNOT:.0f} to {high / KNOT:.0f} kt at that weight"
    said = [
        ""
        if low - KNOT <= speed <= high + KNOT
        else f" It lies outside what was flown ({flown}): the line is drawn on."
        for speed in speeds_mps
    ]
    return said[0], said[1]


def _windmilling(propeller: Nuisance) -> HandResult:
    return HandResult(
        "windmilling drag",
        "Windmilling drag, believed",
        3,
        False,
        Measured(propeller.mean / SQUARE_FOOT, propeller.sd / SQUARE_FOOT, "ft2"),
        float("nan"),
        "Drag area of the propeller at idle, from its disk area (judged, no source). Glides at idle do not measure it "
        "apart from the airplane; glides at zero thrust beside them do.",
    )


def _against_belief(
    run: SteadyRun,
    propeller: Nuisance,
    reading_sd_mps: FloatArray,
    predict: Callable[[FloatArray], FloatArray],
    beliefs: Beliefs,
) -> HandResult:
    """Return the mean sink less that of the airplane believed before flight, with a warning where they part."""
    expected = believed(lambda row: float(np.mean(predict(row))), beliefs, "m/s")
    points = run.points
    airs = glide_airs(points, beliefs, common_inputs(beliefs)[0][0])
    pull = np.array([0.5 * air.density_kgm3 * air.speed_mps**2 for air in airs])
    force = points.mass_kg * STANDARD_GRAVITY
    speeds = np.array([air.speed_mps for air in airs])
    drag_sd = propeller.sd * float(np.mean(pull * speeds / force))
    noise = float(np.sqrt(np.mean(reading_sd_mps**2) / len(points)))
    more = expected.value - float(np.mean(points.rate_mps))
    budget = {**expected.budget, "propeller drag": drag_sd, "readings": noise}
    sd = math.sqrt(sum(part**2 for part in budget.values()))
    sds = more / sd
    sentence = f"Sink seen less sink believed before flight, mean over {len(points)} glides."
    if abs(sds) > DOUBTED_SDS:
        thrust = abs(more) * float(np.mean(force / speeds)) / POUND_FORCE
        cause = (
            f"as with power left on (about {thrust:.0f} lbf), rising air or a wrong weight"
            if more < 0.0
            else f"as with {thrust:.0f} lbf more drag: a device left out, sinking air or a wrong weight"
        )
        sentence += f" It is {abs(sds):.1f} standard deviations {'less' if more < 0.0 else 'more'}, {cause}."
    scaled = {name: part / FOOT_PER_MINUTE for name, part in budget.items()}
    value = Measured(more / FOOT_PER_MINUTE, sd / FOOT_PER_MINUTE, "ft/min", scaled)
    return HandResult(
        "sink against belief", "Sink, seen less believed", 3, False, value, float(np.mean(speeds)), sentence
    )
