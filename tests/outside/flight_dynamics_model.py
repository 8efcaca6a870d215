"""An airplane nobody here wrote, held still in the air stream: its forces, polar and thrust.

The outside truth behind the flights of `flight_dynamics` and `flights`. The airplanes are those of `airplanes`, models
in the PyPI wheel of JSBSim 1.3.3, by default ``L17``. Nothing of the package under test is imported.

Convention: ``ias`` here is JSBSim's calibrated airspeed (the models have no position error). Air is the standard
atmosphere, still. Units are those a pilot reads; every name carries its unit.
"""

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import jsbsim
import numpy as np
from scipy.optimize import brentq, root

from .airplanes import (
    FT_PER_NAUTICAL_MILE,
    L17,
    STEP_S,
    Array,
    Device,
    Outside,
    hold_still,
    new_model,
    place,
    power_hp,
    set_elevator,
    spool_up,
    step,
    thrust_lbf,
)

FULL_FLAP_DEG = L17.full_flap_deg
ALTITUDE_FT = 7000.0

__all__ = [
    "ALTITUDE_FT",
    "FT_PER_NAUTICAL_MILE",
    "FULL_FLAP_DEG",
    "STEP_S",
    "Array",
    "AtRest",
    "Device",
    "Handbook",
    "Polar",
    "ThrustCurve",
    "clean_polar",
    "device_drag_area",
    "entry_throttle",
    "handbook_figures",
    "max_lift",
    "new_model",
    "place",
    "set_elevator",
    "steady_power",
    "step",
    "thrust_curve",
    "trimmed",
    "weight_lb",
    "wing_area_ft2",
]


@dataclass(frozen=True, slots=True)
class Polar:
    """Drag polar in trimmed level flight: calibrated speeds in knots, coefficients on the wing area, L/D."""

    speeds_kias: Array
    lift_coefficient: Array
    drag_coefficient: Array

    @property
    def glide_ratio(self) -> Array:
        """Lift over drag, no propeller drag in it."""
        return self.lift_coefficient / self.drag_coefficient


@dataclass(frozen=True, slots=True)
class ThrustCurve:
    """Steady thrust against speed with the throttle frozen: lbf, hp, rpm; efficiency is thrust x TAS / power."""

    throttle: float
    speeds_kias: Array
    tas_kt: Array
    thrust_lbf: Array
    power_hp: Array
    rpm: Array

    @property
    def efficiency(self) -> Array:
        """Propulsive efficiency, thrust times true airspeed over shaft power."""
        return self.thrust_lbf * self.tas_kt * FT_PER_NAUTICAL_MILE / 3600.0 / (550.0 * self.power_hp)


@dataclass(frozen=True, slots=True)
class Handbook:
    """What a handbook of this airplane would print; speeds are calibrated, at the weight given.

    ``best_glide_*`` are from the clean polar without propeller drag. ``stall_kias`` maps flap degrees to the power-off
    1 g stall speed at sea level from the trimmed maximum lift coefficient ``lift_coefficient_max``.
    """

    wing_area_ft2: float
    span_ft: float
    propeller_diameter_in: float
    propeller_is_fixed_pitch: bool
    weight_lb: float
    rated_power_hp: float
    rated_rpm: float
    best_glide_ratio: float
    best_glide_kias: float
    stall_kias: dict[float, float]
    lift_coefficient_max: dict[float, float]


@dataclass(frozen=True, slots=True)
class AtRest:
    """Forces with the airplane held still in the air stream: lbf, lbf, lbf ft, psf, radians."""

    lift_lbf: float
    drag_lbf: float
    moment_lbft: float
    qbar_psf: float
    alpha_rad: float
    elevator_rad: float


# --- forces at rest ----------------------------------------------------------------------------------------------


@functools.cache
def _bench(airplane: Outside = L17) -> jsbsim.FGFDMExec:
    """Return the one model used for aerodynamic forces; its engine is never started.

    With the engine running, the thrust left over in held-still flight would show up as a rate of angle of attack and
    shift the pitching moment.
    """
    return new_model(airplane)


def _forces(
    speed_kias: float,
    altitude_ft: float,
    alpha_rad: float,
    elevator_rad: float,
    flap_deg: float,
    gear: float,
    airplane: Outside,
) -> AtRest:
    """Aerodynamic forces JSBSim reports at one attitude; four steps let its lagged CL-squared catch up."""
    fdm = _bench(airplane)
    place(
        fdm, airplane, speed_kias, altitude_ft, alpha_rad, elevator_rad, flap_deg=flap_deg, gear=gear, engine_on=False
    )
    hold_still(fdm)
    for _ in range(4):
        step(fdm, airplane)
    return AtRest(
        lift_lbf=fdm["forces/fwz-aero-lbs"],
        drag_lbf=fdm["forces/fwx-aero-lbs"],
        moment_lbft=fdm["moments/m-aero-lbsft"],
        qbar_psf=fdm["aero/qbar-psf"],
        alpha_rad=alpha_rad,
        elevator_rad=elevator_rad,
    )


@functools.cache
def trimmed(
    speed_kias: float,
    altitude_ft: float,
    flap_deg: float,
    gear: float,
    airplane: Outside = L17,
    lift_lb: float | None = None,
) -> AtRest:
    """Aerodynamic lift equal to weight (or ``lift_lb``) and no aerodynamic pitching moment, at one speed.

    Raises:
        ValueError: the airplane cannot carry its weight at this speed, or would stand on the ground.
    """
    if altitude_ft < 100.0:
        message = f"{altitude_ft:g} ft is on the ground, where the wheels carry weight; use 100 ft or more."
        raise ValueError(message)
    weight = weight_lb(airplane) if lift_lb is None else lift_lb
    wing = wing_area_ft2(airplane)

    def misfit(x: Array) -> list[float]:
        point = _forces(speed_kias, altitude_ft, float(x[0]), float(x[1]), flap_deg, gear, airplane)
        area_chord = point.qbar_psf * wing
        return [(point.lift_lbf - weight) / area_chord, point.moment_lbft / area_chord]

    for guess in ([0.05, -0.03], [0.0, 0.0], [0.15, -0.1]):
        solution = root(misfit, guess, tol=1e-10, options={"eps": 1e-10})
        alpha, elevator = (float(v) for v in solution.x)
        if float(np.max(np.abs(solution.fun))) < 1e-7 and -0.19 < alpha < airplane.stall_alpha_rad:
            return _forces(speed_kias, altitude_ft, alpha, elevator, flap_deg, gear, airplane)
    message = f"{airplane.model} cannot fly level at {speed_kias:g} KIAS with flap {flap_deg:g} deg, gear {gear:g}."
    raise ValueError(message)


@functools.cache
def weight_lb(airplane: Outside = L17) -> float:
    """Weight of the model as shipped, tanks at their shipped contents, in pounds."""
    fdm = _bench(airplane)
    place(fdm, airplane, 120.0, ALTITUDE_FT, 0.02, 0.0, engine_on=False)
    return float(fdm["inertia/weight-lbs"])


@functools.cache
def wing_area_ft2(airplane: Outside = L17) -> float:
    """Reference wing area of the model, square feet."""
    return float(_bench(airplane)["metrics/Sw-sqft"])


# --- truth at rest ---------------------------------------------------------------------------------------------


def device_drag_area(
    device: Device,
    speeds_kias: Sequence[float],
    altitude_ft: float = ALTITUDE_FT,
    flap_deg: float = FULL_FLAP_DEG,
    airplane: Outside = L17,
) -> Array:
    """Equivalent parasite area of a device at equal speed and equal lift, in square feet.

    The drag JSBSim reports with the device out minus the drag it reports clean, both carrying the weight at the same
    speed with the elevator trimmed (aerodynamic pitching moment zero), over dynamic pressure.

    Args:
        device: "gear" or "flaps"; flaps go to ``flap_deg``.
        speeds_kias: calibrated airspeeds, knots.
        altitude_ft: pressure altitude, feet.
        flap_deg: flap angle in degrees, ignored for the gear.

    Raises:
        ValueError: one of the speeds is below what the airplane can fly at.
    """
    flap, gear = (0.0, 1.0) if device == "gear" else (flap_deg, 0.0)
    areas = []
    for speed in speeds_kias:
        clean = trimmed(float(speed), altitude_ft, 0.0, 0.0, airplane)
        out = trimmed(float(speed), altitude_ft, flap, gear, airplane)
        areas.append((out.drag_lbf - clean.drag_lbf) / clean.qbar_psf)
    return np.array(areas)


def clean_polar(speeds_kias: Sequence[float], altitude_ft: float = ALTITUDE_FT, airplane: Outside = L17) -> Polar:
    """Clean drag polar in trimmed 1 g flight at the model's weight, no propeller in it; speeds in knots."""
    area = wing_area_ft2(airplane)
    points = [trimmed(float(speed), altitude_ft, 0.0, 0.0, airplane) for speed in speeds_kias]
    return Polar(
        speeds_kias=np.array(speeds_kias, dtype=float),
        lift_coefficient=np.array([p.lift_lbf / (p.qbar_psf * area) for p in points]),
        drag_coefficient=np.array([p.drag_lbf / (p.qbar_psf * area) for p in points]),
    )


@functools.cache
def max_lift(flap_deg: float, airplane: Outside = L17) -> float:
    """Largest lift coefficient with the elevator trimmed, searched over the lift table up to its top."""
    area = wing_area_ft2(airplane)
    up, down = airplane.elevator_rad

    def coefficient(alpha: float) -> float:
        def moment(elevator: float) -> float:
            return _forces(70.0, ALTITUDE_FT, alpha, elevator, flap_deg, 0.0, airplane).moment_lbft

        elevator = brentq(moment, -up, down, xtol=1e-6)
        point = _forces(70.0, ALTITUDE_FT, alpha, float(elevator), flap_deg, 0.0, airplane)
        return point.lift_lbf / (point.qbar_psf * area)

    return max(coefficient(float(a)) for a in np.linspace(0.15, 0.30, 31))


@functools.cache
def handbook_figures(airplane: Outside = L17) -> Handbook:
    """Figures a handbook of this airplane would print, from the model itself (see `Handbook` for units)."""
    weight, area = weight_lb(airplane), wing_area_ft2(airplane)
    speeds = np.arange(airplane.lowest_kias, airplane.lowest_kias + 39.0, 1.0)
    polar = clean_polar(list(speeds), airplane=airplane)
    best = int(np.argmax(polar.glide_ratio))
    largest = {flap: max_lift(flap, airplane) for flap in (0.0, *airplane.flap_settings_deg)}
    density = 0.0023769  # slug/ft3, sea level, US Standard Atmosphere 1976
    stall = {
        flap: math.sqrt(2.0 * weight / (density * area * value)) * 3600.0 / FT_PER_NAUTICAL_MILE
        for flap, value in largest.items()
    }
    return Handbook(
        wing_area_ft2=area,
        span_ft=float(_bench(airplane)["metrics/bw-ft"]),
        propeller_diameter_in=airplane.disk_diameter_in,
        propeller_is_fixed_pitch=airplane.rpm_lever is None,
        weight_lb=weight,
        rated_power_hp=airplane.rated_hp * airplane.engines,
        rated_rpm=airplane.rated_rpm,
        best_glide_ratio=float(polar.glide_ratio[best]),
        best_glide_kias=float(speeds[best]),
        stall_kias=stall,
        lift_coefficient_max=largest,
    )


# --- power -----------------------------------------------------------------------------------------------------


def steady_power(
    speed_kias: float, altitude_ft: float, throttle: float, airplane: Outside = L17
) -> tuple[float, float, float, float, float]:
    """Steady (thrust lbf, power hp, rpm, TAS kt, alpha rad) at one speed, clean and level, throttle fixed."""
    level = trimmed(speed_kias, altitude_ft, 0.0, 0.0, airplane)
    fdm = new_model(airplane)
    place(fdm, airplane, speed_kias, altitude_ft, level.alpha_rad, level.elevator_rad, throttle=throttle)
    spool_up(fdm, airplane)
    return (
        thrust_lbf(fdm, airplane),
        power_hp(fdm, airplane),
        fdm["propulsion/engine/propeller-rpm"],
        fdm["velocities/vt-fps"] * 3600.0 / FT_PER_NAUTICAL_MILE,
        level.alpha_rad,
    )


@functools.cache
def entry_throttle(entry_kias: float, altitude_ft: float = ALTITUDE_FT, airplane: Outside = L17) -> float:
    """Throttle lever (0 to 1) at which clean level flight is steady at ``entry_kias``.

    Raises:
        ValueError: the engine cannot hold this speed.
    """
    drag = trimmed(entry_kias, altitude_ft, 0.0, 0.0, airplane).drag_lbf

    def excess(throttle: float) -> float:
        thrust, _, _, _, alpha = steady_power(entry_kias, altitude_ft, throttle, airplane)
        return thrust * math.cos(alpha) - drag

    if excess(1.0) <= 0.0:
        message = f"{airplane.model} cannot hold {entry_kias:g} KIAS level at {altitude_ft:g} ft on full throttle."
        raise ValueError(message)
    return float(brentq(excess, 0.3, 1.0, xtol=1e-5))


def thrust_curve(
    speeds_kias: Sequence[float], entry_kias: float, altitude_ft: float = ALTITUDE_FT, airplane: Outside = L17
) -> ThrustCurve:
    """Steady thrust, power and rpm against speed with the throttle frozen where it held ``entry_kias`` clean."""
    throttle = entry_throttle(float(entry_kias), altitude_ft, airplane)
    rows = np.array([steady_power(float(speed), altitude_ft, throttle, airplane) for speed in speeds_kias])
    return ThrustCurve(
        throttle=throttle,
        speeds_kias=np.array(speeds_kias, dtype=float),
        tas_kt=rows[:, 3],
        thrust_lbf=rows[:, 0],
        power_hp=rows[:, 1],
        rpm=rows[:, 2],
    )
