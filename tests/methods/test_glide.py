"""Glides: from sink to the polar, best glide and minimum sink, against closed forms and an integrator's glides."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.airplane.own_words import DEG, FT2, KT, LB, OwnAirplane
from tests.airplane.quillback import QUILLBACK, quillback
from tests.methods.own_steady import nothing, own_climb, own_density, own_rate
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import calibrated_from_equivalent, calibrated_from_true
from wringout.errors import BadInputError
from wringout.methods.glide.method import METHOD
from wringout.methods.glide.polar import (
    best_glide_ratio,
    best_glide_speed_mps,
    minimum_sink_mps,
    minimum_sink_speed_mps,
    speed_at,
)
from wringout.methods.steady_climb import temperature_ratio
from wringout.methods.steady_run import SteadyRun
from wringout.methods.types import HandResult
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Channel

BELIEFS = quillback()
FT = 0.3048
FPM = FT / 60
HEADER = "# method: glide\n# altitude: 6000 ft\n# temperature: 15 C\n# weight: 2900 lb\n# power: zero thrust\n"
WARMER = 15.0 - (15.0 - 6.5e-3 * 6000 * FT)
MASS = 2900 * LB
SPEEDS = (70, 80, 90, 105, 120)
CONSTANT = 4e-4
"""The tests' own glide holds equivalent, the package calibrated airspeed; their difference grows 0.1 kt in 6,000 ft."""


def run_of(text: str, beliefs: Beliefs = BELIEFS, **setup: str) -> SteadyRun:
    (run,) = METHOD.from_recording("L1", read_recording(text.encode(), "glides.csv"), setup, beliefs)
    return run


def by_hand(run: SteadyRun, beliefs: Beliefs = BELIEFS) -> dict[str, HandResult]:
    return {result.key: result for result in METHOD.by_hand(run, beliefs)}


def table(rates_fpm: dict[int, float], header: str = HEADER, flap: str = "up", gear: str = "up") -> str:
    rows = "".join(f"{flap}, {gear}, {speed}, {rate:.6f}\n" for speed, rate in rates_fpm.items())
    return f"{header}flap, gear, speed, vertical speed\n{rows}"


def own_rates(own: OwnAirplane, gear: float = 0.0, flap: float = 0.0, area: float = 0.0) -> dict[int, float]:
    """Vertical speeds [ft/min] of glides at SPEEDS knots calibrated, as an altimeter would show them."""
    out = {}
    for speed in SPEEDS:
        equivalent = _equivalent(speed * KT)
        rate = own_rate(own, 6000 * FT, equivalent, MASS, nothing, WARMER, gear, flap, more_area=area)
        out[speed] = rate / FPM
    return out


def _equivalent(calibrated: float) -> float:
    low, high = calibrated * 0.98, calibrated
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if calibrated_from_equivalent(middle, 6000 * FT) < calibrated else (low, middle)
    return low


# ---- the polar in glide --------------------------------------------------------------------------------------------


def test_closed_forms_of_the_parabolic_polar() -> None:
    """Parabolic polar CD = CD0 + k CL^2, recomputed independently; a course page quotes 9.09 where 9.1287 is exact."""
    cd0, k, mass, wing = 0.05, 0.06, 1300.0, 16.0
    assert best_glide_ratio(cd0, k) == pytest.approx(9.1287, abs=1e-3)
    fast, slow = best_glide_speed_mps(cd0, k, mass, wing), minimum_sink_speed_mps(cd0, k, mass, wing)
    assert fast / slow == pytest.approx(1.316074, abs=1e-6)
    sink = minimum_sink_mps(cd0, k, mass, wing)
    ratio_there = slow / sink
    assert ratio_there / best_glide_ratio(cd0, k) == pytest.approx(0.866025, abs=1e-6)
    # Power needed is weight times sink, so least power over that at best glide is the ratio of the sinks.
    assert sink / (fast / best_glide_ratio(cd0, k)) == pytest.approx(0.877383, abs=1e-6)


@pytest.mark.parametrize(
    ("area_ft2", "speed_kt", "ratio"),
    [
        # SYNTHETIC: areas read in a published flight measurement (U.S. Naval Academy note on partial-span flaps), span
        # 33.5 ft and span efficiency 0.6 assumed, 3,300 lb; recomputed independently.
        (3.125, 109.4921, 13.00889),
        (7.411, 88.232, 8.44748),
        (9.825, 82.2266, 7.33667),
        (12.717, 77.0902, 6.44871),
    ],
)
def test_best_glide_of_a_published_airplane(area_ft2: float, speed_kt: float, ratio: float) -> None:
    wing, span = 174 * FT2, 33.5 * FT
    cd0, k = area_ft2 * FT2 / wing, wing / (math.pi * 0.6 * span**2)
    # 3,300 lbf in the source; its density 0.0023769 slug/ft3 is 1.22500 kg/m3 to four digits.
    assert best_glide_speed_mps(cd0, k, 3300 * LB, wing) / KT == pytest.approx(speed_kt, abs=0.002)
    assert best_glide_ratio(cd0, k) == pytest.approx(ratio, abs=2e-4)


def test_sink_counts_in_geometric_height() -> None:
    """500 ft/min of pressure altitude at 5,000 ft, ISA + 20: dh = dHp T / Tstd gives 535.94 ft/min."""
    ratio = temperature_ratio(np.array(5000 * FT), np.array(20.0))
    assert 500 * float(ratio) == pytest.approx(535.94, abs=0.01)


# ---- prediction and recovery ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("gear", "flap", "words"), [(0.0, 0.0, ("up", "up")), (1.0, 40 * DEG, ("full", "down"))])
def test_prediction_is_that_of_total_energy(gear: float, flap: float, words: tuple[str, str]) -> None:
    own = OwnAirplane(slopes=[0.0, -1.0 * FT2, -3.0 * FT2])
    expected = own_rates(own, gear, flap)
    run = run_of(table(expected, flap=words[0], gear=words[1]))
    seen = METHOD.predict(run, own.row(), np.zeros(1), BELIEFS)
    assert seen / FPM == pytest.approx(list(expected.values()), rel=CONSTANT)


def test_windmilling_drag_weight_and_bias_are_heeded() -> None:
    own = OwnAirplane()
    run = run_of(table(own_rates(own)))
    row = own.row()
    dragging = METHOD.predict(run, row, np.array([0.8 * FT2]), BELIEFS) / FPM
    assert dragging == pytest.approx(list(own_rates(own, area=0.8 * FT2).values()), rel=CONSTANT)
    row[v.MASS_FACTOR] = 1.02
    heavier = replace(run.points, mass_kg=run.points.mass_kg * 1.02)
    same = METHOD.predict(replace(run, points=heavier), own.row(), np.zeros(1), BELIEFS)
    assert METHOD.predict(run, row, np.zeros(1), BELIEFS) == pytest.approx(same, rel=1e-12)
    row[v.MASS_FACTOR], row[v.IAS_BIAS] = 1.0, 2 * KT
    slower = replace(run.points, ias_mps=run.points.ias_mps - 2 * KT)
    same = METHOD.predict(replace(run, points=slower), own.row(), np.zeros(1), BELIEFS)
    assert METHOD.predict(run, row, np.zeros(1), BELIEFS) == pytest.approx(same, rel=1e-12)


def test_polar_from_a_table_without_noise() -> None:
    own = OwnAirplane(e=0.72, clean=4.3 * FT2)
    found = by_hand(run_of(table(own_rates(own))))
    wing, span = 174 * FT2, 33.5 * FT
    cd0, k = 4.3 * FT2 / wing, wing / (math.pi * 0.72 * span**2)
    for key, expected, within in (
        ("drag area", 4.3, 0.005),
        ("span efficiency", 0.72, 0.001),
        ("CD0", cd0, 1e-5),
        ("k", k, 1e-4),
        ("best glide ratio", 0.5 / math.sqrt(cd0 * k), 0.01),
        ("best glide speed", speed_at(math.sqrt(cd0 / k), 3200 * LB, wing) / KT, 0.1),
        ("minimum-sink speed", speed_at(math.sqrt(3 * cd0 / k), 3200 * LB, wing) / KT, 0.1),
    ):
        result = found[f"{key}, clean"]
        assert result.value.value == pytest.approx(expected, abs=within), key
        low, high = result.value.interval()
        assert low < expected < high
        assert {"dial bias", "weight"} <= set(result.value.budget)
    assert "propeller drag" in found["drag area, clean"].value.budget
    assert "through 5 glides (zero thrust)" in found["drag area, clean"].sentence


def test_polar_from_a_timed_recording_of_an_integrated_glide() -> None:
    """Three stretches of one recording, two minutes each, flown by the integrator on a warm day."""
    own, rows, start, altitude = OwnAirplane(), [], 0.0, 7000 * FT
    for speed in (75, 95, 115):
        equivalent = speed * KT * 0.9985
        times = start + np.arange(0.0, 121.0, 10.0)
        heights = own_climb(own, times, altitude, equivalent, MASS, nothing, WARMER)
        for i, (time, height) in enumerate(zip(times, heights, strict=True)):
            true = equivalent * math.sqrt(1.225 / own_density(float(height), WARMER))
            calibrated = float(calibrated_from_true(true, float(height), WARMER)) / KT
            mark = "start" if i == 0 else "end" if i == times.size - 1 else ""
            rows.append(f"{time:.0f}, {calibrated:.5f}, {height / FT:.4f}, {mark}")
        start, altitude = float(times[-1]) + 60.0, float(heights[-1])
    header = HEADER.replace("# temperature: 15 C\n", f"# isa deviation: {WARMER:.6f}\n")
    run = run_of(header + "time, speed, altitude, mark\n" + "\n".join(rows) + "\n")
    assert len(run.points) == 6  # one point for each minute
    assert run.title == "6 glides, zero thrust: clean"
    assert METHOD.residuals(run, own.row(), np.zeros(1), BELIEFS) == pytest.approx(np.zeros(6), abs=0.05)
    found = by_hand(run)
    assert found["drag area, clean"].value.value == pytest.approx(3.9, abs=0.01)
    assert found["span efficiency, clean"].value.value == pytest.approx(0.75, abs=0.002)


def test_height_over_time_counts_where_no_rate_is_written() -> None:
    recording = read_recording((HEADER + "flap, speed, vertical speed\nup, 80, -700\nup, 90,\n").encode(), "glides.csv")
    more = {
        "height_change": Channel("height_change", np.array([-900.0, -1600.0]) * FT, "height change", "ft"),
        "duration": Channel("duration", np.array([60.0, 120.0]), "seconds", "s"),
    }
    (run,) = METHOD.from_recording("L1", replace(recording, channels={**recording.channels, **more}), {}, BELIEFS)
    assert run.points.rate_mps / FPM == pytest.approx([-700, -800])


def test_idle_names_the_windmilling_drag() -> None:
    own = OwnAirplane()
    run = run_of(table(own_rates(own, area=1.0 * FT2), HEADER.replace("zero thrust", "idle")))
    nuisance = METHOD.nuisances(run, BELIEFS)[0]
    assert nuisance.key == "windmilling drag"
    found = by_hand(run)
    # The disk of 76 in is 31.5 ft2; 0.03 of it is the drag believed of an idling propeller (judged).
    believed = 0.03 * math.pi * (76 / 24) ** 2
    assert found["windmilling drag"].value.value == pytest.approx(believed, rel=1e-6)
    assert found["drag area, clean"].value.value == pytest.approx(3.9 + 1.0 - believed, abs=0.01)
    assert "propeller windmilling" in found["best glide ratio, clean"].sentence
    assert found["drag area, clean"].value.largest_source() == "propeller drag"
    span = 33.5 * FT
    flown = 0.5 / math.sqrt(4.9 * FT2 / (math.pi * 0.75 * span**2))  # what a pilot gets with the propeller windmilling
    assert found["best glide ratio, clean"].value.value == pytest.approx(flown, abs=0.01)


def test_a_stated_thrust_at_zero_thrust_takes_the_place_of_the_believed_one() -> None:
    text = table(own_rates(OwnAirplane()), HEADER.replace("zero thrust", "zero thrust ± 3 lbf"))
    run = run_of(text)
    (left,), (believed,) = (METHOD.nuisances(r, BELIEFS) for r in (run, run_of(text.replace(" ± 3 lbf", ""))))
    # As drag area at the mean of the speeds flown: 3 lbf over the pressure there, 0.5 rho0 V^2.
    pressure = 0.5 * 1.225 * (float(np.mean(SPEEDS)) * KT) ** 2
    assert left.sd == pytest.approx(3.0 * 4.4482216 / pressure, rel=1e-6)
    assert left.mean == believed.mean == 0.0
    areas = [by_hand(one)["drag area, clean"].value for one in (run, run_of(text.replace(" ± 3 lbf", "")))]
    assert areas[0].value == pytest.approx(areas[1].value)
    assert areas[0].standard_uncertainty < areas[1].standard_uncertainty


def test_each_configuration_has_its_polar() -> None:
    own = OwnAirplane()
    clean, gear = own_rates(own), own_rates(own, gear=1.0)
    run = run_of(table(clean) + table(gear, "", gear="down").split("\n", 1)[1])
    found = by_hand(run)
    added = found["drag area, gear down"].value.value - found["drag area, clean"].value.value
    assert added == pytest.approx(4.2, abs=0.01)


def test_intervals_hold_the_truth_about_as_often_as_they_say() -> None:
    """A hundred simulated series of five glides with bias, weight and propeller drag drawn as believed."""
    beliefs = quillback(QUILLBACK + '\n[instrument]\nbias = "0 ± 1 kt"\n')
    run, row = run_of(table(own_rates(OwnAirplane())), beliefs), beliefs.prior_row()
    rng = np.random.default_rng(11)
    within = {"drag area, clean": 0, "k, clean": 0}
    k = float(row[v.WING_AREA] / (math.pi * row[v.OSWALD] * row[v.SPAN] ** 2))
    truth = {"drag area, clean": float(row[v.F_CLEAN]) / FT2, "k, clean": k}
    for _ in range(100):
        candidate = row.copy()
        candidate[v.IAS_BIAS], candidate[v.MASS_FACTOR] = rng.normal(0, 1.0 * KT), rng.normal(1, 0.01)
        found = by_hand(METHOD.simulate(run, candidate, beliefs, rng), beliefs)
        for key in within:
            low, high = found[key].value.interval()
            within[key] += low <= truth[key] <= high
    # Binomial, 100 of 0.95: 87 to 100 holds 99.8 % of the time.
    assert all(87 <= count <= 100 for count in within.values()), within


def test_simulated_readings_scatter_as_stated() -> None:
    run, row = run_of(table(own_rates(OwnAirplane()), HEADER.replace("zero thrust", "idle"))), BELIEFS.prior_row()
    rng = np.random.default_rng(5)
    mean = np.array([METHOD.nuisances(run, BELIEFS)[0].mean])
    rates = np.array([METHOD.simulate(run, row, BELIEFS, rng).points.rate_mps for _ in range(400)])
    spread = np.std(rates - METHOD.predict(run, row, mean, BELIEFS), axis=0)
    assert np.all(spread > METHOD.reading_sd(run, row, mean, BELIEFS))  # the propeller's drag is drawn on top


# ---- bad input -----------------------------------------------------------------------------------------------------


def test_one_glide_with_power_left_on_is_named_and_left_out() -> None:
    own = OwnAirplane()
    rates = own_rates(own)
    honest = by_hand(run_of(table(rates)))["drag area, clean"].value.value
    rates[90] *= 0.6
    result = by_hand(run_of(table(rates)))["drag area, clean"]
    assert "Row 9 shows 60% of the drag the other glides lead to expect, as with power left on" in result.sentence
    assert "through 4 glides" in result.sentence
    assert result.value.value == pytest.approx(honest, abs=0.02)


def test_power_left_on_in_every_glide_is_seen_against_what_was_believed() -> None:
    own = OwnAirplane()
    rates = {speed: rate + 500 for speed, rate in own_rates(own).items()}
    result = by_hand(run_of(table(rates)))["sink against belief"]
    assert result.value.value == pytest.approx(-500, abs=40)
    assert "standard deviations less, as with power left on (about" in result.sentence
    assert "standard deviations" not in by_hand(run_of(table(own_rates(own))))["sink against belief"].sentence


def test_a_manifold_pressure_above_the_others_sets_a_glide_aside() -> None:
    rows = "".join(
        f"up, {s}, -{r}, {mp}\n" for s, r, mp in ((75, 700, 12), (85, 760, 12), (95, 500, 18), (110, 990, 12))
    )
    run = run_of(HEADER + "flap, speed, vertical speed, manifold pressure\n" + rows)
    assert len(run.points) == 3
    (aside,) = run.set_aside
    assert aside.sentence() == (
        "Row 9 is set aside: power was left on: manifold pressure 18.0 inHg where the other glides have 12.0 inHg."
    )
    assert aside.sentence() in by_hand(run)["drag area, clean"].sentence


def test_a_climb_among_glides_is_set_aside() -> None:
    run = run_of(HEADER + "flap, speed, vertical speed\nup, 75, -700\nup, 85, 760\nup, 95, -860\n")
    assert run.set_aside[0].row == 8
    assert "a minus forgotten" in run.set_aside[0].reason


TIMED = HEADER + "time, speed, altitude, mark\n"
STEADY = "".join(f"{t}, 80, {7000 - 12 * t}, \n" for t in range(0, 70, 10))


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (STEADY.replace("30, 80, 6640, ", "30, 80, 6640, flaps half"), "the flaps were moved in mid-run (flaps half)"),
        (STEADY.replace("30, 80, 6640, ", "30, 80, 6640, gear down"), "the gear was moved in mid-run (gear down)"),
        (
            STEADY.replace("30, 80, 6640, ", "30, 80, 6640, power 20 in"),
            "the power was changed in mid-run (power 20 in)",
        ),
        (
            "".join(f"{t if t < 40 else t + 300}, 80, {7000 - 12 * t}, \n" for t in range(0, 70, 10)),
            "the clock jumps by 310 s while the altitude changes by -120 ft, where the rate of the stretch would give "
            "-3720 ft",
        ),
        ("".join(f"{t}, {80 + t // 4}, {7000 - 12 * t}, \n" for t in range(0, 70, 10)), "the speed changed by +15 kt"),
        (STEADY.replace("6640", "6940"), "the altitude does not change evenly"),
        ("0, 80, 7000, \n10, 80, 6880, \n", "needs three readings"),
    ],
)
def test_a_stretch_that_was_not_steady_is_refused_with_the_reason(rows: str, words: str) -> None:
    with pytest.raises(BadInputError) as caught:
        run_of(TIMED + rows)
    assert str(caught.value).startswith("glides.csv: ")
    assert words in str(caught.value) or "three readings" in str(caught.value)
    assert str(caught.value).count("\n") == 0


def test_a_gap_the_airplane_glided_through_is_no_clock_jump() -> None:
    rows = "".join(f"{t}, 80, {9000 - 12 * t}, \n" for t in (0, 10, 20, 30, 130, 140, 150, 160))
    assert len(run_of(TIMED + rows).points) >= 1


def test_one_bad_stretch_does_not_cost_the_others() -> None:
    good = "".join(
        f"{t}, 80, {7000 - 12 * t}, {'start' if t == 0 else 'end' if t == 60 else ''}\n" for t in range(0, 70, 10)
    )
    bad = "".join(
        f"{t}, 90, {6900 - 13 * t}, { {100: 'start', 130: 'flaps half', 160: 'end'}.get(t, '') }\n"
        for t in range(100, 170, 10)
    )
    run = run_of(TIMED + good + bad)
    assert len(run.points) == 1
    assert run.points.ias_mps[0] == pytest.approx(80 * KT)
    assert run.points.rate_mps[0] / FPM == pytest.approx(-720)
    assert [aside.reason for aside in run.set_aside] == ["the flaps were moved in mid-run (flaps half)"]


@pytest.mark.parametrize(
    ("text", "where", "word"),
    [
        (table({80: -700}, HEADER.replace("zero thrust", "160 hp")), "glides.csv, power", "flown with power '160 hp'"),
        (table({80: -700}, HEADER.replace("# power: zero thrust\n", "")), "glides.csv, power", "not say its power"),
        (table({80: -700}, HEADER.replace("zero thrust", "some")), "glides.csv, power", "'some'"),
        (table({80: -700}, HEADER.replace("thrust", "thrust ± 3 kt")), "glides.csv, power", "not a unit of force"),
        (table({80: -700}, HEADER.replace("thrust", "thrust ± -3 lbf")), "glides.csv, power", "a minus"),
        (table({80: 700, 90: 800}), "glides.csv, vertical speed", "every vertical speed is a climb"),
        (HEADER + "flap, speed\nup, 80\n", "glides.csv, vertical speed", "how fast the airplane sank"),
        (table({80: -700}, HEADER.replace("# weight: 2900 lb\n", "")), "glides.csv, weight", "its weight"),
        (table({80: -700}, HEADER.replace("# altitude: 6000 ft\n", "")), "glides.csv, altitude", "its altitude"),
        (table({80: -700}, HEADER.replace("15 C", "70 C")), "glides.csv, temperature", "from standard"),
        (table({80: -700}, flap="most"), "glides.csv, row 7, flap", "'most' is not a flap setting"),
        (table({80: -700}, gear="half"), "glides.csv, row 7, gear", "'half' is not a gear position"),
        (
            HEADER + "flap, speed, vertical speed, weight (lb)\nup, 80, -700, 9000\n",
            "glides.csv, row 7, weight",
            "likely",
        ),
        (HEADER + "flap, speed, vertical speed, oat\nup, 80, -700, 54.5\n", "glides.csv, row 7, oat", "from standard"),
        (TIMED.replace(", altitude,", ", note,") + "0, 80, a, \n9, 80, b, \n", "glides.csv", "no altitudes"),
    ],
)
def test_bad_input_gets_one_sentence(text: str, where: str, word: str) -> None:
    with pytest.raises(BadInputError) as caught:
        run_of(text)
    assert str(caught.value).startswith(where), str(caught.value)
    assert word in str(caught.value)
    assert caught.value.expected
    assert "\n" not in str(caught.value)


def test_speeds_too_close_together_give_no_polar() -> None:
    run = run_of(HEADER + "flap, speed, vertical speed\nup, 90, -800\nup, 90, -810\nup, 91, -790\n")
    assert list(by_hand(run)) == ["sink against belief"]


def test_limits_are_held_against_the_speeds() -> None:
    run = run_of(table({110: -1200, 120: -1400}, flap="full", gear="down"))
    assert {(e.limit, e.row) for e in METHOD.exceedances(run, BELIEFS)} == {("VFE (full)", 8)}


def test_guard_and_card() -> None:
    card = METHOD.card(BELIEFS, {"flaps": "full", "power": "zero thrust"})
    assert card.title == "Glides, flaps full, gear up, zero thrust"
    notices = METHOD.guard(BELIEFS, {"speeds": "45, 70, 110 kt", "flaps": "full", "height above ground": "2000 ft"})
    said = [notice.sentence for notice in notices if notice.blocking]
    assert any("2,000 ft" in sentence for sentence in said)
    assert any("110 kt planned against VFE (full) 105 kt" in sentence for sentence in said)
    assert any("believed stall speed of 50 kt" in sentence for sentence in said)
    quiet = METHOD.guard(BELIEFS, {"speeds": "75, 95 kt", "height above ground": "4000 ft"})
    assert quiet == []
    with pytest.raises(BadInputError, match=r"^card, speeds: "):
        METHOD.guard(BELIEFS, {"speeds": "fast"})
