"""The parameter row of an airplane nobody here wrote, fitted to what JSBSim itself says of its forces.

Drag: least squares through trimmed flight (of pc7, whose thrust blows over wing and tail, through glides at zero
thrust). Thrust: least squares through steady thrust at the lever of the go-around. Lift: trimmed angles of attack.
Transit: the drives' own times. No flight of ours is in it, so that the technique engine alone is held to account.
"""

from __future__ import annotations

import functools
import math

import numpy as np
from scipy.optimize import least_squares

from tests.accuracy.outside_programme import PROGRAMMES, airplane_text, new_crew
from tests.outside.airplanes import Array, Outside
from tests.outside.flight_dynamics_model import max_lift, steady_power, trimmed, weight_lb, wing_area_ft2
from tests.outside.flights import fly_deceleration
from tests.outside.polars import coefficients, device_area
from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.atmosphere import density_kgm3
from wringout.units import DEGREE, FOOT, KNOT, POUND, SQUARE_FOOT, STANDARD_GRAVITY

POUND_FORCE = POUND * STANDARD_GRAVITY


@functools.cache
def identified_row(airplane: Outside, speeds_kias: tuple[float, ...], altitude_ft: float, throttle: float) -> Array:
    """Return the parameter row that fits JSBSim at these speeds, this height and full power at this lever."""
    programme = PROGRAMMES[airplane.model]
    beliefs = airplane_from_document(parse_airplane(airplane_text(programme, new_crew(0))))
    row = np.array(beliefs.prior_row())
    row[v.GEAR_BUMP], row[v.IAS_BIAS], row[v.MASS_FACTOR], row[v.ALTITUDE_LAW] = 0.0, 0.0, 1.0, -1.0e4
    _clean(row, airplane, speeds_kias, altitude_ft)
    _devices(row, airplane, speeds_kias, altitude_ft)
    _power(row, airplane, speeds_kias, altitude_ft, throttle)
    _transit(row, airplane)
    row.setflags(write=False)
    return row


def _lifts(airplane: Outside, speeds_kias: tuple[float, ...], altitude_ft: float) -> Array:
    """Lift coefficients at which the weight is carried."""
    area, weight = wing_area_ft2(airplane), weight_lb(airplane)
    return np.array([weight / (trimmed(s, altitude_ft, 0.0, 0.0, airplane).qbar_psf * area) for s in speeds_kias])


def _clean(row: Array, airplane: Outside, speeds_kias: tuple[float, ...], altitude_ft: float) -> None:
    """A parabola that may lean: three numbers, linear least squares; and the slope of lift over angle of attack."""
    wing = wing_area_ft2(airplane)
    cl, cd = np.array([coefficients(airplane, s, altitude_ft) for s in speeds_kias]).T
    terms = np.column_stack([np.ones(cl.size), cl - row[v.CL_REFERENCE], cl**2])
    area, lean, square = np.linalg.lstsq(terms, cd * wing, rcond=None)[0]
    span_ft2 = (row[v.SPAN] / FOOT) ** 2
    row[v.F_CLEAN], row[v.CLEAN_SLOPE] = area * SQUARE_FOOT, lean * SQUARE_FOOT
    row[v.OSWALD] = wing**2 / (math.pi * span_ft2 * square)
    alpha = [trimmed(s, altitude_ft, 0.0, 0.0, airplane).alpha_rad for s in speeds_kias]
    lift = _lifts(airplane, speeds_kias, altitude_ft)
    row[v.LIFT_SLOPE] = np.polyfit(alpha, lift, 1)[0]


def _devices(row: Array, airplane: Outside, speeds_kias: tuple[float, ...], altitude_ft: float) -> None:
    """Areas over lift coefficient, straight lines; the gear's behind full flap by its mean."""
    cl = _lifts(airplane, speeds_kias, altitude_ft)
    gear = device_area(airplane, speeds_kias, altitude_ft, 0.0, 1.0)
    row[v.F_GEAR] = gear.mean() * SQUARE_FOOT
    full = airplane.full_flap_deg
    flap = np.zeros(cl.size)
    row[v.CL_MAXES] = max_lift(0.0, airplane)
    for i, angle in enumerate(airplane.flap_settings_deg, start=1):
        flap = device_area(airplane, speeds_kias, altitude_ft, angle, 0.0)
        slope, area = np.polyfit(cl - row[v.CL_REFERENCE], flap, 1)
        row[v.F_FLAPS + i], row[v.FLAP_SLOPES + i] = area * SQUARE_FOOT, slope * SQUARE_FOOT
        row[v.CL_MAXES + i] = max_lift(angle, airplane)
    both = device_area(airplane, speeds_kias, altitude_ft, full, 1.0)
    row[v.KAPPA] = 1.0 - (both - flap).mean() / gear.mean()


def _power(row: Array, airplane: Outside, speeds_kias: tuple[float, ...], altitude_ft: float, throttle: float) -> None:
    """Disk power at the reference speed and the propeller law's one number, by least squares on thrust."""
    steady = np.array([steady_power(s, altitude_ft, throttle, airplane) for s in speeds_kias])
    truth, speeds = steady[:, 0] * POUND_FORCE, steady[:, 3] * KNOT
    density = float(density_kgm3(altitude_ft * FOOT, 0.0))
    start = float(forces.reference_disk_power(row, float(truth.mean()), float(speeds.mean()), density))

    def misfit(x: Array) -> Array:
        row[v.EFFICIENCY_SLOPE] = x[1]
        return np.array([forces.thrust(row, x[0] * start, float(s), density) for s in speeds]) / truth - 1.0

    found = least_squares(misfit, [1.0, row[v.EFFICIENCY_SLOPE]])
    row[v.EFFICIENCY_SLOPE], row[v.DISK_EFFICIENCY], row[v.RATED_POWER] = found.x[1], 1.0, found.x[0] * start


def _transit(row: Array, airplane: Outside) -> None:
    """Both drives run as fast up as down in these models."""
    programme = PROGRAMMES[airplane.model]
    for device, down, up in (
        ("gear", v.GEAR_DOWN_TIME, v.GEAR_UP_TIME),
        ("flaps", v.FLAP_DOWN_TIME, v.FLAP_UP_TIME),
    ):
        moved = "gear" if device == "gear" else "flaps"
        entry = programme.entries["gear" if device == "gear" else "full"][0]
        flight = fly_deceleration(
            airplane, moved, entry, programme.altitude_ft, flap_deg=airplane.full_flap_deg, run_s=20.0
        )
        row[down] = row[up] = flight.fully_out_s


def flap_lift_shift(airplane: Outside, speed_kias: float, altitude_ft: float, row: Array) -> tuple[float, float]:
    """Return how much full flap adds to the lift coefficient at equal angle: JSBSim's own, and the row's."""
    full = airplane.full_flap_deg
    clean, out = (trimmed(speed_kias, altitude_ft, f, 0.0, airplane) for f in (0.0, full))
    shift = float(row[v.LIFT_SLOPE]) * (clean.alpha_rad - out.alpha_rad)
    return shift, float(forces.lift_coefficient(row, 0.0, full * DEGREE))
