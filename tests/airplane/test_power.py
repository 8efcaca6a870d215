"""Propeller thrust and engine power against momentum theory and the altitude relation."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.airplane.own_words import KT, OwnAirplane
from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.textbook import ALTITUDE_LAW_NORMAL, FLAT_RATED

HORSEPOWER = 550.0 * 0.3048 * 0.45359237 * 9.80665
DISK = math.pi * (76 * 0.0254) ** 2 / 4.0


@pytest.mark.parametrize(
    ("speed_kt", "thrust_n", "efficiency"),
    [
        # Actuator-disk momentum theory, P = T (V + w), w = -V/2 + sqrt(V^2/4 + T/(2 rho A)):
        # 200 hp, 76 in disk, sea level (recomputed independently).
        (0.0, 5423.083, 0.0),
        (60.0, 3515.516, 0.727587),
        (80.0, 3006.407, 0.829626),
        (100.0, 2585.053, 0.891690),
        (140.0, 1971.291, 0.951970),
    ],
)
def test_ideal_disk(speed_kt: float, thrust_n: float, efficiency: float) -> None:
    thrust = forces.disk_thrust(200 * HORSEPOWER, speed_kt * KT, 1.225, DISK)
    assert thrust == pytest.approx(thrust_n, abs=0.02)
    assert thrust * speed_kt * KT / (200 * HORSEPOWER) == pytest.approx(efficiency, abs=2e-6)
    assert forces.disk_power_for(thrust, speed_kt * KT, 1.225, DISK) == pytest.approx(200 * HORSEPOWER, rel=1e-9)


@given(
    power=st.floats(1e3, 4e5),
    speed=st.floats(0.0, 100.0),
    density=st.floats(0.5, 1.4),
    disk=st.floats(1.0, 6.0),
)
def test_thrust_of_the_disk_balances_its_power(power: float, speed: float, density: float, disk: float) -> None:
    thrust = float(forces.disk_thrust(power, speed, density, disk))
    wake = -speed / 2 + math.sqrt(speed**2 / 4 + thrust / (2 * density * disk))
    assert thrust * (speed + wake) == pytest.approx(power, rel=1e-9)


def test_no_power_no_thrust() -> None:
    assert forces.disk_thrust(0.0, 40.0, 1.2, DISK) == 0.0


@pytest.mark.parametrize(
    ("sigma", "share"),
    [
        # Normally aspirated: P/P0 = 1.132 sigma - 0.132 = (sigma - C)/(1 - C), C = 0.1166 (published in 1930s SAE
        # literature), at the ISA density ratio of 2,000, 5,000, 7,000, 8,000 and 10,000 ft.
        (0.942773, 0.935219),
        (0.861670, 0.843411),
        (0.810645, 0.785650),
        (0.786016, 0.757770),
        (0.738479, 0.703958),
        (0.116608, 0.0),
        (0.05, 0.0),
    ],
)
def test_full_throttle_power_with_height(sigma: float, share: float) -> None:
    row = OwnAirplane().row()
    row[v.ALTITUDE_LAW] = ALTITUDE_LAW_NORMAL
    row[v.RATED_POWER], row[v.DISK_EFFICIENCY] = 230 * HORSEPOWER, 0.8
    assert pytest.approx(0.116608, abs=1e-6) == ALTITUDE_LAW_NORMAL
    assert forces.power_share(row, sigma) == pytest.approx(share, abs=2e-6)
    assert forces.full_throttle_disk_power(row, sigma) == pytest.approx(184 * HORSEPOWER * share, abs=1.0)
    row[v.ALTITUDE_LAW] = FLAT_RATED
    assert forces.power_share(row, sigma) == 1.0


@given(
    fixed=st.booleans(),
    slope=st.floats(0.0, 0.3),
    thrust=st.floats(300.0, 3000.0),
    speed=st.floats(30.0, 75.0),
    now=st.floats(25.0, 75.0),
    density=st.floats(0.7, 1.3),
)
def test_thrust_at_frozen_levers_in_other_words(
    fixed: bool, slope: float, thrust: float, speed: float, now: float, density: float
) -> None:
    own = OwnAirplane(fixed_pitch=fixed, propeller=slope)
    row = own.row()
    power = forces.reference_disk_power(row, thrust, speed, density)
    at_reference = thrust - slope * density * 4 * DISK / np.pi * (own.v_ref**2 - speed**2)
    if fixed and at_reference <= 1.0:
        return  # thrust at the reference speed is kept positive
    assert forces.thrust(row, power, speed, density) == pytest.approx(thrust, rel=1e-8)
    assert forces.thrust(row, power, now, density) == pytest.approx(
        own.thrust_law(thrust, speed, density)(now), rel=1e-7, abs=1e-6
    )


@given(fixed=st.booleans(), slope=st.floats(0.0, 0.3), slow=st.floats(25.0, 70.0), gap=st.floats(0.5, 20.0))
def test_thrust_at_frozen_levers_falls_with_speed(fixed: bool, slope: float, slow: float, gap: float) -> None:
    row = OwnAirplane(fixed_pitch=fixed, propeller=slope).row()
    power = 90e3
    assert forces.thrust(row, power, slow, 1.0) >= forces.thrust(row, power, slow + gap, 1.0)
