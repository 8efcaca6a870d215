"""Climbs: corrections by published factors, best speeds against an airplane in other words, wind and inversions."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.airplane.own_words import KT, LB, RHO0, G, OwnAirplane
from tests.airplane.quillback import QUILLBACK, quillback
from tests.methods.own_steady import own_climb, own_density, own_rate
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import calibrated_from_equivalent, calibrated_from_true
from wringout.errors import BadInputError
from wringout.methods.climb.method import METHOD
from wringout.methods.steady_climb import acceleration_factor
from wringout.methods.steady_run import SteadyRun
from wringout.methods.types import HandResult
from wringout.recordings.reader import read_recording

BELIEFS = quillback(QUILLBACK.replace('"0.75 ± 0.08"', '"0.65 ± 0.08"'))
"""Believed as flown, so that weight corrections are exact."""
FT, HP, FPM = 0.3048, 550 * 0.3048 * 0.45359237 * G, 0.3048 / 60
ALTITUDE, WARMER, MASS, ETA = 5000 * FT, 12.0, 2900 * LB, 0.82
HEADER = "# method: climb\n# altitude: 5000 ft\n# isa deviation: 12\n# weight: 2900 lb\n# power: full\n"
SPEEDS = (65, 72, 80, 88, 97, 106)
OWN = OwnAirplane(e=0.65)


def run_of(text: str, beliefs: Beliefs = BELIEFS, **setup: str) -> SteadyRun:
    (run,) = METHOD.from_recording("C1", read_recording(text.encode(), "climbs.csv"), setup, beliefs)
    return run


def by_hand(run: SteadyRun, beliefs: Beliefs = BELIEFS) -> dict[str, HandResult]:
    return {result.key: result for result in METHOD.by_hand(run, beliefs)}


def pull(own: OwnAirplane, speed: float, density: float) -> float:
    """Thrust [N] at full throttle: 1930s altitude law of power, momentum theory of the disk."""
    c = 0.132 / 1.132
    shaft = 230 * HP * (density / RHO0 - c) / (1 - c)
    disk = ETA * shaft * (speed / own.v_ref) ** own.propeller
    wake = 0.0
    for _ in range(200):
        thrust = disk / (speed + wake)
        wake = -speed / 2 + math.sqrt(speed**2 / 4 + thrust / (2 * density * own.disk))
    return disk / (speed + wake)


def full(speed: float, density: float) -> float:
    return pull(OWN, speed, density)


def equivalent_at(altitude: float, calibrated: float) -> float:
    low, high = calibrated * 0.98, calibrated
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if calibrated_from_equivalent(middle, altitude) < calibrated else (low, middle)
    return low


def own_rate_at(calibrated_kt: float, mass: float = MASS, altitude: float = ALTITUDE, gradient: float = 0.0) -> float:
    """Rate of climb [m/s of pressure altitude] in the tests' own words."""
    equivalent = equivalent_at(altitude, calibrated_kt * KT)
    return own_rate(OWN, altitude, equivalent, mass, full, WARMER, tailwind_gradient=gradient)


def own_row() -> np.ndarray:
    row = OWN.row()
    row[v.DISK_EFFICIENCY], row[v.RATED_POWER], row[v.ALTITUDE_LAW] = ETA, 230 * HP, 0.132 / 1.132
    return row


def means(run: SteadyRun, **changed: float) -> np.ndarray:
    return np.array([changed.get(n.key.replace(" ", "_"), n.mean) for n in METHOD.nuisances(run, BELIEFS)])


def table(header: str = HEADER, gradient: float = 0.0, both_ways: bool = False) -> str:
    rows = ""
    for speed in SPEEDS:
        for heading in (20, 200) if both_ways else (20,):
            growth = gradient * math.cos(math.radians(heading - 20))
            rows += f"up, {speed}, {own_rate_at(speed, gradient=growth) / FPM:.6f}, {heading}\n"
    return f"{header}flap, speed, vertical speed, heading\n{rows}"


@pytest.mark.parametrize(
    ("calibrated_kt", "altitude_ft", "factor"), [(80, 2000, 0.991207), (100, 5000, 0.984814), (120, 8000, 0.975890)]
)
def test_climb_correction_factor(calibrated_kt: float, altitude_ft: float, factor: float) -> None:
    """1/(1 + (V/g) dV/dh) at constant calibrated airspeed: USN TPS fixed-wing performance manual, equation 7.4, read on
    a stored copy; recomputed independently."""
    seen = acceleration_factor(np.array(calibrated_kt * KT), np.array(altitude_ft * FT), np.array(0.0))
    assert 1 / (1 + float(seen)) == pytest.approx(factor, abs=5e-6)


def test_prediction_is_that_of_total_energy() -> None:
    run = run_of(table())
    seen = METHOD.predict(run, own_row(), means(run), BELIEFS) / FPM
    # The tests' own climb holds equivalent, the package calibrated airspeed; 0.04 % of the rate between them.
    assert seen == pytest.approx([own_rate_at(speed) / FPM for speed in SPEEDS], abs=0.6)
    assert np.abs(METHOD.residuals(run, own_row(), means(run), BELIEFS)).max() < 0.02


def test_wind_that_grows_with_height_is_heeded() -> None:
    gradient = 3 * KT / (1000 * FT)
    run = run_of(table(gradient=gradient, both_ways=True))
    north, east = gradient * math.cos(math.radians(20)), gradient * math.sin(math.radians(20))
    nuisance = means(run, wind_gradient_north=north, wind_gradient_east=east)
    assert METHOD.predict(run, own_row(), nuisance, BELIEFS) == pytest.approx(run.points.rate_mps, abs=0.6 * FPM)
    quiet = METHOD.predict(run, own_row(), means(run), BELIEFS)
    assert np.abs(quiet - run.points.rate_mps).max() > 10 * FPM
    blind = run_of(table(gradient=gradient).replace(", heading", ", note"))
    nuisance = means(blind, wind_gradient_behind=gradient)
    assert METHOD.predict(blind, own_row(), nuisance, BELIEFS) == pytest.approx(blind.points.rate_mps, abs=0.6 * FPM)


def truth() -> tuple[float, float, float]:
    """Best-rate speed, its geometric rate at maximum weight, and best-angle speed, by trying every speed."""
    speeds = np.linspace(50, 110, 241)
    rates = np.array([own_rate_at(speed, 3200 * LB) for speed in speeds])
    stretch = 1 + WARMER / (288.15 - 0.0065 * ALTITUDE)
    true = np.array([equivalent_at(ALTITUDE, s * KT) / math.sqrt(own_density(ALTITUDE, WARMER) / RHO0) for s in speeds])
    return float(speeds[rates.argmax()]), float(rates.max() * stretch), float(speeds[(rates / true).argmax()])


def test_best_speeds_without_noise() -> None:
    best, rate, steepest = truth()
    found = by_hand(run_of(table()))
    result = found["best-rate speed, clean"]
    assert result.value.value == pytest.approx(best, abs=2.0)
    low, high = result.value.interval()
    assert low < best < high
    assert found["best rate, clean"].value.value == pytest.approx(rate / FPM, abs=8)
    assert found["best-angle speed, clean"].value.value == pytest.approx(steepest, abs=5.0)
    assert steepest < best
    assert "No reciprocal headings" in result.sentence


def test_lighter_climbs_are_brought_to_maximum_weight() -> None:
    light = by_hand(run_of(table()))["best rate, clean"].value.value
    doubted = by_hand(run_of(table()), quillback())["best rate, clean"].value  # believes 0.75 of the span efficiency
    rows = "".join(f"up, {s}, {own_rate_at(s, 3200 * LB) / FPM:.6f}, 20\n" for s in SPEEDS)
    heavy_text = HEADER.replace("2900 lb", "3200 lb") + "flap, speed, vertical speed, heading\n" + rows
    heavy = by_hand(run_of(heavy_text))["best rate, clean"].value.value
    assert light == pytest.approx(heavy, abs=2)
    assert abs(doubted.value - heavy) > 8
    assert doubted.budget["span efficiency"] > 5
    raw = own_rate_at(80) / FPM - own_rate_at(80, 3200 * LB) / FPM
    assert raw > 100


def test_reciprocal_headings_show_and_remove_the_wind() -> None:
    gradient = 3 * KT / (1000 * FT)
    calm = by_hand(run_of(table(both_ways=True)))
    windy = by_hand(run_of(table(gradient=gradient, both_ways=True)))
    growth = windy["wind gradient 020, clean"].value
    assert growth.value == pytest.approx(3.0, abs=0.1)
    low, high = growth.interval()
    assert low < 3.0 < high
    assert windy["best rate, clean"].value.value == pytest.approx(calm["best rate, clean"].value.value, abs=1.5)
    one_way = by_hand(run_of(table(gradient=gradient)))
    assert abs(one_way["best rate, clean"].value.value - calm["best rate, clean"].value.value) > 15
    assert calm["wind gradient 020, clean"].value.value == pytest.approx(0.0, abs=0.01)


def test_climbs_at_several_heights_are_brought_together() -> None:
    rows = "".join(
        f"up, {s}, {own_rate_at(s, altitude=h * FT) / FPM:.6f}, {h}\n"
        for s, h in zip(
            SPEEDS * 2, (4000, 6000, 4500, 5500, 6000, 4000, 6000, 4000, 5500, 4500, 4000, 6000), strict=True
        )
    )
    found = by_hand(run_of(HEADER + "flap, speed, vertical speed, altitude\n" + rows))
    slope = (own_rate_at(85, 3200 * LB, 5500 * FT) - own_rate_at(85, 3200 * LB, 4500 * FT)) / FPM
    assert found["rate with height, clean"].value.value == pytest.approx(slope, rel=0.15)
    assert found["best rate, clean"].value.value == pytest.approx(truth()[1] / FPM, abs=12)


def climb_rows(gradient_k_per_m: float = -0.0065, seconds: int = 300, mark: str = "") -> str:
    times = np.arange(0.0, seconds + 1.0, 10.0)
    equivalent = equivalent_at(ALTITUDE, 80 * KT)
    heights = own_climb(OWN, times, 3500 * FT, equivalent, MASS, full, WARMER)
    ground = 288.15 - 0.0065 * heights[0] + WARMER
    rows = ""
    for time, height in zip(times, heights, strict=True):
        density = own_density(float(height), WARMER)
        calibrated = float(calibrated_from_true(equivalent * math.sqrt(RHO0 / density), float(height), WARMER)) / KT
        kelvin = ground + gradient_k_per_m * (height - heights[0])
        said = mark if time == 60 else ""
        rows += f"{time:.0f}, {calibrated:.4f}, {height / FT:.3f}, {kelvin - 273.15:.3f}, {said}\n"
    return rows


TIMED = HEADER + "time, speed, altitude, oat, mark\n"


def test_check_climb_from_a_timed_recording() -> None:
    run = run_of(TIMED + climb_rows())
    assert len(run.points) == 5
    assert np.abs(METHOD.residuals(run, own_row(), means(run), BELIEFS)).max() < 0.15
    found = by_hand(run)
    height = float(run.points.pressure_altitude_m.mean())
    expected = own_rate_at(80, 3200 * LB, height) * (1 + WARMER / (288.15 - 0.0065 * height)) / FPM
    assert found["rate at 80 kt, clean"].value.value == pytest.approx(expected, abs=10)
    slope = (own_rate_at(80, 3200 * LB, height + 500 * FT) - own_rate_at(80, 3200 * LB, height - 500 * FT)) / FPM
    assert found["rate with height, clean"].value.value == pytest.approx(slope, rel=0.2)


def test_an_inversion_in_a_timed_climb_is_set_aside() -> None:
    with pytest.raises(
        BadInputError, match=r"no steady stretch is left: Row 7 .*temperature rises by 2\.\d C.*inversion"
    ):
        run_of(TIMED + climb_rows(gradient_k_per_m=0.012))


def test_an_inversion_between_climbs_sets_both_sides_aside() -> None:
    rows = "".join(
        f"up, 80, 800, {h}, {t}\n" for h, t in ((4000, 15.0), (4500, 14.0), (5000, 16.0), (5500, 15.0), (6000, 14.0))
    )
    run = run_of(HEADER + "flap, speed, vertical speed, altitude, oat\n" + rows)
    assert [aside.row for aside in run.set_aside] == [8, 9]
    assert "rises by 2.0 C from 4500 to 5000 ft, an inversion" in run.set_aside[0].reason
    assert len(run.points) == 3
    assert run.set_aside[0].sentence() in by_hand(run)["rate at 80 kt, clean"].sentence


def test_one_climb_in_rising_air_is_named_and_left_out() -> None:
    honest = by_hand(run_of(table(both_ways=True)))["best rate, clean"].value.value
    text = table(both_ways=True)
    line = next(row for row in text.splitlines() if row.startswith("up, 88"))
    rate = float(line.split(",")[2])
    found = by_hand(run_of(text.replace(line, line.replace(f"{rate:.6f}", f"{rate + 400:.6f}"))))["best rate, clean"]
    assert found.value.value == pytest.approx(honest, abs=3)
    sentence = by_hand(run_of(text.replace(line, line.replace(f"{rate:.6f}", f"{rate + 400:.6f}"))))
    assert "ft/min off the other climbs, as in rising air" in sentence["best-rate speed, clean"].sentence


def test_climbs_that_show_no_top_claim_none() -> None:
    rows = "".join(f"up, {s}, {600 + 4 * s}, 20\n" for s in SPEEDS)
    found = by_hand(run_of(HEADER + "flap, speed, vertical speed, heading\n" + rows))
    assert "best-rate speed, clean" not in found
    assert "the climbs show no best-rate speed" in found["curve, clean"].sentence


def test_less_power_than_stated_is_noticed() -> None:
    rows = "".join(f"up, {s}, {own_rate_at(s) / FPM - 700:.6f}, 20\n" for s in SPEEDS)
    result = by_hand(run_of(HEADER + "flap, speed, vertical speed, heading\n" + rows))["climb against belief"]
    assert "as with less power than stated" in result.sentence


def test_intervals_hold_the_truth_about_as_often_as_they_say() -> None:
    text = QUILLBACK.replace('"0.75 ± 0.08"', '"0.65 ± 0.08"')
    beliefs = quillback(text + '\n[instrument]\nbias = "0 ± 1 kt"\n')
    run, row = run_of(table(both_ways=True), beliefs), beliefs.prior_row()
    quiet = replace(run, points=replace(run.points, rate_sd_mps=run.points.rate_sd_mps * 1e-3))
    rng, best, _ = np.random.default_rng(2), *truth()[:2]
    without = by_hand(METHOD.simulate(quiet, row, beliefs, rng), beliefs)["best-rate speed, clean"].value.value
    within, widths = 0, []
    for _ in range(60):
        candidate = row.copy()
        candidate[v.IAS_BIAS], candidate[v.MASS_FACTOR] = rng.normal(0, KT), rng.normal(1, 0.01)
        found = by_hand(METHOD.simulate(run, candidate, beliefs, rng), beliefs)
        if "best-rate speed, clean" in found:
            low, high = found["best-rate speed, clean"].value.interval()
            within += low <= best <= high
            widths.append(high - low)
    assert without == pytest.approx(best, abs=2.5)
    # Binomial, 60 of 0.95: 51 to 60 holds 99.8 % of the time.
    assert within >= 0.85 * len(widths)
    assert len(widths) > 54


@pytest.mark.parametrize(
    ("text", "where", "word"),
    [
        (table(HEADER.replace("# power: full\n", "")), "climbs.csv, power", "does not say its power"),
        (table(HEADER.replace("full", "idle")), "climbs.csv, power", "flown with power 'idle'"),
        (table(HEADER.replace("# weight: 2900 lb\n", "")), "climbs.csv, weight", "its weight"),
        (HEADER + "flap, speed\nup, 80\n", "climbs.csv", "Row 7 is set aside: no vertical speed is written"),
        (TIMED + climb_rows(mark="gear down"), "climbs.csv", "the gear was moved in mid-run (gear down)"),
        (TIMED + climb_rows(mark="power 24 in"), "climbs.csv", "the power was changed in mid-run (power 24 in)"),
        (
            TIMED + "".join(f"{t + (600 if t > 60 else 0)}, 80, {3500 + 13 * t}, 10,\n" for t in range(0, 150, 10)),
            "climbs.csv",
            "the clock jumps by 610 s",
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


def test_guard_and_card() -> None:
    card = METHOD.card(BELIEFS, {"power": "takeoff"})
    assert card.title == "Saw-tooth climbs, flaps up, gear up, takeoff power"
    assert any("reciprocal heading" in step for step in card.steps)
    notices = METHOD.guard(BELIEFS, {"speeds": "55, 75, 95 kt", "height above ground": "3500 ft"})
    assert len(notices) == 1
    assert notices[0].blocking
    assert "55 kt planned against a believed stall speed of" in notices[0].sentence
