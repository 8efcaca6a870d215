"""Gear, flaps, power and pitch in motion, as straight lines in time, and the tables a lane reads. Compiled.

A device that is turned round starts where it is.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from wringout.airplane import vector as v
from wringout.techniques.flying import lane_rows as r
from wringout.techniques.flying import layout as k
from wringout.techniques.flying.compiling import compiled, inlined
from wringout.techniques.flying.lanes import NEVER, place
from wringout.techniques.stated.types import FloatArray

_SHORTEST_S: Final = 1e-3  # stands for "at once"

# Which case a lane flies and where it stands in it, one row each.
INDEX: Final = 0
DRAW: Final = 1
CELL: Final = 2
PROCEDURE: Final = 3
TECHNIQUE: Final = 4
AT_STAGE: Final = 5
PENDING: Final = 6
AT_MOVE: Final = 7
WHO_SIZE: Final = 8


class Tables(NamedTuple):
    """All a batch reads: parameter rows, procedures with their stages and power moves, conditions, techniques.

    ``reactions`` has shape (draws, MAX_ACTIONS), ``extras`` (cells, X_SIZE), ``limits`` (MAX_SETTINGS + 2,).
    """

    rows: FloatArray
    procedures: FloatArray
    stages: FloatArray
    moves: FloatArray
    conditions: FloatArray
    extras: FloatArray
    reactions: FloatArray
    actions: FloatArray
    limits: FloatArray


@inlined
def move(b: FloatArray, device: int, lane: int, target: float, seconds: float, start: float) -> None:
    """Start a device at a time towards a target it reaches in so many seconds."""
    i = device * r.DEVICE + lane
    now = place(b, device, lane, start)
    lasting = max(seconds, _SHORTEST_S)
    b[r.SINCE + i], b[r.FROM + i], b[r.TARGET + i] = start, now, target
    b[r.RATE + i], b[r.ARRIVES + i] = (target - now) / lasting, start + lasting
    b[r.QUIET + lane] = max(b[r.QUIET + lane], start + lasting)


@inlined
def rest(b: FloatArray, device: int, lane: int, position: float) -> None:
    """Put a device at rest."""
    i = device * r.DEVICE + lane
    b[r.SINCE + i], b[r.FROM + i], b[r.RATE + i] = 0.0, position, 0.0
    b[r.ARRIVES + i], b[r.TARGET + i] = 0.0, position


@inlined
def set_bracket(b: FloatArray, a: FloatArray, limits: FloatArray, lane: int, low: int) -> None:
    """Put the two flap settings the flap is between, ``low`` and the next, into the lane."""
    x, y = a[v.ANGLES + low], a[v.ANGLES + low + 1]
    b[r.LOW_SQUARE + lane], b[r.PER_SQUARE + lane] = x * x, 1.0 / (y * y - x * x)
    b[r.LOW + lane], b[r.PER + lane] = x, 1.0 / (y - x)
    b[r.AREA_LOW + lane], b[r.AREA_STEP + lane] = a[v.F_FLAPS + low], a[v.F_FLAPS + low + 1] - a[v.F_FLAPS + low]
    b[r.CL_LOW + lane], b[r.CL_STEP + lane] = a[v.CL_MAXES + low], a[v.CL_MAXES + low + 1] - a[v.CL_MAXES + low]
    first = a[v.FLAP_SLOPES + low]
    b[r.SLOPE_LOW + lane], b[r.SLOPE_STEP + lane] = first, a[v.FLAP_SLOPES + low + 1] - first
    least = a[v.FLAP_FLOORS + low]
    b[r.FLOOR_LOW + lane], b[r.FLOOR_STEP + lane] = least, a[v.FLAP_FLOORS + low + 1] - least
    b[r.VFE_LOW + lane], b[r.VFE_HIGH + lane] = limits[low], limits[low + 1]


@compiled
def next_bracket(b: FloatArray, a: FloatArray, limits: FloatArray, lane: int, time: float) -> None:
    """Choose the bracket the flap moves through from a time on, and when it passes the setting that ends it.

    ``a`` is the parameter row of the lane's draw, ``limits`` those of `Tables`.
    """
    last = int(a[v.SETTINGS]) - 2
    now, rate = place(b, k.FLAPS, lane, time), b[r.RATE + k.FLAPS * r.DEVICE + lane]
    target, arrives = b[r.TARGET + k.FLAPS * r.DEVICE + lane], b[r.ARRIVES + k.FLAPS * r.DEVICE + lane]
    margin = 1e-5 if rate <= 0.0 else -1e-5  # rad; on a setting, the bracket the flap moves into
    low = 0
    for j in range(last):
        low += 1 if now > a[v.ANGLES + j + 1] + margin else 0
    set_bracket(b, a, limits, lane, low)
    b[r.PASSES + lane] = NEVER
    if time < arrives and rate != 0.0:
        end = a[v.ANGLES + low] if rate < 0.0 else a[v.ANGLES + low + 1]
        beyond = target < end - 1e-6 if rate < 0.0 else target > end + 1e-6
        if beyond:
            b[r.PASSES + lane] = time + (end - now) / rate
