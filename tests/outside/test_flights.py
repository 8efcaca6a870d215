"""The flights of outside airplanes are flown as meant, and their truths are what the models' own coefficients say.

Sources: the model files in the PyPI wheel of JSBSim 1.3.3, ``aircraft/c310/c310.xml``, ``aircraft/pc7/pc7.xml`` and
``aircraft/L17/L17.xml``; the few coefficients copied from them stand beside the assertions.
"""

import numpy as np
import pytest

from .airplanes import AIRPLANES, C310, L17, PC7, Outside
from .flight_dynamics_model import trimmed, weight_lb, wing_area_ft2
from .flights import (
    fly_climb,
    fly_deceleration,
    fly_glide,
    fly_level_acceleration,
    fly_stall,
)
from .pilot import Gusts
from .polars import coefficients, device_area, stall_kias
from .truth import best_rate, climb_fpm, stall_kcas

FPM_PER_KNOT = 1852.0 / 0.3048 / 60.0
EACH = pytest.mark.parametrize("airplane", AIRPLANES, ids=lambda a: a.model)
HELD_STILL = pytest.mark.parametrize("airplane", [L17, C310], ids=lambda a: a.model)


@EACH
def test_the_weight_is_what_the_model_file_adds_up_to(airplane: Outside) -> None:
    """Empty weight, people, baggage and fuel of the model files, pounds."""
    parts = {
        "L17": 2770.0,
        "pc7": 2932.65 + 1147.26 + 2 * 181.58,
        "c310": 2950.0 + 180.0 + 180.0 + 150.0 + 150.0 + 100.0 + 2 * (225.0 + 95.0),
    }
    assert weight_lb(airplane) == pytest.approx(parts[airplane.model], abs=0.1)


@EACH
def test_a_glide_is_steady_without_thrust_and_sinks_as_its_drag_says(airplane: Outside) -> None:
    """``sin(gamma) (1 + (V/g) dV/dh) = -D/W``; the speed gained by thinner air is taken from the record itself."""
    glide = fly_glide(airplane, 100.0, 5000.0)
    assert np.ptp(glide.kias) < 0.15
    assert np.max(np.abs(glide.thrust_lbf)) < 0.002 * weight_lb(airplane)
    assert float(np.mean(glide.altitude_read_ft)) == pytest.approx(5000.0, abs=250.0)
    path = glide.climb_fpm / (glide.ktas * FPM_PER_KNOT)
    slowing = np.gradient(glide.ktas * FPM_PER_KNOT / 60.0, glide.time_s).mean() / 32.174
    cosine = float(np.sqrt(1.0 - path.mean() ** 2))
    drag_over_lift = -(path.mean() + slowing) / cosine
    assert drag_over_lift == pytest.approx(
        float(((glide.drag_lbf - glide.thrust_lbf) / glide.lift_lbf).mean()), rel=0.003
    )


@HELD_STILL
def test_a_glide_flies_on_the_polar_of_the_airplane_held_still(airplane: Outside) -> None:
    area = wing_area_ft2(airplane)
    for speed in (95.0, 115.0):
        glide = fly_glide(airplane, speed, 5000.0)
        cl, cd = (np.mean(x / (glide.qbar_psf * area)) for x in (glide.lift_lbf, glide.drag_lbf))
        still_cl, still_cd = coefficients(airplane, speed, 5000.0)
        (low_cl, low_cd) = coefficients(airplane, speed + 1.0, 5000.0)
        at_lift = still_cd + (cl - still_cl) * (low_cd - still_cd) / (low_cl - still_cl)
        assert cd == pytest.approx(at_lift, rel=0.003)


@HELD_STILL
def test_a_climb_is_what_the_forces_held_still_lead_to_expect(airplane: Outside) -> None:
    for speed in (92.0, 110.0):
        climb = fly_climb(airplane, speed, 6000.0, run_s=60.0)
        height = float(np.mean(climb.altitude_read_ft))
        assert height == pytest.approx(6000.0, abs=100.0)
        expected = climb_fpm(airplane, speed, height)
        assert float(np.mean(climb.climb_fpm)) == pytest.approx(expected, rel=0.02)


def test_the_blown_airplane_climbs_less_at_low_speed_than_without_its_slipstream() -> None:
    """pc7.xml adds lift and pitching moment with thrust: held still without thrust it is another airplane."""
    climb = fly_climb(PC7, 110.0, 6000.0, run_s=60.0)
    expected = climb_fpm(PC7, 110.0, float(np.mean(climb.altitude_read_ft)))
    assert float(np.mean(climb.climb_fpm)) == pytest.approx(expected, rel=0.05)


@EACH
def test_best_rate_beats_its_neighbours(airplane: Outside) -> None:
    speed, rate = best_rate(airplane, 6000.0)
    for other in (speed - 4.0, speed + 4.0):
        assert climb_fpm(airplane, round(other, 2), 6000.0) < rate


@EACH
def test_a_stall_breaks_near_the_stall_speed_of_the_lift_table(airplane: Outside) -> None:
    """The break at 1 kt/s lies a little below the 1 g speed: the path bends down, and pitching adds lift."""
    for flap in (0.0, airplane.full_flap_deg):
        slow, usual = (
            fly_stall(airplane, 6000.0, flap_deg=flap, entry_rate_kt_s=0.4),
            fly_stall(airplane, 6000.0, flap_deg=flap, entry_rate_kt_s=0.8),
        )
        assert 0.3 < slow.entry_rate_kt_s < 0.7
        assert 0.8 < usual.entry_rate_kt_s < 1.2
        assert 0.96 < usual.load_factor < 1.0
        level = usual.kias / np.sqrt(usual.load_factor)
        assert level == pytest.approx(stall_kcas(airplane, flap), abs=0.9)
        assert stall_kias(airplane, 6000.0, flap) == pytest.approx(usual.kias, abs=0.3)


@EACH
def test_a_deceleration_holds_height_and_frozen_power(airplane: Outside) -> None:
    flight = fly_deceleration(airplane, "gear", 126.0, 3000.0, run_s=40.0)
    before = flight.time_s <= 0.0
    assert np.ptp(flight.kias[before]) < 0.3
    assert float(flight.kias[before][-1]) == pytest.approx(126.0, abs=0.4)
    assert np.max(np.abs(flight.altitude_read_ft - 3000.0)) < 6.0
    assert np.ptp(flight.throttle) == 0.0
    assert flight.fully_out_s == pytest.approx(5.0, abs=0.21)  # gear traverse time of all three models
    assert flight.kias[-1] < 106.0


@pytest.mark.parametrize(
    ("airplane", "coefficient"), [(L17, None), (PC7, 0.03), (C310, 0.06)], ids=["L17", "pc7", "c310"]
)
def test_the_gear_has_the_area_its_coefficient_gives(airplane: Outside, coefficient: float | None) -> None:
    """Coefficient of gear drag of the model file times wing area, but for what trim and angle of attack add."""
    (area,) = device_area(airplane, [110.0], 3000.0, 0.0, 1.0)
    expected = 5.49 if coefficient is None else coefficient * wing_area_ft2(airplane)  # L17: test_flight_dynamics_truth
    assert area == pytest.approx(expected, rel=0.012)


@pytest.mark.parametrize("airplane", [L17, PC7], ids=lambda a: a.model)
def test_out_and_back_the_forces_differ_by_the_device_alone(airplane: Outside) -> None:
    """At equal speed on both legs thrust is equal, and drag differs by the gear's area."""
    flight = fly_deceleration(airplane, "gear", 130.0, 3000.0, run_s=150.0, back_s=36.0)
    out = (flight.time_s > 8.0) & (flight.time_s < 36.0)
    back = (flight.time_s > 48.0) & (flight.gear_pos < 1e-6)
    speeds = np.linspace(
        max(flight.kias[out].min(), flight.kias[back].min()) + 1.0,
        min(flight.kias[out].max(), flight.kias[back].max()) - 1.0,
        4,
    )
    assert np.ptp(speeds) > 4.0
    legs = []
    for leg in (out, back):
        order = np.argsort(flight.kias[leg])
        legs.append(
            [
                np.interp(speeds, flight.kias[leg][order], x[leg][order])
                for x in (flight.drag_lbf / flight.qbar_psf, flight.thrust_lbf)
            ]
        )
    np.testing.assert_allclose(legs[0][1], legs[1][1], rtol=0.03)
    truth = device_area(airplane, [float(speeds.mean())], 3000.0, 0.0, 1.0)[0]
    np.testing.assert_allclose(legs[0][0] - legs[1][0], truth, rtol=0.02)


def test_flaps_of_the_twin_are_left_alone_because_they_take_drag_away() -> None:
    """c310.xml gives drag by angle of attack alone, induced drag in it: at equal lift a flap takes it away."""
    slow, fast = device_area(C310, [90.0, 128.0], 3000.0, 45.0, 0.0)
    assert slow < 0.0 < fast


def test_the_blown_airplane_needs_another_elevator_with_a_stopped_propeller() -> None:
    """Why the polar of pc7 is flown, not held still: a stopped propeller disturbs lift and trim in pc7.xml."""
    held = trimmed(110.0, 5000.0, 0.0, 0.0, PC7)
    glide = fly_glide(PC7, 110.0, 5000.0)
    flown = float((glide.drag_lbf / glide.lift_lbf).mean())
    assert flown < 0.985 * held.drag_lbf / held.lift_lbf


@EACH
def test_a_level_acceleration_levels_off_and_gains_speed_as_its_forces_say(airplane: Outside) -> None:
    """``m dV/dt = T cos(alpha) - D`` once level."""
    flight = fly_level_acceleration(airplane, airplane.lowest_kias + 6.0, 4000.0, run_s=60.0)
    level = flight.time_s > 15.0
    assert np.max(np.abs(flight.altitude_read_ft - flight.altitude_ft)) < 60.0
    assert np.max(np.abs(flight.altitude_read_ft[level] - flight.altitude_ft)) < 15.0
    assert flight.kias[-1] > flight.kias[0] + 20.0
    speed = flight.ktas * FPM_PER_KNOT / 60.0
    gained = np.gradient(speed, flight.time_s) + 32.174 * flight.climb_fpm / 60.0 / speed
    force = (flight.thrust_lbf * np.cos(flight.alpha_rad) - flight.drag_lbf) / weight_lb(airplane) * 32.174
    np.testing.assert_allclose(gained[level], force[level], atol=0.05)


def test_rough_air_is_light_repeats_by_its_seed_and_is_new_with_another() -> None:
    """Airspeed wanders by a few knots; 5 to 15 kt from peak to peak is what pilots report as light (from memory)."""
    still = fly_deceleration(L17, "gear", 130.0, 3000.0, run_s=60.0)
    rough, again, other = (
        fly_deceleration.__wrapped__(L17, "gear", 130.0, 3000.0, run_s=60.0, gusts=Gusts(1, seed)) for seed in (5, 5, 6)
    )
    np.testing.assert_array_equal(rough.kias, again.kias)
    assert not np.array_equal(rough.kias, other.kias)
    off = rough.kias - still.kias
    assert 0.5 < float(np.std(off)) < 4.0
    assert float(np.ptp(off)) < 15.0
    assert np.max(np.abs(rough.altitude_read_ft - 3000.0)) < 20.0
