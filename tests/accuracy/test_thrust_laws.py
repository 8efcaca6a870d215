"""Thrust at a frozen throttle against propellers nobody here wrote: JSBSim's L17 (fixed pitch) and pc7 (governed)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from tests.outside.airplanes import L17, PC7, Outside
from tests.outside.flight_dynamics_model import entry_throttle
from tests.outside.flights import fly_climb
from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.textbook import THRUST_BEND
from wringout.airplane.vector import FloatArray
from wringout.units import KNOT, POUND, STANDARD_GRAVITY

ALTITUDE_FT, DENSITY = 3000.0, 1.1213  # U.S. Standard Atmosphere, 1976
DISK = 1.0e5


def thrusts(airplane: Outside, entry_kias: float) -> tuple[FloatArray, FloatArray]:
    """Return true airspeeds, m/s, and thrusts, N, at the throttle that holds the entry speed level."""
    throttle = entry_throttle(entry_kias, ALTITUDE_FT, airplane)
    flights = [
        fly_climb(airplane, float(kias), ALTITUDE_FT, throttle=throttle)
        for kias in np.arange(78.0, entry_kias + 6.0, 8.0)
    ]
    speeds = np.array([f.ktas.mean() * KNOT for f in flights])
    return speeds, np.array([f.thrust_lbf.mean() * POUND * STANDARD_GRAVITY for f in flights])


def misfit(airplane: Outside, speeds: FloatArray, pulls: FloatArray, *, bent: bool) -> tuple[float, float]:
    """Return the root mean square of the relative misfit of the law, fitted, and its bend."""
    row = np.zeros(v.SIZE)
    row[v.DISK_AREA] = np.pi * (airplane.disk_diameter_in * 0.0254) ** 2 / 4.0
    row[v.EFFICIENCY_SPEED], row[v.PROPELLER_LAW] = v.EFFICIENCY_REFERENCE_MPS, float(airplane.rpm_lever is None)

    def off(x: FloatArray) -> FloatArray:
        row[v.EFFICIENCY_SLOPE], row[v.THRUST_BEND] = x[1], x[2] if bent else 0.0
        power = float(x[0]) * DISK
        found = [forces.thrust(row, power, float(speed), DENSITY) for speed in speeds]
        return np.array(found) / pulls - 1.0

    found = least_squares(off, [1.0, 0.03, 0.0] if bent else [1.0, 0.03])
    return float(np.sqrt(np.mean(found.fun**2))), float(found.x[2]) if bent else 0.0


@pytest.mark.parametrize(("airplane", "entry_kias"), [(L17, 120.0), (PC7, 104.0), (PC7, 130.0)])
def test_a_law_of_two_numbers_misses_thrust_and_the_bent_one_half_as_much(airplane: Outside, entry_kias: float) -> None:
    speeds, pulls = thrusts(airplane, entry_kias)
    straight, _ = misfit(airplane, speeds, pulls, bent=False)
    bent, bend = misfit(airplane, speeds, pulls, bent=True)
    assert 0.002 < straight < 0.015
    assert bent < min(0.55 * straight, 0.0035)
    assert abs(bend) < 1.5 * THRUST_BEND.sd
    assert abs(bend) > 0.5 * THRUST_BEND.sd


def test_the_bend_is_none_at_its_reference_speed_and_ends_far_away() -> None:
    """``1 + c x^2 (1 - x^2)``, x = 2 (V - V0) / (V + V0): 2/3 at twice V0, 1 at three times."""
    row = np.zeros(v.SIZE)
    row[v.EFFICIENCY_SPEED], row[v.THRUST_BEND] = 45.0, 0.5
    for speed, factor in ((45.0, 1.0), (90.0, 1.0 + 0.5 * 4.0 / 9.0 * 5.0 / 9.0), (135.0, 1.0)):
        assert forces.thrust_bend(row, speed) == pytest.approx(factor)
    assert forces.thrust_bend(row, 5.0) == forces.thrust_bend(row, 18.0)
