"""What a device costs an airplane nobody here wrote: the force it takes in level flight at one speed and one power.

That is the drag a flight test can see, mass times the difference of two accelerations. It is not quite the drag of the
airplane held still without its propeller (`polars.device_area`): thrust changes the trim, part of it lifts, and a
slipstream blows over the flaps. The forces are JSBSim's own, ``T cos(alpha) - D``, at the power that held the entry
speed clean: with the device out while its airplane slows down level through the speed, clean in a steady climb at it,
which is all but level.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence

import numpy as np

from .airplanes import FT_PER_NAUTICAL_MILE, Array, Outside
from .flights import Flight, fly_climb, fly_level

SEA_LEVEL_SLUG_FT3 = 0.0023769  # US Standard Atmosphere 1976
GRAVITY_FPS2 = 32.174
BEGIN_KT = (26.0, 20.0, 14.0, 9.0, 5.0, 3.0)
"""How much faster level flights begin than the speed they are to pass."""
PASSES = 3
"""So many of them are averaged, the fastest that lead through it: soon after its start an airplane still settles."""
SETTLED_S, NEAR_KT, THROUGH_KT, RECORDS = 5.0, 5.0, 1.0, 8
NEAR_FT = 400.0


def force_lbf(flight: Flight) -> Array:
    """Return thrust along the path less drag, lbf, of every record."""
    return flight.thrust_lbf * np.cos(flight.alpha_rad) - flight.drag_lbf


def energy_force_lbf(flight: Flight, weight_lb: float) -> Array:
    """Return the same from height and speed alone, ``W d(h + V^2/2g)/dt / V``, lbf; a check of the other."""
    speed_fps = flight.ktas * FT_PER_NAUTICAL_MILE / 3600.0
    energy_ft = flight.altitude_read_ft + speed_fps**2 / (2.0 * GRAVITY_FPS2)
    return weight_lb * np.gradient(energy_ft, flight.time_s) / speed_fps


def at_speed(flight: Flight, values: Array, kias: float) -> float | None:
    """Return values at a speed that a level flight passes, by a parabola; None if it does not once it has settled."""
    off = flight.kias - kias
    near = (flight.time_s >= SETTLED_S) & (np.abs(off) <= NEAR_KT)
    if near.sum() < RECORDS or np.abs(off[near]).min() > THROUGH_KT:
        return None
    return float(np.polyfit(off[near], values[near], 2)[-1])


def passes(
    airplane: Outside, kias: float, altitude_ft: float, throttle: float, flap_deg: float, gear: float
) -> list[Flight]:
    """Return level flights with devices out that slow down through a speed.

    Raises:
        ValueError: none of them does, or the airplane cannot carry its weight there.
    """
    out = []
    for more in BEGIN_KT:
        flight = fly_level(airplane, kias + more, altitude_ft, throttle, flap_deg=flap_deg, gear=gear)
        if at_speed(flight, flight.kias, kias) is not None:
            out.append(flight)
    if not out:
        message = (
            f"{airplane.model} does not slow down through {kias:g} KIAS with flap {flap_deg:g} deg, gear {gear:g}."
        )
        raise ValueError(message)
    return out[:PASSES]


@functools.cache
def clean_excess_lbf(airplane: Outside, kias: float, altitude_ft: float, throttle: float) -> float:
    """Return thrust along the path less drag, lbf, clean, in a steady climb or descent through a height."""
    flight = fly_climb(airplane, kias, altitude_ft, throttle=throttle)
    off = flight.altitude_read_ft - altitude_ft
    near = np.abs(off) <= NEAR_FT
    force = force_lbf(flight)[near]
    return float(force.mean() if np.ptp(off[near]) < 1.0 else np.polyfit(off[near], force, 1)[-1])


@functools.cache
def excess_lbf(
    airplane: Outside, kias: float, altitude_ft: float, throttle: float, flap_deg: float, gear: float
) -> float:
    """Return thrust along the path less drag, lbf, level with devices out; see :func:`passes`."""
    flights = passes(airplane, kias, altitude_ft, throttle, flap_deg, gear)
    found = [at_speed(flight, force_lbf(flight), kias) for flight in flights]
    return float(np.mean([one for one in found if one is not None]))


def cost_area(
    airplane: Outside,
    speeds_kias: Sequence[float],
    altitude_ft: float,
    throttle: float,
    flap_deg: float = 0.0,
    gear: float = 0.0,
) -> Array:
    """Return the equivalent parasite area, square feet, of what flaps and gear cost at each speed and one throttle.

    Raises:
        ValueError: the airplane does not slow down level through one of the speeds.
    """
    out = []
    for speed in speeds_kias:
        kias = round(float(speed), 2)
        clean = clean_excess_lbf(airplane, kias, altitude_ft, throttle)
        moved = excess_lbf(airplane, kias, altitude_ft, throttle, flap_deg, gear)
        out.append((clean - moved) / (0.5 * SEA_LEVEL_SLUG_FT3 * (kias * FT_PER_NAUTICAL_MILE / 3600.0) ** 2))
    return np.array(out)
