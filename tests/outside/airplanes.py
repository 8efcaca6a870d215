"""Airplanes nobody here wrote: models in the PyPI wheel of JSBSim 1.3.3, named by their model id, and how to fly them.

JSBSim is a general-purpose flight-dynamics library. Mass, aerodynamics, engine, propeller and device drives are all
read from its wheel. Models with retractable gear and different propulsion:

* ``L17``: one piston engine, fixed-pitch propeller. Its flap normaliser reads ``fcs/flaps-pos-deg``, which nothing
  writes; we copy ``fcs/flap-pos-deg`` into it, as its author plainly meant.
* ``pc7``: one turboprop with a constant-speed propeller; thrust blows over wing and tail, whose lift and trim depend on
  it.
* ``c310``: two piston engines with constant-speed propellers. Both propellers are taken as one disk of twice the area.
  Its flaps are left alone: its drag is a function of angle of attack alone, so that at equal lift they take drag away
  below 105 kt.

Fuel is frozen, so the weight stays what is reported. Air is the standard atmosphere, still unless gusts are asked for.
``kias`` here is JSBSim's calibrated airspeed (the models have no position error). Nothing of the package under test is
imported here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import jsbsim
import numpy as np
from numpy.typing import NDArray

Device = Literal["gear", "flaps"]
Array = NDArray[np.float64]

STEP_S = 1.0 / 120.0
FT_PER_NAUTICAL_MILE = 1852.0 / 0.3048
INTEGRATORS = ("rate/rotational", "rate/translational", "position/rotational", "position/translational")


@dataclass(frozen=True, slots=True)
class Outside:
    """One model and what must be known to fly it; figures are those of the model files in the wheel.

    Attributes:
        model: id of the model in the wheel.
        engines: number of engines, all alike and set alike.
        flap_settings_deg: flap settings beyond up, the last is full.
        elevator_rad: travel up and down, both positive; ``aileron_rad`` and ``rudder_rad``: one unit of command.
        mixture: mixture lever; ``rpm_lever``: propeller lever, None for a fixed pitch.
        stall_alpha_rad: top of the lift table.
        stop_alpha_rad: a level run is broken off here, about a degree short of that.
        lowest_kias: slowest speed the autopilot knows the clean trim for.
        fastest_kias: fastest such speed.
        propeller_in, rated_hp, rated_rpm: of one engine.
        spool_s: how long the engine takes to stand still at a new lever position, seconds.
        starter: the engine must be started by its starter; declared to be running, it stops at some speeds.
        blown: thrust changes lift and trim, and a propeller that stands still disturbs both.
        flap_copy: the patch named above.
    """

    model: str
    engines: int
    flap_settings_deg: tuple[float, ...]
    elevator_rad: tuple[float, float]
    aileron_rad: float
    rudder_rad: float
    mixture: float
    rpm_lever: float | None
    stall_alpha_rad: float
    stop_alpha_rad: float
    lowest_kias: float
    fastest_kias: float
    propeller_in: float
    rated_hp: float
    rated_rpm: float
    spool_s: float = 12.0
    starter: bool = False
    blown: bool = False
    flap_copy: bool = False

    @property
    def full_flap_deg(self) -> float:
        """Full flap, degrees."""
        return self.flap_settings_deg[-1]

    @property
    def disk_diameter_in(self) -> float:
        """Diameter, in inches, of the one disk that has the area of all propellers together."""
        return self.propeller_in * float(np.sqrt(self.engines))


L17 = Outside(
    model="L17",
    engines=1,
    flap_settings_deg=(15.0, 30.0),
    elevator_rad=(0.35, 0.30),
    aileron_rad=0.35,
    rudder_rad=0.35,
    mixture=0.9,  # leaned: more power at 7,000 ft than full rich
    rpm_lever=None,
    stall_alpha_rad=0.23,
    stop_alpha_rad=0.21,
    lowest_kias=72.0,
    fastest_kias=140.0,
    propeller_in=75.0,  # the propeller file L17.xml names
    rated_hp=260.0,  # the engine file L17.xml names
    rated_rpm=2625.0,
    flap_copy=True,
)

PC7 = Outside(
    model="pc7",
    engines=1,
    flap_settings_deg=(15.0, 30.0),
    elevator_rad=(0.35, 0.35),
    aileron_rad=0.35,
    rudder_rad=0.35,
    mixture=1.0,
    rpm_lever=0.5,  # 2,050 rpm: blade tips stay below the speed at which the propeller tables lose thrust
    stall_alpha_rad=0.27,
    stop_alpha_rad=0.25,
    lowest_kias=74.0,
    fastest_kias=180.0,
    propeller_in=95.0,
    rated_hp=549.8,
    rated_rpm=2200.0,
    spool_s=30.0,
    blown=True,
)

C310 = Outside(
    model="c310",
    engines=2,
    flap_settings_deg=(15.0, 25.0, 45.0),
    elevator_rad=(14.0 * 0.01745, 4.0 * 0.01745),
    aileron_rad=14.0 * 0.01745,
    rudder_rad=27.0 * 0.01745,
    mixture=1.0,  # the model leans by itself
    rpm_lever=0.85,  # 2,400 rpm
    stall_alpha_rad=0.244,
    stop_alpha_rad=0.22,
    lowest_kias=84.0,
    fastest_kias=180.0,
    propeller_in=84.0,
    rated_hp=260.0,
    rated_rpm=2625.0,
    spool_s=20.0,
    starter=True,
)

AIRPLANES = (L17, PC7, C310)


def new_model(airplane: Outside) -> jsbsim.FGFDMExec:
    """Load the airplane silently: no console text, no output files."""
    jsbsim.set_logger(jsbsim.DefaultLogger(jsbsim.LogLevel.ERROR))
    fdm = jsbsim.FGFDMExec(None)
    fdm.set_debug_level(0)
    if not fdm.load_model(airplane.model):
        message = f"JSBSim could not load its own model {airplane.model}; is its wheel whole?"
        raise RuntimeError(message)
    fdm.disable_output()
    fdm.set_dt(STEP_S)
    if airplane.flap_copy:
        fdm["fcs/flaps-pos-deg"] = 0.0
    return fdm


def place(
    fdm: jsbsim.FGFDMExec,
    airplane: Outside,
    speed_kias: float,
    altitude_ft: float,
    alpha_rad: float,
    elevator_rad: float,
    *,
    throttle: float = 0.0,
    flap_deg: float = 0.0,
    gear: float = 0.0,
    engine_on: bool = True,
    heading_deg: float = 0.0,
) -> None:
    """Put the airplane level at a speed and angle of attack, devices at rest where asked."""
    fdm["ic/lat-geod-deg"] = 45.0  # gravity there is the standard one within 0.1 %; heading north: no Eotvos term
    fdm["ic/h-sl-ft"] = altitude_ft
    fdm["ic/vc-kts"] = speed_kias
    for name in ("gamma-deg", "beta-deg", "phi-deg"):
        fdm[f"ic/{name}"] = 0.0
    fdm["ic/psi-true-deg"] = heading_deg
    fdm["ic/alpha-rad"] = alpha_rad
    fdm["gear/gear-cmd-norm"] = fdm["gear/gear-pos-norm"] = gear
    fdm["fcs/flap-cmd-norm"] = flap_deg / airplane.full_flap_deg
    fdm["fcs/flap-pos-deg"] = flap_deg
    if airplane.flap_copy:
        fdm["fcs/flaps-pos-deg"] = flap_deg
    set_power(fdm, airplane, throttle)
    set_elevator(fdm, airplane, elevator_rad)
    if engine_on:
        fdm["propulsion/set-running"] = -1
    fdm["propulsion/fuel_freeze"] = 1
    fdm.run_ic()
    if engine_on and airplane.starter:
        fdm["propulsion/magneto_cmd"], fdm["propulsion/starter_cmd"] = 3, 1
    elif engine_on and airplane.rpm_lever is not None:
        fdm["propulsion/set-running"] = -1  # run_ic stops an engine whose propeller has a governor
    set_power(fdm, airplane, throttle)  # starting the engine moves the levers


def set_power(fdm: jsbsim.FGFDMExec, airplane: Outside, throttle: float) -> None:
    """Set throttle, mixture and propeller levers of every engine."""
    for i in range(airplane.engines):
        fdm[f"fcs/throttle-cmd-norm[{i}]"] = throttle
        fdm[f"fcs/mixture-cmd-norm[{i}]"] = airplane.mixture
        if airplane.rpm_lever is not None:
            fdm[f"fcs/advance-cmd-norm[{i}]"] = airplane.rpm_lever


def set_elevator(fdm: jsbsim.FGFDMExec, airplane: Outside, elevator_rad: float) -> None:
    """Command an elevator angle (trailing edge down positive) through the model's own unequal stops."""
    up, down = airplane.elevator_rad
    fdm["fcs/elevator-cmd-norm"] = elevator_rad / (up if elevator_rad < 0.0 else down)


def step(fdm: jsbsim.FGFDMExec, airplane: Outside) -> None:
    """Advance one step, with the flap angle carried over to the property that the L17 misspells."""
    fdm.run()
    if airplane.flap_copy:
        fdm["fcs/flaps-pos-deg"] = fdm["fcs/flap-pos-deg"]


def hold_still(fdm: jsbsim.FGFDMExec) -> None:
    """Switch the rigid-body integrators off: forces are evaluated, the state does not move."""
    for name in INTEGRATORS:
        fdm[f"simulation/integrator/{name}"] = 0


def spool_up(fdm: jsbsim.FGFDMExec, airplane: Outside) -> None:
    """Hold the airplane still until its engines stand still at their levers."""
    hold_still(fdm)
    steps = round(airplane.spool_s / STEP_S)
    for count in range(steps):
        if airplane.starter and count == steps // 2:
            fdm["propulsion/starter_cmd"] = 0
        step(fdm, airplane)


def thrust_lbf(fdm: jsbsim.FGFDMExec, airplane: Outside) -> float:
    """Thrust of all propellers together."""
    return float(sum(fdm[f"propulsion/engine[{i}]/thrust-lbs"] for i in range(airplane.engines)))


def power_hp(fdm: jsbsim.FGFDMExec, airplane: Outside) -> float:
    """Shaft power of all engines together."""
    return float(sum(fdm[f"propulsion/engine[{i}]/power-hp"] for i in range(airplane.engines)))
