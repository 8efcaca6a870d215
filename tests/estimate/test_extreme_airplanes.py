"""The whole physical domain, from an ultralight to a five-tonne twin: no NaN, monotone and continuous where it must be.

Both airplanes, and the mid-sized one between them, are invented. A twin's two propellers are written as one disk of the
same area. Every airplane is tried as its file states it and as its beliefs let it be, up to three standard deviations.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.airplane.quillback import QUILLBACK
from tests.estimate.invented import blank_run
from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.airspeed import true_from_calibrated
from wringout.atmosphere import density_kgm3
from wringout.estimate.problem import StudyRun
from wringout.estimate.reduction import reduce_runs
from wringout.methods.register import method
from wringout.recordings.types import Device
from wringout.techniques.flying.matchup import fly_matchups
from wringout.techniques.stated.orders import Detent, orders
from wringout.techniques.stated.types import Domain, EntrySpeed, GoAround, Law, Thresholds
from wringout.units import FOOT, KNOT

ULTRALIGHT = """\
format = "wringout airplane, version 1"
name = "Sandpiper 45 (invented)"
invented = true
geometry = { wing_area = "130 ft2", span = "31 ft" }
propulsion = { propeller = "fixed pitch", diameter = "58 in", rated_power = "45 hp" }
drag = { clean_area = "5 ± 0.8 ft2" }
limits = { max_weight = "620 lb", never_exceed = "85 kt" }
[[flaps]]
name = "full"
angle = "30 deg"
area = "3 ± 1 ft2"
stall_speed = "31 ± 1.5 kt"
limit_speed = "60 kt"
"""
TWIN = """\
format = "wringout airplane, version 1"
name = "Pelican 700 twin (invented)"
invented = true
geometry = { wing_area = "240 ft2", span = "47 ft" }
drag = { clean_area = "7 ± 1 ft2", gear_area = "8 ± 2.5 ft2" }
limits = { max_weight = "11000 lb", never_exceed = "250 kt" }
[propulsion]
propeller = "constant speed"
diameter = "130 in"
rated_power = "800 hp"
aspiration = "flat rated"
[gear]
down_time = "9 ± 2 s"
up_time = "8 ± 2 s"
operate_limit = "170 kt"
retract_limit = "160 kt"
extended_limit = "190 kt"
[[flaps]]
name = "approach"
angle = "15 deg"
area = "4 ± 1.5 ft2"
stall_speed = "80 ± 2 kt"
limit_speed = "180 kt"
[[flaps]]
name = "half"
angle = "25 deg"
area = "8 ± 2.5 ft2"
stall_speed = "77 ± 2 kt"
limit_speed = "160 kt"
[[flaps]]
name = "full"
angle = "40 deg"
area = "15 ± 4 ft2"
stall_speed = "74 ± 2 kt"
limit_speed = "150 kt"
"""
TEXTS = {"ultralight": ULTRALIGHT, "single": QUILLBACK, "twin": TWIN}
G0 = 9.80665
LOWEST_M, HIGHEST_M = -400.0, 7600.0


@cache
def known(name: str) -> Beliefs:
    return airplane_from_document(parse_airplane(TEXTS[name]))


def row_of(name: str, latents: list[float]) -> np.ndarray:
    """Return a parameter row the beliefs allow, its latents drawn from a few numbers in turn."""
    beliefs = known(name)
    size = len(beliefs.parameters)
    return np.ascontiguousarray(beliefs.row_from_latent(np.resize(np.array(latents), size)))


ROWS = st.builds(row_of, st.sampled_from(sorted(TEXTS)), st.lists(st.floats(-3.0, 3.0), min_size=1, max_size=9))
AIR = st.builds(lambda h, warm: float(density_kgm3(h, warm)), st.floats(LOWEST_M, HIGHEST_M), st.floats(-25.0, 25.0))
SHARE = st.floats(0.0, 1.0)


def full_flap(row: np.ndarray) -> float:
    return float(row[v.ANGLES + int(row[v.SETTINGS]) - 1])


def weight_of(row: np.ndarray, share: float) -> float:
    """Return a weight, N: the wing loading of any airplane here lies between 15 and 260 kg/m2."""
    heaviest = {name: known(name).limits.max_mass_kg for name in TEXTS}
    mass = next(mass for name, mass in heaviest.items() if float(known(name).base[v.WING_AREA]) == row[v.WING_AREA])
    return (0.55 + 0.45 * share) * mass * G0


@given(row=ROWS, rho=AIR, load=SHARE, fast=SHARE, gear=SHARE, flap=SHARE)
@settings(max_examples=120)
def test_every_force_is_a_number_of_the_right_sign(
    row: np.ndarray, rho: float, load: float, fast: float, gear: float, flap: float
) -> None:
    assert np.all(np.isfinite(row[: v.ANGLES]))
    weight, angle = weight_of(row, load), flap * full_flap(row)
    stall = forces.stall_speed(row, weight, rho, angle)
    assert 8.0 < stall < 90.0
    speed = (0.8 + 2.7 * fast) * stall
    drag = forces.drag(row, speed, rho, weight, gear, angle)
    power = forces.full_throttle_disk_power(row, rho / 1.225)
    thrust = forces.thrust(row, power, speed, rho)
    assert 0.0 < drag < 3.0 * weight
    assert 0.0 <= thrust < 3.0 * weight
    assert np.isfinite(forces.reference_disk_power(row, drag, speed, rho))
    assert np.isfinite(forces.lift_coefficient(row, 0.1, angle))
    assert forces.parasite_area(row, gear, angle, 1.0) > 0.0
    assert forces.gear_area(row, gear, angle) >= 0.0 or not known_gear_is_positive(row)


def known_gear_is_positive(row: np.ndarray) -> bool:
    """Say whether the door's bump, which may be believed negative, leaves the gear's area positive on its whole way."""
    return bool(row[v.GEAR_BUMP] > -0.25)


@given(row=ROWS, rho=AIR, load=SHARE, flap=SHARE, more=SHARE)
@settings(max_examples=100)
def test_the_stall_is_where_physics_puts_it(row: np.ndarray, rho: float, load: float, flap: float, more: float) -> None:
    weight, angle = weight_of(row, load), flap * full_flap(row)
    speed = forces.stall_speed(row, weight, rho, angle)
    assert forces.stall_speed(row, weight * (1.0 + more), rho, angle) >= speed
    assert forces.stall_speed(row, weight, rho * (1.0 + more), angle) <= speed
    gains = np.diff(row[v.CL_MAXES : v.CL_MAXES + int(row[v.SETTINGS])])
    if np.all(gains >= 0.0):  # beliefs of neighbouring settings may cross three deviations out
        assert forces.stall_speed(row, weight, rho, min(angle * (1.0 + more), full_flap(row))) <= speed * (1.0 + 1e-12)


@given(row=ROWS, rho=AIR, load=SHARE, fast=SHARE, more=st.floats(0.01, 1.0))
@settings(max_examples=100)
def test_drag_grows_with_gear_weight_and_area(
    row: np.ndarray, rho: float, load: float, fast: float, more: float
) -> None:
    weight = weight_of(row, load)
    speed = (1.1 + 2.0 * fast) * forces.stall_speed(row, weight, rho, 0.0)
    assert forces.drag(row, speed, rho, weight, 1.0, 0.0) >= forces.drag(row, speed, rho, weight, 0.0, 0.0)
    dirtier = row.copy()
    dirtier[v.F_CLEAN] *= 1.0 + more
    assert forces.drag(dirtier, speed, rho, weight, 0.0, 0.0) > forces.drag(row, speed, rho, weight, 0.0, 0.0)
    assume(row[v.CLEAN_SLOPE] >= 0.0)
    assert forces.drag(row, speed, rho, weight * (1.0 + more), 0.0, 0.0) > forces.drag(
        row, speed, rho, weight, 0.0, 0.0
    )


@given(row=ROWS, rho=AIR, slow=SHARE, more=st.floats(0.001, 1.0))
@settings(max_examples=100)
def test_thrust_grows_with_power_and_falls_with_speed_at_constant_power(
    row: np.ndarray, rho: float, slow: float, more: float
) -> None:
    speed = 10.0 + 70.0 * slow
    power = forces.full_throttle_disk_power(row, rho / 1.225)
    thrust = forces.thrust(row, power, speed, rho)
    assert forces.thrust(row, power * (1.0 + more), speed, rho) >= thrust
    if row[v.PROPELLER_LAW] > 0.5 or row[v.EFFICIENCY_SLOPE] <= 0.0:  # of the law alone: a bend may tilt it back
        row[v.THRUST_BEND] = 0.0
        thrust = forces.thrust(row, power, speed, rho)
        assert forces.thrust(row, power, speed * (1.0 + more), rho) <= thrust * (1.0 + 1e-12)


@given(row=ROWS, rho=AIR, cl=st.floats(0.1, 2.5), place=st.integers(0, 7))
@settings(max_examples=100)
def test_nothing_jumps_at_a_detent_or_at_the_end_of_a_table(row: np.ndarray, rho: float, cl: float, place: int) -> None:
    angle = float(row[v.ANGLES + place % int(row[v.SETTINGS])])
    a_hair = 1e-9
    for quantity in (
        lambda d: forces.flap_area(row, d, cl),
        lambda d: forces.flap_area_at_reference(row, d),
        lambda d: forces.cl_max(row, d),
        lambda d: forces.gear_area(row, 1.0, d),
    ):
        here = quantity(angle)
        for near in (max(angle - a_hair, 0.0), min(angle + a_hair, full_flap(row))):
            assert quantity(near) == pytest.approx(here, rel=1e-6, abs=1e-7)
    held = 0.4 * float(row[v.EFFICIENCY_SPEED])
    power = forces.full_throttle_disk_power(row, rho / 1.225)
    below, above = (forces.thrust(row, power, held * (1.0 + e), rho) for e in (-1e-9, 1e-9))
    assert below == pytest.approx(above, rel=1e-6)


@given(st.floats(LOWEST_M, 10_900.0), st.floats(15.0, 130.0), st.floats(0.01, 50.0))
def test_air_and_airspeed_are_continuous_and_monotone(height_m: float, cas_mps: float, step_m: float) -> None:
    assert density_kgm3(height_m + step_m, 0.0) < density_kgm3(height_m, 0.0)
    tas, higher = (true_from_calibrated(cas_mps, h, 0.0) for h in (height_m, height_m + step_m))
    assert np.isfinite(tas)
    assert higher > tas
    assert float(density_kgm3(11_000.0 - 1e-6, 0.0)) == pytest.approx(
        float(density_kgm3(11_000.0 + 1e-6, 0.0)), rel=1e-9
    )


@pytest.mark.parametrize("name", TEXTS)
def test_every_order_flies_on_every_airplane_under_every_law(name: str) -> None:
    beliefs = known(name)
    rng = np.random.default_rng(4)  # all of these can hold 3 degrees at their heaviest; of seed 3 one cannot
    rows = np.array([row_of(name, list(rng.uniform(-2.0, 2.0, len(beliefs.parameters)))) for _ in range(6)])
    detents = tuple(Detent(s.name, s.angle_rad) for s in beliefs.settings)
    start = detents[-1].angle_rad
    heaviest = beliefs.limits.max_mass_kg
    approach = GoAround(
        start_flap_rad=start, entry_speed=EntrySpeed(1.3), start_gear=1.0 if beliefs.retractable else 0.0
    )
    domain = Domain((0.6 * heaviest, heaviest), (LOWEST_M, 2500.0), (-25.0, 25.0), (1.2, 1.4))
    techniques = orders(detents, start, beliefs.retractable)
    found = fly_matchups(rows, approach, domain, techniques, tuple(Law), Thresholds(), 1)
    assert len(found) == len(Law)
    for matchup in found:
        assert matchup.scores.shape[:2] == (6, len(techniques))
        assert not np.isnan(matchup.scores).any()


@pytest.mark.parametrize("name", TEXTS)
def test_a_study_of_every_airplane_can_be_reduced(name: str) -> None:
    """Two runs with the flaps and, where it moves, two with the gear; the areas come out within their doubt."""
    beliefs = known(name)
    rng = np.random.default_rng(11)
    truth = beliefs.row_from_latent(0.7 * rng.standard_normal(len(beliefs.parameters)))
    deceleration = method("level deceleration")
    mass = 0.93 * beliefs.limits.max_mass_kg
    clean = forces.stall_speed(truth, mass * G0, 1.0, 0.0) / KNOT
    flap = beliefs.settings[-1].angle_rad
    plans = [("F1", Device.FLAPS, flap), ("F2", Device.FLAPS, flap)]
    plans += [("G1", Device.GEAR, 1.0), ("G2", Device.GEAR, 1.0)] if beliefs.retractable else []
    runs = []
    for key, device, to in plans:
        blank = blank_run(key, device, to, 1.9 * clean)
        blank = replace(blank, conditions=replace(blank.conditions, mass_kg=mass, pressure_altitude_m=5000.0 * FOOT))
        runs.append(StudyRun(deceleration.simulate(blank, truth, beliefs, rng), deceleration))
    found = reduce_runs(beliefs, runs, draws=400, seed=2)
    assert found.joint.settled
    for finding in found.findings:
        assert math.isfinite(finding.value), finding.key
        assert all(math.isfinite(end) for end in (*finding.half, *finding.most)), finding.key
        assert finding.most[0] <= finding.half[0] <= finding.half[1] <= finding.most[1]
    rows = found.posterior.rows
    assert not np.isnan(rows).any()
    last = v.F_FLAPS + int(truth[v.SETTINGS]) - 1
    for column in [last, *([v.F_GEAR] if beliefs.retractable else [])]:
        off = abs(np.mean(rows[:, column]) - truth[column]) / np.std(rows[:, column])
        assert off < 4.0, (name, column, off)
