"""A pilot of ours for JSBSim's airplanes: holds height, speed, a falling speed or pitch, at a bank, without sideslip.

Attitude is the inner loop: the elevator makes the pitch angle that the wanted rate of climb needs, and integrators find
the trim, so nothing of the airplane need be known beforehand. Gains fall with dynamic pressure. Nothing of the package
under test is imported here.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import jsbsim

from .airplanes import INTEGRATORS, STEP_S, Outside, new_model, place, set_elevator, set_power, spool_up, step
from .airplanes import thrust_lbf as thrust_of
from .flight_dynamics_model import trimmed, weight_lb

GUST_TYPE = 4  # JSBSim's Tustin form of the MIL-F-8785C turbulence


@dataclass(frozen=True, slots=True)
class Gusts:
    """JSBSim's own turbulence (MIL-F-8785C): ``severity`` is its index of exceedance, 3 is light."""

    severity: int
    seed: int


@dataclass(slots=True)
class Pilot:
    """Flies one airplane. ``*_sum`` are integrators; angles in radians, heights in feet, rates in ft/s.

    ``bank_rad`` is the bank held (right positive), ``zero_thrust`` has the throttle worked to no thrust.
    """

    airplane: Outside
    fdm: jsbsim.FGFDMExec
    throttle: float
    elevator_sum: float
    pitch_sum: float
    climb_sum: float = 0.0
    aileron_sum: float = 0.0
    rudder_sum: float = 0.0
    zero_thrust: bool = False
    weight_lb: float = field(default=0.0)
    bank_rad: float = 0.0

    def hold_height(self, altitude_ft: float) -> None:
        """Fly one step at a height above sea level, feet."""
        wanted = 0.25 * (altitude_ft - self.fdm["position/h-sl-ft"])
        self._fly(min(max(wanted, -10.0), 10.0))

    def hold_speed(self, kias: float, rate_kt_s: float = 0.0) -> None:
        """Fly one step at a calibrated airspeed, knots, which is falling at ``rate_kt_s``, height left free."""
        excess = self.fdm["velocities/vc-kts"] - kias
        self.climb_sum += 0.15 * excess * STEP_S
        lag = 0.3 * rate_kt_s
        self._fly(self.climb_sum + 1.5 * (excess - lag))

    def hold_climb(self, climb_fps: float) -> None:
        """Fly one step at a rate of climb, ft/s."""
        self._fly(climb_fps)

    def hold_pitch(self, pitch_rad: float) -> None:
        """Fly one step at a pitch angle of the body axis, path and speed left free."""
        self.pitch_sum = pitch_rad
        self._make_pitch(pitch_rad)

    def settle_climb(self, kias: float, altitude_ft: float) -> None:
        """Climb at a speed up to a height, for at most 120 s."""
        for _ in range(round(120.0 / STEP_S)):
            self.hold_speed(kias)
            if self.fdm["position/h-sl-ft"] >= altitude_ft:
                return

    def _fly(self, climb_fps: float) -> None:
        fdm = self.fdm
        path_error = (climb_fps - fdm["velocities/h-dot-fps"]) / fdm["velocities/vt-fps"]
        self.pitch_sum += 0.8 * path_error * STEP_S
        self._make_pitch(self.pitch_sum + 0.8 * path_error)

    def _make_pitch(self, pitch_rad: float) -> None:
        fdm, gain = self.fdm, 48.6 / self.fdm["aero/qbar-psf"]
        pitch_error = pitch_rad - fdm["attitude/theta-rad"]
        self.elevator_sum -= 0.8 * gain * pitch_error * STEP_S
        elevator = self.elevator_sum - 0.8 * gain * pitch_error + 0.25 * gain * fdm["velocities/q-rad_sec"]
        up, down = self.airplane.elevator_rad
        self.elevator_sum = min(max(self.elevator_sum, -up), down)
        set_elevator(fdm, self.airplane, min(max(elevator, -up), down))
        bank, sideslip = fdm["attitude/phi-rad"] - self.bank_rad, fdm["aero/beta-rad"]
        self.aileron_sum -= 0.3 * gain * bank * STEP_S
        self.rudder_sum -= 0.3 * gain * sideslip * STEP_S
        aileron = self.aileron_sum - 0.6 * gain * bank - 0.2 * gain * fdm["velocities/p-rad_sec"]
        rudder = self.rudder_sum - 0.5 * gain * sideslip + 0.4 * gain * fdm["velocities/r-rad_sec"]
        fdm["fcs/aileron-cmd-norm"] = aileron / self.airplane.aileron_rad
        fdm["fcs/rudder-cmd-norm"] = rudder / self.airplane.rudder_rad
        if self.zero_thrust:
            pull = thrust_of(fdm, self.airplane) / self.weight_lb
            self.throttle = min(max(self.throttle - 0.4 * pull * STEP_S, 0.0), 1.0)
            set_power(fdm, self.airplane, self.throttle)
        step(fdm, self.airplane)


def take_off(
    airplane: Outside,
    kias: float,
    altitude_ft: float,
    *,
    throttle: float,
    flap_deg: float = 0.0,
    gear: float = 0.0,
    zero_thrust: bool = False,
    heading_deg: float = 0.0,
) -> Pilot:
    """Return a pilot in the air, level and trimmed at a speed and height, engine spooled up to its lever.

    Raises:
        ValueError: the airplane cannot carry its weight at this speed.
    """
    start = trimmed(kias, altitude_ft, flap_deg, gear, airplane)
    fdm = new_model(airplane)
    usual = {name: fdm[f"simulation/integrator/{name}"] for name in INTEGRATORS}
    place(
        fdm,
        airplane,
        kias,
        altitude_ft,
        start.alpha_rad,
        start.elevator_rad,
        throttle=throttle,
        flap_deg=flap_deg,
        gear=gear,
        heading_deg=heading_deg,
    )
    spool_up(fdm, airplane)
    for name, value in usual.items():
        fdm[f"simulation/integrator/{name}"] = value
    return Pilot(
        airplane,
        fdm,
        throttle,
        start.elevator_rad,
        start.alpha_rad,
        zero_thrust=zero_thrust,
        weight_lb=weight_lb(airplane),
    )


def gusts_on(pilot: Pilot, gusts: Gusts | None) -> None:
    """Let the air become rough, if gusts are given."""
    if gusts is None:
        return
    pilot.fdm["simulation/randomseed"] = gusts.seed
    pilot.fdm["atmosphere/turbulence/milspec/windspeed_at_20ft_AGL-fps"] = 15.0  # counts below 2,000 ft only
    pilot.fdm["atmosphere/turbulence/milspec/severity"] = gusts.severity
    pilot.fdm["atmosphere/turb-type"] = GUST_TYPE
