"""Do the figures of a handbook agree with each other? Each check says so in a sentence, with its size in sigma."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.distribution import Prior
from wringout.airplane.handbook_figures import Figures, PrintedPoint, PrintedStall
from wringout.airplane.handbook_performance import best_rate_speed_with_doubt, needed
from wringout.airplane.handbook_relations import (
    CL_MAX_TYPICAL,
    CLEAN_COEFFICIENT,
    LEAST_FLAP_LIMIT,
    maneuvering_speed,
    polar_without_propeller,
    propeller_drag_area,
)
from wringout.airplane.textbook import SPAN_EFFICIENCY, lift_coefficient_at
from wringout.units import KNOT

REPORT_AT = 2.0
"""Disagreements of this many sigma are called contradictions."""
GLIDE_RATIO_SHARE = 0.06
GLIDE_SPEED_SHARE = 0.05
"""Relative standard uncertainty of a printed best glide: ratios flatter, speeds are rounded or chosen (judged)."""
LIFT_GAIN = (0.25, 0.15)
"""Gain in CLmax from one flap setting to the next, and its spread (from memory, no source)."""
CLIMB_SPEED_SHARE = 0.08
"""How far a printed best-rate speed may be from the true one, which is flat; engine cooling moves it (judged)."""
VA_SHARE = 0.03
UTILITY_LOAD_FACTOR = 4.4


@dataclass(frozen=True, slots=True)
class Check:
    """One comparison: how far apart in sigma (infinite where the figures are exact), and a sentence about it."""

    key: str
    sigma: float
    sentence: str

    @property
    def contradicts(self) -> bool:
        """Whether it is called a contradiction."""
        return self.sigma >= REPORT_AT


def checks_of(figures: Figures, beliefs: Beliefs) -> tuple[Check, ...]:
    """Return every check that the printed figures allow, worst first.

    ``beliefs`` are those of the glide and the textbook alone, before climbs and cruises moved them.
    """
    found = [
        *_stalls(figures),
        *_lift_maxima(figures),
        *_glide(figures),
        *_points(figures.points, beliefs),
        *_climb_speeds(figures.points, beliefs),
        *_cruise_order(figures.points),
        *_limits(figures),
    ]
    return tuple(sorted(found, key=lambda check: -check.sigma))


def _sizes(sigma: float) -> str:
    return f"{sigma:.1f} sigma"


def _lift(stall: PrintedStall, figures: Figures) -> tuple[float, float]:
    """Return CLmax of a stall speed and its standard uncertainty."""
    value = lift_coefficient_at(figures.max_mass_kg, stall.speed_mps, figures.wing_area_m2)
    return value, 2.0 * value * stall.sd_mps / stall.speed_mps


def _stalls(figures: Figures) -> list[Check]:
    """Hold each stall speed against the one before it: more flap must stall slower."""
    out = []
    for less, more in pairwise(figures.stalls):
        (before, sd_before), (after, sd_after) = _lift(less, figures), _lift(more, figures)
        # Errors of the airspeed system go largely together; half of each is taken as its own.
        sd = math.hypot(LIFT_GAIN[1], 0.5 * sd_before, 0.5 * sd_after)
        sigma = abs(after - before - LIFT_GAIN[0]) / sd
        fall = (less.speed_mps - more.speed_mps) / KNOT
        if fall > 0.0:
            said = f"falls by {fall:.1f} kt" if sigma < REPORT_AT else f"falls by {fall:.1f} kt, an unusual step"
        else:
            said = "does not fall" if fall > -0.5 else f"rises by {-fall:.1f} kt"
        usual = "; more flap lowers it" if fall <= 0.0 else ""
        out.append(
            Check(
                f"stall speed, {more.setting}",
                max(sigma, REPORT_AT) if fall <= 0.0 else sigma,
                f"From flaps {less.setting} to {more.setting} the stall speed {said} ({less.speed_mps / KNOT:.0f} to "
                f"{more.speed_mps / KNOT:.0f} kt){usual}: CLmax would change by {after - before:+.2f} where "
                f"{LIFT_GAIN[0]:.2f} is usual, {_sizes(sigma)} off.",
            )
        )
    return out


def _lift_maxima(figures: Figures) -> list[Check]:
    out = []
    for stall in figures.stalls:
        which = "clean" if stall.angle_rad == 0.0 else "full" if stall is figures.stalls[-1] else ""
        if not which:
            continue
        value, sd = _lift(stall, figures)
        usual, spread = CL_MAX_TYPICAL[which]
        sigma = abs(value - usual) / math.hypot(sd, spread)
        hint = " (an indicated speed in place of a calibrated one does that)" if sigma > 1.0 and value > usual else ""
        out.append(
            Check(
                f"CLmax, {stall.setting}",
                sigma,
                f"The stall speed of {stall.speed_mps / KNOT:.0f} kt with flaps {stall.setting} means a CLmax of "
                f"{value:.2f}, where light airplanes have {usual:.2f} ± {spread:.2f}: {_sizes(sigma)} off{hint}.",
            )
        )
    return out


def _glide(figures: Figures) -> list[Check]:
    glide = figures.glide
    if glide is None:
        return []
    area, _ = propeller_drag_area(glide.propeller, figures.disk_area_m2)
    _, _, clean, efficiency = polar_without_propeller(glide.ratio, glide.speed_mps, glide.mass_kg, figures.span_m, area)
    prior: Prior = SPAN_EFFICIENCY
    doubt = math.hypot(GLIDE_RATIO_SHARE, 2.0 * GLIDE_SPEED_SHARE)
    sigma = abs(math.log(efficiency / prior.value)) / math.hypot(doubt, prior.log_sd)
    impossible = "; above 1 no plain wing can be" if efficiency > 1.0 else ""
    usual, spread = CLEAN_COEFFICIENT[figures.retractable]
    coefficient = clean / figures.wing_area_m2
    off = abs(math.log(coefficient / usual)) / math.hypot(doubt, spread / usual)
    printed = f"The printed best glide of {glide.ratio:.1f} at {glide.speed_mps / KNOT:.0f} kt calibrated"
    return [
        Check(
            "glide, span efficiency",
            sigma,
            f"{printed} means a span efficiency of {efficiency:.2f}, where light airplanes have {prior.value:.2f} ± "
            f"{prior.sd:.2f}: {_sizes(sigma)} off{impossible}.",
        ),
        Check(
            "glide, clean drag",
            off,
            f"{printed} means a parasite drag coefficient of {coefficient:.4f} without the propeller, where such "
            f"airplanes have {usual:.3f} ± {spread:.3f}: {_sizes(off)} off.",
        ),
    ]


def _points(points: Sequence[PrintedPoint], beliefs: Beliefs) -> list[Check]:
    """Hold the propeller efficiency that each point needs against real propellers, and the points among themselves."""
    if not points:
        return []
    need, prior = needed(beliefs, points), beliefs.parameters[beliefs.index("disk_efficiency")].prior
    covariance = need.covariance()
    out = []
    for i, point in enumerate(points):
        sigma = abs(float(need.logs[i]) - math.log(prior.value)) / math.hypot(math.sqrt(covariance[i, i]), prior.log_sd)
        share, sd = math.exp(need.logs[i]), math.exp(need.logs[i]) * math.sqrt(covariance[i, i])
        real = f"the {100 * prior.value:.0f} ± {100 * prior.sd:.0f} % of real propellers"
        if sigma < REPORT_AT:
            verdict = f"which agrees with {real} within the doubts"
        elif share > 1.0:
            verdict = (
                f"not even an ideal propeller could, let alone {real}; the glide, this point or the power is wrong"
            )
        else:
            verdict = f"{'more' if share > prior.value else 'less'} than {real}"
        out.append(
            Check(
                f"propeller, {point.words}",
                sigma,
                f"The {point.words} needs {100 * share:.0f} ± {100 * sd:.0f} % of the engine's power in the "
                f"slipstream with the polar believed from the glide: {verdict} ({_sizes(sigma)}).",
            )
        )
    for i in range(len(points)):
        for j in range(i + 1, len(points)):
            gap = float(need.logs[j] - need.logs[i])
            sd = math.sqrt(float(covariance[i, i] + covariance[j, j] - 2.0 * covariance[i, j]))
            out.append(_pair(points[i], points[j], gap, abs(gap) / sd, float(np.exp(need.logs[i]))))
    return out


def _pair(first: PrintedPoint, second: PrintedPoint, gap: float, sigma: float, share: float) -> Check:
    fits = "contradict each other" if sigma >= REPORT_AT else "agree"
    return Check(
        f"propeller, {first.words} against {second.words}",
        sigma,
        f"The {first.words} and the {second.words} {fits}: one needs {100 * share:.0f} %, the other "
        f"{100 * share * math.exp(gap):.0f} % of the engine's power in the slipstream, {_sizes(sigma)} apart.",
    )


def _climb_speeds(points: Sequence[PrintedPoint], beliefs: Beliefs) -> list[Check]:
    out = []
    for point in points:
        if point.power_w is not None:
            continue
        expected, doubt = best_rate_speed_with_doubt(beliefs, point)
        gap = math.log(point.true_mps / expected)
        sigma = abs(gap) / math.hypot(doubt, CLIMB_SPEED_SHARE)
        out.append(
            Check(
                f"climb speed, {point.words}",
                sigma,
                f"The {point.words} is flown at {point.true_mps / KNOT:.0f} kt true, where the glide and the power put "
                f"the best rate at {expected / KNOT:.0f} kt true: {_sizes(sigma)} off.",
            )
        )
    return out


def _cruise_order(points: Sequence[PrintedPoint]) -> list[Check]:
    """Hold cruise speeds at one altitude and weight against their powers: more power must be faster."""
    cruises = [point for point in points if point.power_w is not None]
    out = []
    for i, one in enumerate(cruises):
        for other in cruises[i + 1 :]:
            alike = abs(one.altitude_m - other.altitude_m) < 1.0 and abs(one.mass_kg - other.mass_kg) < 1.0
            weak, strong = sorted((one, other), key=lambda p: p.power_w or 0.0)
            if not alike or weak.power_w == strong.power_w or strong.true_mps > weak.true_mps:
                continue
            sd = math.hypot(weak.true_mps * weak.speed_share, strong.true_mps * strong.speed_share)
            ratio = ((strong.power_w or 1.0) / (weak.power_w or 1.0)) ** (1.0 / 3.0)
            sigma = (weak.true_mps * ratio - strong.true_mps) / sd
            out.append(
                Check(
                    f"cruise, {strong.words}",
                    max(sigma, REPORT_AT),
                    f"The {strong.words} is no faster than the {weak.words}, on less power: {_sizes(sigma)} off what "
                    "the cube root of the powers would give.",
                )
            )
    return out


def _limits(figures: Figures) -> list[Check]:
    return [*_flap_limits(figures), *_gear_limits(figures), *_maneuvering(figures)]


def _flap_limits(figures: Figures) -> list[Check]:
    out = []
    limits = [(i, limit) for i, limit in enumerate(figures.flap_limits_mps) if limit is not None]
    for (i, before), (j, after) in pairwise(limits):
        if after > before + 1e-6:
            out.append(
                Check(
                    f"VFE, setting {j + 1}",
                    math.inf,
                    f"VFE rises from {before / KNOT:.0f} to {after / KNOT:.0f} kt between flap settings {i + 1} and "
                    f"{j + 1}: more flap cannot take more speed, so one of the two is misread.",
                )
            )
    full = figures.stalls[-1] if figures.stalls else None
    last = figures.flap_limits_mps[-1]
    if full is not None and last is not None and full.angle_rad == figures.flap_angles_rad[-1]:
        least = LEAST_FLAP_LIMIT * full.speed_mps
        sigma = max(least - last, 0.0) / (LEAST_FLAP_LIMIT * full.sd_mps)
        out.append(
            Check(
                "VFE, full flaps",
                sigma,
                f"VFE with full flaps is {last / KNOT:.0f} kt, where {LEAST_FLAP_LIMIT} times the stall speed of "
                f"{full.speed_mps / KNOT:.0f} kt is {least / KNOT:.0f} kt, the least the rule allows: "
                f"{_sizes(sigma)} off.",
            )
        )
    return out


def _gear_limits(figures: Figures) -> list[Check]:
    operate, retract, extended = figures.gear_limits_mps
    out = []
    for label, limit in (("VLO (extend)", operate), ("VLO (retract)", retract)):
        if limit is not None and extended is not None and limit > extended + 1e-6:
            out.append(
                Check(
                    label,
                    math.inf,
                    f"{label} of {limit / KNOT:.0f} kt is above VLE of {extended / KNOT:.0f} kt: the gear could be "
                    "moved at a speed at which it may not be out, so one of the two is misread.",
                )
            )
    return out


def _maneuvering(figures: Figures) -> list[Check]:
    clean = next((stall for stall in figures.stalls if stall.angle_rad == 0.0), None)
    if clean is None or figures.maneuvering_mps is None:
        return []
    least, most = maneuvering_speed(clean.speed_mps), maneuvering_speed(clean.speed_mps, UTILITY_LOAD_FACTOR)
    nearest = min(max(figures.maneuvering_mps, least), most)
    doubt = math.hypot(VA_SHARE, clean.sd_mps / clean.speed_mps)
    sigma = abs(math.log(figures.maneuvering_mps / nearest)) / doubt
    return [
        Check(
            "VA",
            sigma,
            f"VA is {figures.maneuvering_mps / KNOT:.0f} kt, where the clean stall speed of "
            f"{clean.speed_mps / KNOT:.0f} kt and load factors of 3.8 to 4.4 give {least / KNOT:.0f} to "
            f"{most / KNOT:.0f} kt: {_sizes(sigma)} off.",
        )
    ]
