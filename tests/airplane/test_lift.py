"""Lift, stall speeds and textbook relations against regulation and textbook values."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.airplane.own_words import DEG, KT, LB, OwnAirplane
from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.textbook import lift_coefficient_at, lift_slope_per_rad
from wringout.units import POUND_FORCE

ROW = OwnAirplane().row()
FT2 = 0.3048**2


@pytest.mark.parametrize(
    ("stall_kt", "cl_max"),
    [
        # Synthetic, exact: CL = 2 W / (rho0 V^2 S) of a 1-g stall, 3,000 lb, 175 ft2, sea level.
        (60.0, 1.40654),
        (52.0, 1.87262),
    ],
)
def test_maximum_lift_coefficient_of_a_stall(stall_kt: float, cl_max: float) -> None:
    assert lift_coefficient_at(3000 * LB, stall_kt * KT, 175 * FT2) == pytest.approx(cl_max, abs=2e-5)
    row = ROW.copy()
    row[v.WING_AREA] = 175 * FT2
    row[v.CL_MAXES : v.CL_MAXES + v.MAX_SETTINGS] = cl_max
    assert forces.stall_speed(row, 3000 * POUND_FORCE, 1.225, 0.0) / KT == pytest.approx(stall_kt, abs=5e-4)


def test_lift_coefficient_at_reference_speed() -> None:
    # 14 CFR 23.73 (legacy): VREF not less than 1.3 VS0; lift coefficient there 1/1.3^2 = 0.591716 of the maximum.
    stall = float(forces.stall_speed(ROW, 13000.0, 1.225, 40 * DEG))
    at_reference = lift_coefficient_at(13000.0 / 9.80665, 1.3 * stall, ROW[v.WING_AREA])
    assert at_reference / forces.cl_max(ROW, 40 * DEG) == pytest.approx(0.591716, abs=1e-6)


@pytest.mark.parametrize(
    ("bank_deg", "load_factor", "multiplier"),
    [
        # FAA-H-8083-25 load-factor chart: n = 1/cos(bank), 60 deg gives 2 g; stall speed times sqrt(n).
        (30, 1.154701, 1.074570),
        (45, 1.414214, 1.189207),
        (60, 2.0, 1.414214),
        (70, 2.923804, 1.709914),
    ],
)
def test_stall_speed_under_load(bank_deg: float, load_factor: float, multiplier: float) -> None:
    assert 1 / math.cos(bank_deg * DEG) == pytest.approx(load_factor, abs=2e-6)
    level, turning = (forces.stall_speed(ROW, n * 13000.0, 1.1, 20 * DEG) for n in (1.0, load_factor))
    assert turning / level == pytest.approx(multiplier, abs=2e-6)


def test_stall_speed_with_weight() -> None:
    # Vs proportional to sqrt(W): 60 kt at 3,300 lb is 55.2679 kt at 2,800 lb (recomputed independently).
    heavy, light = (forces.stall_speed(ROW, w * POUND_FORCE, 1.225, 0.0) for w in (3300.0, 2800.0))
    assert 60 * light / heavy == pytest.approx(55.2679, abs=0.001)


@given(flap_deg=st.floats(0.0, 45.0), more=st.floats(0.0, 10.0))
def test_more_flap_never_stalls_faster(flap_deg: float, more: float) -> None:
    speeds = [forces.stall_speed(ROW, 13000.0, 1.1, d * DEG) for d in (flap_deg, flap_deg + more)]
    assert speeds[1] <= speeds[0] + 1e-12


def test_lift_slope_lies_between_its_limits() -> None:
    # Helmbold's relation tends to 2 pi per radian for a long wing and to pi AR / 2 for a very short one (thin-airfoil
    # and slender-wing theory, textbook limits).
    assert lift_slope_per_rad(1e6) == pytest.approx(2 * math.pi, rel=1e-5)
    assert lift_slope_per_rad(1e-4) == pytest.approx(math.pi * 1e-4 / 2, rel=1e-4)
    assert 4.0 < lift_slope_per_rad(6.45) < 4.8


def test_flaps_shift_the_lift_line_by_their_gain() -> None:
    for flap in (0.0, 20 * DEG, 40 * DEG):
        gain = forces.cl_max(ROW, flap) - forces.cl_max(ROW, 0.0)
        assert forces.lift_coefficient(ROW, 0.1, flap) == pytest.approx(0.45 + gain)
