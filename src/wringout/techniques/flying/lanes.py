"""Lanes: the part of the kernel that flies many trajectories abreast. Compiled; every loop over lanes is vectorised.

Each lane has its own clock. A step of a lane ends at its own next corner (power, a device starting, arriving or passing
a detent), so results do not depend on who flies beside it. Whatever happens to one lane only (an action, a change of
stage, a lowest point) is left to `wringout.techniques.flying.moments`: a flag is raised for it.
"""

from __future__ import annotations

from typing import Final

from wringout.techniques.flying import lane_rows as r
from wringout.techniques.flying import layout as k
from wringout.techniques.flying.compiling import inlined, looped
from wringout.techniques.flying.lane_rows import LANES
from wringout.techniques.flying.motion import MODE_ATTITUDE, Case, Now, equivalent_airspeed, thrust_at
from wringout.techniques.flying.pace import Pace
from wringout.techniques.flying.polynomials import cosine, sine
from wringout.techniques.flying.scores import (
    CLIMB_TIME,
    CLIMBING_MPS,
    ENERGY_HEIGHT,
    EXCEEDANCE,
    HEIGHT,
    LOWEST_HEIGHT,
    OBSTACLE_M,
    PITCH_DROP,
    SCORE_TIMES_S,
    SUSTAINED_S,
    turning_point,
)
from wringout.techniques.flying.start import case_at
from wringout.techniques.stated.types import FloatArray
from wringout.units import STANDARD_GRAVITY

SEEN: Final = 1.0  # flag of a lane: an event or an obstacle to look at within its step
DUE: Final = 2.0  # something is to be done at the new node; with SEEN, both
OVER: Final = 4.0  # the procedure is over
NEVER: Final = 1e30  # a time that does not come
NEAR_GROUND_M: Final = 10.0  # a wing lower than this above a runway feels it
SHORT_S: Final = 0.06  # a step over the kink where lift meets CLmax may be this long: its error is of the step squared


@inlined
def now_at(b: FloatArray, when: int, lane: int) -> Now:
    """Return what acts on a lane's airplane at the start of its step, halfway (``r.MIDDLE``) or at its end."""
    i = when + lane
    return Now(
        b[r.POWER + i],
        b[r.ATTITUDE + i],
        b[r.GEAR_AREA + i],
        b[r.FLAP_AREA + i],
        b[r.FLAP_SLOPE + i],
        b[r.FLAP_FLOOR + i],
        b[r.SHIFT + i],
        b[r.CL_MAX + i],
        b[r.PER_CL_MAX + i],
        b[r.MODE + lane],
        b[r.AIM + lane],
        b[r.ROLLING + lane],
    )


@inlined
def place(b: FloatArray, device: int, lane: int, time: float) -> float:
    """Return where a device is at a time."""
    i = device * r.DEVICE + lane
    target, moving = b[r.TARGET + i], b[r.FROM + i] + b[r.RATE + i] * (time - b[r.SINCE + i])
    there: float = moving if time < b[r.ARRIVES + i] else target
    return there


@inlined
def set_controls(b: FloatArray, when: int, lane: int, time: float) -> None:
    """Fill what acts on a lane's airplane at a time: levers, attitude held, and the areas of gear and flaps there."""
    i = when + lane
    b[r.POWER + i], b[r.ATTITUDE + i] = place(b, k.POWER, lane, time), place(b, k.PITCH, lane, time)
    b[r.GEAR_AT + i], b[r.FLAP_AT + i] = place(b, k.GEAR, lane, time), place(b, k.FLAPS, lane, time)
    _set_areas(b, when, lane)


@inlined
def set_middle(b: FloatArray, lane: int) -> None:
    """Fill what acts halfway through a step: within it everything moves along straight lines."""
    half = type(b[0])(0.5)
    for j in range(4):  # power, attitude, gear and flaps
        i = r.POWER + j * LANES + lane
        b[r.MIDDLE + i] = half * (b[i] + b[r.END + i])
    _set_areas(b, r.MIDDLE, lane)


@inlined
def _set_areas(b: FloatArray, when: int, lane: int) -> None:
    """Fill the areas, the shift of the lift line and CLmax for gear and flaps where they are."""
    real = type(b[0])
    zero, one = real(0.0), real(1.0)
    i = when + lane
    gear, flap = b[r.GEAR_AT + i], b[r.FLAP_AT + i]
    square = min(max((flap * flap - b[r.LOW_SQUARE + lane]) * b[r.PER_SQUARE + lane], zero), one)
    share = min(max((flap - b[r.LOW + lane]) * b[r.PER + lane], zero), one)
    most = b[r.CL_LOW + lane] + share * b[r.CL_STEP + lane]
    open_doors = b[r.DOORS + lane] * gear * (one - gear)
    unshielded = max(one - b[r.SHIELD + lane] * flap, zero)
    b[r.GEAR_AREA + i] = b[r.GEAR_FULL_AREA + lane] * (gear + open_doors) * unshielded
    b[r.FLAP_AREA + i] = b[r.AREA_LOW + lane] + square * b[r.AREA_STEP + lane]
    b[r.FLAP_SLOPE + i] = b[r.SLOPE_LOW + lane] + share * b[r.SLOPE_STEP + lane]
    b[r.FLAP_FLOOR + i] = b[r.FLOOR_LOW + lane] + square * b[r.FLOOR_STEP + lane]
    b[r.SHIFT + i], b[r.CL_MAX + i], b[r.PER_CL_MAX + i] = most - b[r.CL_CLEAN + lane], most, one / most


@inlined
def _sooner(end: float, corner: float, soon: float) -> float:
    return corner if (corner > soon) & (corner < end) else end


@looped
def plan(b: FloatArray, pace: Pace) -> None:
    """Start each lane where its last step has led, and choose the next: to its next corner, or an equal part of that.

    A lane whose time is up flies a step of no length.
    """
    for lane in range(LANES):
        real = type(b[0])
        for row in range(r.NODE_ROWS):
            b[r.TIME + row * LANES + lane] = b[r.NEW_NODE + row * LANES + lane]
        for row in range(r.CONTROL_ROWS):
            b[r.POWER + row * LANES + lane] = b[r.END_CONTROLS + row * LANES + lane]
        now, close = b[r.TIME + lane], b[r.CLOSE + lane]
        soon = now + close
        end = b[r.DURATION + lane]
        end = _sooner(end, b[r.EARLIEST + lane], soon)
        end = _sooner(end, b[r.UNTIL_TIME + lane], soon)
        end = _sooner(end, b[r.NEXT_MOVE + lane], soon)
        end = _sooner(end, b[r.PASSES + lane], soon)
        end = _sooner(end, b[r.FORCED + lane], soon)
        end = _sooner(end, b[r.ARRIVES + lane], soon)
        end = _sooner(end, b[r.ARRIVES + r.DEVICE + lane], soon)
        end = _sooner(end, b[r.ARRIVES + 2 * r.DEVICE + lane], soon)
        end = max(_sooner(end, b[r.ARRIVES + 3 * r.DEVICE + lane], soon), now)
        held = b[r.MODE + lane] == real(MODE_ATTITUDE)
        rate = b[r.DAMPING + lane] * b[r.SPEED + lane] if held else b[_PER_PATH_TIME + lane]
        b[r.RELAX + lane] = (pace.relax if held else real(1.0)) * rate
        time = real(1.0) / rate
        quiet_for = time * (pace.settling if held else pace.settling_bent)
        moving = min(time * (pace.moving if held else pace.moving_bent), pace.longest)
        quiet = min(time * (pace.quiet if held else pace.quiet_bent), pace.speed_times / b[_PER_SPEED_TIME + lane])
        quiet = min(quiet, pace.longest_quiet)
        step = moving if now < b[r.QUIET + lane] + quiet_for else quiet
        wanted = (pace.grain if held else pace.grain_bent) / (
            b[r.UNREST + lane] + (pace.calm if held else pace.calm_bent)
        )
        step = min(step, max(wanted, pace.least))
        sharp = min(time * (pace.sharp if held else pace.sharp_bent), pace.longest)
        lasting = time * (pace.lasting if held else pace.lasting_bent)
        step = sharp if now < b[r.SHARP + lane] + lasting else step
        low = b[_GROUND + lane] + b[r.HEIGHT + lane] < real(NEAR_GROUND_M)
        step = min(step, pace.wary) if low | (b[r.CAPPED_LATER + lane] < real(0.0)) else step
        room = end - now
        parted = now + (real(0.5) * room if room <= real(2.0) * step else step)
        b[r.NEW + r.TIME + lane] = end if room <= step * real(1.000001) else parted
        b[r.STEP + lane] = b[r.NEW + r.TIME + lane] - now
        b[r.EVENT + lane] = real(0.0)


@inlined
def pull_again(b: FloatArray, lane: int) -> None:
    """Work out the thrust at the new node of a lane."""
    i = r.NEW + lane
    found = thrust_at(case_at(b, lane, LANES), b[r.END + r.POWER + lane], b[r.SPEED + i], b[r.HEIGHT + i])
    b[r.PULL + i] = found.thrust


@inlined
def measure(b: FloatArray, lane: int) -> None:
    """Fill what is watched at the new node besides its state: equivalent airspeed, and the exact rates of place."""
    speed, path, height = b[r.NEW + r.SPEED + lane], b[r.NEW + r.PATH + lane], b[r.NEW + r.HEIGHT + lane]
    climb = speed * sine(path)
    b[r.NEW_CLIMB + lane], b[r.LAST + r.CLIMB + lane], b[r.LAST + r.ALONG + lane] = climb, climb, speed * cosine(path)
    b[r.NEW + r.EAS + lane] = equivalent_airspeed(case_at(b, lane, LANES), speed, height)


@inlined
def reached(b: FloatArray, which: int, lane: int) -> float:
    """Return the quantity whose passing zero upwards is an event, at the new node of a lane."""
    i = which + lane
    states: float = b[r.OF_EAS + i] * b[r.NEW + r.EAS + lane] + b[r.OF_HEIGHT + i] * b[r.NEW + r.HEIGHT + lane]
    states += b[r.OF_CLIMB + i] * b[r.NEW_CLIMB + lane] + b[r.OF_ONE + i]
    return states


@inlined
def _grazes(b: FloatArray, which: int, lane: int) -> bool:
    """Return whether a watched speed or height rises at the start of a lane's step and falls at its end."""
    zero, of_eas, of_height = type(b[0])(0.0), b[r.OF_EAS + which + lane], b[r.OF_HEIGHT + which + lane]
    before = of_eas * b[r.SPEED_RATE + lane] + of_height * b[r.CLIMB + lane]
    after = of_eas * b[r.LAST + r.SPEED_RATE + lane] + of_height * b[r.LAST + r.CLIMB + lane]
    grazes: bool = (before > zero) & (after < zero)
    return grazes


@looped
def watch_lanes(b: FloatArray) -> None:
    """Measure the new nodes and flag every lane in whose step something may have happened."""
    for lane in range(LANES):
        real = type(b[0])
        zero = real(0.0)
        measure(b, lane)
        waiting = b[r.TIME + lane] >= b[r.EARLIEST + lane] - b[r.CLOSE + lane]
        inside = reached(b, r.STAGE, lane) >= zero
        inside |= reached(b, r.FINISH, lane) >= zero
        inside |= reached(b, r.CONTACT, lane) >= zero
        inside |= waiting & ((reached(b, r.GATE, lane) >= zero) | _grazes(b, r.GATE, lane))
        kink = (b[r.CAPPED + lane] < zero) != (b[r.CAPPED_LATER + lane] < zero)
        inside |= kink & (b[r.STEP + lane] > real(SHORT_S))
        b[r.FLAG + lane] = real(SEEN) if inside else zero


@looped
def flagged(b: FloatArray) -> int:
    """Return which lanes are flagged: bit l of the number stands for lane l."""
    bits = 0
    for lane in range(LANES):
        bits |= 1 << lane if b[r.FLAG + lane] > type(b[0])(0.0) else 0
    return bits


@looped
def score(b: FloatArray) -> None:
    """Score the steps as they were accepted; flag every lane that wants to be attended to."""
    for lane in range(LANES):
        _score_heights(b, lane)
    for lane in range(LANES):
        _score_lowest(b, lane)
    for lane in range(LANES):
        _score_climb(b, lane)
    for lane in range(LANES):
        _flag(b, lane)


@inlined
def _score_heights(b: FloatArray, lane: int) -> None:
    """Score the height and the energy height at the score time that lies in a lane's step."""
    real = type(b[0])
    time, close, dt = b[r.TIME + lane], b[r.CLOSE + lane], b[r.STEP + lane]
    at = b[r.NEXT_SCORE + lane]
    hit = b[r.NEW + r.TIME + lane] >= at - close
    x = min((at - time) / max(dt, close), real(1.0))
    speed, height = within(b, 1, lane, x), within(b, 3, lane, x)
    first = b[r.START_SPEED + lane]
    energy = height + (speed - first) * (speed + first) * real(0.5 / STANDARD_GRAVITY)
    for j in range(len(SCORE_TIMES_S)):
        here = hit & (at == real(SCORE_TIMES_S[j]))
        if here:
            b[_HEIGHT + j * LANES + lane] = height
            b[_ENERGY_HEIGHT + j * LANES + lane] = energy
    following = real(NEVER)
    for j in range(len(SCORE_TIMES_S) - 1):
        following = real(SCORE_TIMES_S[j + 1]) if at == real(SCORE_TIMES_S[j]) else following
    b[r.NEXT_SCORE + lane] = following if hit else at


@inlined
def _score_lowest(b: FloatArray, lane: int) -> None:
    """Score the lowest height: where the cubic through a step turns upwards, or its end."""
    zero, dt = type(b[0])(0.0), b[r.STEP + lane]
    h0, h1, d0, d1 = _height_curve(b, lane)
    bottom = hermite(turning_point(h0, h1, dt * d0, dt * d1), h0, h1, dt * d0, dt * d1)
    lowest = bottom if (d0 < zero) & (d1 > zero) else h1
    b[_LOWEST + lane] = min(b[_LOWEST + lane], lowest)


@inlined
def _score_climb(b: FloatArray, lane: int) -> None:
    """Score when a lasting climb began: its threshold is passed where the cubic turns as seen from a steady climb."""
    real = type(b[0])
    time, dt, since, slow = b[r.TIME + lane], b[r.STEP + lane], b[r.CLIMBING_SINCE + lane], real(CLIMBING_MPS)
    h0, h1, d0, d1 = _height_curve(b, lane)
    passed = time + dt * turning_point(h0, h1 - dt * slow, dt * (d0 - slow), dt * (d1 - slow))
    until = passed if (d0 > slow) & (d1 <= slow) else (b[r.NEW + r.TIME + lane] if d1 > slow else time)
    climbed = b[_CLIMB_TIME + lane]
    b[_CLIMB_TIME + lane] = since if (until - since >= real(SUSTAINED_S)) & (climbed >= real(NEVER)) else climbed
    going_on = since if d1 > slow else real(NEVER)
    b[r.CLIMBING_SINCE + lane] = passed if (d0 < slow) & (d1 > slow) & (dt > real(0.0)) else going_on


@inlined
def _height_curve(b: FloatArray, lane: int) -> tuple[float, float, float, float]:
    """Return the heights and rates of climb at both ends of a lane's step."""
    return b[r.HEIGHT + lane], b[r.NEW + r.HEIGHT + lane], b[r.CLIMB + lane], b[r.LAST + r.CLIMB + lane]


@inlined
def _flag(b: FloatArray, lane: int) -> None:
    """Flag a lane that passes the obstacle's height, where something is due at its new node, or whose time is up."""
    real = type(b[0])
    zero, time, close, new_time = real(0.0), b[r.TIME + lane], b[r.CLOSE + lane], b[r.NEW + r.TIME + lane]
    seen = (b[r.HEIGHT + lane] < real(OBSTACLE_M)) & (b[r.NEW + r.HEIGHT + lane] >= real(OBSTACLE_M))
    due = new_time >= min(b[r.NEXT_MOVE + lane], min(b[r.PASSES + lane], b[r.UNTIL_TIME + lane])) - close
    earliest = b[r.EARLIEST + lane] - close
    due |= (new_time >= earliest) & (time < earliest)
    due |= (b[r.EVENT + lane] > zero) | (b[r.ROLLING + lane] > zero)
    over = time >= b[r.DURATION + lane] - close
    flag = (real(SEEN) if seen else zero) + (real(DUE) if due else zero)
    b[r.FLAG + lane] = real(OVER) if over else flag


@inlined
def hermite(x: float, y0: float, y1: float, d0: float, d1: float) -> float:
    """Return the cubic Hermite value at ``x`` in 0..1; ``d`` are end slopes times the step."""
    real = type(x)
    rise = y1 - y0
    bend, twist = real(3.0) * rise - real(2.0) * d0 - d1, d0 + d1 - real(2.0) * rise
    return y0 + x * (d0 + x * (bend + x * twist))


@inlined
def within(b: FloatArray, state: int, lane: int, x: float) -> float:
    """Return speed, path, height or distance (1 to 4) at a share x of a lane's step: by the cubic through its ends."""
    i, rate, dt = r.TIME + state * LANES + lane, r.SPEED_RATE + (state - 1) * LANES + lane, b[r.STEP + lane]
    return hermite(x, b[i], b[r.NEW + i], dt * b[rate], dt * b[r.LAST + rate])


EXCEEDANCE_ROW: Final = r.SCORE + EXCEEDANCE * LANES
PITCH_DROP_ROW: Final = r.SCORE + PITCH_DROP * LANES
_LOWEST: Final = r.SCORE + LOWEST_HEIGHT * LANES
_HEIGHT: Final = r.SCORE + HEIGHT * LANES
_ENERGY_HEIGHT: Final = r.SCORE + ENERGY_HEIGHT * LANES
_CLIMB_TIME: Final = r.SCORE + CLIMB_TIME * LANES
_GROUND: Final = Case._fields.index("ground") * LANES
_PER_PATH_TIME: Final = Case._fields.index("per_path_time") * LANES
_PER_SPEED_TIME: Final = Case._fields.index("per_speed_time") * LANES
