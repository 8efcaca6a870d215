"""The equation of motion against a general-purpose integrator and a deceleration with an exact answer."""

import numpy as np
import pytest

from tests.airplane.own_words import DEG, FT2, KT, LB, OwnAirplane, moving
from wringout.airplane import forces
from wringout.methods.speed_history import climb_rate_at, position_at, speed_history

HORSEPOWER = 745.69987158227022
RHO = 0.0023769 * 515.3788184


def random_airplane(rng: np.random.Generator) -> OwnAirplane:
    areas = np.cumsum(rng.uniform(1.0, 4.0, 3)) * FT2
    fixed = bool(rng.random() < 0.4)
    return OwnAirplane(
        wing=rng.uniform(130.0, 190.0) * FT2,
        span=rng.uniform(9.0, 11.5),
        e=rng.uniform(0.55, 0.9),
        clean=rng.uniform(2.5, 6.0) * FT2,
        lean=rng.uniform(-1.0, 1.0) * FT2,
        gear=rng.uniform(1.5, 6.0) * FT2,
        bump=rng.uniform(0.0, 0.4),
        shielding=rng.uniform(0.0, 0.5),
        angles=[0.0, 10.0 * DEG, 22.0 * DEG, 38.0 * DEG],
        areas=[0.0, *areas],
        slopes=[0.0, *(rng.uniform(-4.0, 2.0, 3) * FT2)],
        lifts=[1.4, 1.6, 1.8, 2.0],
        fixed_pitch=fixed,
        propeller=rng.uniform(0.02, 0.06) if fixed else rng.uniform(-0.1, 0.25),
        travel=tuple(rng.uniform(3.0, 12.0, 4)),  # type: ignore[arg-type]
    )


def compiled(
    row: np.ndarray,
    times: np.ndarray,
    entry: float,
    mass: float,
    density: float,
    *,
    climb: np.ndarray | None = None,
    gear: tuple[list[float], list[float]] = ([-1e6], [0.0]),
    flap: tuple[list[float], list[float]] = ([-1e6], [0.0]),
    acceleration: float = 0.0,
) -> np.ndarray:
    out = np.empty(times.size)
    knots = [np.array(part, dtype=float) for part in (*gear, *flap)]
    rates = np.zeros(1) if climb is None else climb
    speed_history(row, times, entry, acceleration, mass, density, rates, *knots, out)
    return out


@pytest.mark.parametrize("seed", [*range(24), 49])  # 49: a flap whose drag bends in travel, which long steps miss
def test_speeds_of_random_airplanes(seed: int) -> None:
    rng = np.random.default_rng(seed)
    own = random_airplane(rng)
    times = np.sort(np.concatenate(([0.0], rng.uniform(0.0, 110.0, 30))))
    entry, mass, density = rng.uniform(105, 140) * KT, rng.uniform(900.0, 1500.0), rng.uniform(0.85, 1.15)
    out_s, half_s = rng.uniform(2.0, 9.0), rng.uniform(3.0, 12.0)
    gear_at, flap_at = rng.uniform(3.0, 20.0), rng.uniform(5.0, 45.0)
    back = gear_at + out_s + rng.uniform(5.0, 40.0)
    flap_to = own.angles[-1] * rng.uniform(0.2, 1.0)
    climb = rng.normal(0.0, [0.3, 0.01, 1e-4])

    def gear(t: float) -> float:
        return moving(gear_at, out_s, 0.0, 1.0)(t) - moving(back, half_s, 0.0, 1.0)(t)

    expected = own.speeds(
        times, entry, mass, density, gear, moving(flap_at, half_s, 0.0, flap_to),
        lambda t: climb[0] + climb[1] * t + climb[2] * t**2, acceleration=0.02,
    )  # fmt: skip
    assert expected.size >= 8
    speeds = compiled(
        own.row(), times, entry, mass, density, climb=climb, acceleration=0.02,
        gear=([-1e6, gear_at, gear_at + out_s, back, back + half_s], [0.0, 0.0, 1.0, 1.0, 0.0]),
        flap=([-1e6, flap_at, flap_at + half_s], [0.0, 0.0, flap_to]),
    )  # fmt: skip
    # scipy.integrate.solve_ivp with the test's own right-hand side; bar 0.01 kt.
    assert np.abs(speeds[: expected.size] - expected).max() / KT < 0.01


def test_constant_thrust_power_has_an_exact_answer() -> None:
    # Synthetic closed form: 20 thrust hp, parasite drag of 7.411 ft2 only, 3,300 lb: 100 to 80 kt in 27.94805 s, and
    # 63.805 kt in the end. A huge disk has no slip loss, so power over speed is its thrust.
    own = OwnAirplane(clean=7.411 * FT2, e=1e12, disk=1e9, propeller=0.0)
    row, mass, entry = own.row(), 3300 * LB, 100 * KT
    missing = 20 * HORSEPOWER / entry - own.drag(entry, RHO, mass * 9.80665, 0.0, 0.0)
    times = np.array([0.0, 27.94805, 3000.0])
    speeds = compiled(row, times, entry, mass, RHO, acceleration=missing / mass) / KT
    assert speeds[1] == pytest.approx(80.0, abs=0.001)
    assert speeds[2] == pytest.approx(63.805, abs=0.001)


def test_almost_no_thrust() -> None:
    # Synthetic closed form: 1/V = 1/V0 + rho f t / 2m, f 7.411 ft2, 3,300 lb: 100 to 80 kt in 17.2491 s. The model
    # keeps thrust at 1 N at least, out of 950 N of drag; the tolerance is what 1 N does in that time.
    own = OwnAirplane(clean=7.411 * FT2, e=1e12, disk=1e9, propeller=0.0)
    mass, entry = 3300 * LB, 100 * KT
    braking = own.drag(entry, RHO, mass * 9.80665, 0.0, 0.0) / mass
    speeds = compiled(own.row(), np.array([0.0, 17.2491]), entry, mass, RHO, acceleration=-braking)
    assert speeds[1] / KT == pytest.approx(80.0, abs=1.2 * 17.2491 / mass / KT)


def test_nothing_moves_nothing_changes() -> None:
    speeds = compiled(OwnAirplane().row(), np.linspace(0.0, 60.0, 7), 60.0, 1300.0, 1.0)
    assert speeds == pytest.approx(60.0, abs=1e-6)


def test_the_least_speed_is_held() -> None:
    own = OwnAirplane(clean=60 * FT2, gear=400 * FT2)
    speeds = compiled(
        own.row(), np.array([0.0, 300.0]), 60.0, 1300.0, 1.0, gear=([-1e6, 0.0, 5.0], [0.0, 0.0, 1.0]),
        acceleration=-3.0,
    )  # fmt: skip
    assert speeds[1] == 15.0


def test_positions_and_climb_rates() -> None:
    knots_t, knots_x = np.array([-1e6, 10.0, 17.0]), np.array([0.0, 0.0, 1.0])
    assert [position_at(t, knots_t, knots_x) for t in (0.0, 10.0, 13.5, 17.0, 99.0)] == [0.0, 0.0, 0.5, 1.0, 1.0]
    climb = np.array([1.0, -0.5, 0.25])
    assert climb_rate_at(4.0, climb) == pytest.approx(3.0)
    assert climb_rate_at(-4.0, climb) == 1.0  # held before the first reading


# U.S. Naval Academy technical note, "Flight Determination of Partial Span Flap Parasite Drag With Flap Deflection",
# Tables 1 and 2 [ft2]: clean 3.125, gear 7.411 (with cowl flaps open), flap 32 deg 9.825, both 12.717.
@pytest.mark.parametrize(("gear", "flap", "area"), [(1.0, 0.0, 7.411), (0.0, 32.0, 9.825), (1.0, 32.0, 12.717)])
def test_settled_speeds_with_the_published_areas(gear: float, flap: float, area: float) -> None:
    own = OwnAirplane(
        clean=3.125 * FT2, gear=4.286 * FT2, shielding=1.394 / 4.286, e=0.6, propeller=-0.1,
        angles=[0.0, 10 * DEG, 20 * DEG, 32 * DEG], areas=[0.0, 0.511 * FT2, 2.544 * FT2, 6.7 * FT2],
        slopes=[0.0] * 4, lifts=[1.4, 1.6, 1.8, 2.0],
    )  # fmt: skip
    mass, entry = 3300 * LB, 140 * KT
    row, weight = own.row(), mass * 9.80665
    times = np.array([0.0, 2000.0])
    settled = compiled(
        row, times, entry, mass, RHO, gear=([-1e6, 1.0, 7.0], [0.0, 0.0, gear]),
        flap=([-1e6, 1.0, 7.0], [0.0, 0.0, flap * DEG]),
    )[-1]  # fmt: skip
    law = own.thrust_law(own.drag(entry, RHO, weight, 0.0, 0.0), entry, RHO)

    def excess(speed: float) -> float:
        """Thrust less drag written out with the published area of the whole airplane."""
        q = RHO * speed**2 / 2
        return law(speed) - q * area * FT2 - weight**2 / (q * np.pi * 0.6 * (33.5 * 0.3048) ** 2)

    fast, slow = entry, entry
    while excess(slow) < 0.0:
        fast, slow = slow, slow - 0.1
        assert slow > 30.0, "it never settles"
    for _ in range(60):
        middle = (fast + slow) / 2
        fast, slow = (middle, slow) if excess(middle) < 0.0 else (fast, middle)
    assert settled / KT == pytest.approx(fast / KT, abs=0.01)
    assert forces.parasite_area(row, gear, flap * DEG, 0.5) / FT2 == pytest.approx(area, abs=0.003)


def test_speeds_do_not_jump_where_the_last_bit_of_an_arrival_does() -> None:
    """Whether a device has arrived must not hang on rounding, which differs between processors.

    Steps after it would be long or short by chance, and speeds jump by 1e-6 m/s where a start moves by a microsecond.
    """
    own = random_airplane(np.random.default_rng(49))
    row, times = own.row(), np.arange(0.0, 60.0, 6.0)
    travel, angle = 6.0, own.angles[2]
    begins = 12.05 + 1e-6 * np.arange(60)
    speeds = np.array(
        [
            compiled(row, times, 58.0, 1300.0, 1.0, flap=([-1e6, s, s + travel], [0.0, 0.0, angle]))
            for s in begins.tolist()
        ]
    )
    assert np.abs(np.diff(speeds, 2, axis=0)).max() < 1e-9
