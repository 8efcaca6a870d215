"""Refusals in one sentence: what cannot be flown, where it stands, and what would be right."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from wringout.airplane import vector as v
from wringout.airplane.forces import drag, full_throttle_disk_power, reference_disk_power, stall_speed
from wringout.airspeed import true_from_calibrated
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3, density_kgm3
from wringout.techniques.flying.layout import entry_is_factor
from wringout.techniques.flying.limits import limits_row
from wringout.techniques.flying.scores import SCORE_INDEX, SCORE_TIMES_S
from wringout.techniques.stated.procedure import Procedure, StartPower
from wringout.techniques.stated.procedure_checks import check_procedure, refuse
from wringout.techniques.stated.technique_checks import check_technique, degrees, full_flap_rad
from wringout.techniques.stated.types import (
    Conditions,
    Domain,
    FlightLimits,
    FloatArray,
    GoAround,
    Technique,
    Thresholds,
)
from wringout.units import DEGREE, KNOT, POUND, STANDARD_GRAVITY

_SAME = 1e-6
_POSITIVE = (
    (v.WING_AREA, "wing area"),
    (v.SPAN, "span"),
    (v.OSWALD, "span efficiency"),
    (v.F_CLEAN, "clean drag area"),
    (v.DISK_AREA, "propeller disk area"),
    (v.DISK_EFFICIENCY, "propeller efficiency"),
    (v.EFFICIENCY_SPEED, "reference speed of the propeller"),
    (v.RATED_POWER, "rated power"),
    (v.LIFT_SLOPE, "lift slope"),
    (v.MASS_FACTOR, "mass factor"),
)
_TIMES = (
    (v.GEAR_DOWN_TIME, "gear extension time"),
    (v.GEAR_UP_TIME, "gear retraction time"),
    (v.FLAP_DOWN_TIME, "flap extension time"),
    (v.FLAP_UP_TIME, "flap retraction time"),
)


def check_rows(rows: FloatArray) -> None:
    """Refuse a matrix of parameter draws that holds no airplane.

    Raises:
        BadInputError: wrong shape, a number missing, or one that must be positive and is not; the draw is named.
    """
    fine = rows.ndim == 2 and rows.shape[1] == v.SIZE and len(rows) > 0
    refuse(not fine, f"the draws have shape {rows.shape}", "parameter draws", f"give (draws, {v.SIZE}), at least one")
    known = [j for j in range(v.SIZE) if j != v.ALTITUDE_LAW]
    broken = np.flatnonzero(~np.isfinite(rows[:, known]).all(axis=1) | np.isnan(rows[:, v.ALTITUDE_LAW]))
    refuse(bool(len(broken)), "a parameter is missing or infinite", _draw(broken), "every parameter needs a number")
    for column, name in _POSITIVE:
        broken = np.flatnonzero(rows[:, column] <= 0.0)
        refuse(bool(len(broken)), f"the {name} is not above zero", _draw(broken), "give a positive number")
    for column, name in _TIMES:
        broken = np.flatnonzero(rows[:, column] < 0.0)
        refuse(bool(len(broken)), f"the {name} is negative", _draw(broken), "give seconds, zero or more")
    settings = rows[:, v.SETTINGS]
    broken = np.flatnonzero((settings != settings[0]) | (settings < 2) | (settings > v.MAX_SETTINGS))
    refuse(
        bool(len(broken)),
        "the number of flap settings differs between draws or is out of range",
        _draw(broken),
        f"give 2 to {v.MAX_SETTINGS} settings, alike in all draws",
    )
    count = int(settings[0])
    angles = rows[:, v.ANGLES : v.ANGLES + count]
    broken = np.flatnonzero(
        (np.diff(angles, axis=1) <= 0.0).any(axis=1) | (np.abs(angles - angles[0]) > 1e-9).any(axis=1)
    )
    refuse(
        bool(len(broken)),
        "the flap angles do not rise or differ between draws",
        _draw(broken),
        "list them from up to full",
    )
    broken = np.flatnonzero((rows[:, v.CL_MAXES : v.CL_MAXES + count] <= 0.0).any(axis=1))
    refuse(bool(len(broken)), "a maximum lift coefficient is not above zero", _draw(broken), "give a positive number")


def _draw(broken: NDArray[np.intp]) -> str:
    return f"draw {int(broken[0]) + 1}" if len(broken) else ""


def check_situation(situation: GoAround | Procedure, row: FloatArray) -> None:
    """Refuse a situation with a number that is missing or out of range.

    Raises:
        BadInputError: naming the field.
    """
    full = full_flap_rad(row)
    if isinstance(situation, Procedure):
        check_procedure(situation, full)
        return
    low, high = situation.handling.load_factor
    mean, sd = situation.reaction_s
    for value, lowest, highest, name, expected in (
        (situation.start_flap_rad, 0.0, full + _SAME, "starting flap angle", f"0° to {degrees(full)}, in radians"),
        (situation.start_gear, 0.0, 1.0, "starting gear position", "0 (up) or 1 (down)"),
        (situation.descent_rad, -10.0 * DEGREE, 15.0 * DEGREE, "descent angle", "about 3°, in radians, positive down"),
        (situation.start_height_m, 0.0, 1000.0, "start height", "metres above the ground"),
        (situation.power_delay_s, 0.0, 30.0, "power delay", "seconds, zero or more"),
        (situation.power_ramp_s, 0.0, 30.0, "power ramp", "seconds, zero or more"),
        (mean, 0.0, 30.0, "mean reaction delay", "seconds, zero or more"),
        (sd, 0.0, 30.0, "spread of the reaction delay", "seconds, zero or more"),
        (situation.duration_s, 1.0, 600.0, "duration", "seconds, 1 to 600"),
        (situation.climb_speed_factor, 1.0, 3.0, "climb speed factor", "about 1.3 times the clean stall speed"),
        (situation.pitch_up_rad or 0.0, -0.2, 0.6, "pitch change", "radians up from the approach attitude"),
        (situation.handling.pitch_rate_rps, 0.001, 1.0, "pitch rate", "about 3 degrees a second, in rad/s"),
        (situation.handling.path_time_s, 0.2, 10.0, "time constant of the path", "seconds, about 1"),
        (situation.handling.speed_time_s, 1.0, 60.0, "time constant of the speed", "seconds, about 4"),
        (low, 0.0, 0.999, "lowest load factor", "less than 1"),
        (high, 1.001, 3.0, "highest load factor", "more than 1"),
    ):
        refuse(not lowest <= value <= highest, f"a {name} of {value:g} is out of range", f"situation, {name}", expected)


def check_domain(domain: Domain, situation: GoAround | Procedure, limits: FlightLimits) -> None:
    """Refuse a domain whose ranges are reversed, implausible or beyond the maximum mass.

    Raises:
        BadInputError: naming the range.
    """
    factor = entry_is_factor(situation)
    for span, lowest, highest, name, expected in (
        (domain.mass_kg, 100.0, 10_000.0, "mass", "kilograms, lowest first"),
        (domain.pressure_altitude_m, -500.0, 6_000.0, "pressure altitude", "metres from -500 to 6,000, lowest first"),
        (domain.isa_deviation_k, -60.0, 60.0, "ISA deviation", "kelvins from standard, lowest first"),
        (
            domain.entry_speed,
            0.5 if factor else 10.0,
            3.0 if factor else 120.0,
            "entry speed",
            "multiples of the stall speed, about 1.3" if factor else "calibrated m/s, lowest first",
        ),
    ):
        fine = math.isfinite(span[0]) and lowest <= span[0] <= span[1] <= highest
        refuse(not fine, f"the range {span[0]:g} to {span[1]:g} cannot be used", f"domain, {name}", expected)
    if limits.max_mass_kg is not None:
        refuse(
            domain.mass_kg[1] > limits.max_mass_kg + 1e-6,
            f"{domain.mass_kg[1] / POUND:.0f} lb ({domain.mass_kg[1]:.0f} kg) is above the maximum mass",
            "domain, mass",
            f"at most {limits.max_mass_kg / POUND:.0f} lb ({limits.max_mass_kg:.0f} kg)",
        )


def check_start(row: FloatArray, situation: GoAround | Procedure, domain: Domain, limits: FlightLimits) -> None:
    """Refuse a start below the stall, above VFE or VLE, or one that is no steady approach, at the domain's corners.

    Args:
        row: the middle airplane (medians of the draws).

    Raises:
        BadInputError: naming what stands against the start.
    """
    for mass in sorted(set(domain.mass_kg)):
        for entry in sorted(set(domain.entry_speed)):
            for altitude in sorted(set(domain.pressure_altitude_m)):
                _check_corner(row, situation, limits, Conditions(mass, altitude, domain.isa_deviation_k[1], entry))


def _check_corner(row: FloatArray, situation: GoAround | Procedure, limits: FlightLimits, at: Conditions) -> None:
    weight = at.mass_kg * row[v.MASS_FACTOR] * STANDARD_GRAVITY
    density = density_kgm3(at.pressure_altitude_m, at.isa_deviation_k)
    stall: float = stall_speed(row, weight, density, situation.start_flap_rad)
    root_sigma = math.sqrt(density / SEA_LEVEL_DENSITY_KGM3)
    if entry_is_factor(situation):
        speed = at.entry_speed * stall
    else:
        speed = true_from_calibrated(at.entry_speed, at.pressure_altitude_m, at.isa_deviation_k)
    kt = speed * root_sigma / KNOT
    where = f"entry speed at {at.mass_kg / POUND:.0f} lb"
    refuse(
        speed <= stall,
        f"{kt:.0f} kt is at or below the stall speed of {stall * root_sigma / KNOT:.0f} kt with "
        f"flaps {degrees(situation.start_flap_rad)}",
        where,
        "start faster than the stall, for example 1.3 times",
    )
    stated = limits_row(limits, row)
    angles = row[v.ANGLES : v.ANGLES + int(row[v.SETTINGS])]
    detent = int(np.searchsorted(angles, situation.start_flap_rad - _SAME))
    vfe = float(stated[detent]) if detent else math.inf
    vle = float(stated[-2]) if situation.start_gear > 0.0 else math.inf
    for limit, name in ((vfe, f"VFE with flaps {degrees(situation.start_flap_rad)}"), (vle, "VLE")):
        refuse(
            kt * KNOT > limit + 0.01,
            f"{kt:.0f} kt is above {name}",
            where,
            f"at most {limit / KNOT:.0f} kt by the airplane's manual",
        )
    angle = situation.descent_rad
    balanced = isinstance(situation, GoAround) or situation.start_power is StartPower.BALANCED
    if balanced and angle is not None:
        _check_approach_power(row, situation, angle, speed, weight, density, where)


def _check_approach_power(
    row: FloatArray,
    situation: GoAround | Procedure,
    angle: float,
    speed: float,
    weight: float,
    density: float,
    where: str,
) -> None:
    held: float = drag(row, speed, density, weight * math.cos(angle), situation.start_gear, situation.start_flap_rad)
    pull = held - weight * math.sin(angle)
    refuse(
        pull < 0.0,
        f"a descent of {angle / DEGREE:.1f}° is steeper than a steady approach can be with no thrust at all",
        where,
        "give a shallower descent or more drag",
    )
    needed: float = reference_disk_power(row, pull, speed, density)
    most: float = full_throttle_disk_power(row, density / SEA_LEVEL_DENSITY_KGM3)
    refuse(
        needed > most,
        f"a descent of {angle / DEGREE:.1f}° needs more than full power in the starting configuration",
        where,
        "give a steeper descent or less drag",
    )


def check_thresholds(thresholds: Thresholds, situation: GoAround | Procedure) -> None:
    """Refuse thresholds that name no score or are out of range.

    Raises:
        BadInputError: naming the threshold.
    """
    refuse(
        thresholds.score not in SCORE_INDEX,
        f"'{thresholds.score}' is no score",
        "thresholds, score",
        f"one of {', '.join(SCORE_INDEX)}",
    )
    latest = max((t for t in SCORE_TIMES_S if t <= situation.duration_s), default=0.0)
    asked = re.fullmatch(r".*_(\d+)s", thresholds.score)
    refuse(
        asked is not None and float(asked[1]) > latest,
        f"'{thresholds.score}' lies beyond the {situation.duration_s:g} s flown",
        "thresholds, score",
        "fly longer or choose an earlier time",
    )
    for value, lowest, highest, name, expected in (
        (thresholds.difference, 1e-9, 1e4, "difference that matters", "a positive number in the score's SI unit"),
        (thresholds.probability, 0.5 + 1e-9, 1.0, "probability", "more than 0.5, for example 0.9"),
        (thresholds.min_stall_ratio, 1.0, 2.0, "lowest V/Vs", "at least 1, for example 1.1"),
        (thresholds.min_height_m, -1e4, 1e3, "lowest height above the ground", "metres"),
        (thresholds.allowed_share, 0.0, 1.0, "share of draws that may break a margin", "0 to 1, for example 0.05"),
    ):
        refuse(
            not lowest <= value <= highest, f"a {name} of {value:g} is out of range", f"thresholds, {name}", expected
        )


def check_study(
    rows: FloatArray,
    situation: GoAround | Procedure,
    domain: Domain,
    techniques: Sequence[Technique],
    limits: FlightLimits,
) -> None:
    """Refuse what cannot be flown, before anything is flown.

    Raises:
        BadInputError: one sentence with the place, see the functions above.
    """
    check_rows(rows)
    middle = np.asarray(np.median(rows, axis=0))
    check_situation(situation, middle)
    check_domain(domain, situation, limits)
    refuse(not techniques, "no technique is given", "techniques", "give at least one")
    keys = [technique.key for technique in techniques]
    twice = sorted({key for key in keys if keys.count(key) > 1})
    refuse(
        bool(twice), f"the key {''.join(twice[:1])!r} stands for two techniques", "techniques", "give each its own key"
    )
    for technique in techniques:
        check_technique(technique, situation, middle)
    check_start(middle, situation, domain, limits)
