"""Level accelerations: specific excess power by closed forms, and runs of an integrator in other words."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tests.airplane.own_words import DEG, KT, LB, RHO0, G, OwnAirplane
from tests.airplane.quillback import quillback
from tests.methods.own_steady import own_density
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import calibrated_from_true
from wringout.errors import BadInputError
from wringout.methods.level_acceleration.by_hand import energy_height_m, specific_excess_power_mps, unbalanced_force_n
from wringout.methods.level_acceleration.method import METHOD
from wringout.methods.level_acceleration.run import AccelerationRun
from wringout.methods.types import HandResult
from wringout.recordings.reader import read_recording

BELIEFS = quillback()
FT, HP, FPM = 0.3048, 550 * 0.3048 * 0.45359237 * G, 0.3048 / 60
ALTITUDE, WARMER, MASS = 6000 * FT, 8.0, 2950 * LB
HEADER = "# method: level acceleration\n# altitude: 6000 ft\n# isa deviation: 8\n# weight: 2950 lb\n"
DENSITY = own_density(ALTITUDE, WARMER)
TIMES = np.arange(0.0, 95.0, 5.0)
ETA = 0.82


def run_of(text: str, beliefs: Beliefs = BELIEFS, **setup: str) -> AccelerationRun:
    (run,) = METHOD.from_recording("A1", read_recording(text.encode(), "faster.csv"), setup, beliefs)
    return run


def text_of(power: str = "full", rows: str = "") -> str:
    made = "".join(f"{t:.0f}, {80 + t / 3:.0f}, \n" for t in TIMES)
    return f"{HEADER}# power: {power}\ntime, speed, mark\n{rows or made}"


def full_power(rated: float = 230 * HP) -> float:
    """1930s engineering literature: P/P0 = (sigma - C)/(1 - C), C = 0.132/1.132."""
    c = 0.132 / 1.132
    return rated * (DENSITY / RHO0 - c) / (1 - c)


def own_thrust(own: OwnAirplane, shaft: float, true: float) -> float:
    disk = ETA * shaft * (true / own.v_ref) ** own.propeller
    low, high = 0.0, 2e4
    for _ in range(80):
        thrust = 0.5 * (low + high)
        wake = -true / 2 + math.sqrt(true**2 / 4 + thrust / (2 * DENSITY * own.disk))
        low, high = (thrust, high) if thrust * (true + wake) < disk else (low, thrust)
    return low


def own_excess(own: OwnAirplane, true: float, shaft: float, gear: float = 0.0, flap: float = 0.0) -> float:
    """Specific excess power [m/s]."""
    drag = own.drag(true, DENSITY, MASS * G, gear, flap)
    return (own_thrust(own, shaft, true) - drag) * true / (MASS * G)


def flown(
    run: AccelerationRun, own: OwnAirplane, entry_kt: float = 75.0, shaft: float | None = None, rate: float = 0.0
) -> AccelerationRun:
    """The run as the airplane in the tests' own words shows it; ``rate`` is a steady climb [m/s] it was flown with."""
    power = full_power() if shaft is None else shaft
    gear, flap = run.entry_gear, run.entry_flap_rad

    def faster(_: float, y: np.ndarray) -> list[float]:
        speed = float(y[0])
        return [G / speed * (own_excess(own, speed, power, gear, flap) - rate)]

    solved = solve_ivp(faster, (0.0, run.time_s[-1]), [entry_kt * KT], t_eval=run.time_s, rtol=1e-8, atol=1e-8)
    indicated = calibrated_from_true(solved.y[0], ALTITUDE, WARMER)
    return replace(run, ias_mps=indicated, whole_units_mps=0.0)


def means(run: AccelerationRun, **changed: float) -> np.ndarray:
    return np.array([changed.get(n.key.replace(" ", "_"), n.mean) for n in METHOD.nuisances(run, BELIEFS)])


def by_hand(run: AccelerationRun) -> dict[str, HandResult]:
    return {result.key: result for result in METHOD.by_hand(run, BELIEFS)}


def own_row(own: OwnAirplane) -> np.ndarray:
    row = own.row()
    row[v.DISK_EFFICIENCY], row[v.RATED_POWER], row[v.ALTITUDE_LAW] = ETA, 230 * HP, 0.132 / 1.132
    return row


def test_closed_forms_of_energy() -> None:
    """Ps = dh/dt + (V/g) dV/dt (USN TPS equation 7.3, read on a stored copy); F = (W/g) dV/dt; Eh = V^2/2g."""
    assert specific_excess_power_mps(80 * KT, KT) / FPM == pytest.approx(424.994, abs=0.01)
    assert specific_excess_power_mps(80 * KT, KT, 100 * FPM) / FPM == pytest.approx(524.994, abs=0.01)
    assert unbalanced_force_n(3300 * LB, KT) / (LB * G) == pytest.approx(173.1138, abs=1e-3)
    assert (energy_height_m(90 * KT) - energy_height_m(70 * KT)) / FT == pytest.approx(141.6646, abs=0.01)


@pytest.mark.parametrize(
    ("words", "own"), [({}, OwnAirplane()), ({"gear": "down", "flaps": "half"}, OwnAirplane(e=0.7))]
)
def test_prediction_is_that_of_the_general_purpose_integrator(words: dict[str, str], own: OwnAirplane) -> None:
    run = run_of(text_of(), **words)
    assert (run.entry_gear, run.entry_flap_rad) == ((1.0, 20 * DEG) if words else (0.0, 0.0))
    seen = flown(run, own)
    predicted = METHOD.predict(seen, own_row(own), means(seen), BELIEFS)
    assert np.abs(predicted - seen.ias_mps).max() / KT < 0.01
    assert np.abs(METHOD.residuals(seen, own_row(own), means(seen), BELIEFS)).max() < 0.02


def test_stated_power_and_its_factor() -> None:
    own = OwnAirplane()
    run = run_of(text_of("160 hp"))
    seen = flown(run, own, shaft=160 * HP * 1.05)
    assert (
        np.abs(METHOD.predict(seen, own_row(own), means(seen, power_factor=1.05), BELIEFS) - seen.ias_mps).max() < 0.005
    )
    assert METHOD.predict(seen, own_row(own), means(seen), BELIEFS)[-1] < seen.ias_mps[-1] - 0.5


def test_excess_power_by_hand() -> None:
    own = OwnAirplane()
    seen = flown(run_of(text_of()), own)
    found = by_hand(seen)
    for key in ("excess power, slow end", "excess power, middle", "excess power, fast end"):
        result = found[key]
        truth = own_excess(own, result.speed_mps, full_power()) / FPM
        assert result.value.value == pytest.approx(truth, abs=15), key
        low, high = result.value.interval()
        assert low < truth < high
    force = found["excess thrust, middle"]
    expected = own_excess(own, force.speed_mps, full_power()) * MASS * G / force.speed_mps
    assert force.value.value == pytest.approx(expected / (LB * G), abs=8)
    assert found["excess power against belief"].value.value == pytest.approx(0, abs=12)


def test_best_rate_speed_where_the_excess_peaks() -> None:
    own = OwnAirplane(e=0.6)
    seen = flown(run_of(text_of()), own, entry_kt=68.0)
    speeds = np.linspace(60, 120, 601) * KT
    best = speeds[np.argmax([own_excess(own, s, full_power()) for s in speeds])]
    result = by_hand(seen)["best-rate speed"]
    assert result.value.value == pytest.approx(best / KT, abs=3.0)
    low, high = result.value.interval()
    assert low < best / KT < high


def test_the_fitted_airplanes_best_rate_counts_what_its_laws_differ_from_the_curve_alone() -> None:
    """Peak in the tests' own words; an airplane fitted wrongly has an interval as wide as it is off, and says so."""
    own, other = OwnAirplane(e=0.6), OwnAirplane(e=0.95)
    seen = flown(run_of(text_of()), own, entry_kt=68.0)
    speeds = np.linspace(50, 130, 801) * KT
    alone = by_hand(seen)["best-rate speed"].value.value
    for fitted in (own, other):
        best = speeds[np.argmax([own_excess(fitted, s, full_power()) for s in speeds])] / KT
        rows, nuisances = np.tile(own_row(fitted), (3, 1)), np.tile(means(seen), (3, 1))
        rows[:, v.MASS_FACTOR] = 0.995, 1.0, 1.005
        (result,) = METHOD.from_fit(seen, rows, nuisances, METHOD.by_hand(seen, BELIEFS))
        assert result.value.value == pytest.approx(best, abs=0.3)
        assert result.value.standard_uncertainty >= abs(result.value.value - alone)
    assert "trust the curve alone" in result.sentence
    assert METHOD.from_fit(seen, rows, nuisances, []) == []


def test_the_peak_of_a_curve_that_is_no_parabola_is_doubted_by_as_much() -> None:
    """``V dV/dt`` a cubic in speed, by scipy's integrator: a parabola through all of it peaks elsewhere."""
    peak = 96 * KT

    def faster(_: float, y: np.ndarray) -> np.ndarray:
        u = y - peak
        return np.asarray((30.0 - 0.055 * u**2 + 1.1e-3 * u**3) / y)

    run = run_of(text_of())
    true = solve_ivp(faster, (0.0, run.time_s[-1]), [78 * KT], t_eval=run.time_s, rtol=1e-9).y[0]
    seen = replace(run, ias_mps=np.asarray(calibrated_from_true(true, ALTITUDE, WARMER)), whole_units_mps=0.0)
    value = by_hand(seen)["best-rate speed"].value
    shape = value.budget["shape of the curve"]
    assert abs(value.value - peak / KT) > 1.5
    assert abs(value.value - peak / KT) < 2.0 * math.hypot(shape, 0.3)


def test_a_peak_that_was_not_flown_through_is_not_claimed() -> None:
    result = by_hand(flown(run_of(text_of()), OwnAirplane(), entry_kt=110.0))["best-rate speed"]
    assert "lies there or beyond" in result.sentence


def test_altitude_wander_is_energy() -> None:
    own, rate = OwnAirplane(), 0.5
    seen = flown(run_of(text_of()), own, rate=rate)
    # ISA + 8 at 6,000 ft (standard 3.11 C, ICAO Doc 7488): pressure altitude changes less than height
    warm = (273.15 + 3.11 + 8.0) / (273.15 + 3.11)
    known = replace(seen, altitude_m=ALTITUDE + rate / warm * seen.time_s)
    by_gps = replace(seen, altitude_m=ALTITUDE + rate * seen.time_s, geometric=True)
    truth = own_excess(own, by_hand(known)["excess power, middle"].speed_mps, full_power()) / FPM
    assert by_hand(known)["excess power, middle"].value.value == pytest.approx(truth, abs=15)
    assert abs(by_hand(seen)["excess power, middle"].value.value - truth) > 60
    for run in (known, by_gps):
        assert np.abs(METHOD.predict(run, own_row(own), means(run), BELIEFS) - run.ias_mps).max() / KT < 0.02


def test_less_power_than_stated_is_noticed() -> None:
    seen = flown(run_of(text_of()), OwnAirplane(), shaft=0.6 * full_power())
    assert "as with less power than stated" in by_hand(seen)["excess power against belief"].sentence


def test_intervals_hold_the_truth_about_as_often_as_they_say() -> None:
    run, row, rng = run_of(text_of()), BELIEFS.prior_row(), np.random.default_rng(8)
    own, within = OwnAirplane(), 0
    for _ in range(80):
        candidate = row.copy()
        candidate[v.IAS_BIAS] = rng.normal(0, 1.5 * KT)
        result = by_hand(METHOD.simulate(run, candidate, BELIEFS, rng))["excess power, middle"]
        low, high = result.value.interval()
        # Power (1 %) and propeller are drawn too, 15 ft/min; the truth is that of the airplane without them.
        truth = own_excess(own, result.speed_mps - candidate[v.IAS_BIAS], full_power()) / FPM
        within += low <= truth <= high
    # Binomial, 80 of 0.95: 69 to 80 holds 99.8 % of the time.
    assert within >= 69


def test_the_run_starts_when_the_power_is_on() -> None:
    rows = "0, 75, \n5, 75, power full\n" + "".join(f"{t:.0f}, {75 + t / 3:.0f}, \n" for t in TIMES[2:])
    run = run_of(text_of(rows=rows).replace("# power: full\n", ""))
    assert run.source.from_s == 10.0
    assert run.power.kind.value == "full"
    assert run.title == "level acceleration, clean, full power"


GEAR_ROWS = "".join(f"{t:.0f}, {80 + t / 3:.0f}, {'gear up' if t == 30 else ''}\n" for t in TIMES)
JUMP_ROWS = "".join(f"{t + (200 if t > 40 else 0):.0f}, {80 + t / 3:.0f}, \n" for t in TIMES)


@pytest.mark.parametrize(
    ("text", "where", "word"),
    [
        (text_of(rows=GEAR_ROWS), "faster.csv, row 13, mark", "a device was moved in mid-run (gear up)"),
        (
            text_of(rows=JUMP_ROWS),
            "faster.csv, row 16, time",
            "the clock jumps by 205 s while the speed changes by 2 kt",
        ),
        (text_of("idle"), "faster.csv, power", "flown with power 'idle'"),
        (text_of().replace("# power: full\n", ""), "faster.csv, power", "does not say its power"),
        (text_of(rows="0, 80, \n5, 82, \n10, 84, \n"), "faster.csv", "only 3 readings"),
        (
            HEADER
            + "# power: full\ntime, speed, altitude\n"
            + "".join(f"{t:.0f}, 90, {6000 + 10 * t:.0f}\n" for t in TIMES),
            "faster.csv",
            "the altitude changed by 900 ft",
        ),
        (text_of().replace("# weight: 2950 lb\n", ""), "faster.csv, weight", "its weight"),
    ],
)
def test_bad_input_gets_one_sentence(text: str, where: str, word: str) -> None:
    with pytest.raises(BadInputError) as caught:
        run_of(text)
    assert str(caught.value).startswith(where), str(caught.value)
    assert word in str(caught.value)
    assert caught.value.expected
    assert "\n" not in str(caught.value)


def test_guard_and_card() -> None:
    assert METHOD.card(BELIEFS, {}).title == "Level acceleration, flaps up, gear up, full power"
    notices = METHOD.guard(BELIEFS, {"speeds": "72, 195 kt", "height above ground": "5000 ft"})
    assert [n.blocking for n in notices] == [True, False]
    assert "VNE 190 kt" in notices[0].sentence
