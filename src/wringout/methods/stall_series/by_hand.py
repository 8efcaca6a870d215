"""Closed-form reduction of a stall series: stall speed and CLmax of each flap setting, with intervals.

Each reading is brought to maximum weight and sea level, then to an entry rate of 1 kt/s: by a straight line through the
readings of a setting where three or more differ in rate, else by the slope believed before flight. The scatter of one
stall about the next is pooled over the settings, since dial, pilot and air are the same (Student's t with the pooled
degrees of freedom; JCGM 100:2008, 4.2 and G.3). Dial bias, weight and the believed slope are common to all readings.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs, FlapSetting
from wringout.airspeed import equivalent_from_true, true_from_calibrated
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3, density_kgm3
from wringout.methods.types import FloatArray, HandResult
from wringout.propagation import Measured, propagate, straight_line_fit
from wringout.units import DEGREE, KNOT, STANDARD_GRAVITY

RATE_SPREAD_MPS2 = 0.3 * KNOT
"""Entry rates of a setting that lie closer together than this are not taken to differ [m/s2] (judged)."""


@dataclass(frozen=True, slots=True)
class Stalls:
    """Readings of one series, arrays of shape (n,); speeds are calibrated, weights as stated."""

    flap_rad: FloatArray
    calibrated_mps: FloatArray
    entry_rate_mps2: FloatArray
    mass_kg: FloatArray
    pressure_altitude_m: float
    isa_deviation_k: float
    reading_sd_mps: float
    step_mps: float
    standard_rate_mps2: float


@dataclass(frozen=True, slots=True)
class _Setting:
    """Readings of one flap setting at maximum weight, equivalent airspeeds in m/s.

    ``leverage`` times the variance of one reading is the variance of ``speed_mps``; ``rate_offset_mps2`` is the mean
    rate less 1 kt/s that the believed slope still has to correct, 0 for a line. ``scale`` is what bringing to maximum
    weight multiplied the readings by.
    """

    setting: FlapSetting
    speed_mps: float
    leverage: float
    squares: float
    dof: int
    count: int
    rate_offset_mps2: float
    by_line: bool
    true_mps: float
    scale: float

    @property
    def key(self) -> str:
        """Name of this setting's own input in a budget."""
        return f"repeats, {self.setting.name}"


Inputs = dict[str, tuple[float, float]]


def hand_results(stalls: Stalls, beliefs: Beliefs) -> list[HandResult]:
    """Return stall speed and CLmax of each setting that was flown, then which part of flap travel buys what."""
    settings = _settings(stalls, beliefs)
    inputs, dofs = _inputs(stalls, settings, beliefs)
    out = []
    for one in settings:
        out += [_stall_speed(one, inputs, dofs), _cl_max(one, inputs, dofs, beliefs)]
    travel = _flap_travel(settings, inputs, dofs, beliefs)
    return out if travel is None else [*out, travel]


def _settings(stalls: Stalls, beliefs: Beliefs) -> list[_Setting]:
    true = true_from_calibrated(stalls.calibrated_mps, stalls.pressure_altitude_m, stalls.isa_deviation_k)
    density = float(density_kgm3(stalls.pressure_altitude_m, stalls.isa_deviation_k))
    scale = np.sqrt(beliefs.limits.max_mass_kg / stalls.mass_kg)
    equivalent = equivalent_from_true(true, density) * scale
    offset = stalls.entry_rate_mps2 - stalls.standard_rate_mps2
    out = []
    for setting in beliefs.settings:
        here = np.abs(stalls.flap_rad - setting.angle_rad) < 0.01 * DEGREE
        if here.any():
            out.append(_one_setting(setting, equivalent[here], offset[here], true[here], scale[here]))
    return out


def _one_setting(
    setting: FlapSetting, speeds: FloatArray, offset: FloatArray, true: FloatArray, scales: FloatArray
) -> _Setting:
    n, centre = speeds.size, float(np.mean(offset))
    true_mps, scale = float(np.mean(true)), float(np.mean(scales))
    if n >= 3 and float(np.ptp(offset)) >= RATE_SPREAD_MPS2:
        line = straight_line_fit(offset, speeds)
        leverage = 1.0 / n + centre**2 / float(np.sum((offset - centre) ** 2))
        squares = line.residual_sd**2 * line.dof
        return _Setting(setting, line.intercept, leverage, squares, line.dof, n, 0.0, True, true_mps, scale)
    mean = float(np.mean(speeds))
    squares = float(np.sum((speeds - mean) ** 2))
    return _Setting(setting, mean, 1.0 / n, squares, n - 1, n, centre, False, true_mps, scale)


def _inputs(stalls: Stalls, settings: list[_Setting], beliefs: Beliefs) -> tuple[Inputs, dict[str, float]]:
    """Return every input of the reduction with its standard uncertainty, and degrees of freedom where finite."""
    pooled = sum(one.dof for one in settings)
    sd = math.sqrt(sum(one.squares for one in settings) / pooled) if pooled else stalls.reading_sd_mps
    if sd < 1e-6 * settings[0].speed_mps:
        sd = 0.0  # readings that agree to the last digit; what is left is rounding in the arithmetic
    prior = {p.key: p.prior for p in beliefs.parameters}
    inputs: Inputs = {one.key: (one.speed_mps, sd * math.sqrt(one.leverage)) for one in settings}
    inputs["whole units of the dial"] = (0.0, stalls.step_mps / math.sqrt(12.0))
    inputs["dial bias"] = (prior["ias_bias"].value, prior["ias_bias"].sd)
    inputs["weight"] = (prior["mass_factor"].value, prior["mass_factor"].sd)
    inputs["entry rate slope"] = (prior["stall_rate_slope"].value, prior["stall_rate_slope"].sd)
    return inputs, ({one.key: float(pooled) for one in settings} if pooled else {})


def _standard_speed(one: _Setting, x: Mapping[str, float]) -> float:
    """Return the setting's stall speed, m/s equivalent, at maximum true weight and 1 kt/s."""
    read = x[one.key] + one.scale * (x["whole units of the dial"] - x["dial bias"])
    at_rate = read / (1.0 + x["entry rate slope"] * one.rate_offset_mps2)
    return float(at_rate / math.sqrt(x["weight"]))


def _lift(one: _Setting, x: Mapping[str, float], beliefs: Beliefs) -> float:
    """Return CLmax, ``2 W / (rho0 Ve^2 S)``."""
    weight = beliefs.limits.max_mass_kg * STANDARD_GRAVITY
    wing = float(beliefs.base[v.WING_AREA])
    return 2.0 * weight / (SEA_LEVEL_DENSITY_KGM3 * _standard_speed(one, x) ** 2 * wing)


def _needed(inputs: Inputs, used: list[_Setting]) -> Inputs:
    keys = {one.key for one in used}
    return {name: value for name, value in inputs.items() if not name.startswith("repeats, ") or name in keys}


def _propagated(
    function: Callable[[Mapping[str, float]], float],
    inputs: Inputs,
    dofs: Mapping[str, float],
    used: list[_Setting],
    unit: str,
) -> Measured:
    needed = _needed(inputs, used)
    return propagate(
        lambda **x: function(x), needed, unit, degrees_of_freedom={k: d for k, d in dofs.items() if k in needed}
    )


def _stall_speed(one: _Setting, inputs: Inputs, dofs: Mapping[str, float]) -> HandResult:
    value = _propagated(lambda x: _standard_speed(one, x) / KNOT, inputs, dofs, [one], "kt")
    name, count = one.setting.name, f"{one.count} stall{'s' if one.count > 1 else ''}"
    if one.by_line:
        rate = "a straight line through the readings against entry rate, read at 1 kt/s"
    elif abs(one.rate_offset_mps2) > 0.05 * KNOT:
        rate = (
            f"brought from a mean entry rate of {1.0 + one.rate_offset_mps2 / KNOT:.1f} kt/s to 1 kt/s by the believed "
            "slope"
        )
    else:
        rate = "entered at 1 kt/s"
    return HandResult(
        f"stall speed, {name}",
        f"Stall speed, flaps {name}",
        1,
        False,
        value,
        one.true_mps,
        f"From {count}, {rate}; calibrated airspeed at maximum weight and sea level.",
    )


def _cl_max(one: _Setting, inputs: Inputs, dofs: Mapping[str, float], beliefs: Beliefs) -> HandResult:
    value = _propagated(lambda x: _lift(one, x, beliefs), inputs, dofs, [one], "")
    return HandResult(
        f"CLmax, {one.setting.name}",
        f"CLmax, flaps {one.setting.name}",
        1,
        False,
        value,
        one.true_mps,
        "Weight over dynamic pressure and wing area at that stall speed; twice the relative doubt of the speed.",
    )


def _flap_travel(
    settings: list[_Setting], inputs: Inputs, dofs: Mapping[str, float], beliefs: Beliefs
) -> HandResult | None:
    """Return the share of the gain in CLmax that came by the middle setting; None without up, middle and last."""
    if len(settings) < 3 or settings[0].setting.angle_rad > 0.0:
        return None
    clean, last = settings[0], settings[-1]
    middle = min(settings[1:-1], key=lambda s: abs(s.setting.angle_rad - 0.5 * last.setting.angle_rad))
    gain = _propagated(lambda x: _lift(last, x, beliefs) - _lift(clean, x, beliefs), inputs, dofs, [clean, last], "")
    low, _ = gain.interval()
    if low <= 0.0:
        return None

    def share(x: Mapping[str, float]) -> float:
        base = _lift(clean, x, beliefs)
        return 100.0 * (_lift(middle, x, beliefs) - base) / (_lift(last, x, beliefs) - base)

    value = _propagated(share, inputs, dofs, [clean, middle, last], "%")
    return HandResult(
        "flap travel",
        f"Share of the lift gain had by flaps {middle.setting.name}",
        3,
        False,
        value,
        float("nan"),
        _travel_sentence(value, middle.setting, last.setting, beliefs),
    )


def _drag_share(middle: FlapSetting, last: FlapSetting, beliefs: Beliefs) -> Measured:
    """Return the believed flap drag area at ``middle`` as a percentage of that at ``last``."""
    names = [setting.name for setting in beliefs.settings]
    between = range(names.index(middle.name), names.index(last.name))
    shares = {f"flap_share.{i}" for i in between}
    steps = {p.key: (p.prior.value, p.prior.sd) for p in beliefs.parameters if p.key in shares}
    return propagate(lambda **share: 100.0 * math.prod(share.values()), steps, "%")


def _travel_sentence(value: Measured, middle: FlapSetting, last: FlapSetting, beliefs: Beliefs) -> str:
    drag = _drag_share(middle, last, beliefs)
    low, high = value.interval()
    travel = 100.0 * middle.angle_rad / last.angle_rad
    measured = (
        f"By flaps {middle.name} ({travel:.0f} % of the travel to {last.name}) the stalls give {value.value:.0f} % of "
        f"the gain in CLmax (95 %: {low:.0f} to {high:.0f} %). The drag areas believed of these flaps, which stalls do "
        f"not measure, put {drag.value:.0f} ± {drag.standard_uncertainty:.0f} % of the flap drag there"
    )
    doubt = math.hypot(0.5 * (high - low), 1.96 * drag.standard_uncertainty)
    ahead = value.value - drag.value
    if abs(ahead) <= doubt:
        return f"{measured}: which part buys lift and which buys drag is too close to call."
    first, second = ("lift", "drag") if ahead > 0.0 else ("drag", "lift")
    return (
        f"{measured}: the travel up to {middle.name} buys more of the {first}, the travel from {middle.name} to "
        f"{last.name} more of the {second}."
    )
