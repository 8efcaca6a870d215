"""Out-and-back pairs: the device's drag with thrust and clean drag cancelled, against an integrator's pairs."""

import math
import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tests.airplane.own_words import DEG, FT2, KT, LB, G, OwnAirplane, moving
from tests.airplane.quillback import QUILLBACK, quillback
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import calibrated_from_true, true_from_calibrated
from wringout.atmosphere import density_kgm3
from wringout.errors import BadInputError
from wringout.methods.level_deceleration.run import true_per_indicated
from wringout.methods.out_and_back.by_hand import pair_and_single
from wringout.methods.out_and_back.method import METHOD
from wringout.methods.out_and_back.run import OutAndBackRun
from wringout.methods.speed_trend import speed_trend
from wringout.methods.types import HandResult
from wringout.propagation import Measured
from wringout.recordings.reader import read_recording

ENOUGH_TIME = QUILLBACK.replace('down_time = "7 ± 2 s"', 'down_time = "7 ± 0.5 s"').replace(
    'up_time = "6 ± 2 s"', 'up_time = "6 ± 0.5 s"'
)
BELIEFS = quillback(ENOUGH_TIME)
FT = 0.3048
HEADER = "# method: out and back\n# altitude: 7000 ft\n# temperature: 8 C\n# weight: 3000 lb\n"
TURN = 120.0


def text_of(
    device: str = "gear", out: str = "down", back: str = "up", last: float = 260.0, header: str = HEADER
) -> str:
    rows = []
    for time in np.arange(0.0, last + 1, 6.0):
        mark = f"{device} {out}" if time == 6 else f"{device} {back}" if time == TURN else ""
        rows.append(f"{time:.0f}, 120, {mark}\n")
    return header + "time, speed, mark\n" + "".join(rows)


def run_of(text: str, beliefs: Beliefs = BELIEFS, **setup: str) -> OutAndBackRun:
    (run,) = METHOD.from_recording("B1", read_recording(text.encode(), "pair.csv"), setup, beliefs)
    return run


def there_and_back(select: float, back: float, seconds: tuple[float, float], full: float) -> Callable[[float], float]:
    out, home = moving(select, seconds[0], 0.0, full), moving(back, seconds[1], 0.0, full)
    return lambda t: out(t) - home(t)


def flown(
    run: OutAndBackRun,
    own: OwnAirplane,
    gear: Callable[[float], float] = lambda _: 0.0,
    flap: Callable[[float], float] = lambda _: 0.0,
    climb: Callable[[float], float] = lambda _: 0.0,
    entry_kt: float = 120.0,
    off_trim: float = 0.0,
) -> OutAndBackRun:
    """The pair as the airplane in the tests' own words shows it, without noise; the mass changes at the second move."""
    air = run.conditions
    density = float(density_kgm3(air.pressure_altitude_m, air.isa_deviation_k))
    entry = float(true_from_calibrated(entry_kt * KT, air.pressure_altitude_m, air.isa_deviation_k))
    needed = own.drag(entry, density, air.mass_kg * G, gear(0.0), flap(0.0)) + air.mass_kg * off_trim
    law = own.thrust_law(needed + air.mass_kg * G * climb(0.0) / entry, entry, density)

    def slowing(t: float, y: np.ndarray, mass: float) -> list[float]:
        speed = float(y[0])
        drag = own.drag(speed, density, mass * G, gear(t), flap(t))
        return [(law(speed) - drag) / mass - G * climb(t) / speed]

    speeds: list[float] = []
    start, before = entry, run.time_s < TURN
    for times, mass, first, last in (
        (run.time_s[before], air.mass_kg, 0.0, TURN),
        (run.time_s[~before], run.return_mass_kg, TURN, float(run.time_s[-1]) + 1.0),
    ):
        solved = solve_ivp(
            slowing, (first, last), [start], args=(mass,), dense_output=True, rtol=1e-8, atol=1e-8, max_step=0.2
        )
        start = float(solved.y[0][-1])
        speeds += solved.sol(times)[0].tolist()
    indicated = calibrated_from_true(np.array(speeds), air.pressure_altitude_m, air.isa_deviation_k)
    return replace(run, ias_mps=indicated, whole_units_mps=0.0)


def gear_pair(own: OwnAirplane, last: float = 260.0, beliefs: Beliefs = BELIEFS, **how: float) -> OutAndBackRun:
    run = run_of(text_of(last=last), beliefs)
    return flown(run, own, gear=there_and_back(6.0, TURN, own.travel[:2], 1.0), **how)  # type: ignore[arg-type]


def by_hand(run: OutAndBackRun, beliefs: Beliefs = BELIEFS) -> dict[str, HandResult]:
    return {result.key: result for result in METHOD.by_hand(run, beliefs)}


def means(run: OutAndBackRun, **changed: float) -> np.ndarray:
    return np.array([changed.get(n.key.replace(" ", "_"), n.mean) for n in METHOD.nuisances(run, BELIEFS)])


def width(m: Measured) -> float:
    low, high = m.interval()
    return high - low


# ---- from what was written down -------------------------------------------------------------------------------


def test_what_a_recording_becomes() -> None:
    run = run_of(text_of())
    assert run.title == "gear down, then gear up"
    assert run.method == "out and back"
    assert [move.select_s for move in run.moves] == [6.0, TURN]
    assert run.return_mass_kg == run.conditions.mass_kg
    back = run_of(text_of(header=HEADER + "# weight on the way back: 2970 lb\n"))
    assert back.return_mass_kg == pytest.approx(2970 * LB)


@pytest.mark.parametrize(
    ("text", "where", "word"),
    [
        (text_of().replace("gear up", ""), "pair.csv", "the device moves once (gear down), which is no pair"),
        (
            text_of().replace("gear up", "flaps half"),
            "pair.csv",
            "moves more than one device (gear down, then flaps half)",
        ),
        (text_of("flaps", "full", "half"), "pair.csv", "twice, but not back (flaps full, then flaps half)"),
        (
            text_of().replace("60, 120, \n", "60, 120, power 22 in\n"),
            "pair.csv, row 16, mark",
            "the power was changed in mid-run (power 22 in)",
        ),
        (
            text_of(header=HEADER + "# weight on the way back: 300 lb\n"),
            "pair.csv, weight on the way back",
            "300 lb is not a likely weight",
        ),
    ],
)
def test_bad_input_gets_one_sentence(text: str, where: str, word: str) -> None:
    with pytest.raises(BadInputError) as caught:
        run_of(text)
    assert str(caught.value).startswith(where), str(caught.value)
    assert word in str(caught.value)
    assert caught.value.expected
    assert "\n" not in str(caught.value)


def test_a_throttle_that_moved_is_seen_in_the_manifold_pressure() -> None:
    rows = "".join(
        f"{t}, 120, {22 if t < TURN else 24}, {'gear down' if t == 6 else 'gear up' if t == TURN else ''}\n"
        for t in range(0, 240, 6)
    )
    with pytest.raises(BadInputError, match=r"changed between the legs, from 22\.0 to 24\.0 inHg"):
        run_of(HEADER + "time, speed, manifold pressure, mark\n" + rows)


def test_a_clock_that_jumped_is_seen_in_the_speeds() -> None:
    run = gear_pair(OwnAirplane())
    rows = "".join(
        f"{t + (90 if t > 30 else 0):.0f}, {s / KT:.2f}, {'gear down' if t == 6 else 'gear up' if t == TURN else ''}\n"
        for t, s in zip(run.time_s, run.ias_mps, strict=True)
    )
    with pytest.raises(BadInputError, match=r"row 12, time: the clock jumps by 96 s while the speed changes by 3 kt"):
        run_of(HEADER + "time, speed, mark\n" + rows)


# ---- prediction -------------------------------------------------------------------------------------------------


def test_prediction_is_that_of_the_general_purpose_integrator() -> None:
    own = OwnAirplane(bump=0.1)
    run = gear_pair(own)
    assert np.abs(METHOD.predict(run, own.row(), means(run), BELIEFS) - run.ias_mps).max() / KT < 0.01


def test_fuel_burnt_between_the_legs_is_followed() -> None:
    own = OwnAirplane()
    lighter = replace(run_of(text_of()), return_mass_kg=2800 * LB)
    seen = flown(lighter, own, gear=there_and_back(6.0, TURN, own.travel[:2], 1.0))
    row = own.row()
    row[v.IAS_BIAS] = KT
    as_read = means(seen)
    as_read[0] += KT * true_per_indicated(seen)  # the dial shows 1 kt too much at entry too
    assert np.abs(METHOD.predict(seen, row, as_read, BELIEFS) - seen.ias_mps - KT).max() / KT < 0.01
    same = replace(seen, return_mass_kg=seen.conditions.mass_kg)
    assert np.abs(METHOD.predict(same, row, as_read, BELIEFS) - seen.ias_mps - KT).max() / KT > 0.3


def test_residuals_use_the_noise_of_a_deceleration() -> None:
    own = OwnAirplane()
    run = gear_pair(own)
    residuals = METHOD.residuals(run, own.row(), means(run), BELIEFS)
    assert np.abs(residuals).max() < 0.02
    assert METHOD.reading_sd(run, own.row(), means(run), BELIEFS).min() >= KT


# ---- by hand ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "own",
    [
        OwnAirplane(),
        OwnAirplane(clean=6 * FT2, e=0.6),
        OwnAirplane(propeller=0.5),
        OwnAirplane(fixed_pitch=True, propeller=0.045),
    ],
    ids=["as believed", "another clean polar", "another propeller", "fixed pitch"],
)
def test_gear_drag_needs_no_propeller_and_no_clean_polar(own: OwnAirplane) -> None:
    """Gear at 4.2 ft2 whatever the clean polar and propeller are, while the single leg leans on both."""
    pair, single = pair_and_single(gear_pair(own), BELIEFS)
    assert pair is not None
    assert pair.value.value == pytest.approx(4.2, abs=0.05)
    low, high = pair.value.interval()
    assert low < 4.2 < high
    assert pair.strength == 1
    assert pair.is_drag
    slope = next(result for result in single if result.key == "start slope")
    assert width(pair.value) < 0.8 * width(slope.value)
    assert "clean drag area" not in pair.value.budget
    assert "clean_area" in slope.value.budget


def test_the_gain_stands_in_the_sentence() -> None:
    found = by_hand(gear_pair(OwnAirplane()))
    assert next(iter(found)) == "out and back"
    assert {"start slope", "knots lost"} <= set(found)
    best = min((found[key].value for key in found if key in ("start slope", "settled speeds")), key=width)
    share = width(found["out and back"].value) / width(best)
    assert f"The interval is {share:.2f} of that of the" in found["out and back"].sentence
    assert share < 0.8


def test_flaps_that_lean_on_lift_are_followed_over_the_speeds() -> None:
    own = OwnAirplane(slopes=[0.0, -2.0 * FT2, -4.0 * FT2])
    run = run_of(text_of("flaps", "half", "up"))
    seen = flown(run, own, flap=there_and_back(6.0, TURN, (3.0, 2.5), 20 * DEG))
    found = by_hand(seen)["out and back"]
    density = float(density_kgm3(run.conditions.pressure_altitude_m, run.conditions.isa_deviation_k))
    words = found.sentence.split("mean from ")[1]
    low, high = float(words.split(" to ")[0]), float(words.split(" to ")[1].split(" kt")[0])
    areas = []
    for speed in np.linspace(low, high, 25) * KT:
        cl = 3000 * LB * G / (density * speed**2 / 2 * own.wing)
        areas.append(own.flap_area(20 * DEG, cl) / FT2)
    assert found.value.value == pytest.approx(np.mean(areas), abs=0.05)
    ends = re.search(r"\((.+?) ft2 at the slow end, (.+?) at the fast\)", found.sentence)
    assert ends is not None
    assert [float(end) for end in ends.groups()] == pytest.approx([areas[0], areas[-1]], abs=0.15)


def test_altitude_wander_is_energy() -> None:
    own = OwnAirplane()

    def climb(t: float) -> float:
        return 0.4 * math.sin(t / 40.0)

    run = run_of(text_of())
    seen = flown(run, own, gear=there_and_back(6.0, TURN, own.travel[:2], 1.0), climb=climb)
    ignored = by_hand(seen)["out and back"].value
    heights = 7000 * FT + np.array([0.4 * 40.0 * (1 - math.cos(t / 40.0)) for t in run.time_s])
    heeded = by_hand(replace(seen, altitude_m=heights))["out and back"].value
    assert abs(heeded.value - 4.2) < 0.12
    assert abs(ignored.value - 4.2) > 2 * abs(heeded.value - 4.2)
    assert width(ignored) > width(heeded)


def test_fuel_burnt_between_the_legs_is_corrected() -> None:
    own = OwnAirplane()
    run = replace(run_of(text_of()), return_mass_kg=2700 * LB)
    seen = flown(run, own, gear=there_and_back(6.0, TURN, own.travel[:2], 1.0))
    assert by_hand(seen)["out and back"].value.value == pytest.approx(4.2, abs=0.06)
    unheeded = replace(seen, return_mass_kg=seen.conditions.mass_kg)
    assert abs(by_hand(unheeded)["out and back"].value.value - 4.2) > 0.2


def test_partial_overlap_works_and_says_what_it_covers() -> None:
    """The way back is cut short after 40 s: the pair covers what both legs flew, with a wider interval."""
    whole, short = (by_hand(gear_pair(OwnAirplane(), last=last))["out and back"] for last in (260.0, 162.0))
    assert short.value.value == pytest.approx(4.2, abs=0.1)
    assert width(short.value) > width(whole.value)


def test_no_overlap_says_so_and_leaves_the_first_leg() -> None:
    run = gear_pair(OwnAirplane(), last=138.0)
    found = by_hand(run)
    assert "out and back" not in found
    assert all("No pair: the way back has 2 readings after the travel" in result.sentence for result in found.values())


def test_in_and_out_again_is_a_pair_too() -> None:
    own = OwnAirplane()
    text = text_of(out="up", back="down", header=HEADER + "# entry gear: down\n")
    gone = there_and_back(6.0, TURN, (6.0, 7.0), 1.0)
    seen = flown(run_of(text), own, gear=lambda t: 1.0 - gone(t), entry_kt=90.0)
    assert by_hand(seen)["out and back"].value.value == pytest.approx(4.2, abs=0.06)


def test_an_entry_that_was_not_quite_level_does_no_harm() -> None:
    own = OwnAirplane()
    pair, single = pair_and_single(gear_pair(own, off_trim=0.03), BELIEFS)
    assert pair is not None
    assert pair.value.value == pytest.approx(4.2, abs=0.05)
    slope = next(result for result in single if result.key == "start slope")
    assert abs(slope.value.value - 4.2) > 0.2


def test_intervals_hold_the_truth_about_as_often_as_they_say() -> None:
    """Simulated pairs, whole knots every 6 s with 1 kt and 0.5 s of noise, airplane and run drawn as believed."""
    beliefs = BELIEFS
    run, row = run_of(text_of()), beliefs.prior_row()
    rng, within, widths = np.random.default_rng(7), 0, []
    for _ in range(80):
        candidate = row.copy()
        candidate[v.IAS_BIAS], candidate[v.MASS_FACTOR] = rng.normal(0, 1.5 * KT), rng.normal(1, 0.01)
        candidate[v.F_CLEAN] *= math.exp(rng.normal(0, 0.15))
        seen = METHOD.simulate(run, candidate, beliefs, rng)
        pair, single = pair_and_single(seen, beliefs)
        assert pair is not None
        low, high = pair.value.interval()
        # The run's own scatter of the device's drag is drawn too, 3 %; the truth is that of the airplane.
        within += low <= 4.2 <= high
        widths.append(width(pair.value) / width(next(r for r in single if r.key == "start slope").value))
    # Binomial, 80 of 0.95: 69 to 80 holds 99.8 % of the time.
    assert within >= 69
    assert np.median(widths) < 0.8


def test_a_speed_trend_is_the_closed_form_of_an_exponential() -> None:
    """dV/dt = -(V - Vs)/tau has V = Vs + (V0 - Vs) exp(-t/tau), and V dV/dt is a parabola in speed."""
    times = np.arange(0.0, 100.0, 6.0)
    speeds = 45.0 + 15.0 * np.exp(-times / 30.0)
    trend = speed_trend(times, speeds, 0.05, 0.0)
    assert trend is not None
    at = np.array([46.0, 50.0, 58.0])
    assert trend.acceleration(at) == pytest.approx(-(at - 45.0) / 30.0, abs=1e-3)
    assert speed_trend(times[:4], speeds[:4], 0.5, 0.0) is None


def test_a_speed_trend_knows_its_own_doubt() -> None:
    """Seeded draws: the standard uncertainty of the mean acceleration is what repeats scatter by."""
    rng = np.random.default_rng(4)
    times = np.arange(0.0, 90.0, 6.0)
    speeds = 45.0 + 15.0 * np.exp(-times / 30.0)
    weights = np.array([1.0, 2.0, 10.0])
    found = []
    for _ in range(80):
        trend = speed_trend(times, speeds + rng.normal(0, 0.5, times.size), 0.5, 0.0)
        assert trend is not None
        found.append((float(weights @ trend.coefficients[1:]), trend.weighted_sd(weights)))
    values, stated = np.array(found).T
    assert np.std(values) == pytest.approx(np.median(stated), rel=0.35)


def test_guard_and_card() -> None:
    card = METHOD.card(BELIEFS, {"device": "flaps", "to": "half"})
    assert card.title == "Out-and-back pair, flaps half and up"
    assert any("without touching power" in step for step in card.steps)
    notices = METHOD.guard(BELIEFS, {"entry speed": "120 kt"})
    assert any(n.blocking and "120 kt against VLO (retract) 110 kt" in n.sentence for n in notices)
    assert not any(n.blocking for n in METHOD.guard(BELIEFS, {"entry speed": "115 kt", "settled speed": "88 kt"}))
