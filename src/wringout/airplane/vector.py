"""The airplane as one flat row of SI numbers: the layout every fast routine shares.

A *parameter row* is a float64 array of shape ``(SIZE,)``; posterior draws are a matrix ``(n, SIZE)``. The constants
below are indices into it, so the equations in :mod:`wringout.airplane.forces` read ``a[F_GEAR]``. Flap tables hold
up to ``MAX_SETTINGS`` detents, the first always up (angle 0).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

WING_AREA: Final = 0  # m2
SPAN: Final = 1  # m
OSWALD: Final = 2  # span efficiency e
F_CLEAN: Final = 3  # m2, equivalent parasite area, gear and flaps up
F_GEAR: Final = 4  # m2, added by the gear, flaps up
GEAR_BUMP: Final = 5  # share of F_GEAR added halfway through transit by opening doors
KAPPA: Final = 6  # share of F_GEAR that full flap shields
PROPELLER_LAW: Final = 7  # 0 constant speed, 1 fixed pitch; see forces.thrust
CL_REFERENCE: Final = 8  # lift coefficient at which the flap areas are quoted
DISK_AREA: Final = 9  # m2, propeller disk
DISK_EFFICIENCY: Final = 10  # eta_d, loss factor beyond the ideal disk, at EFFICIENCY_SPEED
EFFICIENCY_SLOPE: Final = 11  # constant speed: n in disk power ~ (V / V_ref)^n; fixed pitch: b in T = E - b rho D^2 V^2
EFFICIENCY_SPEED: Final = 12  # m/s, V_ref
RATED_POWER: Final = 13  # W, full throttle, sea level
ALTITUDE_LAW: Final = 14  # C in P/P0 = (sigma - C) / (1 - C)
GEAR_DOWN_TIME: Final = 15  # s, full travel
GEAR_UP_TIME: Final = 16  # s
FLAP_DOWN_TIME: Final = 17  # s, up to full
FLAP_UP_TIME: Final = 18  # s, full to up
LIFT_SLOPE: Final = 19  # per rad
STALL_RATE_SLOPE: Final = 20  # fractional change of stall speed per m/s2 of entry rate
IAS_BIAS: Final = 21  # m/s, indicated minus true indication, all speeds
MASS_FACTOR: Final = 22  # true mass / stated mass
SETTINGS: Final = 23  # number of flap detents in the tables
ANGLES: Final = 24  # rad, then MAX_SETTINGS values
MAX_SETTINGS: Final = 8
F_FLAPS: Final = ANGLES + MAX_SETTINGS  # m2
CL_MAXES: Final = F_FLAPS + MAX_SETTINGS
FLAP_SLOPES: Final = CL_MAXES + MAX_SETTINGS  # m2 per unit CL, change of the flap's area with lift coefficient
FLAP_FLOORS: Final = FLAP_SLOPES + MAX_SETTINGS  # m2, what a flap's area does not fall below, however much lift
CLEAN_SLOPE: Final = FLAP_FLOORS + MAX_SETTINGS  # m2 per unit CL: how the clean area departs from a parabola
THRUST_BEND: Final = CLEAN_SLOPE + 1  # how thrust leaves its law with speed; see forces.thrust_bend
SIZE: Final = THRUST_BEND + 1

FloatArray = NDArray[np.float64]

EFFICIENCY_REFERENCE_MPS: Final = 45.0


def with_flap_tables(
    row: FloatArray,
    angles_rad: Sequence[float],
    areas_m2: Sequence[float],
    cl_maxes: Sequence[float],
    slopes_m2: Sequence[float] | None = None,
    floors_m2: Sequence[float] | None = None,
) -> FloatArray:
    """Return a copy of ``row`` with its flap tables set (equal lengths, first angle 0, at most MAX_SETTINGS).

    ``slopes_m2`` is the change of each setting's area per unit lift coefficient, ``floors_m2`` what it does not fall
    below; zero when not given.
    """
    n = len(angles_rad)
    nothing = [0.0] * n
    tables = (
        (ANGLES, angles_rad),
        (F_FLAPS, areas_m2),
        (CL_MAXES, cl_maxes),
        (FLAP_SLOPES, slopes_m2 or nothing),
        (FLAP_FLOORS, floors_m2 or nothing),
    )
    out = row.copy()
    out[SETTINGS] = n
    for start, values in tables:
        out[start : start + MAX_SETTINGS] = values[-1]
        out[start : start + n] = values
    return out
