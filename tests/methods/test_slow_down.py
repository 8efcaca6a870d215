"""Slow-downs and descents: histories and everyday figures against an integrator that knows only the airplane."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tests.airplane.own_words import DEG, FT2, KT, LB, G, OwnAirplane, moving
from tests.airplane.quillback import quillback
from tests.methods.own_steady import nothing, own_density, own_rate
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import calibrated_from_equivalent, calibrated_from_true
from wringout.errors import BadInputError
from wringout.methods.slow_down.by_hand import predicted_figures, seen_figures
from wringout.methods.slow_down.method import METHOD
from wringout.methods.slow_down.run import SlowDownRun
from wringout.methods.types import HandResult
from wringout.recordings.reader import read_recording

BELIEFS = quillback()
FT, HP, FPM, NM = 0.3048, 550 * 0.3048 * 0.45359237 * G, 0.3048 / 60, 1852.0
MASS, ALTITUDE, WARMER = 2900 * LB, 4000 * FT, 5.0
HEADER = "# method: slow down\n# altitude: 4000 ft\n# isa deviation: 5\n# weight: 2900 lb\n"
IDLE_AREA = 0.03 * math.pi * (76 * 0.0254) ** 2 / 4
"""Drag area of the windmilling propeller that the method believes: 0.03 of the disk (judged, no source)."""


def run_of(text: str, beliefs: Beliefs = BELIEFS, **setup: str) -> SlowDownRun:
    (run,) = METHOD.from_recording("D1", read_recording(text.encode(), "slow.csv"), setup, beliefs)
    return run


def text_of(power: str = "idle", marks: dict[int, str] | None = None, last: int = 35, header: str = HEADER) -> str:
    rows = "".join(f"{t}, {140 - t:.0f}, {(marks or {}).get(t, '')}\n" for t in range(0, last + 1, 5))
    return f"{header}# power: {power}\ntime, speed, mark\n{rows}"


def by_hand(run: SlowDownRun, beliefs: Beliefs = BELIEFS) -> dict[str, HandResult]:
    return {result.key: result for result in METHOD.by_hand(run, beliefs)}


def means(run: SlowDownRun, **changed: float) -> np.ndarray:
    return np.array([changed.get(n.key.replace(" ", "_"), n.mean) for n in METHOD.nuisances(run, BELIEFS)])


def flown(
    run: SlowDownRun, own: OwnAirplane, sink: float = 0.0, area: float = IDLE_AREA, entry_kt: float = 140.0
) -> SlowDownRun:
    """The run as the tests' own airplane shows it without thrust: speed and height together, air thickening on the way.

    ``sink`` is the rate of descent held [m/s of pressure altitude].
    """
    gear, flap = (lambda _: run.entry_gear), (lambda _: run.entry_flap_rad)
    for move in run.moves:
        seconds = {"gear": 7.0, "flaps": 6.0 * (move.to_position - move.from_position) / (40 * DEG)}[move.device.value]
        path = moving(move.select_s, seconds, move.from_position, move.to_position)
        gear, flap = (path, flap) if move.device.value == "gear" else (gear, path)

    def motion(t: float, y: np.ndarray) -> list[float]:
        speed, height = float(y[0]), float(y[1])
        density, stretch = own_density(height, WARMER), 1 + WARMER / (288.15 - 0.0065 * height)
        drag = own.drag(speed, density, MASS * G, gear(t), flap(t)) + 0.5 * density * speed**2 * area
        return [-drag / MASS + G * sink * stretch / speed, -sink]

    start = ALTITUDE + sink * run.time_s[-1] / 2
    solved = solve_ivp(
        motion, (0, run.time_s[-1]), [entry_kt * KT, start], t_eval=run.time_s, rtol=1e-8, atol=1e-8, max_step=0.3
    )
    heights = solved.y[1] if sink else np.full(run.time_s.size, np.nan)
    at = solved.y[1]
    indicated = np.array(
        [float(calibrated_from_true(s, h, WARMER)) for s, h in zip(solved.y[0].tolist(), at.tolist(), strict=True)]
    )
    return replace(run, ias_mps=indicated, altitude_m=heights, whole_units_mps=0.0, target_mps=float(indicated[-1]))


# ---- from what was written down -------------------------------------------------------------------------------


def test_what_a_recording_becomes() -> None:
    run = run_of(text_of(marks={10: "gear down", 30: "flaps half"}, header=HEADER + "# to speed: 110 kt\n"))
    assert run.title == "slow-down, power idle, clean, then gear down, then flaps half"
    assert [move.select_s for move in run.moves] == [10.0, 30.0]
    assert run.target_mps == pytest.approx(110 * KT)
    assert run.slows
    assert METHOD.nuisances(run, BELIEFS)[1].key == "windmilling drag"


def test_the_run_starts_where_the_power_was_set() -> None:
    text = text_of(marks={20: "power idle", 30: "gear down"}).replace("# power: idle\n", "")
    run = run_of(text)
    assert run.power.kind.value == "idle"
    assert run.source.from_s == 20.0
    assert run.time_s[0] == 0.0
    assert run.moves[0].select_s == 10.0
    assert run.notes == ("The 4 rows before row 10 are left out: the power was set there.",)


@pytest.mark.parametrize(
    ("text", "where", "word"),
    [
        (text_of().replace("# power: idle\n", ""), "slow.csv, power", "does not say its power"),
        (text_of("plenty"), "slow.csv, power", "'plenty'"),
        (text_of(header=HEADER + "# to speed: 60 kt\n"), "slow.csv, to speed", "60 kt was not passed"),
        (
            HEADER + "# power: idle\ntime, speed\n0, 80\n5, 80\n9, 80\n15, 80\n",
            "slow.csv",
            "loses neither 8 kt nor 200 ft",
        ),
        (
            re.sub(r"\n(35|40|45|50|55|60),", lambda found: f"\n1{found[1]},", text_of(last=60)),
            "slow.csv, row 14, time",
            "the clock jumps by 105 s while the speed changes by 5 kt, where its rate would give 105 kt",
        ),
        (text_of(last=10), "slow.csv", "only 3 readings"),
    ],
)  # fmt: skip
def test_bad_input_gets_one_sentence(text: str, where: str, word: str) -> None:
    with pytest.raises(BadInputError) as caught:
        run_of(text)
    assert str(caught.value).startswith(where), str(caught.value)
    assert word in str(caught.value)
    assert caught.value.expected
    assert "\n" not in str(caught.value)


# ---- prediction -------------------------------------------------------------------------------------------------


def test_a_level_slow_down_is_that_of_the_general_purpose_integrator() -> None:
    own = OwnAirplane()
    seen = flown(run_of(text_of(marks={10: "gear down", 20: "flaps half"})), own)
    # No thrust is 1 N in the package, whose equation of motion takes no less: 0.07 kt after 35 s.
    assert np.abs(METHOD.predict(seen, own.row(), means(seen), BELIEFS) - seen.ias_mps).max() / KT < 0.1
    assert np.abs(METHOD.residuals(seen, own.row(), means(seen), BELIEFS)).max() < 0.1


def test_a_slow_down_on_the_way_down_counts_height_as_energy() -> None:
    """500 ft/min down through 500 ft: the air thickens and the tests' own integrator follows it; the package keeps one
    density and a factor, and stays within a tenth of a knot."""
    own = OwnAirplane()
    seen = flown(run_of(text_of(marks={10: "gear down"})), own, sink=500 * FPM)
    predicted = METHOD.predict(seen, own.row(), means(seen), BELIEFS)
    assert np.abs(predicted - seen.ias_mps).max() / KT < 0.1
    blind = replace(seen, altitude_m=np.full(seen.time_s.size, np.nan))
    assert np.abs(METHOD.predict(blind, own.row(), means(blind), BELIEFS) - seen.ias_mps).max() / KT > 5


def test_power_held_or_stated_pulls() -> None:
    own = OwnAirplane()
    marks = {10: "gear down"}
    held, stated, idle = (run_of(text_of(power, marks)) for power in ("held", "120 hp", "idle"))
    row = own.row()
    row[v.DISK_EFFICIENCY] = 0.82
    ends = [float(METHOD.predict(run, row, means(run), BELIEFS)[-1]) for run in (held, stated, idle)]
    assert ends[0] > ends[1] > ends[2]
    entry = METHOD.nuisances(held, BELIEFS)[0].mean
    density = own_density(ALTITUDE, WARMER)
    true = own.speeds(held.time_s, entry, MASS, density, moving(10.0, 7.0, 0.0, 1.0), lambda _: 0.0)
    indicated = calibrated_from_true(true, ALTITUDE, WARMER)
    assert np.abs(METHOD.predict(held, row, means(held), BELIEFS) - indicated).max() / KT < 0.01


# ---- the figures ------------------------------------------------------------------------------------------------


def test_time_and_distance_to_slow_down() -> None:
    own = OwnAirplane()
    seen = flown(run_of(text_of(marks={10: "gear down"})), own)
    run = replace(seen, target_mps=95 * KT)
    found = by_hand(run)
    fine = np.linspace(0, 35, 3501)
    speeds = np.interp(fine, seen.time_s, seen.ias_mps)
    time = float(fine[np.argmax(speeds <= 95 * KT)])
    assert found["time"].value.value == pytest.approx(time, abs=0.5)
    assert 0.2 < found["time"].value.standard_uncertainty < 2
    true = speeds / math.sqrt(own_density(ALTITUDE, WARMER) / 1.225)
    path = float(np.sum(true[fine <= time]) * 0.01) / NM
    assert found["distance"].value.value == pytest.approx(path, abs=0.02)
    assert found["time"].sentence.startswith("From 131 to 95 kt indicated, slow-down")  # 140 kt true
    assert "which agrees" in found["time"].sentence
    assert "height" not in found


def test_height_lost_on_the_way() -> None:
    seen = flown(run_of(text_of(marks={10: "gear down"})), OwnAirplane(), sink=700 * FPM)
    found = by_hand(seen)
    assert found["height"].value.value == pytest.approx(700 * 35 / 60, abs=15)
    assert found["height"].value.unit == "ft"


def test_figures_of_a_fitted_airplane() -> None:
    """What draws of an airplane would have needed: the time flown for the one that flew, longer for a slick one."""
    own = OwnAirplane()
    seen = flown(run_of(text_of(marks={10: "gear down"})), own)
    slick = OwnAirplane(clean=2 * FT2, gear=2 * FT2)
    figures = predicted_figures(seen, np.array([own.row(), slick.row()]), METHOD.nuisances(seen, BELIEFS), BELIEFS)
    assert figures.shape == (2, 3)
    assert figures[0, 0] == pytest.approx(35.0, abs=0.3)
    assert figures[1, 0] > 45
    assert figures[1, 1] > figures[0, 1]


def test_other_drag_than_believed_is_noticed() -> None:
    seen = flown(run_of(text_of(marks={10: "gear down"}, last=15)), OwnAirplane(clean=20 * FT2, gear=20 * FT2))
    assert (
        "standard deviations off: not the power stated, a device out, or other drag" in by_hand(seen)["time"].sentence
    )


def test_power_that_never_slows_it_is_said() -> None:
    seen = flown(run_of(text_of("225 hp")), OwnAirplane())
    assert "would not get there with this power" in by_hand(seen)["time"].sentence


def descent_text(power: str, rate_fpm: float, speed: float = 95.0, words: str = "") -> str:
    rows = "".join(f"{t}, {speed:.5f}, {5000 - rate_fpm / 60 * t:.4f}\n" for t in range(0, 91, 10))
    return f"{HEADER}{words}# power: {power}\ntime, speed, altitude\n{rows}"


def test_a_steady_descent_gives_rate_and_height_per_mile() -> None:
    own = OwnAirplane()
    middle = 5000 * FT - 0.5 * 1500 * FPM * 90
    low, high = 90 * KT, 95 * KT
    for _ in range(60):
        equivalent = 0.5 * (low + high)
        low, high = (
            (low, equivalent) if calibrated_from_equivalent(equivalent, middle) > 95 * KT else (equivalent, high)
        )
    rate = own_rate(own, middle, low, MASS, nothing, WARMER, 1.0, 20 * DEG, more_area=IDLE_AREA) / FPM
    run = run_of(descent_text("idle", -rate, words="# gear: down\n# flaps: half\n"))
    assert run.title == "descent, power idle, gear down, flaps half"
    assert not run.slows
    found = by_hand(run)
    assert found["descent rate"].value.value == pytest.approx(-rate, abs=0.5)
    true = 95 * KT / math.sqrt(own_density(run.conditions.pressure_altitude_m, WARMER) / 1.225)
    assert found["height per mile"].value.value == pytest.approx(-rate * FPM / true * NM / FT, rel=0.01)
    assert "which agrees" in found["descent rate"].sentence
    believed = float(found["descent rate"].sentence.split("needs ")[1].split(" ")[0])
    assert believed == pytest.approx(-rate, abs=60)  # printed to the digits its uncertainty allows
    figures = METHOD.predict(run, own.row(), means(run), BELIEFS)
    assert np.abs(figures - run.ias_mps).max() / KT < 1.0  # the airplane that flew holds the speed on this path


def test_intervals_of_the_time_hold_the_truth_about_as_often_as_they_say() -> None:
    """Whole knots with 1 kt of noise, read up to half a second early or late, of a run that is known."""
    quiet = flown(run_of(text_of(marks={10: "gear down"})), OwnAirplane())
    truth = float(np.interp(-95 * KT, -quiet.ias_mps, quiet.time_s))
    rng, within = np.random.default_rng(6), 0
    for _ in range(400):
        at = quiet.time_s + rng.normal(0, 0.5, quiet.time_s.size)
        read = np.interp(at, quiet.time_s, quiet.ias_mps) / KT + rng.normal(0, 1, at.size)
        run = replace(quiet, ias_mps=np.round(read) * KT, whole_units_mps=KT, target_mps=95 * KT)
        low, high = seen_figures(run, BELIEFS)["time"].interval()
        within += low <= truth <= high
    # Binomial, 400 of 0.95: 366 to 393 holds 99.8 % of the time.
    assert within >= 366


def test_guard_and_card() -> None:
    assert METHOD.card(BELIEFS, {"gear": "down"}).title == "Slow-down, power idle, gear down, flaps up"
    words = {"from speed": "150 kt", "to speed": "80 kt", "gear": "down", "height above ground": "4000 ft"}
    (notice,) = METHOD.guard(BELIEFS, words)
    assert notice.blocking
    assert notice.sentence == "the device moves at 150 kt against VLO 125 kt: above the limit; slow down first."
    assert METHOD.guard(BELIEFS, {**words, "device speed": "115 kt"}) == []
