"""An invented 230 hp retractable single and the situations the tests fly it in. Every number is made up."""

from __future__ import annotations

import math

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.vector import FloatArray
from wringout.techniques.stated.orders import Detent
from wringout.techniques.stated.types import Domain, EntrySpeed, GoAround
from wringout.units import DEGREE, FOOT, HORSEPOWER, INCH, KNOT, POUND, SQUARE_FOOT

HALF, FULL = 20.0 * DEGREE, 40.0 * DEGREE
DETENTS = (Detent("up", 0.0), Detent("half", HALF), Detent("full", FULL))
MASS_KG = 3000.0 * POUND


def airplane_row() -> FloatArray:
    """Return the parameter row of the invented airplane."""
    area, span = 174.0 * SQUARE_FOOT, 33.5 * FOOT
    aspect = span * span / area
    row = np.zeros(v.SIZE)
    row[v.WING_AREA], row[v.SPAN], row[v.OSWALD] = area, span, 0.75
    row[v.F_CLEAN], row[v.F_GEAR], row[v.KAPPA] = 3.9 * SQUARE_FOOT, 4.6 * SQUARE_FOOT, 0.3
    row[v.CL_REFERENCE] = 0.7
    row[v.DISK_AREA] = math.pi / 4.0 * (76.0 * INCH) ** 2
    row[v.DISK_EFFICIENCY], row[v.EFFICIENCY_SLOPE], row[v.EFFICIENCY_SPEED] = 0.82, 0.1, 45.0
    row[v.RATED_POWER], row[v.ALTITUDE_LAW] = 230.0 * HORSEPOWER, 0.132 / 1.132
    row[v.GEAR_DOWN_TIME] = row[v.GEAR_UP_TIME] = 7.0
    row[v.FLAP_DOWN_TIME] = row[v.FLAP_UP_TIME] = 6.0
    # Helmbold's relation for straight wings, 2 pi A / (2 + sqrt(4 + A^2)) (Helmbold 1942; in textbooks of aerodynamics,
    # quoted from memory)
    row[v.LIFT_SLOPE] = 2.0 * math.pi * aspect / (2.0 + math.sqrt(4.0 + aspect * aspect))
    row[v.MASS_FACTOR] = 1.0
    areas = (0.0, 2.4 * SQUARE_FOOT, 6.9 * SQUARE_FOOT)
    return v.with_flap_tables(row, (0.0, HALF, FULL), areas, (1.35, 1.85, 2.0))


def airplane_draws(count: int, seed: int = 5) -> FloatArray:
    """Return invented posterior draws: a few per cent of scatter on what a study would leave uncertain."""
    rng = np.random.default_rng(seed)
    rows = np.tile(airplane_row(), (count, 1))
    for column, share in (
        (v.F_CLEAN, 0.05), (v.F_GEAR, 0.06), (v.OSWALD, 0.05), (v.DISK_EFFICIENCY, 0.03), (v.GEAR_UP_TIME, 0.05),
        (v.FLAP_UP_TIME, 0.05), (v.MASS_FACTOR, 0.01),
    ):  # fmt: skip
        rows[:, column] *= np.exp(share * rng.standard_normal(count))
    rows[:, v.KAPPA] += 0.08 * rng.standard_normal(count)
    rows[:, v.EFFICIENCY_SLOPE] += 0.1 * rng.standard_normal(count)
    for j in (1, 2):
        rows[:, v.F_FLAPS + j] *= np.exp(0.06 * rng.standard_normal(count))
    return rows


def situation(**changes: object) -> GoAround:
    """Return an approach at 1.3 times the stall speed with full flap, with some fields changed."""
    fields: dict[str, object] = {"start_flap_rad": FULL, "entry_speed": EntrySpeed(1.3)}
    return GoAround(**(fields | changes))  # type: ignore[arg-type]


DOMAIN = Domain((2800.0 * POUND, 3300.0 * POUND), (0.0, 5000.0 * FOOT), (-5.0, 20.0), (1.25, 1.35))
CAS_ENTRY = 72.0 * KNOT
