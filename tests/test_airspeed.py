"""Airspeeds against recomputed check values and compressible-flow relations of an independent library."""

import math

import numpy as np
import pytest
from fluids.compressible import P_stagnation, T_stagnation_ideal
from hypothesis import given
from hypothesis import strategies as st

from wringout.airspeed import (
    NO_POSITION_ERROR,
    SEA_LEVEL_SPEED_OF_SOUND_MPS,
    PositionErrorRow,
    PositionErrorTable,
    calibrated_from_equivalent,
    calibrated_from_indicated,
    calibrated_from_true,
    equivalent_from_calibrated,
    equivalent_from_true,
    impact_pressure_pa,
    indicated_from_calibrated,
    load_factor,
    mach_from_calibrated,
    stall_speed_at,
    true_from_calibrated,
    true_from_equivalent,
)
from wringout.atmosphere import GAS_CONSTANT_AIR, density_kgm3, pressure_pa, temperature_k
from wringout.errors import BadInputError
from wringout.units import DEGREE, FOOT, KNOT, POUND

SPEEDS_MPS = st.floats(0.0, 150.0)
ALTITUDES_M = st.floats(-1_000.0, 9_000.0)
DEVIATIONS_K = st.floats(-40.0, 40.0)


@pytest.mark.parametrize(
    ("cas_kt", "altitude_ft", "deviation_k", "impact_pa", "mach", "tas_kt", "eas_kt"),
    [
        # Compressible pitot relation qc = p0 [(1 + 0.2 (CAS/a0)^2)^3.5 - 1], M = sqrt(5 [(qc/p + 1)^(2/7) - 1])
        # (nomenclature of NACA Report 837, report number from memory), recomputed outside this project.
        (80, 5000, 0, 1041.239, 0.132538, 86.1509, 79.9706),
        (100, 0, 0, 1630.283, 0.151176, 100.0, 100.0),
        (100, 5000, 0, 1630.283, 0.165639, 107.6666, 99.9428),
        (100, 8000, 0, 1630.283, 0.175238, 112.683, 99.902),
        (100, 10000, 0, 1630.283, 0.182065, 116.2179, 99.8716),
        (150, 8000, 0, 3694.379, 0.262541, 168.8216, 149.6731),
        (200, 10000, 0, 6633.546, 0.36278, 231.5748, 199.0033),
        (65, 2000, 20, 686.527, 0.101897, 69.253, 64.9941),
        (120, 7000, 15, 2353.509, 0.206271, 136.7117, 119.8558),
    ],
)
def test_airspeeds(
    cas_kt: float, altitude_ft: float, deviation_k: float, impact_pa: float, mach: float, tas_kt: float, eas_kt: float
) -> None:
    cas, h = cas_kt * KNOT, altitude_ft * FOOT
    assert impact_pressure_pa(cas) == pytest.approx(impact_pa, abs=0.01)  # Pa
    assert mach_from_calibrated(cas, h) == pytest.approx(mach, abs=2e-6)
    assert true_from_calibrated(cas, h, deviation_k) / KNOT == pytest.approx(tas_kt, abs=0.002)  # kt
    assert equivalent_from_calibrated(cas, h) / KNOT == pytest.approx(eas_kt, abs=0.002)  # kt


@given(SPEEDS_MPS, ALTITUDES_M, DEVIATIONS_K)
def test_the_pitot_tube_feels_the_stagnation_pressure_of_the_flow(cas: float, h: float, deviation: float) -> None:
    # Independent route: stagnation temperature and pressure of an ideal gas, by fluids. cp = 3.5 R.
    tas = true_from_calibrated(cas, h, deviation)
    t, p = temperature_k(h, deviation), pressure_pa(h)
    stagnation = T_stagnation_ideal(T=t, V=tas, Cp=3.5 * GAS_CONSTANT_AIR)
    impact = P_stagnation(P=p, T=t, Tst=stagnation, k=1.4) - p
    assert impact_pressure_pa(cas) == pytest.approx(impact, rel=1e-9, abs=1e-6)  # Pa


@given(SPEEDS_MPS, ALTITUDES_M, DEVIATIONS_K)
def test_true_and_calibrated_there_and_back(cas: float, h: float, deviation: float) -> None:
    assert calibrated_from_true(true_from_calibrated(cas, h, deviation), h, deviation) == pytest.approx(
        cas, rel=1e-11, abs=1e-12
    )


@given(SPEEDS_MPS, ALTITUDES_M)
def test_equivalent_and_calibrated_there_and_back(cas: float, h: float) -> None:
    eas = equivalent_from_calibrated(cas, h)
    assert calibrated_from_equivalent(eas, h) == pytest.approx(cas, rel=1e-11, abs=1e-12)


@given(SPEEDS_MPS, ALTITUDES_M, DEVIATIONS_K)
def test_both_ways_to_equivalent_airspeed_agree(cas: float, h: float, deviation: float) -> None:
    density = density_kgm3(h, deviation)
    eas = equivalent_from_true(true_from_calibrated(cas, h, deviation), density)
    assert eas == pytest.approx(equivalent_from_calibrated(cas, h), rel=1e-11, abs=1e-12)
    assert true_from_equivalent(eas, density) == pytest.approx(true_from_calibrated(cas, h, deviation), rel=1e-11)


@given(st.floats(1.0, 149.0), st.floats(0.01, 1.0), st.floats(10.0, 9_000.0), DEVIATIONS_K)
def test_true_airspeed_rises_with_calibrated_and_exceeds_equivalent_no_less(
    cas: float, step: float, h: float, deviation: float
) -> None:
    assert true_from_calibrated(cas + step, h, deviation) > true_from_calibrated(cas, h, deviation)
    # Above sea level the compressibility correction takes speed away.
    assert equivalent_from_calibrated(cas, h) < cas


@given(SPEEDS_MPS)
def test_at_sea_level_standard_all_three_are_one(cas: float) -> None:
    assert true_from_calibrated(cas, 0.0) == pytest.approx(cas, rel=1e-12, abs=1e-12)
    assert equivalent_from_calibrated(cas, 0.0) == pytest.approx(cas, rel=1e-12, abs=1e-12)


def test_at_low_speed_impact_pressure_is_dynamic_pressure() -> None:
    # q_c = rho V^2/2 (1 + M^2/4 + ...): the series of the relation, checked where cancellation would show.
    for v in (1e-4, 0.01, 1.0, 10.0):
        mach = v / SEA_LEVEL_SPEED_OF_SOUND_MPS
        series = 0.5 * density_kgm3(0.0) * v**2 * (1.0 + mach**2 / 4.0 + mach**4 / 40.0)
        assert impact_pressure_pa(v) == pytest.approx(series, rel=1e-12)


def test_arrays_go_through_with_their_shape() -> None:
    cas = np.array([80.0, 100.0, 120.0]) * KNOT
    h = np.array([5000.0, 8000.0, 7000.0]) * FOOT
    tas = true_from_calibrated(cas, h, 5.0)
    assert tas.shape == (3,)
    single = [true_from_calibrated(float(c), float(a), 5.0) for c, a in zip(cas, h, strict=True)]
    assert tas == pytest.approx(single, rel=1e-14)
    assert calibrated_from_true(tas, h, 5.0) == pytest.approx(cas, rel=1e-12)
    assert type(true_from_calibrated(50.0, 1000.0)) is float


def test_a_speed_that_is_not_subsonic_is_refused() -> None:
    with pytest.raises(BadInputError, match=r"^Calibrated airspeed \[m/s\] -1 is not a subsonic speed"):
        impact_pressure_pa(-1.0)
    with pytest.raises(BadInputError, match="value 2 of 3"):
        true_from_calibrated(np.array([50.0, float("nan"), 60.0]), 0.0)
    with pytest.raises(BadInputError, match="Mach number"):
        calibrated_from_true(400.0, 0.0)
    with pytest.raises(BadInputError, match="density is not positive"):
        equivalent_from_true(50.0, 0.0)


# An invented airspeed calibration; speeds in knots for the eye.
def row(flap_deg: float, gear: float, points_kt: dict[float, float]) -> PositionErrorRow:
    return PositionErrorRow(
        flap_deg, gear, tuple(k * KNOT for k in points_kt), tuple(v * KNOT for v in points_kt.values())
    )


CLEAN = row(0.0, 0.0, {60: 4.0, 80: 1.0, 100: 0.0, 140: -2.0})
TABLE = PositionErrorTable(
    (CLEAN, row(0.0, 1.0, {70: 2.0, 120: 0.0}), row(20.0, 0.0, {50: 3.0, 90: 1.0}), row(33.0, 1.0, {50: 6.0}))
)


@pytest.mark.parametrize(
    ("ias_kt", "cas_kt"),
    [
        (60, 64.0),  # at a point
        (70, 72.5),  # half way between two
        (120, 119.0),
        (40, 44.0),  # held below the first
        (200, 198.0),  # held above the last
    ],
)
def test_position_error_is_interpolated_and_held(ias_kt: float, cas_kt: float) -> None:
    assert calibrated_from_indicated(ias_kt * KNOT, TABLE) / KNOT == pytest.approx(cas_kt, rel=1e-12)


@pytest.mark.parametrize(
    ("flap_deg", "gear", "row_used"),
    [
        (0.0, 0.0, 0),
        (0.0, 1.0, 1),
        (0.0, 0.5, 0),  # gear in transit: the nearest lower is up
        (10.0, 0.0, 0),
        (10.0, 1.0, 1),
        (20.0, 1.0, 2),  # flap first, then gear
        (33.0, 0.0, 2),
        (33.0, 1.0, 3),
        (40.0, 1.0, 3),
    ],
)
def test_a_missing_configuration_takes_the_nearest_lower_row(flap_deg: float, gear: float, row_used: int) -> None:
    assert TABLE.row_for(flap_deg, gear) is TABLE.rows[row_used]


@given(st.floats(10.0, 120.0), st.sampled_from([0.0, 20.0, 33.0]), st.sampled_from([0.0, 1.0]))
def test_indicated_and_calibrated_there_and_back(ias: float, flap_deg: float, gear: float) -> None:
    cas = calibrated_from_indicated(ias, TABLE, flap_deg, gear)
    assert indicated_from_calibrated(cas, TABLE, flap_deg, gear) == pytest.approx(ias, rel=1e-12)


@st.composite
def any_row(draw: st.DrawFn) -> PositionErrorRow:
    steps = draw(st.lists(st.floats(0.5, 20.0), min_size=1, max_size=6))
    slopes = draw(st.lists(st.floats(-0.9, 2.0), min_size=len(steps), max_size=len(steps)))
    indicated = 20.0 + np.cumsum(steps)
    correction = draw(st.floats(-5.0, 5.0)) + np.cumsum(np.multiply(slopes, steps))
    return PositionErrorRow(0.0, 0.0, tuple(indicated.tolist()), tuple(correction.tolist()))


@given(any_row(), st.floats(0.0, 150.0), st.floats(0.001, 10.0))
def test_any_accepted_table_can_be_inverted_and_keeps_order(made: PositionErrorRow, ias: float, step: float) -> None:
    table = PositionErrorTable((made,))
    cas = calibrated_from_indicated(ias, table)
    assert indicated_from_calibrated(cas, table) == pytest.approx(ias, abs=1e-9)
    assert calibrated_from_indicated(ias + step, table) > cas


def test_arrays_of_indicated_airspeed() -> None:
    ias = np.array([60.0, 70.0, 200.0]) * KNOT
    cas = calibrated_from_indicated(ias, TABLE)
    assert cas / KNOT == pytest.approx([64.0, 72.5, 198.0], rel=1e-12)
    assert indicated_from_calibrated(cas, TABLE) == pytest.approx(ias, rel=1e-12)


def test_an_empty_table_takes_calibrated_as_indicated() -> None:
    assert calibrated_from_indicated(50.0, NO_POSITION_ERROR, 33.0, 1.0) == 50.0
    assert indicated_from_calibrated(50.0, NO_POSITION_ERROR, 33.0, 1.0) == 50.0
    assert NO_POSITION_ERROR.row_for(0.0, 0.0) is None


def test_a_configuration_below_every_row_is_refused() -> None:
    with pytest.raises(BadInputError) as caught:
        calibrated_from_indicated(50.0, PositionErrorTable((row(20.0, 0.0, {50: 3.0}),)))
    assert str(caught.value) == (
        "position error: no row covers flaps 0 deg with gear 0; add a row for the clean airplane, flaps and gear up."
    )


@pytest.mark.parametrize(
    ("indicated", "correction", "message"),
    [
        ((), (), "0 speeds have 0 corrections"),
        ((50.0, 60.0), (1.0,), "2 speeds have 1 corrections"),
        ((50.0, math.nan), (1.0, 1.0), "a number is missing or not finite"),
        ((60.0, 50.0), (1.0, 1.0), "the indicated airspeeds do not rise"),
        ((50.0, 50.0), (1.0, 1.0), "the indicated airspeeds do not rise"),
        ((50.0, 60.0), (15.0, 4.0), "calibrated airspeed does not rise with indicated airspeed"),
    ],
)
def test_a_broken_row_is_refused_with_its_configuration(
    indicated: tuple[float, ...], correction: tuple[float, ...], message: str
) -> None:
    with pytest.raises(BadInputError, match=rf"^position error, flaps 20 deg, gear 1: {message};"):
        PositionErrorRow(20.0, 1.0, indicated, correction)


@pytest.mark.parametrize(
    ("bank_deg", "n", "stall_ratio"),
    [
        # n = 1/cos(bank), stall speed with its root; FAA-H-8083-25 load-factor chart gives 2 at 60 degrees.
        (0, 1.0, 1.0),
        (30, 1.154701, 1.07457),
        (45, 1.414214, 1.189207),
        (60, 2.0, 1.414214),
        (70, 2.923804, 1.709914),
    ],
)
def test_load_factor_and_stall_speed_in_a_turn(bank_deg: float, n: float, stall_ratio: float) -> None:
    assert load_factor(bank_deg * DEGREE) == pytest.approx(n, abs=2e-6)
    assert load_factor(-bank_deg * DEGREE) == pytest.approx(n, abs=2e-6)
    assert stall_speed_at(1.0, 1000.0, 1000.0, load_factor(bank_deg * DEGREE)) == pytest.approx(stall_ratio, abs=2e-6)


def test_stall_speed_with_weight() -> None:
    # Vs goes with the root of weight: 60 kt at 3,300 lb is 55.2679 kt at 2,800 lb (invented numbers, exact answer).
    speed = stall_speed_at(60.0 * KNOT, 3300.0 * POUND, 2800.0 * POUND)
    assert speed / KNOT == pytest.approx(55.2679, abs=0.001)
    many = stall_speed_at(np.full(2, 60.0), 3300.0, np.array([3300.0, 2800.0]))
    assert many == pytest.approx([60.0, 55.2679], abs=0.001)


def test_impossible_banks_and_masses_are_refused() -> None:
    with pytest.raises(BadInputError, match="90 degrees or more"):
        load_factor(math.pi / 2.0)
    with pytest.raises(BadInputError, match="90 degrees or more"):
        load_factor(60.0)  # degrees given as radians
    for masses in [(0.0, 1000.0, 1.0), (1000.0, -1.0, 1.0), (1000.0, 1000.0, -0.1), (math.nan, 1000.0, 1.0)]:
        with pytest.raises(BadInputError, match="a mass is not positive or a load factor is negative"):
            stall_speed_at(30.0, *masses)
