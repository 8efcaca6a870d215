"""An airplane nobody here wrote, flown level while a device goes out.

The outside truth for level decelerations: JSBSim's own models (see `airplanes`, by default ``L17``), flown by an
autopilot of ours that holds altitude, wings level and no sideslip; the throttle is set once for steady clean flight at
the entry speed and then frozen. Gear and flaps move as the model's own drives move them. What a second person would
have written down comes from `read_by_hand`. Nothing of the package under test is imported here.
"""

import functools
from dataclasses import dataclass

import jsbsim
import numpy as np
from numpy.typing import NDArray

from .airplanes import (
    FT_PER_NAUTICAL_MILE,
    L17,
    STEP_S,
    Array,
    Device,
    Outside,
    new_model,
    place,
    power_hp,
    set_elevator,
    step,
    thrust_lbf,
)
from .flight_dynamics_model import (
    ALTITUDE_FT,
    FULL_FLAP_DEG,
    Handbook,
    Polar,
    ThrustCurve,
    clean_polar,
    device_drag_area,
    entry_throttle,
    handbook_figures,
    thrust_curve,
    trimmed,
)

__all__ = [
    "ALTITUDE_FT",
    "FULL_FLAP_DEG",
    "Device",
    "Flown",
    "Handbook",
    "Polar",
    "ThrustCurve",
    "clean_polar",
    "device_drag_area",
    "entry_throttle",
    "flown_drag_area",
    "fly_level_deceleration",
    "handbook_figures",
    "read_by_hand",
    "thrust_curve",
]

RECORD_EVERY = 12  # steps: 10 Hz
RECORD_BEFORE_S = 30.0
_SETTLE_LIMIT_S = 400.0
_COLUMNS = (
    "time_s",
    "ias_kt",
    "tas_kt",
    "altitude_ft",
    "weight_lb",
    "gear_pos",
    "flap_pos_deg",
    "thrust_lbf",
    "power_hp",
    "rpm",
    "alpha_rad",
    "lift_coefficient",
    "drag_lbf",
    "qbar_psf",
)


@dataclass(frozen=True, slots=True)
class Flown:
    """One recorded level run; arrays share the time axis ``time_s`` (10 Hz), zero at the command.

    Attributes:
        device: what was commanded out, and ``flap_deg`` how far (0 for the gear).
        entry_ias_kt: settled airspeed in the second before the command.
        command_s: when the lever was moved (always 0).
        fully_out_s: first recorded time at which the device stood fully out (None if broken off before).
        retract_command_s: when the lever was moved back, or None; ``fully_in_s`` when it was home again.
        broken_off: True when the run was stopped short because the angle of attack neared the stall.
        settled_ias_kt: mean of the last 10 s with the device out if the speed changed less than 0.1 kt in them.
        throttle: frozen throttle lever, 0 to 1.
        ias_kt, tas_kt: calibrated and true airspeed; ``altitude_ft``: pressure altitude.
        weight_lb: constant, fuel is frozen. ``gear_pos``: 0 to 1. ``flap_pos_deg``: degrees.
        thrust_lbf, power_hp, rpm: propeller thrust along the shaft, shaft power, propeller speed.
        alpha_rad: angle of attack of the body axis. ``lift_coefficient``: on the wing area.
        drag_lbf: aerodynamic drag, no thrust in it. ``qbar_psf``: dynamic pressure.
    """

    device: Device
    flap_deg: float
    entry_ias_kt: float
    command_s: float
    fully_out_s: float | None
    retract_command_s: float | None
    fully_in_s: float | None
    broken_off: bool
    settled_ias_kt: float | None
    throttle: float
    time_s: Array
    ias_kt: Array
    tas_kt: Array
    altitude_ft: Array
    weight_lb: Array
    gear_pos: Array
    flap_pos_deg: Array
    thrust_lbf: Array
    power_hp: Array
    rpm: Array
    alpha_rad: Array
    lift_coefficient: Array
    drag_lbf: Array
    qbar_psf: Array


@dataclass(slots=True)
class _Autopilot:
    """Holds altitude, wings level and no sideslip.

    The elevator starts from the trimmed angle for the speed and the device position of the moment (``clean_rad`` and
    ``out_rad`` over ``speeds_kias``), as a pilot who knows the airplane pushes while the flaps run; a slow loop on
    height and climb corrects the rest. ``*_sum_rad`` are the integrators.
    """

    airplane: Outside
    altitude_ft: float
    device: Device
    flap_deg: float
    speeds_kias: Array
    clean_rad: Array
    out_rad: Array
    elevator_sum_rad: float = 0.0
    aileron_sum_rad: float = 0.0
    rudder_sum_rad: float = 0.0

    def act(self, fdm: jsbsim.FGFDMExec) -> None:
        """Set the controls for the next step; gains fall with dynamic pressure (48.6 psf is 120 kt)."""
        gain = 48.6 / fdm["aero/qbar-psf"]
        climb_error = 0.6 * (self.altitude_ft - fdm["position/h-sl-ft"]) - fdm["velocities/h-dot-fps"]
        climb_error = min(max(climb_error, -10.0), 10.0)
        self.elevator_sum_rad -= 0.0012 * gain * climb_error * STEP_S
        elevator = self._known_elevator(fdm) + self.elevator_sum_rad - 0.003 * gain * climb_error
        set_elevator(fdm, self.airplane, elevator + 0.1 * fdm["velocities/q-rad_sec"])
        bank, sideslip = fdm["attitude/phi-rad"], fdm["aero/beta-rad"]
        self.aileron_sum_rad -= 0.5 * gain * bank * STEP_S
        self.rudder_sum_rad -= 1.0 * gain * sideslip * STEP_S
        aileron = self.aileron_sum_rad - 1.0 * bank - 0.3 * fdm["velocities/p-rad_sec"]
        rudder = self.rudder_sum_rad - 1.0 * sideslip + 0.5 * fdm["velocities/r-rad_sec"]
        fdm["fcs/aileron-cmd-norm"] = aileron / self.airplane.aileron_rad
        fdm["fcs/rudder-cmd-norm"] = rudder / self.airplane.rudder_rad

    def _known_elevator(self, fdm: jsbsim.FGFDMExec) -> float:
        """Trimmed elevator for the speed and device position of the moment, radians."""
        position = fdm["gear/gear-pos-norm"] if self.device == "gear" else fdm["fcs/flap-pos-deg"] / self.flap_deg
        speed = fdm["velocities/vc-kts"]
        clean = np.interp(speed, self.speeds_kias, self.clean_rad)
        out = np.interp(speed, self.speeds_kias, self.out_rad)
        return float(clean + position * (out - clean))


def _new_autopilot(device: Device, flap_deg: float, altitude_ft: float, airplane: Outside) -> _Autopilot:
    """Autopilot which knows the trimmed elevator over the speeds of the airplane, clean and with the device out."""
    speeds = np.arange(airplane.lowest_kias, airplane.fastest_kias + 1.0, 2.0)
    flap, gear = (0.0, 1.0) if device == "gear" else (flap_deg, 0.0)
    return _Autopilot(
        airplane=airplane,
        altitude_ft=altitude_ft,
        device=device,
        flap_deg=flap_deg,
        speeds_kias=speeds,
        clean_rad=np.array([trimmed(float(v), altitude_ft, 0.0, 0.0, airplane).elevator_rad for v in speeds]),
        out_rad=np.array([trimmed(float(v), altitude_ft, flap, gear, airplane).elevator_rad for v in speeds]),
    )


def _row(fdm: jsbsim.FGFDMExec, airplane: Outside, time_s: float) -> tuple[float, ...]:
    """One record, in the order of the arrays of `Flown`."""
    qbar = fdm["aero/qbar-psf"]
    return (
        time_s,
        fdm["velocities/vc-kts"],
        fdm["velocities/vt-fps"] * 3600.0 / FT_PER_NAUTICAL_MILE,
        fdm["atmosphere/pressure-altitude"],
        fdm["inertia/weight-lbs"],
        fdm["gear/gear-pos-norm"],
        fdm["fcs/flap-pos-deg"],
        thrust_lbf(fdm, airplane),
        power_hp(fdm, airplane),
        fdm["propulsion/engine/propeller-rpm"],
        fdm["aero/alpha-rad"],
        fdm["forces/fwz-aero-lbs"] / (qbar * fdm["metrics/Sw-sqft"]),
        fdm["forces/fwx-aero-lbs"],
        qbar,
    )


def _command(fdm: jsbsim.FGFDMExec, airplane: Outside, device: Device, flap_deg: float, *, out: bool) -> None:
    """Move the lever of the device; the model's own drive does the rest."""
    if device == "gear":
        fdm["gear/gear-cmd-norm"] = 1.0 if out else 0.0
    else:
        fdm["fcs/flap-cmd-norm"] = flap_deg / airplane.full_flap_deg if out else 0.0


def _settle(fdm: jsbsim.FGFDMExec, pilot: _Autopilot, settle_s: float) -> None:
    """Fly clean until speed and height stand still for 10 s, at least ``settle_s``.

    Raises:
        RuntimeError: not settled within 400 s.
    """
    block = round(10.0 / STEP_S)
    for count in range(round(_SETTLE_LIMIT_S / 10.0)):
        before = fdm["velocities/vc-kts"]
        for _ in range(block):
            pilot.act(fdm)
            step(fdm, pilot.airplane)
        drift = abs(fdm["velocities/vc-kts"] - before)
        level = abs(fdm["position/h-sl-ft"] - pilot.altitude_ft) < 0.1
        if (count + 1) * 10.0 >= settle_s and drift < 0.005 and level:
            return
    message = f"{pilot.airplane.model} did not settle clean within {_SETTLE_LIMIT_S:g} s."
    raise RuntimeError(message)


def _record(
    fdm: jsbsim.FGFDMExec,
    pilot: _Autopilot,
    device: Device,
    flap_deg: float,
    run_s: float,
    retract_after_s: float | None,
) -> tuple[list[tuple[float, ...]], bool]:
    """Fly and record from 30 s before the command; True when broken off near the stall."""
    rows: list[tuple[float, ...]] = []
    first = -round(RECORD_BEFORE_S / STEP_S)
    retract = None if retract_after_s is None else round(retract_after_s / STEP_S)
    for count in range(first, round(run_s / STEP_S) + 1):
        if count == 0 or count == retract:
            _command(fdm, pilot.airplane, device, flap_deg, out=count == 0)
        if count % RECORD_EVERY == 0:
            rows.append(_row(fdm, pilot.airplane, count * STEP_S))
        pilot.act(fdm)
        step(fdm, pilot.airplane)
        if fdm["aero/alpha-rad"] > pilot.airplane.stop_alpha_rad:
            return rows, True
    return rows, False


@functools.cache
def fly_level_deceleration(
    device: Device,
    entry_kias: float,
    altitude_ft: float = ALTITUDE_FT,
    *,
    flap_deg: float = FULL_FLAP_DEG,
    settle_s: float = 60.0,
    run_s: float = 150.0,
    retract_after_s: float | None = None,
    airplane: Outside = L17,
) -> Flown:
    """Fly level and clean, throttle frozen, and put one device out at time zero.

    Args:
        device: "gear" or "flaps".
        entry_kias: calibrated airspeed held clean before the command, knots.
        altitude_ft: pressure altitude held, feet.
        flap_deg: how far the flaps go, degrees (L17: 15 is the middle setting, 30 full); ignored for the gear.
        settle_s: least time flown clean before recording starts 30 s ahead of the command, seconds.
        run_s: length of the record after the command, seconds.
        retract_after_s: when the lever is put back, seconds after the command; power stays where it is.
        airplane: which model is flown.

    Raises:
        ValueError: the airplane cannot hold the entry speed.
        RuntimeError: it did not settle.
    """
    start = trimmed(entry_kias, altitude_ft, 0.0, 0.0, airplane)
    throttle = entry_throttle(entry_kias, altitude_ft, airplane)
    fdm = new_model(airplane)
    place(fdm, airplane, entry_kias, altitude_ft, start.alpha_rad, start.elevator_rad, throttle=throttle)
    pilot = _new_autopilot(device, flap_deg, altitude_ft, airplane)
    _settle(fdm, pilot, settle_s)
    rows, broken_off = _record(fdm, pilot, device, flap_deg, run_s, retract_after_s)
    table = np.array(rows).T
    table.setflags(write=False)  # the answer is cached and shared
    time_s, ias_kt = table[0], table[1]
    position, out = (table[5], 1.0) if device == "gear" else (table[6], flap_deg)
    extended = time_s <= (retract_after_s if retract_after_s is not None else run_s)
    return Flown(
        device=device,
        flap_deg=0.0 if device == "gear" else flap_deg,
        entry_ias_kt=float(np.mean(ias_kt[(time_s >= -1.0) & (time_s <= 0.0)])),
        command_s=0.0,
        fully_out_s=_first_time(time_s, position >= out - 1e-6),
        retract_command_s=retract_after_s,
        fully_in_s=None
        if retract_after_s is None
        else _first_time(time_s, (time_s > retract_after_s) & (position <= 1e-6)),
        broken_off=broken_off,
        settled_ias_kt=_settled_speed(time_s[extended], ias_kt[extended], broken_off=broken_off),
        throttle=throttle,
        **dict(zip(_COLUMNS, table, strict=True)),
    )


def _first_time(time_s: Array, reached: NDArray[np.bool_]) -> float | None:
    """First recorded time at which something was so, in seconds; None if it never was."""
    return float(time_s[np.argmax(reached)]) if reached.any() else None


def _settled_speed(time_s: Array, ias_kt: Array, *, broken_off: bool) -> float | None:
    """Mean airspeed of the last 10 s when it changed by less than 0.1 kt in them, else None."""
    last = ias_kt[time_s >= time_s[-1] - 10.0]
    return None if broken_off or np.ptp(last) >= 0.1 else float(np.mean(last))


def flown_drag_area(flown: Flown) -> Array:
    """Device drag area along the run itself, in square feet, at each recorded time.

    Recorded drag coefficient minus the clean one at the lift coefficient recorded then, times wing area. It
    differs from `device_drag_area` by what is not steady (pitch rate, elevator work, sideslip) and by the small
    part of the weight which the inclined thrust carries. NaN where the clean airplane cannot reach that lift.
    """
    polar = clean_polar([*np.arange(70.0, 80.0, 0.5), *np.arange(80.0, 151.0, 1.0)], ALTITUDE_FT)
    clean = np.interp(
        flown.lift_coefficient, polar.lift_coefficient[::-1], polar.drag_coefficient[::-1], left=np.nan, right=np.nan
    )
    wing_area = handbook_figures().wing_area_ft2
    return (flown.drag_lbf / (flown.qbar_psf * wing_area) - clean) * wing_area


def read_by_hand(
    flown: Flown,
    rng: np.random.Generator,
    *,
    every_s: float = 6.0,
    speed_noise_kt: float = 1.0,
    time_noise_s: float = 0.5,
    whole_knots: bool = True,
    start_before_s: float = 18.0,
    until_s: float | None = None,
) -> list[tuple[float, float]]:
    """What a second person would write down: (time in seconds after the command, airspeed in knots).

    The times written are the planned ones; the dial was looked at a little earlier or later (normal, standard
    deviation ``time_noise_s``) and read with a normal error of ``speed_noise_kt``, then rounded to whole knots.

    Args:
        flown: the run.
        rng: source of the reading errors.
        every_s: planned spacing of the readings, seconds.
        speed_noise_kt: standard deviation of a reading, knots.
        time_noise_s: standard deviation of the instant of a reading, seconds.
        whole_knots: round to whole knots.
        start_before_s: how long before the command the readings start, seconds (at most 30).
        until_s: last planned time, seconds; by default the end of the record.

    Raises:
        ValueError: readings are wanted before the record starts.
    """
    if start_before_s > RECORD_BEFORE_S:
        message = f"start_before_s is {start_before_s:g}; the record starts {RECORD_BEFORE_S:g} s before the command."
        raise ValueError(message)
    last = float(flown.time_s[-1]) if until_s is None else min(until_s, float(flown.time_s[-1]))
    before = int(start_before_s // every_s)
    planned = every_s * np.arange(-before, int(last // every_s) + 1)
    looked = np.clip(planned + time_noise_s * rng.standard_normal(planned.size), flown.time_s[0], flown.time_s[-1])
    seen = np.interp(looked, flown.time_s, flown.ias_kt) + speed_noise_kt * rng.standard_normal(planned.size)
    written = np.round(seen) if whole_knots else seen
    return [(float(t), float(v)) for t, v in zip(planned, written, strict=True)]
