"""Test flights of airplanes nobody here wrote: decelerations and pairs, glides, climbs, accelerations and stalls.

Each is flown by the pilot of `pilot` on a model of `airplanes`, in still air or in JSBSim's own turbulence, and
returns its whole history. What is true of the airplane comes from `truth`. Nothing of the package under test is
imported here.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .airplanes import FT_PER_NAUTICAL_MILE, STEP_S, Array, Device, Outside, power_hp, set_power, thrust_lbf
from .flight_dynamics_model import entry_throttle, trimmed
from .pilot import Gusts, Pilot, gusts_on, take_off
from .truth import stall_kcas

RECORD_EVERY = 24  # steps: 5 Hz
BEFORE_S = 30.0
COLUMNS = (
    "time_s",
    "kias",
    "ktas",
    "altitude_ft",
    "climb_fpm",
    "gear_pos",
    "flap_pos_deg",
    "thrust_lbf",
    "power_hp",
    "rpm",
    "throttle",
    "alpha_rad",
    "drag_lbf",
    "lift_lbf",
    "qbar_psf",
)


@dataclass(frozen=True, slots=True)
class Flight:
    """One recorded flight. Arrays share ``time_s`` (5 Hz), zero at the first command, else at the first record.

    Attributes:
        airplane: the model flown.
        altitude_ft: pressure altitude held, or passed through in the middle.
        device, flap_deg: what was moved ("" for nothing) and how far the flaps went, or stood.
        out_s, back_s: when the lever was moved out and back, None where it was not.
        fully_out_s: when the device stood fully out.
        broken_off: stopped short because the angle of attack neared the stall.
        kias, ktas: calibrated and true airspeed. ``climb_fpm``: rate of change of height, ft/min.
        thrust_lbf, power_hp: of all propellers together. ``drag_lbf``, ``lift_lbf``: aerodynamic, no thrust in them.
    """

    airplane: Outside
    altitude_ft: float
    device: str
    flap_deg: float
    out_s: float | None
    back_s: float | None
    fully_out_s: float | None
    broken_off: bool
    time_s: Array
    kias: Array
    ktas: Array
    altitude_read_ft: Array
    climb_fpm: Array
    gear_pos: Array
    flap_pos_deg: Array
    thrust_lbf: Array
    power_hp: Array
    rpm: Array
    throttle: Array
    alpha_rad: Array
    drag_lbf: Array
    lift_lbf: Array
    qbar_psf: Array


@dataclass(frozen=True, slots=True)
class StallBreak:
    """One stall: calibrated airspeed at the break, entry rate from 1.1 times it, load factor and thrust there."""

    kias: float
    entry_rate_kt_s: float
    load_factor: float
    thrust_lbf: float


@dataclass(frozen=True, slots=True)
class Leg:
    """A level leg in wind: calibrated and true airspeed and ground speed in knots, track in degrees."""

    kias: float
    ktas: float
    ground_kt: float
    track_deg: float


def _row(pilot: Pilot, time_s: float) -> tuple[float, ...]:
    fdm, airplane = pilot.fdm, pilot.airplane
    return (
        time_s,
        fdm["velocities/vc-kts"],
        fdm["velocities/vt-fps"] * 3600.0 / FT_PER_NAUTICAL_MILE,
        fdm["atmosphere/pressure-altitude"],
        fdm["velocities/h-dot-fps"] * 60.0,
        fdm["gear/gear-pos-norm"],
        fdm["fcs/flap-pos-deg"],
        thrust_lbf(fdm, airplane),
        power_hp(fdm, airplane),
        fdm["propulsion/engine/propeller-rpm"],
        pilot.throttle,
        fdm["aero/alpha-rad"],
        fdm["forces/fwx-aero-lbs"],
        fdm["forces/fwz-aero-lbs"],
        fdm["aero/qbar-psf"],
    )


def _fly(
    pilot: Pilot, start_s: float, end_s: float, act: Callable[[float], bool | None]
) -> tuple[list[tuple[float, ...]], bool]:
    """Fly and record; ``act`` flies one step and says True to break off."""
    rows: list[tuple[float, ...]] = []
    for count in range(round(start_s / STEP_S), round(end_s / STEP_S) + 1):
        if count % RECORD_EVERY == 0:
            rows.append(_row(pilot, count * STEP_S))
        if act(count * STEP_S):
            return rows, True
    return rows, False


def _flight(
    pilot: Pilot,
    rows: list[tuple[float, ...]],
    altitude_ft: float,
    *,
    device: str = "",
    flap_deg: float = 0.0,
    out_s: float | None = None,
    back_s: float | None = None,
    broken_off: bool = False,
) -> Flight:
    table = np.array(rows).T
    table.setflags(write=False)  # flights are cached and shared
    time_s = table[0]
    fully_out = None
    if out_s is not None:
        position, out = (table[5], 1.0) if device == "gear" else (table[6], flap_deg)
        reached = position >= out - 1e-6
        fully_out = float(time_s[np.argmax(reached)]) if reached.any() else None
    return Flight(pilot.airplane, altitude_ft, device, flap_deg, out_s, back_s, fully_out, broken_off, *table)


def _settle_level(pilot: Pilot, kias: float, altitude_ft: float, settle_s: float = 120.0) -> None:
    """Find the throttle that holds the speed, then leave it alone for 20 s."""
    total = pilot.throttle
    for _ in range(round(settle_s / STEP_S)):
        short = kias - pilot.fdm["velocities/vc-kts"]
        total = min(max(total + 0.0015 * short * STEP_S, 0.0), 1.0)
        pilot.throttle = min(max(total + 0.02 * short, 0.0), 1.0)
        set_power(pilot.fdm, pilot.airplane, pilot.throttle)
        pilot.hold_height(altitude_ft)
    pilot.throttle = total
    set_power(pilot.fdm, pilot.airplane, total)
    for _ in range(round(20.0 / STEP_S)):
        pilot.hold_height(altitude_ft)


def _move(pilot: Pilot, device: Device, flap_deg: float, *, out: bool) -> None:
    if device == "gear":
        pilot.fdm["gear/gear-cmd-norm"] = 1.0 if out else 0.0
    else:
        pilot.fdm["fcs/flap-cmd-norm"] = flap_deg / pilot.airplane.full_flap_deg if out else 0.0


@functools.cache
def fly_deceleration(
    airplane: Outside,
    device: Device,
    entry_kias: float,
    altitude_ft: float,
    *,
    flap_deg: float = 0.0,
    run_s: float = 150.0,
    back_s: float | None = None,
    gusts: Gusts | None = None,
) -> Flight:
    """Fly level and clean at frozen power, put a device out at time zero and, if ``back_s`` is given, in again then.

    The record starts 30 s before; gusts start 30 s before that. Raises ValueError where the airplane cannot hold the
    entry speed.
    """
    pilot = take_off(airplane, entry_kias, altitude_ft, throttle=entry_throttle(entry_kias, altitude_ft, airplane))
    _settle_level(pilot, entry_kias, altitude_ft)
    gusts_on(pilot, gusts)
    for _ in range(round(30.0 / STEP_S) if gusts else 0):
        pilot.hold_height(altitude_ft)

    def act(time_s: float) -> bool:
        if abs(time_s) < 0.5 * STEP_S:
            _move(pilot, device, flap_deg, out=True)
        if back_s is not None and abs(time_s - back_s) < 0.5 * STEP_S:
            _move(pilot, device, flap_deg, out=False)
        pilot.hold_height(altitude_ft)
        return bool(pilot.fdm["aero/alpha-rad"] > airplane.stop_alpha_rad)

    rows, broken = _fly(pilot, -BEFORE_S, run_s, act)
    return _flight(
        pilot, rows, altitude_ft, device=device, flap_deg=flap_deg, out_s=0.0, back_s=back_s, broken_off=broken
    )


@functools.cache
def fly_level(
    airplane: Outside,
    from_kias: float,
    altitude_ft: float,
    throttle: float,
    *,
    flap_deg: float = 0.0,
    gear: float = 0.0,
    run_s: float = 60.0,
) -> Flight:
    """Fly level at a fixed throttle with devices standing, from a speed to wherever that power leads.

    Raises ValueError where the airplane cannot carry its weight at the first speed.
    """
    pilot = take_off(airplane, from_kias, altitude_ft, throttle=throttle, flap_deg=flap_deg, gear=gear)

    def act(_: float) -> bool:
        pilot.hold_height(altitude_ft)
        return bool(pilot.fdm["aero/alpha-rad"] > airplane.stop_alpha_rad)

    rows, broken = _fly(pilot, 0.0, run_s, act)
    return _flight(pilot, rows, altitude_ft, flap_deg=flap_deg, broken_off=broken)


def _fly_steady(pilot: Pilot, kias: float, altitude_ft: float, run_s: float, gusts: Gusts | None) -> Flight:
    """Settle at a speed with height left free, then record so that the middle of the record is near the altitude."""
    for _ in range(round(80.0 / STEP_S)):
        pilot.hold_speed(kias)
    gusts_on(pilot, gusts)
    for _ in range(round(20.0 / STEP_S)):
        pilot.hold_speed(kias)

    def act(_: float) -> None:
        pilot.hold_speed(kias)

    rows, _ = _fly(pilot, 0.0, run_s, act)
    return _flight(pilot, rows, altitude_ft)


@functools.cache
def fly_glide(
    airplane: Outside,
    kias: float,
    altitude_ft: float,
    *,
    flap_deg: float = 0.0,
    gear: float = 0.0,
    idle: bool = False,
    run_s: float = 120.0,
    gusts: Gusts | None = None,
) -> Flight:
    """Glide at a constant calibrated airspeed, at zero thrust (throttle worked to it) or with the throttle closed.

    The record passes through ``altitude_ft`` near its middle. ``thrust_lbf`` reports what the propellers did.
    """
    level = trimmed(kias, altitude_ft, flap_deg, gear, airplane)
    sink_fps = kias * 1.689 * 1.06 * level.drag_lbf / level.lift_lbf
    start_ft = altitude_ft + sink_fps * (100.0 + 0.5 * run_s)
    pilot = take_off(
        airplane, kias, start_ft, throttle=0.0 if idle else 0.3, flap_deg=flap_deg, gear=gear, zero_thrust=not idle
    )
    return _fly_steady(pilot, kias, altitude_ft, run_s, gusts)


@functools.cache
def fly_climb(
    airplane: Outside,
    kias: float,
    altitude_ft: float,
    *,
    flap_deg: float = 0.0,
    gear: float = 0.0,
    throttle: float = 1.0,
    run_s: float = 120.0,
    gusts: Gusts | None = None,
) -> Flight:
    """Climb at a constant calibrated airspeed and fixed throttle, through ``altitude_ft`` near the middle."""
    start_ft = altitude_ft
    for _ in range(3):  # each time from where the one before would have led through the altitude
        pilot = take_off(airplane, kias, max(start_ft, 200.0), throttle=throttle, flap_deg=flap_deg, gear=gear)
        flight = _fly_steady(pilot, kias, altitude_ft, run_s, gusts)
        start_ft += altitude_ft - 0.5 * float(flight.altitude_read_ft[0] + flight.altitude_read_ft[-1])
    return flight


@functools.cache
def fly_level_acceleration(
    airplane: Outside,
    from_kias: float,
    altitude_ft: float,
    *,
    flap_deg: float = 0.0,
    gear: float = 0.0,
    throttle: float = 1.0,
    run_s: float = 150.0,
    gusts: Gusts | None = None,
) -> Flight:
    """Climb at a slow speed with the power set, then level off at time zero and accelerate at that height.

    The height is near ``altitude_ft``; the record says which.
    """
    pilot = take_off(airplane, from_kias, altitude_ft - 600.0, throttle=throttle, flap_deg=flap_deg, gear=gear)
    pilot.settle_climb(from_kias, altitude_ft)
    gusts_on(pilot, gusts)
    level_ft = float(pilot.fdm["position/h-sl-ft"]) + 40.0

    def act(_: float) -> None:
        pilot.hold_height(level_ft)

    rows, _ = _fly(pilot, 0.0, run_s, act)
    return _flight(pilot, rows, level_ft)


@functools.cache
def fly_leg(
    airplane: Outside, kias: float, altitude_ft: float, heading_deg: float, wind_kt: tuple[float, float]
) -> Leg:
    """Fly level and clean on a heading in a steady wind, which blows towards north and east at ``wind_kt``."""
    throttle = entry_throttle(kias, altitude_ft, airplane)
    pilot = take_off(airplane, kias, altitude_ft, throttle=throttle, heading_deg=heading_deg)
    fps = FT_PER_NAUTICAL_MILE / 3600.0
    for share in (0.25, 0.5, 0.75, 1.0):  # the wind rises slowly, else the airspeed would jump by all of it
        for name, knots in zip(("north", "east"), wind_kt, strict=True):
            pilot.fdm[f"atmosphere/wind-{name}-fps"] = share * knots * fps
        _settle_level(pilot, kias, altitude_ft, 80.0 if share == 1.0 else 0.0)
    north, east = (pilot.fdm[f"velocities/v-{name}-fps"] / fps for name in ("north", "east"))
    return Leg(
        pilot.fdm["velocities/vc-kts"],
        pilot.fdm["velocities/vt-fps"] / fps,
        float(np.hypot(north, east)),
        float(np.degrees(np.arctan2(east, north)) % 360.0),
    )


@functools.cache
def fly_stall(
    airplane: Outside,
    altitude_ft: float,
    *,
    flap_deg: float = 0.0,
    gear: float = 0.0,
    entry_rate_kt_s: float = 1.0,
    idle: bool = False,
    gusts: Gusts | None = None,
) -> StallBreak:
    """Let the speed fall at a steady rate, wings level, until the wing is at the top of its lift; no thrust or idle.

    Raises:
        RuntimeError: the lift did not break.
    """
    stall = stall_kcas(airplane, flap_deg)
    start = 1.15 * stall + 10.0 * entry_rate_kt_s
    pilot = take_off(
        airplane,
        start,
        altitude_ft,
        throttle=0.0 if idle else 0.3,
        flap_deg=flap_deg,
        gear=gear,
        zero_thrust=not idle,
    )
    for _ in range(round(40.0 / STEP_S)):
        pilot.hold_speed(start)
    gusts_on(pilot, gusts)
    fdm, wanted, first = pilot.fdm, start, (0.0, 0.0)
    for count in range(round(120.0 / STEP_S)):
        wanted -= entry_rate_kt_s * STEP_S
        pilot.hold_speed(wanted, entry_rate_kt_s)
        speed = float(fdm["velocities/vc-kts"])
        if speed > 1.1 * stall:
            first = count * STEP_S, speed
        if fdm["aero/alpha-rad"] >= airplane.stall_alpha_rad:
            rate = (first[1] - speed) / (count * STEP_S - first[0])
            lift = float(fdm["forces/fwz-aero-lbs"])
            return StallBreak(speed, rate, lift / pilot.weight_lb, thrust_lbf(fdm, airplane))
    message = f"{airplane.model} did not stall with flaps at {flap_deg:g} deg."
    raise RuntimeError(message)
