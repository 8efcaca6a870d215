"""Go-arounds of airplanes nobody here wrote: the same approach, power and pitch, the levers moved in any order.

Each is flown in JSBSim from a steady descent with gear and flaps out. Nothing of the package under test is imported.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from .airplanes import FT_PER_NAUTICAL_MILE, STEP_S, Array, Outside, set_power, thrust_lbf
from .pilot import Pilot, take_off

RECORD_EVERY = 12  # steps: 10 Hz
SETTLE_S = 50.0
SPEED_TIME_S = 4.0
PITCH_RATE_RAD_S = math.radians(3.0)
STEEPEST = 0.5

Pitch = Literal["speed", "attitude"]


@dataclass(frozen=True, slots=True)
class Away:
    """How a go-around is flown, but for the levers of gear and flaps.

    Attributes:
        airplane: the model flown.
        entry_kias: speed of the approach, knots calibrated.
        altitude_ft: pressure altitude at the decision, within a few feet.
        flap_deg: flaps of the approach; the gear is down.
        descent_rad: path of the approach, positive down.
        throttle: lever of the go-around; moved from approach power from ``power_delay_s`` on over ``lever_s``.
        pitch: hold the approach speed, or hold an attitude ``pitch_up_rad`` above that of the approach.
    """

    airplane: Outside
    entry_kias: float
    altitude_ft: float
    flap_deg: float
    throttle: float
    pitch: Pitch
    descent_rad: float = math.radians(3.0)
    power_delay_s: float = 1.0
    lever_s: float = 2.0
    pitch_up_rad: float = 0.0
    run_s: float = 40.0


@dataclass(frozen=True, slots=True)
class LeverMove:
    """A lever moved ``time_s`` after the decision: "gear" to 0 or 1, "flaps" to an angle in degrees."""

    time_s: float
    device: str
    target: float


@dataclass(frozen=True, slots=True)
class Flown:
    """One go-around, arrays at 10 Hz from the decision. Heights are gains since it; drag has no thrust in it."""

    time_s: Array
    height_ft: Array
    kias: Array
    ktas: Array
    pitch_rad: Array
    alpha_rad: Array
    thrust_lbf: Array
    drag_lbf: Array
    gear: Array
    flap_deg: Array
    settled: bool

    def height_at(self, time_s: float) -> float:
        """Return the height gained since the decision, feet."""
        return float(np.interp(time_s, self.time_s, self.height_ft))


def _hold_path(pilot: Pilot, sine: float) -> None:
    pilot.hold_climb(sine * pilot.fdm["velocities/vt-fps"])


def _hold_speed(pilot: Pilot, wanted_fps: float) -> None:
    """Fly off a speed error with a time constant: ``sin(gamma) = (T cos(alpha) - D) / W + (V - V_wanted) / (g tau)``.

    The wanted speed is true; over the heights flown here it is that of one calibrated speed within 0.5 %.
    """
    fdm = pilot.fdm
    forward = thrust_lbf(fdm, pilot.airplane) * math.cos(fdm["aero/alpha-rad"]) - fdm["forces/fwx-aero-lbs"]
    excess = forward / pilot.weight_lb
    sine = excess + (fdm["velocities/vt-fps"] - wanted_fps) / (32.174 * SPEED_TIME_S)
    _hold_path(pilot, min(max(sine, -STEEPEST), STEEPEST))


def _approach(away: Away) -> tuple[Pilot, bool]:
    """Fly the steady approach to the decision; also return whether speed and path stand still there."""
    airplane = away.airplane
    knot = FT_PER_NAUTICAL_MILE / 3600.0
    fall = SETTLE_S * away.entry_kias * 1.05 * knot * math.sin(away.descent_rad)
    pilot = take_off(airplane, away.entry_kias, away.altitude_ft + fall, throttle=0.4, flap_deg=away.flap_deg, gear=1.0)
    total, sine = 0.4, -math.sin(away.descent_rad)
    for count in range(round(SETTLE_S / STEP_S)):
        short = away.entry_kias - pilot.fdm["velocities/vc-kts"]
        total = min(max(total + 0.004 * short * STEP_S, 0.0), 1.0)
        if count * STEP_S < SETTLE_S - 5.0:  # the last seconds with the lever left alone
            pilot.throttle = min(max(total + 0.03 * short, 0.0), 1.0)
            set_power(pilot.fdm, airplane, pilot.throttle)
        _hold_path(pilot, sine)
    steady = abs(pilot.fdm["velocities/vc-kts"] - away.entry_kias) < 0.5
    flown = pilot.fdm["velocities/h-dot-fps"] / pilot.fdm["velocities/vt-fps"]
    return pilot, steady and abs(flown - sine) < 0.003


def _row(pilot: Pilot, time_s: float) -> tuple[float, ...]:
    fdm = pilot.fdm
    return (
        time_s,
        fdm["position/h-sl-ft"],
        fdm["velocities/vc-kts"],
        fdm["velocities/vt-fps"] * 3600.0 / FT_PER_NAUTICAL_MILE,
        fdm["attitude/theta-rad"],
        fdm["aero/alpha-rad"],
        thrust_lbf(fdm, pilot.airplane),
        fdm["forces/fwx-aero-lbs"],
        fdm["gear/gear-pos-norm"],
        fdm["fcs/flap-pos-deg"],
    )


@functools.cache
def fly_clean_up(away: Away, moves: tuple[LeverMove, ...]) -> Flown:
    """Fly one go-around and return its history.

    Raises:
        ValueError: the airplane cannot fly the approach.
    """
    pilot, settled = _approach(away)
    fdm, airplane = pilot.fdm, pilot.airplane
    begun_throttle, attitude = pilot.throttle, float(fdm["attitude/theta-rad"])
    wanted_fps = float(fdm["velocities/vt-fps"])
    left = sorted(moves, key=lambda m: m.time_s)
    rows = []
    for count in range(round(away.run_s / STEP_S) + 1):
        now = count * STEP_S
        if count % RECORD_EVERY == 0:
            rows.append(_row(pilot, now))
        share = min(max((now - away.power_delay_s) / away.lever_s, 0.0), 1.0)
        pilot.throttle = begun_throttle + share * (away.throttle - begun_throttle)
        set_power(fdm, airplane, pilot.throttle)
        while left and left[0].time_s <= now + 0.5 * STEP_S:
            move = left.pop(0)
            name, full = ("gear/gear", 1.0) if move.device == "gear" else ("fcs/flap", airplane.full_flap_deg)
            fdm[f"{name}-cmd-norm"] = move.target / full
        if away.pitch == "speed":
            _hold_speed(pilot, wanted_fps)
        else:
            raised = max(now - away.power_delay_s, 0.0) * PITCH_RATE_RAD_S
            pilot.hold_pitch(attitude + min(raised, away.pitch_up_rad))
    table = np.array(rows).T
    table[1] -= table[1][0]
    table.setflags(write=False)  # flights are cached and shared
    time_s, height, kias, ktas, pitch, alpha, thrust, drag, gear, flap = table
    return Flown(time_s, height, kias, ktas, pitch, alpha, thrust, drag, gear, flap, settled)


def power_ramp_s(flown: Flown, power_delay_s: float, within_s: float = 12.0) -> float:
    """Return how long a straight ramp of thrust would take that puts in as much as the engine did, seconds.

    ``delay + ramp / 2`` is the mean time of the rise, over the first seconds; thrust then is taken as full.
    """
    inside = flown.time_s <= within_s
    thrust = flown.thrust_lbf[inside]
    missing = (thrust[-1] - thrust) / (thrust[-1] - thrust[0])
    mean_time = float(np.trapezoid(missing, flown.time_s[inside]))
    return max(2.0 * (mean_time - power_delay_s), 0.1)
