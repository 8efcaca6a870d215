"""An airplane nobody here wrote, held still in the air stream: its forces, polar and thrust.

The outside truth behind the level decelerations of `flight_dynamics`. The airplane is the model ``L17`` inside the
PyPI wheel of JSBSim 1.3.3, a general-purpose flight-dynamics library: its mass, aerodynamics, piston engine,
fixed-pitch propeller and device drives are all read from the wheel. Nothing of the package under test is imported.

Two patches, both needed to fly the model as its author plainly meant it:

* its flap normaliser reads ``fcs/flaps-pos-deg``, which nothing writes; we copy ``fcs/flap-pos-deg`` into it;
* fuel is frozen, so the weight stays what is reported (the tanks hold 10 lb each and would run dry).

Convention: ``ias`` here is JSBSim's calibrated airspeed (the model has no position error). Air is the standard
atmosphere, still. Units are those a pilot reads; every name carries its unit.
"""

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import jsbsim
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, root

Device = Literal["gear", "flaps"]
Array = NDArray[np.float64]

FULL_FLAP_DEG = 30.0
ALTITUDE_FT = 7000.0
STEP_S = 1.0 / 120.0
MIXTURE = 0.9  # leaned: more power at 7,000 ft than full rich
STALL_ALPHA_RAD = 0.23  # top of the lift table of the model
FT_PER_NAUTICAL_MILE = 1852.0 / 0.3048
_INTEGRATORS = ("rate/rotational", "rate/translational", "position/rotational", "position/translational")


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


# --- the model -------------------------------------------------------------------------------------------------


def new_model() -> jsbsim.FGFDMExec:
    """Load the airplane silently: no console text, no output files."""
    jsbsim.set_logger(jsbsim.DefaultLogger(jsbsim.LogLevel.ERROR))
    fdm = jsbsim.FGFDMExec(None)
    fdm.set_debug_level(0)
    if not fdm.load_model("L17"):
        message = "JSBSim could not load its own model L17; is its wheel whole?"
        raise RuntimeError(message)
    fdm.disable_output()
    fdm.set_dt(STEP_S)
    fdm["fcs/flaps-pos-deg"] = 0.0
    return fdm


def place(
    fdm: jsbsim.FGFDMExec,
    speed_kias: float,
    altitude_ft: float,
    alpha_rad: float,
    elevator_rad: float,
    *,
    throttle: float = 0.0,
    flap_deg: float = 0.0,
    gear: float = 0.0,
    engine_on: bool = True,
) -> None:
    """Put the airplane level at a speed and angle of attack, devices at rest where asked."""
    fdm["ic/lat-geod-deg"] = 45.0  # gravity there is the standard one within 0.1 %; heading north: no Eotvos term
    fdm["ic/h-sl-ft"] = altitude_ft
    fdm["ic/vc-kts"] = speed_kias
    for name in ("gamma-deg", "beta-deg", "phi-deg", "psi-true-deg"):
        fdm[f"ic/{name}"] = 0.0
    fdm["ic/alpha-rad"] = alpha_rad
    fdm["gear/gear-cmd-norm"] = fdm["gear/gear-pos-norm"] = gear
    fdm["fcs/flap-cmd-norm"] = flap_deg / FULL_FLAP_DEG
    fdm["fcs/flap-pos-deg"] = fdm["fcs/flaps-pos-deg"] = flap_deg
    fdm["fcs/throttle-cmd-norm"] = throttle
    set_elevator(fdm, elevator_rad)
    if engine_on:
        fdm["propulsion/set-running"] = -1
    fdm["propulsion/fuel_freeze"] = 1
    fdm.run_ic()
    fdm["fcs/throttle-cmd-norm"] = throttle  # starting the engine in run_ic moves the levers
    fdm["fcs/mixture-cmd-norm"] = MIXTURE


def set_elevator(fdm: jsbsim.FGFDMExec, elevator_rad: float) -> None:
    """Command an elevator angle (trailing edge down positive) through the model's own unequal stops."""
    fdm["fcs/elevator-cmd-norm"] = elevator_rad / (0.35 if elevator_rad < 0.0 else 0.30)


def step(fdm: jsbsim.FGFDMExec) -> None:
    """Advance one step and carry the flap angle over to the property the model misspells."""
    fdm.run()
    fdm["fcs/flaps-pos-deg"] = fdm["fcs/flap-pos-deg"]


def _hold_still(fdm: jsbsim.FGFDMExec) -> None:
    """Switch the rigid-body integrators off: forces are evaluated, the state does not move."""
    for name in _INTEGRATORS:
        fdm[f"simulation/integrator/{name}"] = 0


@functools.cache
def _bench() -> jsbsim.FGFDMExec:
    """Return the one model used for aerodynamic forces; its engine is never started.

    With the engine running, the thrust left over in held-still flight would show up as a rate of angle of attack and
    shift the pitching moment.
    """
    return new_model()


@functools.cache
def _power_bench() -> jsbsim.FGFDMExec:
    """Return the one model used for steady thrust; its engine runs."""
    return new_model()


def _forces(
    speed_kias: float, altitude_ft: float, alpha_rad: float, elevator_rad: float, flap_deg: float, gear: float
) -> AtRest:
    """Aerodynamic forces JSBSim reports at one attitude; four steps let its lagged CL-squared catch up."""
    fdm = _bench()
    place(fdm, speed_kias, altitude_ft, alpha_rad, elevator_rad, flap_deg=flap_deg, gear=gear, engine_on=False)
    _hold_still(fdm)
    for _ in range(4):
        step(fdm)
    return AtRest(
        lift_lbf=fdm["forces/fwz-aero-lbs"],
        drag_lbf=fdm["forces/fwx-aero-lbs"],
        moment_lbft=fdm["moments/m-aero-lbsft"],
        qbar_psf=fdm["aero/qbar-psf"],
        alpha_rad=alpha_rad,
        elevator_rad=elevator_rad,
    )


@functools.cache
def trimmed(speed_kias: float, altitude_ft: float, flap_deg: float, gear: float) -> AtRest:
    """Aerodynamic lift equal to weight and no aerodynamic pitching moment, at one speed and configuration.

    Raises:
        ValueError: the airplane cannot carry its weight at this speed, or would stand on the ground.
    """
    if altitude_ft < 100.0:
        message = f"{altitude_ft:g} ft is on the ground, where the wheels carry weight; use 100 ft or more."
        raise ValueError(message)
    weight = weight_lb()

    def misfit(x: Array) -> list[float]:
        point = _forces(speed_kias, altitude_ft, float(x[0]), float(x[1]), flap_deg, gear)
        area_chord = point.qbar_psf * _bench()["metrics/Sw-sqft"]
        return [(point.lift_lbf - weight) / area_chord, point.moment_lbft / area_chord]

    for guess in ([0.05, -0.03], [0.0, 0.0], [0.15, -0.1]):
        solution = root(misfit, guess, tol=1e-10, options={"eps": 1e-10})
        alpha, elevator = (float(v) for v in solution.x)
        if float(np.max(np.abs(solution.fun))) < 1e-7 and -0.19 < alpha < STALL_ALPHA_RAD:
            return _forces(speed_kias, altitude_ft, alpha, elevator, flap_deg, gear)
    message = f"L17 cannot fly level at {speed_kias:g} KIAS with flap {flap_deg:g} deg, gear {gear:g}."
    raise ValueError(message)


@functools.cache
def weight_lb() -> float:
    """Weight of the model as shipped, tanks at their shipped contents, in pounds."""
    fdm = _bench()
    place(fdm, 120.0, ALTITUDE_FT, 0.02, 0.0, engine_on=False)
    return float(fdm["inertia/weight-lbs"])


# --- truth at rest ---------------------------------------------------------------------------------------------


def device_drag_area(
    device: Device, speeds_kias: Sequence[float], altitude_ft: float = ALTITUDE_FT, flap_deg: float = FULL_FLAP_DEG
) -> Array:
    """Equivalent parasite area of a device at equal speed and equal lift, in square feet.

    The drag JSBSim reports with the device out minus the drag it reports clean, both carrying the weight at the same
    speed with the elevator trimmed (aerodynamic pitching moment zero), over dynamic pressure.

    Args:
        device: "gear" or "flaps"; flaps go to ``flap_deg`` (0 to 30).
        speeds_kias: calibrated airspeeds, knots.
        altitude_ft: pressure altitude, feet.
        flap_deg: flap angle in degrees, ignored for the gear.

    Raises:
        ValueError: one of the speeds is below what the airplane can fly at.
    """
    flap, gear = (0.0, 1.0) if device == "gear" else (flap_deg, 0.0)
    areas = []
    for speed in speeds_kias:
        clean = trimmed(float(speed), altitude_ft, 0.0, 0.0)
        out = trimmed(float(speed), altitude_ft, flap, gear)
        areas.append((out.drag_lbf - clean.drag_lbf) / clean.qbar_psf)
    return np.array(areas)


def clean_polar(speeds_kias: Sequence[float], altitude_ft: float = ALTITUDE_FT) -> Polar:
    """Clean drag polar in trimmed 1 g flight at the model's weight, no propeller in it; speeds in knots."""
    area = float(_bench()["metrics/Sw-sqft"])
    points = [trimmed(float(speed), altitude_ft, 0.0, 0.0) for speed in speeds_kias]
    return Polar(
        speeds_kias=np.array(speeds_kias, dtype=float),
        lift_coefficient=np.array([p.lift_lbf / (p.qbar_psf * area) for p in points]),
        drag_coefficient=np.array([p.drag_lbf / (p.qbar_psf * area) for p in points]),
    )


def _trimmed_max_lift(flap_deg: float) -> float:
    """Largest lift coefficient with the elevator trimmed, searched over the lift table up to its top."""
    area = float(_bench()["metrics/Sw-sqft"])

    def coefficient(alpha: float) -> float:
        def moment(elevator: float) -> float:
            return _forces(70.0, ALTITUDE_FT, alpha, elevator, flap_deg, 0.0).moment_lbft

        elevator = brentq(moment, -0.35, 0.30, xtol=1e-6)
        point = _forces(70.0, ALTITUDE_FT, alpha, float(elevator), flap_deg, 0.0)
        return point.lift_lbf / (point.qbar_psf * area)

    return max(coefficient(float(a)) for a in np.linspace(0.15, 0.30, 31))


@functools.cache
def handbook_figures() -> Handbook:
    """Figures a handbook of this airplane would print, from the model itself (see `Handbook` for units)."""
    fdm, weight = _bench(), weight_lb()
    area = float(fdm["metrics/Sw-sqft"])
    speeds = np.arange(72.0, 111.0, 1.0)
    polar = clean_polar(list(speeds))
    best = int(np.argmax(polar.glide_ratio))
    largest = {flap: _trimmed_max_lift(flap) for flap in (0.0, 15.0, FULL_FLAP_DEG)}
    density = 0.0023769  # slug/ft3, sea level, US Standard Atmosphere 1976
    stall = {
        flap: math.sqrt(2.0 * weight / (density * area * value)) * 3600.0 / FT_PER_NAUTICAL_MILE
        for flap, value in largest.items()
    }
    return Handbook(
        wing_area_ft2=area,
        span_ft=float(fdm["metrics/bw-ft"]),
        propeller_diameter_in=75.0,  # the propeller file L17.xml names
        propeller_is_fixed_pitch=True,
        weight_lb=weight,
        rated_power_hp=260.0,  # the engine file L17.xml names
        rated_rpm=2625.0,
        best_glide_ratio=float(polar.glide_ratio[best]),
        best_glide_kias=float(speeds[best]),
        stall_kias=stall,
        lift_coefficient_max=largest,
    )


# --- power -----------------------------------------------------------------------------------------------------


def _steady_power(speed_kias: float, altitude_ft: float, throttle: float) -> tuple[float, float, float, float, float]:
    """Steady (thrust lbf, power hp, rpm, TAS kt, alpha rad) at one speed, clean and level, throttle fixed."""
    level = trimmed(speed_kias, altitude_ft, 0.0, 0.0)
    fdm = _power_bench()
    place(fdm, speed_kias, altitude_ft, level.alpha_rad, level.elevator_rad, throttle=throttle)
    _hold_still(fdm)
    for _ in range(round(12.0 / STEP_S)):
        step(fdm)
    engine = "propulsion/engine/"
    return (
        fdm[engine + "thrust-lbs"],
        fdm[engine + "power-hp"],
        fdm[engine + "propeller-rpm"],
        fdm["velocities/vt-fps"] * 3600.0 / FT_PER_NAUTICAL_MILE,
        level.alpha_rad,
    )


@functools.cache
def entry_throttle(entry_kias: float, altitude_ft: float = ALTITUDE_FT) -> float:
    """Throttle lever (0 to 1) at which clean level flight is steady at ``entry_kias``.

    Raises:
        ValueError: the engine cannot hold this speed.
    """
    drag = trimmed(entry_kias, altitude_ft, 0.0, 0.0).drag_lbf

    def excess(throttle: float) -> float:
        thrust, _, _, _, alpha = _steady_power(entry_kias, altitude_ft, throttle)
        return thrust * math.cos(alpha) - drag

    if excess(1.0) <= 0.0:
        message = f"L17 cannot hold {entry_kias:g} KIAS level at {altitude_ft:g} ft on full throttle."
        raise ValueError(message)
    return float(brentq(excess, 0.3, 1.0, xtol=1e-5))


def thrust_curve(speeds_kias: Sequence[float], entry_kias: float, altitude_ft: float = ALTITUDE_FT) -> ThrustCurve:
    """Steady thrust, power and rpm against speed with the throttle frozen where it held ``entry_kias`` clean."""
    throttle = entry_throttle(float(entry_kias), altitude_ft)
    rows = np.array([_steady_power(float(speed), altitude_ft, throttle) for speed in speeds_kias])
    return ThrustCurve(
        throttle=throttle,
        speeds_kias=np.array(speeds_kias, dtype=float),
        tas_kt=rows[:, 3],
        thrust_lbf=rows[:, 0],
        power_hp=rows[:, 1],
        rpm=rows[:, 2],
    )
