"""Drag and the polar against closed forms and a published flight measurement."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar

from tests.airplane.own_words import DEG, FT2, KT, LB, OwnAirplane
from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.textbook import polar_from_best_glide
from wringout.units import POUND_FORCE, SLUG_PER_CUBIC_FOOT

RHO = 0.0023769 * SLUG_PER_CUBIC_FOOT  # density the synthetic check values below are stated for
WEIGHT = 3300.0 * POUND_FORCE
MASS = 3300.0 * LB

# U.S. Naval Academy technical note, "Flight Determination of Partial Span Flap Parasite Drag With Flap Deflection"
# (retractable single, 3,300 lb): equivalent parasite area [ft2], Table 1 gear up, Table 2 gear down, cowl flaps open.
# Table 2 prints 7.593 at flap 0, which contradicts its own slope and its own difference, 4.286; 7.411 agrees with both.
GEAR_UP = {0: 3.125, 10: 3.636, 15: 4.677, 20: 5.669, 25: 7.670, 32: 9.825}
GEAR_DOWN = {0: 7.411, 10: 8.646, 20: 9.829, 32: 12.717}


def measured_airplane(e: float = 0.6) -> OwnAirplane:
    """The airplane of the note: areas as measured, span 33.5 ft and span efficiency assumed."""
    interaction = GEAR_DOWN[32] - GEAR_DOWN[0] - (GEAR_UP[32] - GEAR_UP[0])
    gear = GEAR_DOWN[0] - GEAR_UP[0]
    settings = [0, 10, 20, 32]
    return OwnAirplane(
        e=e,
        clean=GEAR_UP[0] * FT2,
        gear=gear * FT2,
        shielding=-interaction / gear,
        angles=[s * DEG for s in settings],
        areas=[(GEAR_UP[s] - GEAR_UP[0]) * FT2 for s in settings],
        slopes=[0.0] * 4,
        lifts=[1.4, 1.6, 1.8, 2.0],
    )


ROW = measured_airplane().row()
CONFIGURATIONS = {"clean": (0.0, 0.0), "gear": (1.0, 0.0), "flap32": (0.0, 32 * DEG), "both": (1.0, 32 * DEG)}


def area_ft2(gear: float, flap_deg: float) -> float:
    return float(forces.parasite_area(ROW, gear, flap_deg * DEG, 0.5)) / FT2


def drag_at(speed: float, configuration: str, row: np.ndarray = ROW) -> float:
    gear, flap = CONFIGURATIONS[configuration]
    return float(forces.drag(row, speed, RHO, WEIGHT, gear, flap))


def test_gear_and_flap_increments_do_not_add() -> None:
    both = area_ft2(1, 32) - area_ft2(0, 0)
    separate = (area_ft2(1, 0) - area_ft2(0, 0)) + (area_ft2(0, 32) - area_ft2(0, 0))
    # U.S. Naval Academy technical note, Tables 1 and 2 (differences recomputed from the printed areas) [ft2].
    assert area_ft2(1, 0) - area_ft2(0, 0) == pytest.approx(4.286, abs=0.003)
    assert area_ft2(0, 32) - area_ft2(0, 0) == pytest.approx(6.700, abs=0.003)
    assert both - separate == pytest.approx(-1.394, abs=0.006)
    assert area_ft2(1, 32) - area_ft2(0, 32) == pytest.approx(2.892, abs=0.005)
    assert area_ft2(1, 32) - area_ft2(1, 0) == pytest.approx(5.306, abs=0.006)


@pytest.mark.parametrize(("flap_deg", "short_of"), [(10, 1.16), (20, 0.75)])
def test_shielding_linear_in_travel_is_low_at_the_middle_settings(flap_deg: int, short_of: float) -> None:
    # Same note, Table 2, at settings the interaction was not taken from [ft2]. The gear's own increment there is 5.01
    # and 4.16, not falling steadily from 4.29 to 2.89 as the law has it. The table scatters about its own quadratic by
    # 0.3 ft2, so a difference by 0.4: the shortfall at 10 deg is more than scatter. A known weakness of the law,
    # bounded here; a law in the square of travel would be short by 0.86 and 0.42.
    assert GEAR_DOWN[flap_deg] - area_ft2(1, flap_deg) == pytest.approx(short_of, abs=0.01)


def test_between_settings_the_area_follows_the_square_of_the_angle() -> None:
    angles, areas = np.array(list(GEAR_UP), dtype=float), np.array(list(GEAR_UP.values()))
    quadratic = np.polyfit(angles, areas, 2)
    # Same note, Figure 3: least-squares quadratic 0.0065 d^2 + 0.0081 d + 3.06 (d in deg), recomputed from Table 1.
    assert quadratic == pytest.approx([0.006497, 0.008145, 3.05799], abs=2e-5)
    scatter = math.sqrt(float(np.sum((areas - np.polyval(quadratic, angles)) ** 2)) / 3.0)
    for deg, low, high in ((15, 10, 20), (25, 20, 32)):
        share = (deg**2 - low**2) / (high**2 - low**2)
        assert area_ft2(0, deg) == pytest.approx(GEAR_UP[low] + share * (GEAR_UP[high] - GEAR_UP[low]), abs=1e-9)
        # A measured point less one interpolated between two measured points: two standard deviations of that.
        allowed = 2.0 * scatter * math.sqrt(1.0 + share**2 + (1.0 - share) ** 2)
        assert allowed < 0.85  # so the check cannot pass by being loose
        assert area_ft2(0, deg) == pytest.approx(GEAR_UP[deg], abs=allowed)
    # Same note: slope of area against angle squared, 22.0849 ft2/rad2 (recomputed from Table 1).
    slope = np.polyfit(np.square(angles * DEG), areas, 1)[0]
    assert slope == pytest.approx(22.0849, abs=0.002)
    assert (area_ft2(0, 32) - area_ft2(0, 0)) / (32 * DEG) ** 2 == pytest.approx(slope, rel=0.05)


@pytest.mark.parametrize(
    ("configuration", "area", "best_glide_kt", "best_ratio", "drag_80_lbf", "time_s"),
    [
        # Synthetic, exact: parabolic polar with the note's areas, b 33.5 ft, e 0.6, 3,300 lb, sea level. Best glide
        # from (L/D)max, drag at 80 kt, and seconds from 100 to 90 kt, level with no thrust, t = integral m dV / D.
        ("clean", 3.125, 109.4921, 13.00889, 305.3014, 6.54623),
        ("gear", 7.411, 88.2320, 8.44748, 398.1681, 4.37631),
        ("flap32", 9.825, 82.2266, 7.33667, 450.4733, 3.68882),
        ("both", 12.717, 77.0902, 6.44871, 513.1356, 3.10488),
    ],
)
def test_parabolic_polar(
    configuration: str, area: float, best_glide_kt: float, best_ratio: float, drag_80_lbf: float, time_s: float
) -> None:
    assert area_ft2(*[CONFIGURATIONS[configuration][0], CONFIGURATIONS[configuration][1] / DEG]) == pytest.approx(area)
    least = minimize_scalar(lambda u: drag_at(u, configuration), bounds=(20.0, 80.0), options={"xatol": 1e-9})
    assert least.x / KT == pytest.approx(best_glide_kt, abs=0.002)
    assert least.fun == pytest.approx(WEIGHT / best_ratio, rel=2e-5)
    assert drag_at(80 * KT, configuration) / POUND_FORCE == pytest.approx(drag_80_lbf, abs=0.02)
    time, _ = quad(lambda u: MASS / drag_at(u, configuration), 90 * KT, 100 * KT)
    assert time == pytest.approx(time_s, abs=0.001)


def test_minimum_power_speed_and_ratio() -> None:
    best = minimize_scalar(lambda u: drag_at(u, "clean"), bounds=(20.0, 80.0), options={"xatol": 1e-10})
    cheap = minimize_scalar(lambda u: u * drag_at(u, "clean"), bounds=(20.0, 80.0), options={"xatol": 1e-10})
    # Parabolic polar, exact: V(max L/D) / V(min power) = 3^(1/4); power there 2/3^(3/4); L/D there sqrt(3)/2.
    assert best.x / cheap.x == pytest.approx(1.316074, abs=2e-6)
    assert cheap.fun / (best.x * best.fun) == pytest.approx(0.877383, abs=1e-6)
    assert best.fun / drag_at(cheap.x, "clean") == pytest.approx(0.866025, abs=1e-6)


@pytest.mark.parametrize(("times", "multiplier"), [(2.0, 0.840896), (3.0, 0.759836)])
def test_best_glide_speed_falls_as_the_area_grows(times: float, multiplier: float) -> None:
    # "Gear and Flaps Down, Part 2" (1996), companion to the note: about 16 and 24 % lower for twice and three times the
    # parasite area; exactly f^(-1/4).
    more = ROW.copy()
    more[v.F_CLEAN] *= times
    speeds = [
        minimize_scalar(lambda u, row=row: drag_at(u, "clean", row), bounds=(20.0, 80.0), options={"xatol": 1e-10}).x
        for row in (ROW, more)
    ]
    assert speeds[1] / speeds[0] == pytest.approx(multiplier, abs=2e-6)


def test_polar_from_best_glide_is_the_inverse() -> None:
    # Synthetic, exact: best glide 13.00889 at 109.4921 kt, 3,300 lb, b 33.5 ft is f 3.125 ft2 and e 0.6.
    area, e = polar_from_best_glide(13.00889, 109.4921 * KT, MASS, 33.5 * 0.3048)
    assert area / FT2 == pytest.approx(3.125, abs=0.0005)
    assert e == pytest.approx(0.6, abs=1e-4)


@given(
    ratio=st.floats(6.0, 40.0), speed=st.floats(25.0, 70.0), mass=st.floats(300.0, 3000.0), span=st.floats(7.0, 20.0)
)
def test_polar_from_best_glide_glides_best_there(ratio: float, speed: float, mass: float, span: float) -> None:
    area, e = polar_from_best_glide(ratio, speed, mass, span)
    airplane = OwnAirplane(clean=area, e=e, span=span)
    weight = mass * 9.80665
    here = airplane.drag(speed, 1.225, weight, 0.0, 0.0)
    assert weight / here == pytest.approx(ratio, rel=1e-9)
    for other in (0.97 * speed, 1.03 * speed):
        assert airplane.drag(other, 1.225, weight, 0.0, 0.0) > here


def test_deceleration_with_parasite_drag_only() -> None:
    row = ROW.copy()
    row[v.OSWALD] = 1e12  # no induced drag
    time, _ = quad(lambda u: MASS / drag_at(u, "gear", row), 80 * KT, 100 * KT)
    # Synthetic closed form: 1/V = 1/V0 + rho f t / 2m, f 7.411 ft2, 3,300 lb, 100 to 80 kt in 17.2491 s.
    assert time == pytest.approx(17.2491, abs=0.001)


def test_deceleration_at_constant_thrust_power() -> None:
    row = ROW.copy()
    row[v.OSWALD] = 1e12
    power = 20 * 745.69987158227022

    def force(speed: float) -> float:
        return drag_at(speed, "gear", row) - power / speed

    # Synthetic closed form: 20 thrust hp, f 7.411 ft2, 3,300 lb, 100 to 80 kt:
    # V^3(x) = P/A + (V0^3 - P/A) exp(-3 A x / m), A = rho f / 2; time and distance; settles at (P/A)^(1/3).
    time, _ = quad(lambda u: MASS / force(u), 80 * KT, 100 * KT)
    distance, _ = quad(lambda u: MASS * u / force(u), 80 * KT, 100 * KT)
    assert time == pytest.approx(27.94805, abs=0.001)
    assert distance / 0.3048 == pytest.approx(4179.035, abs=0.02)
    assert brentq(force, 40 * KT, 80 * KT) / KT == pytest.approx(63.805, abs=0.001)


@given(
    gear=st.floats(0.0, 1.0),
    flap_deg=st.floats(0.0, 40.0),
    speed=st.floats(25.0, 75.0),
    density=st.floats(0.7, 1.3),
    mass=st.floats(700.0, 1700.0),
    slope=st.floats(-0.5, 0.5),
    bump=st.floats(0.0, 0.5),
    lean=st.floats(-0.5, 0.5),
    floor=st.floats(0.0, 0.6),
)
def test_drag_in_other_words(
    gear: float,
    flap_deg: float,
    speed: float,
    density: float,
    mass: float,
    slope: float,
    bump: float,
    lean: float,
    floor: float,
) -> None:
    own = OwnAirplane(slopes=[0.0, 0.4 * slope, slope], floors=[0.0, 0.6 * floor, floor], bump=bump, lean=lean)
    weight = mass * 9.80665
    drag = forces.drag(own.row(), speed, density, weight, gear, flap_deg * DEG)
    assert drag == pytest.approx(own.drag(speed, density, weight, gear, flap_deg * DEG), rel=1e-12)


def test_a_flap_area_does_not_fall_below_its_floor() -> None:
    row = OwnAirplane(slopes=[0.0, -1.0, -2.0]).row()
    assert forces.flap_area(row, 40 * DEG, 2.0) == 0.0
    row = OwnAirplane(slopes=[0.0, -1.0, -2.0], floors=[0.0, 1.2 * FT2, 2.0 * FT2]).row()
    assert forces.flap_area(row, 40 * DEG, 2.0) == pytest.approx(2.0 * FT2)
    half_by_square = np.sqrt((20.0**2 + 40.0**2) / 2.0) * DEG
    assert forces.flap_area(row, half_by_square, 2.0) == pytest.approx(1.6 * FT2)
    assert forces.flap_area(row, 40 * DEG, 0.5) == pytest.approx(6.2 * FT2)
