"""Level deceleration: from what was written down to areas, against a general-purpose integrator and simulated runs."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.airplane.own_words import DEG, FT2, KT, LB, G, OwnAirplane, moving
from tests.airplane.quillback import QUILLBACK, quillback
from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import calibrated_from_true, true_from_calibrated
from wringout.atmosphere import density_kgm3
from wringout.errors import BadInputError
from wringout.methods.level_deceleration.method import LevelDeceleration
from wringout.methods.level_deceleration.run import (
    ALTITUDE_READING_SD_M,
    SEEN_CLIMB_SD_MPS,
    DecelerationRun,
    climb_polynomial,
    climb_sd_mps,
    mean_climb,
    true_per_indicated,
)
from wringout.methods.types import HandResult, Nuisance
from wringout.recordings.changes import marks_from_channels
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Device

METHOD = LevelDeceleration()
BELIEFS = quillback()
HEADER = "# altitude: 7000 ft\n# temperature: 8 C\n# weight: 3000 lb\n"
ALTITUDE = 7000 * 0.3048
TIMES = np.concatenate(([0.0, 6.0], np.arange(12.0, 170.0, 6.0)))
GEAR_RUN = HEADER + "".join(f"{t:.0f}, 120{', gear down' if t == 6 else ''}\n" for t in TIMES)


def run_of(text: str, beliefs: Beliefs = BELIEFS, **setup: str) -> DecelerationRun:
    (run,) = METHOD.from_recording("G1", read_recording(text.encode(), "gear.csv"), setup, beliefs)
    return run


def means(run: DecelerationRun, beliefs: Beliefs = BELIEFS, **changed: float) -> np.ndarray:
    """The run's own numbers at their expected values, or as given by name."""
    return np.array([changed.get(n.key.replace(" ", "_"), n.mean) for n in METHOD.nuisances(run, beliefs)])


def by_hand(run: DecelerationRun, beliefs: Beliefs = BELIEFS) -> dict[str, HandResult]:
    return {result.key: result for result in METHOD.by_hand(run, beliefs)}


def density(run: DecelerationRun) -> float:
    return float(density_kgm3(run.conditions.pressure_altitude_m, run.conditions.isa_deviation_k))


def shown(
    run: DecelerationRun,
    own: OwnAirplane,
    gear: Callable[[float], float],
    flap: Callable[[float], float] = lambda _: 0.0,
    climb: Callable[[float], float] = lambda _: 0.0,
    entry_kt: float = 120.0,
) -> DecelerationRun:
    """The run as the airplane in the test's own words shows it: its indicated airspeeds, without noise."""
    air = run.conditions
    entry = float(true_from_calibrated(entry_kt * KT, air.pressure_altitude_m, air.isa_deviation_k))
    true = own.speeds(run.time_s, entry, air.mass_kg, density(run), gear, flap, climb)
    assert true.size == run.time_s.size
    indicated = calibrated_from_true(true, air.pressure_altitude_m, air.isa_deviation_k)
    return replace(run, ias_mps=indicated, whole_units_mps=0.0)


# ---- from what was written down -------------------------------------------------------------------------------------


def test_what_a_recording_becomes() -> None:
    run = run_of(
        HEADER
        + "# altitude held: 80 ft\ntime, speed, mark\n1:30, 120, stable\n1:36, 119, gear down\n1:43, , three green\n"
        "1:48, 112\n2:00, 104\n2:10, 101, flaps half\n2:16, 99\n2:30, 90, stable\n"
    )
    assert run.title == "gear down, then flaps half"
    assert run.time_s == pytest.approx([0, 6, 18, 30, 40, 46, 60])
    assert run.ias_mps / KT == pytest.approx([120, 119, 112, 104, 101, 99, 90])
    assert run.rows.tolist() == [6, 7, 9, 10, 11, 12, 13]
    gear, flaps = run.moves
    assert (gear.device, gear.select_s, gear.from_position, gear.to_position) == (Device.GEAR, 6.0, 0.0, 1.0)
    assert gear.arrived_s == 13.0
    assert (flaps.device, flaps.select_s, flaps.arrived_s) == (Device.FLAPS, 40.0, None)
    assert flaps.to_position == pytest.approx(20 * DEG)
    assert run.conditions.pressure_altitude_m == pytest.approx(ALTITUDE)
    # Standard at 7,000 ft is 1.13 C (ICAO Doc 7488/3), so 8 C is 6.87 C above.
    assert run.conditions.isa_deviation_k == pytest.approx(8 - (15 - 6.5e-3 * ALTITUDE))
    assert run.conditions.mass_kg == pytest.approx(3000 * LB)
    assert run.conditions.altitude_band_m == pytest.approx(80 * 0.3048)
    assert run.whole_units_mps == pytest.approx(KT)
    assert np.isnan(run.altitude_m).all()
    assert (run.source.from_s, run.source.to_s) == (0.0, 60.0)


def test_set_up_words_count_before_the_header_and_an_entry_configuration_is_kept() -> None:
    text = HEADER + "0, 100, stable\n6, 100, flaps up\n12, 103\n18, 106\n24, 108\n"
    run = run_of(text, weight="2800 lb", **{"entry flaps": "full", "entry gear": "down"})
    assert run.conditions.mass_kg == pytest.approx(2800 * LB)
    assert run.entry_flap_rad == pytest.approx(40 * DEG)
    assert run.entry_gear == 1.0
    assert run.moves[0].from_position == pytest.approx(40 * DEG)
    assert run.title == "flaps up"


def test_a_logger_table_is_taken_in_blocks_of_two_seconds() -> None:
    """Ten readings a second are not ten independent readings."""
    rows = "".join(f"{t / 10:.1f},{120 - 0.01 * t:.2f},{7000 + 0.1 * t:.1f},{int(t >= 300)}\n" for t in range(600))
    recording = read_recording(("Time (s),IAS (kt),Altitude (ft),Gear\n" + rows).encode(), "log.csv")
    recording = replace(recording, marks=marks_from_channels(recording))
    (run,) = METHOD.from_recording("G1", recording, {"altitude": "7000 ft", "weight": "3000 lb"}, BELIEFS)
    assert run.time_s.size == 30
    assert run.time_s[1] - run.time_s[0] == pytest.approx(2.0)
    assert run.ias_mps[0] / KT == pytest.approx(120 - 0.01 * 9.5)  # mean of the first two seconds
    assert run.altitude_m[-1] / 0.3048 == pytest.approx(7000 + 0.1 * 589.5)
    assert run.whole_units_mps == 0.0
    (move,) = run.moves
    assert move.device is Device.GEAR
    assert move.select_s == pytest.approx(30.0 - 0.95, abs=0.2)  # the run begins with the middle of its first block


@pytest.mark.parametrize(
    ("text", "where", "word"),
    [
        (HEADER + "0, 120\n6, 119\n12, 110\n18, 101\n", "gear.csv", "no mark says when the device moved"),
        (HEADER + "0, 120\n6, 119, gear down\n12, 110\n", "gear.csv", "only 3 readings"),
        ("# altitude: 7000 ft\n0, 120\n6, 119, gear down\n12, 110\n18, 101\n", "gear.csv, weight", "its weight"),
        ("# weight: 3000 lb\n0, 120\n6, 119, gear down\n12, 110\n18, 101\n", "gear.csv, altitude", "its altitude"),
        (HEADER.replace("8 C", "86 C") + "0, 120\n6, 9, gear down\n12, 9\n18, 9\n", "gear.csv, temperature", "+85 C"),
        (HEADER.replace("8 C", "-150 C") + "0, 120\n6, 9, gear down\n12, 9\n18, 9\n", "gear.csv, temperature", "-151"),
        (HEADER.replace("7000", "70000") + "0, 120\n6, 9, gear down\n12, 9\n18, 9\n", "gear.csv, altitude", "range"),
        (HEADER + "# isa deviation: 60\n0, 120\n6, 9, gear down\n12, 9\n18, 9\n", "gear.csv, temperature", "+60 C"),
        (
            HEADER.replace("3000 lb", "9000 lb") + "0, 120\n6, 9, gear down\n12, 9\n18, 9\n",
            "gear.csv, weight",
            "likely",
        ),
        (HEADER.replace("3000 lb", "3000 ft") + "0, 120\n6, 9, gear down\n12, 9\n18, 9\n", "gear.csv, weight", "mass"),
        (HEADER + "# entry flaps: third\n0, 120\n6, 9, gear down\n12, 9\n18, 9\n", "gear.csv, entry flaps", "'third'"),
        (HEADER + "# entry gear: half\n0, 120\n6, 9, gear down\n12, 9\n18, 9\n", "gear.csv, entry gear", "'half'"),
        (HEADER + "0, 120\n6, 9, flaps 33\n12, 9\n18, 9\n", "gear.csv, row 5, mark", "'33' is not a flap setting"),
    ],
)
def test_bad_input_gets_one_sentence(text: str, where: str, word: str) -> None:
    with pytest.raises(BadInputError) as caught:
        run_of(text)
    assert str(caught.value).startswith(where)
    assert word in str(caught.value)
    assert caught.value.expected
    assert "\n" not in str(caught.value)


def test_a_fixed_gear_does_not_move() -> None:
    fixed = QUILLBACK[: QUILLBACK.index("[gear]")] + QUILLBACK[QUILLBACK.index("[limits]") :]
    with pytest.raises(BadInputError, match=r"^gear\.csv, row 5, mark: the airplane file says the gear is fixed"):
        run_of(GEAR_RUN, quillback(fixed.replace('gear_area = "4.2 ± 2 ft2"\n', "")))


def test_a_table_without_time_is_refused() -> None:
    recording = read_recording(b"flap, speed\nup, 60\n", "stalls.csv")
    with pytest.raises(BadInputError, match=r"^stalls\.csv: a level deceleration needs time and indicated airspeed"):
        METHOD.from_recording("G1", recording, {}, BELIEFS)


# ---- prediction -----------------------------------------------------------------------------------------------------


def test_prediction_is_that_of_the_general_purpose_integrator() -> None:
    run = run_of(HEADER + "".join(f"{t:.0f}, 120\n" for t in TIMES[:2]) + "8, 120, gear down\n"
                 + "".join(f"{t:.0f}, 100{', flaps full' if t == 60 else ''}\n" for t in TIMES[2:]))  # fmt: skip
    own = OwnAirplane(bump=0.1)
    expected = shown(run, own, moving(8.0, 7.0, 0.0, 1.0), moving(60.0, 6.0, 0.0, 40 * DEG)).ias_mps
    row = own.row()
    row[v.IAS_BIAS] = 1.5 * KT
    as_read = means(run)[0] + 1.5 * KT * true_per_indicated(run)  # the dial shows 1.5 kt too much at entry too
    seen = METHOD.predict(run, row, means(run, entry_speed=as_read), BELIEFS)
    assert np.abs(seen - expected - 1.5 * KT).max() / KT < 0.01
    row[v.IAS_BIAS], row[v.MASS_FACTOR] = 0.0, 1.03
    heavier = replace(run, conditions=replace(run.conditions, mass_kg=run.conditions.mass_kg * 1.03))
    expected = shown(heavier, own, moving(8.0, 7.0, 0.0, 1.0), moving(60.0, 6.0, 0.0, 40 * DEG)).ias_mps
    assert np.abs(METHOD.predict(run, row, means(run), BELIEFS) - expected).max() / KT < 0.01


def test_a_late_mark_shifts_the_move() -> None:
    run = run_of(GEAR_RUN)
    own = OwnAirplane()
    expected = shown(run, own, moving(6.0 + 1.5, 7.0, 0.0, 1.0)).ias_mps
    seen = METHOD.predict(run, own.row(), means(run, mark_1=1.5), BELIEFS)
    assert np.abs(seen - expected).max() / KT < 0.01


@pytest.mark.parametrize("early", [0.0, 0.5, 4.0])
def test_a_device_that_moved_at_or_before_the_first_reading_starts_from_the_entry_configuration(early: float) -> None:
    """The power is that for the airplane before the device moved, also when the first reading came after the call."""
    text = HEADER + "".join(f"{t:.0f}, 110{', gear down' if t == 0 else ''}\n" for t in np.arange(0.0, 100.0, 6.0))
    run, own = run_of(text), OwnAirplane()
    entry = float(true_from_calibrated(120 * KT, ALTITUDE, run.conditions.isa_deviation_k))
    times = np.concatenate(([0.0], run.time_s + early)) if early else run.time_s
    true = own.speeds(times, entry, run.conditions.mass_kg, density(run), moving(0.0, 7.0, 0.0, 1.0), lambda _: 0.0)
    seen = METHOD.true_airspeed(run, own.row(), means(run, entry_speed=entry, mark_1=-early), run.time_s)
    assert np.abs(seen - true[-run.time_s.size :]).max() / KT < 0.01


def test_no_speed_before_the_move_leaves_the_entry_speed_open() -> None:
    before = run_of(HEADER + "0, 120\n6, , gear down\n12, 115\n18, 110\n24, 106\n")
    after = run_of(HEADER + "0, , gear down\n6, 115\n12, 110\n18, 106\n24, 103\n")
    sds = [METHOD.nuisances(run, BELIEFS)[0].sd / KT for run in (before, after)]
    assert sds[0] == pytest.approx(6.0)
    assert sds[1] > 8.0


def test_readings_scatter_by_dial_whole_units_and_clock() -> None:
    run, row = run_of(GEAR_RUN), OwnAirplane().row()
    sd = METHOD.reading_sd(run, row, means(run), BELIEFS)
    assert sd[0] == pytest.approx(math.sqrt(1 + 1 / 12) * KT, rel=1e-3)  # steady: no clock in it
    steepest = int(np.argmax(sd))
    assert 12 <= run.time_s[steepest] <= 24
    rate = sd[steepest] ** 2 - (1 + 1 / 12) * KT**2
    speeds = METHOD.true_airspeed(
        run, row, means(run), np.array([0.0, run.time_s[steepest], run.time_s[steepest] + 0.5])
    )
    assert math.sqrt(rate) == pytest.approx(0.5 * abs(speeds[2] - speeds[1]) / 0.5, rel=1e-3)


def test_an_ignored_number_changes_nothing_and_others_do() -> None:
    run, row = run_of(GEAR_RUN), OwnAirplane(bump=0.1).row()
    reference = METHOD.predict(run, row, means(run), BELIEFS)
    for index in METHOD.ignores:
        other = row.copy()
        other[index] += 0.1
        assert METHOD.predict(run, other, means(run), BELIEFS).tolist() == reference.tolist()
    other = row.copy()
    other[v.GEAR_DOWN_TIME] += 0.1
    assert METHOD.predict(run, other, means(run), BELIEFS).tolist() != reference.tolist()


# ---- by hand --------------------------------------------------------------------------------------------------------


def test_by_hand_recovers_the_truth_without_noise() -> None:
    """The airplane is at what is believed but for its gear, so what is left is the closed forms' own error."""
    own = OwnAirplane(gear=4.6 * FT2, propeller=0.1)
    found = by_hand(shown(run_of(GEAR_RUN), own, moving(6.0, 7.0, 0.0, 1.0)))
    start, settled = found["start slope"], found["settled speeds"]
    assert start.value.value == pytest.approx(4.6, rel=0.03)
    assert settled.value.value == pytest.approx(4.6, rel=0.03)
    for result in (start, settled):
        low, high = result.value.interval()
        assert low < 4.6 < high
        assert result.value.unit == "ft2"
        assert result.is_drag
        assert math.hypot(*result.value.budget.values()) == pytest.approx(result.value.standard_uncertainty)
    assert start.value.largest_source() == "slope"
    assert start.strength < settled.strength
    assert settled.value.standard_uncertainty > start.value.standard_uncertainty
    # Both hold at a speed of the run, the start slope near its beginning.
    assert settled.speed_mps < start.speed_mps < true_from_calibrated(120 * KT, ALTITUDE, 7.0)


@pytest.mark.parametrize(
    ("device", "gear", "flap", "area"),
    [
        # Areas of the U.S. Naval Academy technical note "Flight Determination of Partial Span Flap Parasite Drag With
        # Flap Deflection" [ft2]: gear 4.286, flap 32 deg 6.700; flown by the integrator in the test's own words.
        ("gear down", 1.0, 0.0, 4.286),
        ("flaps full", 0.0, 32.0, 6.700),
    ],
)
def test_published_areas_come_back(device: str, gear: float, flap: float, area: float) -> None:
    text = QUILLBACK.replace('"3.9 ± 0.6 ft2"', '"3.125 ± 0.3 ft2"').replace('"0.75 ± 0.08"', '"0.6 ± 0.05"')
    text = text.replace('"40 deg"', '"32 deg"')
    beliefs = quillback(text.replace("[propulsion]\n", '[propulsion]\nefficiency_slope = "-0.1 ± 0.15"\n'))
    own = OwnAirplane(
        clean=3.125 * FT2, gear=4.286 * FT2, shielding=1.394 / 4.286, e=0.6, propeller=-0.1,
        angles=[0.0, 20 * DEG, 32 * DEG], areas=[0.0, 2.544 * FT2, 6.7 * FT2],
    )  # fmt: skip
    header = "# altitude: 0 ft\n# weight: 3000 lb\n"
    rows = "".join(f"{t:.0f}, 140{f', {device}' if t == 6 else ''}\n" for t in np.arange(0.0, 260.0, 6.0))
    run = run_of(header + rows, beliefs)
    seconds = 7.0 if gear else 6.0
    flown = shown(
        run, own, moving(6.0, seconds, 0.0, gear), moving(6.0, seconds, 0.0, flap * DEG), entry_kt=140.0
    )  # fmt: skip
    found = by_hand(flown, beliefs)
    for key, bar in (("start slope", 0.03), ("settled speeds", 0.05)):
        low, high = found[key].value.interval()
        assert low < area < high
        assert found[key].value.value == pytest.approx(area, rel=bar)


def test_intervals_by_hand_hold_the_truth_as_often_as_they_say() -> None:
    rng, run = np.random.default_rng(20), run_of(GEAR_RUN)
    held: dict[str, list[bool]] = {"start slope": [], "settled speeds": []}
    for _ in range(150):
        row = BELIEFS.row_from_latent(rng.normal(0.0, 1.0, len(BELIEFS.parameters)))
        flown = METHOD.simulate(run, row, BELIEFS, rng)
        truth = float(forces.gear_area(row, 1.0, 0.0)) / FT2
        for key, result in by_hand(flown).items():
            if key in held and flown.ias_mps.min() > 60 * KT:
                low, high = result.value.interval()
                held[key].append(low <= truth <= high)
    for key, values in held.items():
        assert len(values) > 90, key
        # 95 % less four standard errors.
        assert np.mean(values) > 0.95 - 4 * math.sqrt(0.95 * 0.05 / len(values)), key
    assert np.mean(held["start slope"]) < 0.9999  # and not so wide that nothing could be outside


def test_knots_lost_are_labelled_not_a_drag() -> None:
    own = OwnAirplane()
    run = shown(run_of(GEAR_RUN), own, moving(6.0, 7.0, 0.0, 1.0))
    lost = by_hand(run)["knots lost"]
    assert lost.value.value == pytest.approx((120 * KT - np.mean(run.ias_mps[-3:])) / KT, abs=0.01)
    assert not lost.is_drag
    assert "not a drag" in lost.title
    assert lost.strength == 5
    assert math.isnan(lost.speed_mps)


def test_a_run_that_never_settled() -> None:
    """Entered slow, on the back side of the power curve, the speed keeps falling: no settled answer, and it is said."""
    text = HEADER + "".join(f"{t:.0f}, 100{', gear down' if t == 6 else ''}\n" for t in np.arange(0.0, 70.0, 6.0))
    own = OwnAirplane(gear=6.0 * FT2, propeller=0.2)
    run = shown(run_of(text), own, moving(6.0, 7.0, 0.0, 1.0), entry_kt=100.0)
    found = by_hand(run)
    assert "settled speeds" not in found
    assert "had not settled" in found["knots lost"].sentence
    assert found["start slope"].value.value == pytest.approx(6.0, rel=0.06)
    low, high = found["start slope"].value.interval()
    assert low < 6.0 < high
    # The whole curve still tells: the truth predicts it, a gear a tenth smaller does not.
    right, less = own.row(), OwnAirplane(gear=5.4 * FT2, propeller=0.2).row()
    entry = means(run, entry_speed=float(true_from_calibrated(100 * KT, ALTITUDE, run.conditions.isa_deviation_k)))
    off = [np.abs(METHOD.predict(run, row, entry, BELIEFS) - run.ias_mps).max() / KT for row in (right, less)]
    assert off[0] < 0.01
    assert off[1] > 1.0


def test_out_and_back() -> None:
    """Gear out, settled, gear in again at the same power: one run with two moves."""
    times = np.arange(0.0, 260.0, 6.0)
    marks = {6.0: ", gear down", 138.0: ", gear up"}
    run = run_of(HEADER + "".join(f"{t:.0f}, 120{marks.get(t, '')}\n" for t in times))
    assert run.title == "gear down, then gear up"
    own = OwnAirplane(gear=4.6 * FT2, propeller=0.1)
    flown = shown(run, own, lambda t: moving(6.0, 7.0, 0.0, 1.0)(t) - moving(138.0, 6.0, 0.0, 1.0)(t))
    seen = METHOD.predict(flown, own.row(), means(flown), BELIEFS)
    assert np.abs(seen - flown.ias_mps).max() / KT < 0.01
    assert flown.ias_mps[-1] > flown.ias_mps[times == 138.0][0] + 20 * KT  # it came back
    found = by_hand(flown)  # of the first move; what came after the second is not mixed in
    assert found["start slope"].value.value == pytest.approx(4.6, rel=0.03)
    assert found["settled speeds"].value.value == pytest.approx(4.6, rel=0.03)
    slowest = np.min(flown.ias_mps) / KT
    assert found["knots lost"].value.value == pytest.approx(120 - slowest, abs=0.5)


def test_a_device_taken_in_has_the_same_area() -> None:
    times = np.arange(0.0, 160.0, 6.0)
    text = HEADER + "# entry gear: down\n" + "".join(f"{t:.0f}, 90{', gear up' if t == 6 else ''}\n" for t in times)
    own = OwnAirplane(gear=4.6 * FT2, propeller=0.1)
    # The believed gear enters the balance at entry, so it is stated right here.
    beliefs = quillback(QUILLBACK.replace('"4.2 ± 2 ft2"', '"4.6 ± 1 ft2"'))
    run = shown(run_of(text, beliefs), own, moving(6.0, 6.0, 1.0, 0.0), entry_kt=90.0)
    found = by_hand(run, beliefs)
    assert found["start slope"].value.value == pytest.approx(4.6, rel=0.05)
    assert found["settled speeds"].value.value == pytest.approx(4.6, rel=0.05)
    assert "rose" in found["start slope"].sentence


def test_a_called_arrival_is_a_transit_time() -> None:
    run = run_of(HEADER + "0, 120\n6, 119, gear down\n13.5, 116, three green\n18, 112\n24, 108\n30, 104\n36, 101\n")
    found = by_hand(run)["transit time"]
    assert found.value.value == pytest.approx(7.5)
    assert found.value.standard_uncertainty == pytest.approx(0.5 * math.sqrt(2))  # two calls on a 0.5 s clock
    assert found.title == "Gear travel time"
    assert "transit time" not in by_hand(run_of(GEAR_RUN))


def test_the_bias_of_the_dial_counts() -> None:
    run = shown(run_of(GEAR_RUN), OwnAirplane(gear=4.6 * FT2), moving(6.0, 7.0, 0.0, 1.0))
    plain = by_hand(run)["start slope"].value
    biased = quillback(QUILLBACK + '\n[instrument]\nbias = "2 ± 1 kt"\n')
    high = by_hand(replace(run, ias_mps=run.ias_mps + 2 * KT), biased)["start slope"].value
    assert high.value == pytest.approx(plain.value, rel=0.005)
    assert 0.0 < high.budget["dial_bias"] < plain.budget["dial_bias"]


# ---- altitude -------------------------------------------------------------------------------------------------------


def wandering() -> tuple[DecelerationRun, DecelerationRun, OwnAirplane]:
    """A run that sank 120 ft in its minute, gently at both ends, with its altitude read to 10 ft, and without."""

    def height(t: float) -> float:
        return -120 * 0.3048 * (3 * (t / 60) ** 2 - 2 * (t / 60) ** 3)

    def sink(t: float) -> float:
        return -120 * 0.3048 * 6 * (t / 60 - (t / 60) ** 2) / 60

    rows = "".join(
        f"{t:.0f}, 120, {round(700 + height(t) / 3.048) * 10}{', gear down' if t == 6 else ','}\n"
        for t in np.arange(0.0, 66.0, 6.0)
    )
    text = HEADER + "time, speed, altitude (ft), mark\n" + rows
    run, own = run_of(text), OwnAirplane(gear=4.6 * FT2, propeller=0.1)
    flown = shown(run, own, moving(6.0, 7.0, 0.0, 1.0), climb=sink)
    return flown, replace(flown, altitude_m=np.full(flown.time_s.size, np.nan)), own


def test_altitude_drift_is_energy() -> None:
    with_altitude, without, own = wandering()
    row = own.row()
    errors = [(METHOD.predict(run, row, means(run), BELIEFS) - run.ias_mps) / KT for run in (with_altitude, without)]
    # Sinking 2 ft/s at 60 m/s is worth g/V dh/dt = 0.2 kt/s: several knots by the end where nothing tells of it.
    assert np.abs(errors[0]).max() < 0.5
    assert errors[1].min() < -3.0
    slopes = [by_hand(run)["start slope"].value for run in (with_altitude, without)]
    mass, speed = 3000 * LB, by_hand(without)["start slope"].speed_mps
    sinking = -120 * 0.3048 * 6 * (24 / 60 - (24 / 60) ** 2) / 60  # at 24 s, the middle of the readings used
    missing = mass * G / speed * sinking / (density(without) * speed**2 / 2) / FT2
    assert slopes[0].value == pytest.approx(4.6, rel=0.04)  # the recorded altitude removes the bias
    assert slopes[1].value == pytest.approx(4.6 + missing, rel=0.05)  # which is what energy says it is
    assert missing < -0.9


def test_an_altitude_that_was_not_read_widens_the_interval() -> None:
    with_altitude, without, _ = wandering()
    known, open_ = (by_hand(run)["start slope"].value for run in (with_altitude, without))
    assert open_.budget["climb"] > 2.5 * known.budget["climb"]
    climbs = [METHOD.nuisances(run, BELIEFS)[2] for run in (with_altitude, without)]
    assert [n.key for n in climbs] == ["climb", "climb"]
    assert climbs[0].sd == pytest.approx(0.05)
    # 50 ft either way, in the minute of the run.
    assert climbs[1].sd == pytest.approx(50 * 0.3048 / 60.0)


@pytest.mark.parametrize("last_read", [8, 24])
def test_a_level_altitude_read_for_a_part_of_the_run_is_no_climb_after_it(last_read: int) -> None:
    # Read to 10 ft and level throughout, but only up to some reading: a polynomial carried on from there would claim
    # thousands of feet a minute by the end of the run. One tenth of a knot a second is g/V times 25 ft/min.
    rng, run = np.random.default_rng(2), run_of(GEAR_RUN)
    height = np.full(run.time_s.size, np.nan)
    height[:last_read] = np.round((ALTITUDE + rng.normal(0.0, 2.0, last_read)) / 3.048) * 3.048
    climbs = climb_polynomial(replace(run, altitude_m=height))
    after = run.time_s[last_read:]
    rates = np.polynomial.polynomial.polyval(after, climbs)
    assert after.size >= 5
    assert np.abs(rates).max() < 0.3
    assert (climb_sd_mps(replace(run, altitude_m=height)) > 0.05) == (last_read == 8)


def test_the_mean_climb_by_hand_has_the_doubt_of_the_readings_it_is_made_of() -> None:
    # Two thousand sets of noisy altitudes against the stated uncertainty, over the last 20 s and over the whole run.
    rng, run = np.random.default_rng(3), run_of(GEAR_RUN)
    end = float(run.time_s[-1])
    for start in (0.0, end - 20.0):
        found = []
        for _ in range(2000):
            noise = rng.normal(0.0, ALTITUDE_READING_SD_M, run.time_s.size)
            found.append(mean_climb(replace(run, altitude_m=ALTITUDE + 0.4 * run.time_s + noise), start, end)[0])
        _, stated = mean_climb(replace(run, altitude_m=ALTITUDE + 0.4 * run.time_s), start, end)
        assert np.mean(found) == pytest.approx(0.4, abs=0.01)
        assert np.hypot(np.std(found), SEEN_CLIMB_SD_MPS) == pytest.approx(stated, rel=0.05)


# ---- limits ---------------------------------------------------------------------------------------------------------


def test_a_device_extended_above_its_limit_is_flagged_and_still_reduced() -> None:
    text = HEADER + "0, 130, stable\n6, 130, gear down\n12, 126\n18, 120\n24, 114\n30, 110\n36, 107\n42, 104\n"
    run = run_of(text)
    (found,) = METHOD.exceedances(run, BELIEFS)
    assert (found.limit, found.row) == ("VLO", 5)
    assert found.seen_mps / KT == pytest.approx(130)
    assert found.sentence().startswith("VLO is 125 kt and 130 kt was read on row 5: a limit exceedance")
    assert by_hand(run)["start slope"].value.value > 0.0


def test_flap_limits_hold_for_the_setting_that_is_out() -> None:
    text = HEADER + "0, 110, stable\n6, 110, flaps half\n12, 109\n18, 108, flaps full\n24, 104\n30, 100, flaps up\n"
    run = run_of(text + "36, 104\n42, 112\n48, 118\n")
    found = METHOD.exceedances(run, BELIEFS)
    # Half to 115 kt, full to 105 kt; what is flown once they are up again is no concern of theirs.
    assert [(one.limit, round(one.seen_mps / KT), one.row) for one in found] == [("VFE (full)", 108, 7)]


def test_an_entry_with_the_gear_out_is_held_against_its_limit() -> None:
    text = HEADER + "# entry gear: down\n0, 142, stable\n6, 142, gear up\n12, 145\n18, 148\n24, 150\n"
    found = METHOD.exceedances(run_of(text), BELIEFS)
    assert [(one.limit, round(one.seen_mps / KT)) for one in found] == [("VLE", 142), ("VLO", 145)]


def test_never_exceed() -> None:
    text = HEADER + "0, 195, stable\n6, 124, gear down\n12, 120\n18, 110\n"
    assert [one.limit for one in METHOD.exceedances(run_of(text), BELIEFS)] == ["VNE"]


@pytest.mark.parametrize(
    ("words", "blocking", "said"),
    [
        ({"entry speed": "130 kt", "device": "gear"}, [True], "VLO 125 kt: above the limit"),
        ({"entry speed": "122 kt", "device": "gear"}, [False], "VLO 125 kt: only 3 kt of margin"),
        ({"entry speed": "120 kt", "device": "gear"}, [], ""),
        ({"entry speed": "110 kt", "device": "flaps", "to": "full"}, [True], "VFE (full) 105 kt: above the limit"),
        ({"entry speed": "110 kt", "device": "flaps", "to": "half"}, [], ""),
    ],
)
def test_limits_guard_the_planned_entry(words: dict[str, str], blocking: list[bool], said: str) -> None:
    notices = METHOD.guard(BELIEFS, words)
    assert [notice.blocking for notice in notices] == blocking
    assert said in " ".join(notice.sentence for notice in notices)


# ---- simulated runs -------------------------------------------------------------------------------------------------


class Settled(LevelDeceleration):
    """The method with a pilot who enters exactly as planned, so that only the readings scatter."""

    def nuisances(self, run: DecelerationRun, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        return tuple(replace(n, sd=0.0) for n in super().nuisances(run, beliefs))


def test_simulated_readings_scatter_as_stated() -> None:
    method, row, rng = Settled(), OwnAirplane().row(), np.random.default_rng(4)
    run = shown(run_of(GEAR_RUN), OwnAirplane(), moving(6.0, 7.0, 0.0, 1.0))
    run = replace(run, whole_units_mps=KT)
    exact = means(run)
    scores = np.array(
        [method.residuals(method.simulate(run, row, BELIEFS, rng), row, exact, BELIEFS) for _ in range(300)]
    )
    assert scores.shape == (300, TIMES.size)
    # 300 runs of 29 standard normal numbers: five standard errors.
    assert abs(scores.mean()) < 5 / math.sqrt(scores.size)
    assert scores.std() == pytest.approx(1.0, abs=5 / math.sqrt(2 * scores.size))
    # And at each time of the run, steep or flat (about the clock's part too).
    assert np.abs(scores.std(axis=0) - 1.0).max() < 5 / math.sqrt(2 * 300)


def test_simulation_draws_what_the_pilot_leaves_open_and_repeats_with_its_seed() -> None:
    run, row = run_of(GEAR_RUN), OwnAirplane().row()
    ends = [METHOD.simulate(run, row, BELIEFS, np.random.default_rng(k)).ias_mps[-1] / KT for k in range(60)]
    assert np.std(ends) > 1.5  # more than the dial: climb, settling and power differ from run to run
    again = METHOD.simulate(run, row, BELIEFS, np.random.default_rng(7)).ias_mps
    assert again.tolist() == METHOD.simulate(run, row, BELIEFS, np.random.default_rng(7)).ias_mps.tolist()
    assert again / KT == pytest.approx(np.round(again / KT))
