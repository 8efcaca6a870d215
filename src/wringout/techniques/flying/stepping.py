"""One step of every lane: Runge-Kutta of fourth order, the path with its own relaxation taken out. Compiled.

The flight path relaxes fast, at a rate that is known: that of lift damping at a held attitude, the pilot's own where he
bends the path. Everything else is slow. The step therefore solves ``gamma' = -r (gamma - gamma_0) + drive`` exactly for
a drive that is a parabola in time, and the other states by the classical weights: the exponential Runge-Kutta method
ETDRK4 (Cox and Matthews, J. Comput. Phys. 176, 2002; cited from memory). With r = 0 it is the classical method. Steps
may so be several relaxation times long once what drives the path is slow, where the classical one would blow up.

Thrust is worked out twice in a step, halfway and at its end; its slope in speed carries it to the two states nearby.
"""

from __future__ import annotations

import numpy as np

from wringout.techniques.flying import lane_rows as r
from wringout.techniques.flying.compiling import inlined, looped
from wringout.techniques.flying.lane_rows import LANES
from wringout.techniques.flying.lanes import EXCEEDANCE_ROW, PITCH_DROP_ROW, now_at, set_controls, set_middle
from wringout.techniques.flying.motion import Part, Rates, rates, thrust_at
from wringout.techniques.flying.polynomials import relaxation
from wringout.techniques.flying.start import case_at
from wringout.techniques.stated.types import FloatArray


@looped
def step(b: FloatArray, ground: Part, held: Part, bent: Part) -> None:
    """Fly one step of every lane; fills the new node. What lanes may be in: see `motion.rates`.

    Each stage is a loop for its state and thrust and one for its rates: many short loops keep a vector unit busier than
    one long one.
    """
    for lane in range(LANES):
        set_controls(b, r.END, lane, b[r.NEW + r.TIME + lane])
        set_middle(b, lane)
    for lane in range(LANES):
        v, p, h = b[r.SPEED + lane], b[r.PATH + lane], b[r.HEIGHT + lane]
        one = rates(case_at(b, lane, LANES), now_at(b, r.START, lane), v, p, h, b[r.PULL + lane], ground, held, bent)
        _keep(b, r.START, lane, one)
        b[r.CAPPED + lane], b[r.LOAD + lane], b[r.CL_ASKED + lane] = one.most - one.asked, one.load, one.cl
    for lane in range(LANES):
        _note_margins(b, lane)
        _weigh(b, lane)
        half = type(b[0])(0.5) * b[r.STEP + lane]
        _stage(b, r.START, lane, half, b[r.HALF_ONE + lane] * b[r.PATH_RATE + lane])
        _pull_halfway(b, lane)
    for lane in range(LANES):
        two = _rates(b, r.MIDDLE, lane, ground, held, bent)
        _keep(b, r.TWO, lane, two)
        b[r.DRIVE_2 + lane] = _drive(b, lane, two.path)
    for lane in range(LANES):
        half, before = type(b[0])(0.5) * b[r.STEP + lane], b[r.STAGE_SPEED + lane]
        b[r.STAGE_TURN + lane] = b[r.STAGE_PATH + lane] - b[r.PATH + lane]
        _stage(b, r.TWO, lane, half, b[r.HALF_ONE + lane] * b[r.DRIVE_2 + lane])
        b[r.STAGE_PULL + lane] += b[r.PULL_SLOPE + lane] * (b[r.STAGE_SPEED + lane] - before)
    for lane in range(LANES):
        three = _rates(b, r.MIDDLE, lane, ground, held, bent)
        _keep(b, r.THREE, lane, three)
        b[r.DRIVE_3 + lane], b[r.LOADED_WITHIN + lane] = _drive(b, lane, three.path), three.load
        alpha = (three.cl - b[r.MIDDLE + r.SHIFT + lane]) * b[r.ALPHA_PER_CL + lane]
        b[r.PITCH_WITHIN + lane] = b[r.STAGE_PATH + lane] + alpha
    for lane in range(LANES):
        twice = type(b[0])(2.0) * b[r.DRIVE_3 + lane] - b[r.PATH_RATE + lane]
        turned = b[r.FADE + lane] * b[r.STAGE_TURN + lane] + b[r.HALF_ONE + lane] * twice
        _stage(b, r.THREE, lane, b[r.STEP + lane], turned)
        _pull_at_end(b, lane)
    for lane in range(LANES):
        _finish(b, lane, _rates(b, r.END, lane, ground, held, bent))


@inlined
def _stage(b: FloatArray, rate: int, lane: int, after: float, turned: float) -> None:
    """Fill the state of a stage, so long after the start of the step at the rates of a stage before."""
    b[r.STAGE_SPEED + lane] = b[r.SPEED + lane] + after * b[r.SPEED_RATE + rate + lane]
    b[r.STAGE_HEIGHT + lane] = b[r.HEIGHT + lane] + after * b[r.CLIMB + rate + lane]
    b[r.STAGE_PATH + lane] = b[r.PATH + lane] + turned


@inlined
def _pull_halfway(b: FloatArray, lane: int) -> None:
    v, h = b[r.STAGE_SPEED + lane], b[r.STAGE_HEIGHT + lane]
    found = thrust_at(case_at(b, lane, LANES), b[r.MIDDLE + r.POWER + lane], v, h)
    b[r.STAGE_PULL + lane], b[r.PULL_SLOPE + lane] = found.thrust, found.slope


@inlined
def _pull_at_end(b: FloatArray, lane: int) -> None:
    v, h = b[r.STAGE_SPEED + lane], b[r.STAGE_HEIGHT + lane]
    found = thrust_at(case_at(b, lane, LANES), b[r.END + r.POWER + lane], v, h)
    b[r.STAGE_PULL + lane], b[r.PULL_SLOPE + lane] = found.thrust, found.slope


@inlined
def _rates(b: FloatArray, when: int, lane: int, ground: Part, held: Part, bent: Part) -> Rates:
    v, p, h = b[r.STAGE_SPEED + lane], b[r.STAGE_PATH + lane], b[r.STAGE_HEIGHT + lane]
    return rates(case_at(b, lane, LANES), now_at(b, when, lane), v, p, h, b[r.STAGE_PULL + lane], ground, held, bent)


@inlined
def _keep(b: FloatArray, node: int, lane: int, found: Rates) -> None:
    b[r.SPEED_RATE + node + lane], b[r.PATH_RATE + node + lane] = found.speed, found.path
    b[r.CLIMB + node + lane], b[r.ALONG + node + lane] = found.climb, found.along


@inlined
def _drive(b: FloatArray, lane: int, path_rate: float) -> float:
    """Return what drives the path at a stage besides its own relaxation towards that of the start."""
    drive: float = path_rate + b[r.RELAX + lane] * (b[r.STAGE_PATH + lane] - b[r.PATH + lane])
    return drive


@inlined
def _weigh(b: FloatArray, lane: int) -> None:
    """Fill the weights of the drives over a step: the classical ones where nothing relaxes (lift cut, wheels rolling).

    With ``x = -r dt / 2``: half a step counts ``phi_1(x)``, the end ``phi_1 - 3 phi_2 + 4 phi_3``,
    ``2 phi_2 - 4 phi_3`` for each of the middle ones and ``4 phi_3 - phi_2``, all of ``2 x``.
    """
    real = type(b[0])
    half, quarter = real(0.5), real(0.25)
    free = (b[r.CAPPED + lane] < real(0.0)) | (b[r.ROLLING + lane] > real(0.0))
    rate, dt = real(0.0) if free else b[r.RELAX + lane], b[r.STEP + lane]
    near = relaxation(max(-half * rate * dt, real(-3.0)))
    one = half * near.one * (real(1.0) + near.fade)
    two = quarter * near.one * near.one + half * near.two
    four_thirds = half * near.two * (real(1.0) + near.one) + near.three  # four times phi_3 of the whole step
    b[r.RELAX + lane], b[r.FADE + lane], b[r.HALF_ONE + lane] = rate, near.fade, half * dt * near.one
    b[r.WEIGHT_1 + lane] = dt * (one - real(3.0) * two + four_thirds)
    b[r.WEIGHT_2 + lane] = dt * (two + two - four_thirds)
    b[r.WEIGHT_4 + lane] = dt * (four_thirds - two)


@inlined
def _fourth(b: FloatArray, rate: int, lane: int, last: float) -> float:
    """Return the change over a step: ``dt / 6 (k1 + 2 k2 + 2 k3 + k4)``."""
    real = type(last)
    twice = real(2.0) * (b[rate + r.TWO + lane] + b[rate + r.THREE + lane])
    change: float = b[r.STEP + lane] * real(1.0 / 6.0) * (b[rate + lane] + twice + last)
    return change


@inlined
def _bend(b: FloatArray, rate: int, lane: int, last: float) -> float:
    """Return how a rate bends over a step: the second difference of its stages."""
    bend: float = b[rate + lane] - (b[rate + r.TWO + lane] + b[rate + r.THREE + lane]) + last
    return abs(bend)


@inlined
def _finish(b: FloatArray, lane: int, four: Rates) -> None:
    """Fill the new node, and how restless the step was: the fourth root of the bend of its rates over its square."""
    real = type(b[0])
    speed = b[r.SPEED + lane] + _fourth(b, r.SPEED_RATE, lane, four.speed)
    middle = b[r.WEIGHT_2 + lane] * (b[r.DRIVE_2 + lane] + b[r.DRIVE_3 + lane])
    turned = b[r.WEIGHT_1 + lane] * b[r.PATH_RATE + lane] + middle + b[r.WEIGHT_4 + lane] * _drive(b, lane, four.path)
    b[r.NEW + r.SPEED + lane], b[r.NEW + r.PATH + lane] = speed, b[r.PATH + lane] + turned
    b[r.NEW + r.HEIGHT + lane] = b[r.HEIGHT + lane] + _fourth(b, r.CLIMB, lane, four.climb)
    b[r.NEW + r.DISTANCE + lane] = b[r.DISTANCE + lane] + _fourth(b, r.ALONG, lane, four.along)
    pull = b[r.STAGE_PULL + lane] + b[r.PULL_SLOPE + lane] * (speed - b[r.STAGE_SPEED + lane])
    b[r.NEW + r.PULL + lane] = max(pull, real(0.0))
    b[r.LAST + r.SPEED_RATE + lane], b[r.LAST + r.PATH_RATE + lane] = four.speed, four.path
    b[r.CAPPED_LATER + lane] = four.most - four.asked
    bend = _bend(b, r.CLIMB, lane, four.climb) + _bend(b, r.SPEED_RATE, lane, four.speed)
    unrest = np.sqrt(np.sqrt(bend) / max(b[r.STEP + lane], real(1e-2)))
    b[r.UNREST + lane] = unrest if b[r.STEP + lane] > real(0.0) else b[r.UNREST + lane]


@inlined
def _note_margins(b: FloatArray, lane: int) -> None:
    """Note at the start of a step how near the stall, a limit speed or a dropping nose the airplane is.

    Stall and nose are looked at halfway through the step before as well, unless that was cut short.
    """
    real = type(b[0])
    zero = real(0.0)
    b[r.LOADED + lane] = max(b[r.LOADED + lane], max(b[r.LOAD + lane], b[r.LOADED_WITHIN + lane]))
    flap, gear = b[r.FLAP_AT + lane], b[r.GEAR_AT + lane]
    low, high, down, moving = b[r.VFE_LOW + lane], b[r.VFE_HIGH + lane], b[r.VLE + lane], b[r.VLO + lane]
    limit = high if flap > b[r.LOW + lane] + real(1e-6) else low
    limit = min(limit, down) if gear >= real(1.0) else (min(limit, moving) if gear > zero else limit)
    b[EXCEEDANCE_ROW + lane] = max(b[EXCEEDANCE_ROW + lane], b[r.EAS + lane] * b[r.CAS_PER_EAS + lane] - limit)
    pitch = b[r.PATH + lane] + (b[r.CL_ASKED + lane] - b[r.SHIFT + lane]) * b[r.ALPHA_PER_CL + lane]
    before = max(b[r.PITCH_TOP + lane], b[r.PITCH_WITHIN + lane])
    top = max(before, pitch)
    b[r.PITCH_TOP + lane] = top
    drop = max(before - b[r.PITCH_WITHIN + lane], top - pitch)
    b[PITCH_DROP_ROW + lane] = max(b[PITCH_DROP_ROW + lane], drop)
