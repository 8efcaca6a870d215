"""Lanes: the part of the kernel that flies many trajectories abreast. Compiled; every loop over lanes is vectorised.

Each lane has its own clock. A step of a lane ends at its own next corner (power, a device starting, arriving or passing
a detent, a score time), so results do not depend on who flies beside it. Whatever happens to one lane only (an action,
a change of stage, a score to note) is left to `wringout.techniques.moments`: `check` raises the lane's flag for it.
"""

from __future__ import annotations

from typing import Final

from wringout.techniques import lane_rows as r
from wringout.techniques import layout as k
from wringout.techniques.compiling import inlined, looped
from wringout.techniques.lane_rows import LANES
from wringout.techniques.motion import MODE_ATTITUDE, Now, Rates, equivalent_airspeed, rates
from wringout.techniques.scores import (
    CLIMB_TIME,
    CLIMBING_MPS,
    EXCEEDANCE,
    LOWEST_HEIGHT,
    OBSTACLE_DISTANCE,
    OBSTACLE_M,
    PITCH_DROP,
    STALL_RATIO,
    SUSTAINED_S,
)
from wringout.techniques.start import case_at
from wringout.techniques.types import FloatArray

NEVER: Final = 1e30  # a time that does not come
INSIDE: Final = 2.0  # flag of a lane to which something may happen within the step; 1 for what happens at its end
_SHARE: Final = 0.6  # longest step as a share of the time constant of the flight path
_SETTLED: Final = 3.5  # time constants after which steps grow
_SHORT_S: Final = 0.06  # a step over the kink where lift meets CLmax may be this long


@inlined
def now_at(b: FloatArray, when: int, lane: int) -> Now:
    """Return what acts on a lane's airplane halfway through its step (``r.MIDDLE``) or at its end (``r.END``)."""
    i = when + lane
    return Now(
        b[r.POWER + i],
        b[r.ATTITUDE + i],
        b[r.GEAR_AREA + i],
        b[r.FLAP_AREA + i],
        b[r.FLAP_SLOPE + i],
        b[r.SHIFT + i],
        b[r.CL_MAX + i],
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
    real = type(time)
    zero, one = real(0.0), real(1.0)
    i = when + lane
    gear, flap = place(b, k.GEAR, lane, time), place(b, k.FLAPS, lane, time)
    square = min(max((flap * flap - b[r.LOW_SQUARE + lane]) * b[r.PER_SQUARE + lane], zero), one)
    share = min(max((flap - b[r.LOW + lane]) * b[r.PER + lane], zero), one)
    most = b[r.CL_LOW + lane] + share * b[r.CL_STEP + lane]
    open_doors = b[r.DOORS + lane] * gear * (one - gear)
    unshielded = max(one - b[r.SHIELD + lane] * flap, zero)
    b[r.POWER + i], b[r.ATTITUDE + i] = place(b, k.POWER, lane, time), place(b, k.PITCH, lane, time)
    b[r.GEAR_AREA + i] = b[r.GEAR_FULL_AREA + lane] * (gear + open_doors) * unshielded
    b[r.FLAP_AREA + i] = b[r.AREA_LOW + lane] + square * b[r.AREA_STEP + lane]
    b[r.FLAP_SLOPE + i] = b[r.SLOPE_LOW + lane] + share * b[r.SLOPE_STEP + lane]
    b[r.SHIFT + i], b[r.CL_MAX + i] = most - b[r.CL_CLEAN + lane], most
    b[r.GEAR_AT + i], b[r.FLAP_AT + i] = gear, flap


@inlined
def _sooner(end: float, corner: float, soon: float) -> float:
    return corner if (corner > soon) & (corner < end) else end


@looped
def plan(b: FloatArray, longest: float, quiet: float) -> None:
    """Choose each lane's next step: to its next corner, or one of equal parts of the way there.

    A step is never longer than ``longest`` nor than a share of the time constant of the flight path (lift damping at a
    held attitude, the pilot's own otherwise); once nothing has moved for some of them, steps are ``quiet`` times that.
    """
    for lane in range(LANES):
        real = type(b[0])
        now, close = b[r.TIME + lane], b[r.CLOSE + lane]
        soon = now + close
        end = b[r.DURATION + lane]
        end = _sooner(end, b[r.EARLIEST + lane], soon)
        end = _sooner(end, b[r.UNTIL_TIME + lane], soon)
        end = _sooner(end, b[r.NEXT_SCORE + lane], soon)
        end = _sooner(end, b[r.NEXT_MOVE + lane], soon)
        end = _sooner(end, b[r.PASSES + lane], soon)
        end = _sooner(end, b[r.FORCED + lane], soon)
        b[r.CORNER + lane] = end
        end = _sooner(end, b[r.ARRIVES + lane], soon)
        end = _sooner(end, b[r.ARRIVES + r.DEVICE + lane], soon)
        end = _sooner(end, b[r.ARRIVES + 2 * r.DEVICE + lane], soon)
        end = _sooner(end, b[r.ARRIVES + 3 * r.DEVICE + lane], soon)
        held = b[r.MODE + lane] == real(MODE_ATTITUDE)
        lift_time, path_time = b[r.LIFT_TIME + lane], b[r.PATH_TIME + lane]
        fastest = lift_time if held else path_time
        step = min(longest, real(_SHARE) * fastest)
        step = step * quiet if now >= b[r.QUIET + lane] + real(_SETTLED) * fastest else step
        room = end - now
        parted = now + (real(0.5) * room if room <= real(2.0) * step else step)
        b[r.TIME + r.NEW + lane] = end if room <= step * real(1.000001) else parted
        b[r.STEP + lane] = b[r.TIME + r.NEW + lane] - now


@looped
def step(b: FloatArray) -> None:
    """Fly one step of every lane: classical Runge-Kutta of fourth order; fills the new node."""
    for lane in range(LANES):
        set_controls(b, r.MIDDLE, lane, b[r.TIME + lane] + type(b[0])(0.5) * b[r.STEP + lane])
        set_controls(b, r.END, lane, b[r.TIME + r.NEW + lane])
    for lane in range(LANES):
        half = type(b[0])(0.5) * b[r.STEP + lane]
        v = b[r.SPEED + lane] + half * b[r.SPEED_RATE + lane]
        p = b[r.PATH + lane] + half * b[r.PATH_RATE + lane]
        h = b[r.HEIGHT + lane] + half * b[r.CLIMB + lane]
        _keep(b, r.TWO, lane, rates(case_at(b, lane, LANES), now_at(b, r.MIDDLE, lane), v, p, h))
    for lane in range(LANES):
        half = type(b[0])(0.5) * b[r.STEP + lane]
        v = b[r.SPEED + lane] + half * b[r.SPEED_RATE + r.TWO + lane]
        p = b[r.PATH + lane] + half * b[r.PATH_RATE + r.TWO + lane]
        h = b[r.HEIGHT + lane] + half * b[r.CLIMB + r.TWO + lane]
        _keep(b, r.THREE, lane, rates(case_at(b, lane, LANES), now_at(b, r.MIDDLE, lane), v, p, h))
    for lane in range(LANES):
        dt = b[r.STEP + lane]
        v = b[r.SPEED + lane] + dt * b[r.SPEED_RATE + r.THREE + lane]
        p = b[r.PATH + lane] + dt * b[r.PATH_RATE + r.THREE + lane]
        h = b[r.HEIGHT + lane] + dt * b[r.CLIMB + r.THREE + lane]
        four = rates(case_at(b, lane, LANES), now_at(b, r.END, lane), v, p, h)
        b[r.SPEED + r.NEW + lane] = b[r.SPEED + lane] + _fourth(b, r.SPEED_RATE, lane, four.speed)
        b[r.PATH + r.NEW + lane] = b[r.PATH + lane] + _fourth(b, r.PATH_RATE, lane, four.path)
        b[r.HEIGHT + r.NEW + lane] = b[r.HEIGHT + lane] + _fourth(b, r.CLIMB, lane, four.climb)
        b[r.DISTANCE + r.NEW + lane] = b[r.DISTANCE + lane] + _fourth(b, r.ALONG, lane, four.along)
    for lane in range(LANES):
        case, speed, height = case_at(b, lane, LANES), b[r.SPEED + r.NEW + lane], b[r.HEIGHT + r.NEW + lane]
        found = rates(case, now_at(b, r.END, lane), speed, b[r.PATH + r.NEW + lane], height)
        _keep(b, r.NEW, lane, found)
        b[r.LIFT + r.NEW + lane], b[r.MOST + r.NEW + lane] = found.lift, found.most
        b[r.ASKED + r.NEW + lane] = found.asked
        b[r.EAS + r.NEW + lane] = equivalent_airspeed(case, speed, height)


@inlined
def _keep(b: FloatArray, node: int, lane: int, found: Rates) -> None:
    b[r.SPEED_RATE + node + lane], b[r.PATH_RATE + node + lane] = found.speed, found.path
    b[r.CLIMB + node + lane], b[r.ALONG + node + lane] = found.climb, found.along


@inlined
def _fourth(b: FloatArray, rate: int, lane: int, last: float) -> float:
    """Return the change over a step: ``dt / 6 (k1 + 2 k2 + 2 k3 + k4)``."""
    real = type(last)
    twice = real(2.0) * (b[rate + r.TWO + lane] + b[rate + r.THREE + lane])
    change: float = b[r.STEP + lane] * real(1.0 / 6.0) * (b[rate + lane] + twice + last)
    return change


@inlined
def evaluate(b: FloatArray, lane: int) -> None:
    """Fill the rates and forces of a lane's new node from its state and what acts at its time."""
    case, speed, height = case_at(b, lane, LANES), b[r.SPEED + r.NEW + lane], b[r.HEIGHT + r.NEW + lane]
    found = rates(case, now_at(b, r.END, lane), speed, b[r.PATH + r.NEW + lane], height)
    b[r.SPEED_RATE + r.NEW + lane], b[r.PATH_RATE + r.NEW + lane] = found.speed, found.path
    b[r.CLIMB + r.NEW + lane], b[r.ALONG + r.NEW + lane] = found.climb, found.along
    b[r.LIFT + r.NEW + lane], b[r.MOST + r.NEW + lane] = found.lift, found.most
    b[r.ASKED + r.NEW + lane] = found.asked
    b[r.EAS + r.NEW + lane] = equivalent_airspeed(case, speed, height)


@inlined
def watched(b: FloatArray, which: int, node: int, lane: int) -> float:
    """Return the quantity whose passing zero upwards is an event, at a node (0 or ``r.NEW``) of a lane."""
    i, j = which + lane, node + lane
    states: float = b[r.OF_EAS + i] * b[r.EAS + j] + b[r.OF_HEIGHT + i] * b[r.HEIGHT + j]
    states += b[r.OF_CLIMB + i] * b[r.CLIMB + j] + b[r.OF_ONE + i]
    return states


@looped
def check(b: FloatArray) -> None:
    """Raise the flag of every lane to which something happens in this step or at its end."""
    for lane in range(LANES):
        real = type(b[0])
        zero, slow = real(0.0), real(CLIMBING_MPS)
        time, close = b[r.TIME + r.NEW + lane], b[r.CLOSE + lane]
        d0, d1, h0, h1 = b[r.CLIMB + lane], b[r.CLIMB + r.NEW + lane], b[r.HEIGHT + lane], b[r.HEIGHT + r.NEW + lane]
        capped, still = b[r.ASKED + lane] > b[r.MOST + lane], b[r.ASKED + r.NEW + lane] > b[r.MOST + r.NEW + lane]
        waiting = time >= b[r.EARLIEST + lane] - close
        inside = watched(b, r.STAGE, r.NEW, lane) >= zero
        inside |= watched(b, r.FINISH, r.NEW, lane) >= zero
        inside |= watched(b, r.CONTACT, r.NEW, lane) >= zero
        inside |= waiting & (watched(b, r.GATE, r.NEW, lane) >= zero)
        inside |= (capped != still) & (b[r.STEP + lane] > real(_SHORT_S))
        seen = time >= b[r.CORNER + lane] - close
        seen |= (d0 < zero) & (d1 > zero)
        seen |= (d0 < slow) != (d1 < slow)
        seen |= (h0 < real(OBSTACLE_M)) & (h1 >= real(OBSTACLE_M))
        seen |= b[r.ROLLING + lane] > zero
        b[r.FLAG + lane] = real(INSIDE) if inside else (real(1.0) if seen else zero)
        b[r.ACCEPT + lane] = real(1.0)


@looped
def advance(b: FloatArray) -> None:
    """Take in the new node of every lane whose step was accepted: margins, and from there the next step starts.

    Doing it twice changes nothing.
    """
    for lane in range(LANES):
        real = type(b[0])
        zero = real(0.0)
        kept = b[r.ACCEPT + lane] > zero
        lift, most, asked = b[r.LIFT + r.NEW + lane], b[r.MOST + r.NEW + lane], b[r.ASKED + r.NEW + lane]
        margin = most / max(lift, real(1e-3) * most)
        flap, gear = b[r.FLAP_AT + r.END + lane], b[r.GEAR_AT + r.END + lane]
        low, high, down, moving = b[r.VFE_LOW + lane], b[r.VFE_HIGH + lane], b[r.VLE + lane], b[r.VLO + lane]
        limit = high if flap > b[r.LOW + lane] + real(1e-6) else low
        limit = min(limit, down) if gear >= real(1.0) else (min(limit, moving) if gear > zero else limit)
        above = b[r.EAS + r.NEW + lane] / b[r.EAS_PER_CAS + lane] - limit
        alpha = (asked / most * b[r.CL_MAX + r.END + lane] - b[r.SHIFT + r.END + lane]) / b[r.LIFT_SLOPE + lane]
        pitch = b[r.PATH + r.NEW + lane] + alpha
        top = max(b[r.PITCH_TOP + lane], pitch)
        ratio, beyond = b[_STALL_RATIO + lane], b[_EXCEEDANCE + lane]
        drop, lowest = b[_PITCH_DROP + lane], b[_LOWEST + lane]
        b[_STALL_RATIO + lane] = min(ratio, margin) if kept else ratio
        b[_EXCEEDANCE + lane] = max(beyond, above) if kept else beyond
        b[_PITCH_DROP + lane] = max(drop, top - pitch) if kept else drop
        old_top = b[r.PITCH_TOP + lane]
        b[r.PITCH_TOP + lane] = top if kept else old_top
        height, time = b[r.HEIGHT + r.NEW + lane], b[r.TIME + r.NEW + lane]
        b[_LOWEST + lane] = min(lowest, height) if kept else lowest
        since, climbed = b[r.CLIMBING_SINCE + lane], b[_CLIMB_TIME + lane]
        lasted = kept & (time - since >= real(SUSTAINED_S)) & (climbed >= real(NEVER))
        b[_CLIMB_TIME + lane] = since if lasted else climbed
        for row in range(_NODE_ROWS):
            i = r.TIME + row * LANES + lane
            before, after = b[i], b[r.NEW + i]
            b[i] = after if kept else before


_NODE_ROWS: Final = r.NEW // LANES


_STALL_RATIO: Final = r.SCORE + STALL_RATIO * LANES
_EXCEEDANCE: Final = r.SCORE + EXCEEDANCE * LANES
_PITCH_DROP: Final = r.SCORE + PITCH_DROP * LANES
_LOWEST: Final = r.SCORE + LOWEST_HEIGHT * LANES
_CLIMB_TIME: Final = r.SCORE + CLIMB_TIME * LANES
_OBSTACLE: Final = r.SCORE + OBSTACLE_DISTANCE * LANES
