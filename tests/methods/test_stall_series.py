"""Stall series: readings to stall speed and CLmax per flap setting, against arithmetic and simulated series."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.airplane.own_words import DEG, FT2, KT, LB
from tests.airplane.quillback import QUILLBACK, quillback
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.textbook import lift_coefficient_at
from wringout.errors import BadInputError
from wringout.methods.stall_series.method import StallRun, StallSeries
from wringout.methods.types import HandResult
from wringout.recordings.reader import read_recording

METHOD = StallSeries()
BELIEFS = quillback()
NONE = np.zeros(0)
HEADER = "# altitude: 0 ft\n# weight: 3200 lb\n"
EXACT = '\n[instrument]\nreading = "1 kt"\nbias = "0 ± 0 kt"\nweight_error = "0.000001"\n'


def run_of(table: str, beliefs: Beliefs = BELIEFS, header: str = HEADER) -> StallRun:
    (run,) = METHOD.from_recording("S1", read_recording((header + table).encode(), "stalls.csv"), {}, beliefs)
    return run


def results(table: str, beliefs: Beliefs = BELIEFS, header: str = HEADER) -> dict[str, HandResult]:
    return {result.key: result for result in METHOD.by_hand(run_of(table, beliefs, header), beliefs)}


def test_what_a_recording_becomes() -> None:
    run = run_of(
        "flap, speed, entry rate (kt/s), weight (lb), gear\n"
        "up, 60, 1.5, 3100, up\n20, 52, , , down\nfull, 49, 1, 3000,\n"
    )
    assert run.title == "3 stalls, power off"
    assert run.flap_rad == pytest.approx([0.0, 20 * DEG, 40 * DEG])
    assert run.gear.tolist() == [0.0, 1.0, 0.0]
    assert run.ias_mps == pytest.approx(np.array([60, 52, 49]) * KT)
    assert run.entry_rate_mps2 == pytest.approx(np.array([1.5, 1.0, 1.0]) * KT)
    assert run.mass_kg == pytest.approx(np.array([3100, 3200, 3000]) * LB)
    assert run.whole_units_mps == pytest.approx(KT)
    assert run.rows.tolist() == [4, 5, 6]
    assert METHOD.observed(run) is run.ias_mps
    assert METHOD.nuisances(run, BELIEFS) == ()


def test_the_header_fills_what_rows_leave_out() -> None:
    header = "# altitude: 4000 ft\n# weight: 3000 lb\n# gear: down\n# entry rate: 2 kt/s\n# power: idle\n"
    run = run_of("flap, speed\nup, 60\n", header=header)
    assert run.gear.tolist() == [1.0]
    assert run.entry_rate_mps2 == pytest.approx([2 * KT])
    assert run.mass_kg == pytest.approx([3000 * LB])


def test_weights_in_the_rows_need_no_header() -> None:
    run = run_of("flap, speed, weight (lb)\nup, 60, 3100\nfull, 50, 3000\n", header="# altitude: 4000 ft\n")
    assert run.conditions.mass_kg == pytest.approx(3050 * LB)


def test_predicted_stall_speeds() -> None:
    run = run_of("flap, speed, entry rate (kt/s), weight (lb)\nup, 60, 1, 3000\nup, 60, 1, 2500\nup, 57, 3, 3000\n")
    row = BELIEFS.prior_row()
    row[v.CL_MAXES] = 1.40654
    row[v.WING_AREA] = 175 * FT2
    row[v.STALL_RATE_SLOPE] = -0.02
    seen = METHOD.predict(run, row, NONE, BELIEFS) / KT
    # Synthetic, exact: CL = 2 W / (rho0 V^2 S) is 1.40654 at 60 kt, 3,000 lb, 175 ft2, sea level; Vs with sqrt(W).
    assert seen[0] == pytest.approx(60.0, abs=0.001)
    assert seen[1] == pytest.approx(60.0 * math.sqrt(2500 / 3000), abs=0.001)
    # 2 kt/s faster than 1 kt/s, -0.02 of the speed for each m/s2.
    assert seen[2] == pytest.approx(60.0 * (1 - 0.02 * 2 * KT), abs=0.001)
    row[v.MASS_FACTOR], row[v.IAS_BIAS] = 1.02, 1.5 * KT
    assert METHOD.predict(run, row, NONE, BELIEFS)[0] / KT == pytest.approx(60.0 * math.sqrt(1.02) + 1.5, abs=0.001)


def test_position_error_of_each_configuration() -> None:
    table = "".join(
        f'\n[[instrument.position_error]]\nflaps = "{flaps}"\ngear = "up"\nindicated = ["50 kt", "90 kt"]\n'
        f'calibrated = ["{low} kt", "90 kt"]\n'
        for flaps, low in (("up", 55), ("full", 52))
    )
    beliefs = quillback(QUILLBACK + table)
    run = run_of("flap, speed\nup, 50\nfull, 50\n", beliefs)
    row = beliefs.prior_row()
    row[v.CL_MAXES], row[v.CL_MAXES + 2] = (
        lift_coefficient_at(3200 * LB, calibrated * KT, row[v.WING_AREA]) for calibrated in (55.0, 52.0)
    )
    assert METHOD.predict(run, row, NONE, beliefs) / KT == pytest.approx([50.0, 50.0], abs=0.001)
    found = {result.key: result for result in METHOD.by_hand(run, beliefs)}
    assert found["stall speed, up"].value.value == pytest.approx(55.0, abs=0.001)
    assert found["stall speed, full"].value.value == pytest.approx(52.0, abs=0.001)


def test_the_quality_of_a_reading() -> None:
    run = run_of("flap, speed\nup, 60\nfull, 50\n")
    # Dial 1 kt, one stall to the next 1 kt, whole knots, in quadrature.
    expected = math.sqrt(1 + 1 + 1 / 12) * KT
    assert METHOD.reading_sd(run, BELIEFS.prior_row(), NONE, BELIEFS) == pytest.approx([expected, expected])
    residuals = METHOD.residuals(run, BELIEFS.prior_row(), NONE, BELIEFS)
    assert residuals == pytest.approx(
        (run.ias_mps - METHOD.predict(run, BELIEFS.prior_row(), NONE, BELIEFS)) / expected
    )


def test_stall_speed_and_lift_coefficient_by_hand() -> None:
    table = "flap, speed, weight (lb)\nup, 60, 2800\nup, 61, 2800\nup, 62, 2800\nfull, 50, 3200\n"
    found = results(table, quillback(QUILLBACK + EXACT))
    clean = found["stall speed, up"].value
    # By hand: mean 61 kt at 2,800 lb is 65.2118 kt at 3,200 lb; Vs proportional to sqrt(W).
    factor = math.sqrt(3200 / 2800)
    assert clean.value == pytest.approx(61 * factor, abs=1e-3)
    # Scatter of the three 1 kt, pooled with nothing else (full flap was flown once): 1/sqrt(3) kt, 2 degrees of
    # freedom, and whole knots add 0.289 kt.
    sd = factor * math.hypot(1 / math.sqrt(3), 1 / math.sqrt(12))
    assert clean.standard_uncertainty == pytest.approx(sd, rel=1e-3)
    assert clean.dof == pytest.approx(2 * (1 + 3 / 12) ** 2, rel=1e-3)
    assert clean.unit == "kt"
    lift = found["CLmax, up"].value
    assert lift.value == pytest.approx(lift_coefficient_at(3200 * LB, 61 * factor * KT, 174 * FT2), rel=1e-4)
    assert lift.standard_uncertainty / lift.value == pytest.approx(2 * sd / (61 * factor), rel=1e-3)
    assert "From 3 stalls, entered at 1 kt/s" in found["stall speed, up"].sentence
    assert found["stall speed, full"].value.standard_uncertainty == pytest.approx(math.hypot(factor, 0.2887), rel=1e-2)
    assert not any(result.is_drag for result in found.values())


def test_one_stall_has_the_stated_quality() -> None:
    value = results("flap, speed\nup, 60\n", quillback(QUILLBACK + EXACT))["stall speed, up"].value
    assert value.standard_uncertainty == pytest.approx(math.sqrt(1 + 1 + 2 / 12), rel=1e-3)
    assert math.isinf(value.dof)


def test_bias_and_weight_are_common_to_all_readings() -> None:
    text = QUILLBACK + '\n[instrument]\nbias = "2 ± 1.5 kt"\nweight_error = "0.02"\n'
    found = results("flap, speed\n" + "up, 60\n" * 400, quillback(text))["stall speed, up"].value
    assert found.value == pytest.approx(58.0, abs=1e-6)  # the dial reads 2 kt high
    assert found.budget["dial bias"] == pytest.approx(1.5, rel=1e-3)
    assert found.budget["weight"] == pytest.approx(58 * 0.01, rel=1e-3)  # half of 2 %
    assert found.budget["repeats, up"] == 0.0


def test_a_line_through_differing_entry_rates_is_read_at_one_knot_a_second() -> None:
    # Exact line: 60 kt at 1 kt/s, half a knot less for each kt/s more.
    table = "flap, speed, entry rate (kt/s)\nup, 60.25, 0.5\nup, 59.5, 2\nup, 59, 3\nup, 59.75, 1.5\n"
    found = results(table, quillback(QUILLBACK + EXACT))["stall speed, up"]
    assert found.value.value == pytest.approx(60.0, abs=1e-6)
    assert "a straight line" in found.sentence
    assert found.value.budget["entry rate slope"] == 0.0


def test_the_line_has_the_uncertainty_of_a_fit() -> None:
    rates, speeds = np.array([0.5, 2.0, 3.0, 1.5, 1.0]), np.array([61.0, 59.0, 59.0, 60.0, 60.0])
    table = "flap, speed, entry rate (kt/s)\n" + "".join(
        f"up, {speed:.0f}, {rate}\n" for speed, rate in zip(speeds, rates, strict=True)
    )
    value = results(table, quillback(QUILLBACK + EXACT))["stall speed, up"].value
    # numpy.polyfit with its own covariance, scatter estimated from the residuals.
    (_, intercept), covariance = np.polyfit(rates - 1.0, speeds, 1, cov=True)
    assert value.value == pytest.approx(intercept, abs=1e-6)
    assert value.budget["repeats, up"] == pytest.approx(math.sqrt(covariance[1, 1]), rel=1e-5)


def test_few_readings_lean_on_the_believed_slope() -> None:
    found = results("flap, speed, entry rate (kt/s)\nup, 58, 3\nup, 59, 2\n", quillback(QUILLBACK + EXACT))
    one = found["stall speed, up"]
    # By hand: 58.5 kt at a mean of 2.5 kt/s, 1.5 kt/s faster than the standard; believed -0.02 ± 0.02 per m/s2.
    away = 1.5 * KT
    assert one.value.value == pytest.approx(58.5 / (1 - 0.02 * away), abs=1e-3)
    assert one.value.budget["entry rate slope"] == pytest.approx(58.5 * 0.02 * away, rel=0.05)
    assert "believed slope" in one.sentence
    assert "2.5 kt/s" in one.sentence


def test_scatter_is_pooled_over_the_settings() -> None:
    table = "flap, speed\nup, 59\nup, 61\nhalf, 52\nhalf, 54\nfull, 49\nfull, 51\n"
    found = results(table, quillback(QUILLBACK + EXACT))
    for name in ("up", "half", "full"):
        value = found[f"stall speed, {name}"].value
        # By hand: each pair has a variance of 2 kt2 with 1 degree of freedom, so 2 kt2 with 3; mean of two: 1 kt.
        assert value.budget[f"repeats, {name}"] == pytest.approx(1.0, rel=1e-3)
        assert value.dof == pytest.approx(3 * (1 + 1 / 12) ** 2, rel=1e-3)


def test_which_part_of_flap_travel_buys_lift() -> None:
    found = results(
        "flap, speed\n" + "up, 60\nup, 61\nup, 60\nhalf, 51\nhalf, 51\nhalf, 52\nfull, 49\nfull, 50\nfull, 49\n"
    )
    travel = found["flap travel"]
    speeds = [181 / 3, 154 / 3, 148 / 3]
    gain = [1 / speed**2 - 1 / speeds[0] ** 2 for speed in speeds]
    assert travel.value.value == pytest.approx(100 * gain[1] / gain[2], abs=0.1)
    assert travel.value.unit == "%"
    assert "50 % of the travel to full" in travel.sentence
    assert "believed of these flaps, which stalls do not measure, put 39" in travel.sentence  # 2.4 of 6.2 ft2
    assert "up to half buys more of the lift" in travel.sentence
    assert "from half to full more of the drag" in travel.sentence
    # The bias is common and nearly cancels in the share.
    assert travel.value.budget["dial bias"] < 0.1 * travel.value.standard_uncertainty


def test_lift_or_drag_too_close_to_call_is_said() -> None:
    sentence = results("flap, speed\nup, 60\nhalf, 56\nfull, 50\n")["flap travel"].sentence
    assert "too close to call" in sentence


def test_a_gain_that_is_not_seen_is_not_shared_out() -> None:
    assert "flap travel" not in results("flap, speed\nup, 50\nhalf, 50\nfull, 49\n")
    assert "flap travel" not in results("flap, speed\nup, 60\nfull, 50\n")
    assert "flap travel" not in results("flap, speed\nhalf, 60\nfull, 50\n")


@given(seed=st.integers(0, 10_000))
def test_by_hand_agrees_with_prediction(seed: int) -> None:
    """What an airplane without noise would show is reduced to that airplane's own CLmax."""
    beliefs = quillback(QUILLBACK + EXACT)
    rng = np.random.default_rng(seed)
    header = (
        f"# altitude: {rng.uniform(0, 10000):.0f} ft\n# isa deviation: {rng.uniform(-20, 20):.1f}\n# weight: 3000 lb\n"
    )
    table = "flap, speed, entry rate (kt/s), weight (lb)\n" + "".join(
        f"{flap}, 50, {rng.uniform(0.5, 3):.3f}, {rng.uniform(2500, 3200):.1f}\n" for flap in ("up", "half", "full") * 4
    )
    run = run_of(table, beliefs, header)
    row = beliefs.row_from_latent(rng.normal(0.0, 1.0, len(beliefs.parameters)))
    row[v.MASS_FACTOR], row[v.IAS_BIAS] = 1.0, 0.0
    row[v.STALL_RATE_SLOPE] = beliefs.prior_row()[v.STALL_RATE_SLOPE]  # what by hand leans on when rates hardly differ
    seen = METHOD.predict(run, row, NONE, beliefs)
    shown = StallRun(**{**{f: getattr(run, f) for f in run.__slots__}, "ias_mps": seen, "whole_units_mps": 0.0})
    found = {result.key: result for result in METHOD.by_hand(shown, beliefs)}
    for i, name in enumerate(("up", "half", "full")):
        assert found[f"CLmax, {name}"].value.value == pytest.approx(row[v.CL_MAXES + i], rel=0.01)


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    rng = np.random.default_rng(5)
    table = "flap, speed, entry rate (kt/s)\n" + "".join(
        f"{flap}, 50, {rate}\n" for flap in ("up", "half", "full") for rate in (0.7, 1.5, 2.2, 1.0)
    )
    run = run_of(table, header="# altitude: 5000 ft\n# weight: 3000 lb\n")
    held = []
    for _ in range(120):
        row = BELIEFS.row_from_latent(rng.normal(0.0, 1.0, len(BELIEFS.parameters)))
        for result in METHOD.by_hand(METHOD.simulate(run, row, BELIEFS, rng), BELIEFS):
            if result.key.startswith("CLmax"):
                truth = row[v.CL_MAXES + ["up", "half", "full"].index(result.key.split(", ")[1])]
                low, high = result.value.interval()
                held.append(low <= truth <= high)
    # 120 airplanes drawn from what is believed, three settings each: 95 % less four standard errors of 120.
    assert np.mean(held) > 0.95 - 4 * math.sqrt(0.95 * 0.05 / 120)
    assert np.mean(held) < 0.9999  # and the intervals are not so wide that nothing could be outside


def test_simulated_stalls_scatter_as_stated() -> None:
    run = run_of("flap, speed, entry rate (kt/s)\nup, 60, 2\nhalf, 52, 1\nfull, 49, 1\n")
    row, rng = BELIEFS.prior_row(), np.random.default_rng(7)
    seen = np.array(
        [METHOD.residuals(METHOD.simulate(run, row, BELIEFS, rng), row, NONE, BELIEFS) for _ in range(2000)]
    )
    assert abs(seen.mean()) < 0.065  # 6,000 standard normal numbers, five standard errors
    assert seen.std() == pytest.approx(1.0, abs=0.046)
    once = METHOD.simulate(run, row, BELIEFS, np.random.default_rng(1))
    assert once.ias_mps / KT == pytest.approx(np.round(once.ias_mps / KT))


def test_an_ignored_number_changes_nothing() -> None:
    run, row = run_of("flap, speed, entry rate (kt/s)\nup, 60, 2\nhalf, 52, 1\nfull, 49, 1\n"), BELIEFS.prior_row()
    reference = METHOD.predict(run, row, NONE, BELIEFS).tolist()
    for index in range(v.SIZE):
        other = row.copy()
        other[index] *= 1.01
        other[index] += 0.01
        if index in METHOD.ignores:
            assert METHOD.predict(run, other, NONE, BELIEFS).tolist() == reference
    assert v.CL_MAXES + 1 not in METHOD.ignores


def test_a_reading_above_a_limit_is_flagged() -> None:
    run = run_of("flap, speed, gear\nfull, 106, up\nup, 145, down\nhalf, 52, down\nup, 259, up\n")
    found = METHOD.exceedances(run, BELIEFS)
    assert [(one.limit, round(one.seen_mps / KT), one.row) for one in found] == [
        ("VFE (full)", 106, 4),
        ("VLE", 145, 5),
        ("VNE", 259, 7),
    ]


@pytest.mark.parametrize(
    ("header", "table", "where", "word"),
    [
        (HEADER, "flap, speed\nthird, 50\n", "stalls.csv, row 4, flap", "'third' is not a flap setting"),
        (
            HEADER,
            "flap, speed, gear\nup, 50, sideways\n",
            "stalls.csv, row 4, gear",
            "'sideways' is not a gear position",
        ),
        (HEADER, "flap, speed\nup,\n", "stalls.csv, speed", "no row has a stall speed"),
        (HEADER, "flap, speed, weight (lb)\nup, 60, 9000\n", "stalls.csv, row 4, weight", "not a likely weight"),
        ("# altitude: 0 ft\n", "flap, speed\nup, 60\n", "stalls.csv, weight", "does not say its weight"),
        ("# weight: 3000 lb\n", "flap, speed\nup, 60\n", "stalls.csv, altitude", "does not say its altitude"),
        (HEADER + "# gear: folded\n", "flap, speed\nup, 60\n", "stalls.csv, gear", "'folded' is not"),
        (
            HEADER + "# entry rate: 1 kt\n",
            "flap, speed\nup, 60\n",
            "stalls.csv, entry rate",
            "not a unit of acceleration",
        ),
    ],
)
def test_bad_input_gets_one_sentence(header: str, table: str, where: str, word: str) -> None:
    with pytest.raises(BadInputError) as caught:
        run_of(table, header=header)
    assert str(caught.value).startswith(where)
    assert word in str(caught.value)
    assert caught.value.expected


def test_another_kind_of_recording_is_refused() -> None:
    recording = read_recording(b"time, speed\n0, 100\n6, 99\n", "speeds.csv")
    with pytest.raises(BadInputError, match=r"^speeds\.csv: a stall series needs the columns flap and speed"):
        METHOD.from_recording("S1", recording, {}, BELIEFS)


@pytest.mark.parametrize(
    ("words", "blocking", "said"),
    [
        ({"height above ground": "2500 ft"}, [True], "floor of 3,000 ft (common practice, no source"),
        ({"height above ground": "3500 ft"}, [False], "only 500 ft to recover in"),
        ({"height above ground": "5000 ft"}, [], ""),
        ({}, [False], "the height above ground is not stated"),
        ({"height above ground": "5000 ft", "weight": "3300 lb"}, [True], "maximum weight of 3,200 lb"),
        ({"height above ground": "5000 ft", "entry speed": "107 kt"}, [True], "VFE (full) 105 kt: above the limit"),
        (
            {"height above ground": "5000 ft", "entry speed": "112 kt", "flaps": "up, half"},
            [False],
            "VFE (half) 115 kt: only 3 kt",
        ),
    ],
)
def test_floor_weight_and_limits_guard_the_plan(words: dict[str, str], blocking: list[bool], said: str) -> None:
    notices = METHOD.guard(BELIEFS, words)
    assert [notice.blocking for notice in notices] == blocking
    assert said in " ".join(notice.sentence for notice in notices)


def test_the_card_says_where_to_stop() -> None:
    card = METHOD.card(BELIEFS, {"altitude": "6,000 ft"})
    assert card.title == "Stall series, flaps up, half, full"
    assert any("3,000 ft above ground" in line for line in card.stop_conditions)
    assert any("1 kt each second" in step for step in card.steps)


def test_stalls_with_power_on_are_reduced_by_hand_and_kept_out_of_the_fit() -> None:
    header = HEADER + "# power: 65 %\n"
    run = run_of("flap, speed\nup, 52\nup, 53\n", header=header)
    assert run.title == "2 stalls, power 65 %"
    assert run.rows.size == 0
    assert run.flown_rows.tolist() == [5, 6]
    row = BELIEFS.prior_row()
    assert [part.size for part in (METHOD.observed(run), METHOD.predict(run, row, NONE, BELIEFS))] == [0, 0]
    found = results("flap, speed\nup, 52\nup, 53\n", header=header)
    assert list(found) == ["stall speed, up, power on"]
    assert found["stall speed, up, power on"].value.value == pytest.approx(52.5, abs=0.01)


def test_a_secondary_stall_is_left_out_and_said() -> None:
    run = run_of("flap, speed, note\nup, 60,\nup, 71, secondary stall in the recovery\n")
    assert run.title == "1 stall, power off; 1 secondary stall left out"
    assert run.ias_mps == pytest.approx([60 * KT])


def test_the_centre_of_gravity_is_brought_to_the_reference() -> None:
    # By hand: 6 in aft of the reference on a tail arm of 15 ft, CL lower by 6/180, so the stall reads sqrt(1 - 1/30)
    # of that at the reference (form of FAA Advisory Circular 23-8, from memory).
    header = HEADER + "# reference cg: 84 in\n# tail arm: 15 ft\n"
    table = "flap, speed, cg (in)\nup, 60, 90\n"
    run, row = run_of(table, header=header), BELIEFS.prior_row()
    plain = run_of("flap, speed\nup, 60\n")
    factor = METHOD.predict(run, row, NONE, BELIEFS) / METHOD.predict(plain, row, NONE, BELIEFS)
    assert factor == pytest.approx([math.sqrt(1 - 1 / 30)])
    found = results(table, header=header)["stall speed, up"].value.value
    assert found == pytest.approx(60.0 / math.sqrt(1 - 1 / 30), abs=0.01)
    with pytest.raises(BadInputError, match="too much for this tail arm"):
        run_of("flap, speed, cg (in)\nup, 60, 190\n", header=header)


def test_the_margin_of_warning() -> None:
    table = "flap, speed, warning\nup, 60, 67\nup, 59, 67\nup, 60, 66\nfull, 50, 56\n"
    found = results(table)
    margin = found["warning margin, up"].value
    # By hand: margins 7, 8, 6: mean 7, sd 1, t(2) 4.303.
    assert margin.value == pytest.approx(7.0)
    assert margin.interval() == pytest.approx((7 - 4.3027 / math.sqrt(3), 7 + 4.3027 / math.sqrt(3)), abs=1e-3)
    assert "too close to call against 5 kt" in found["warning margin, up"].sentence
    assert found["warning margin, full"].value.value == pytest.approx(6.0)
    with pytest.raises(BadInputError, match="comes below the stall"):
        run_of("flap, speed, warning\nup, 60, 55\n")


def test_power_is_on_the_card_and_costs_height() -> None:
    off = METHOD.card(BELIEFS, {"power": "idle"})
    on = METHOD.card(BELIEFS, {"power": "65 %", "cg": "88 in"})
    assert "power 65 %" in on.title
    assert "power" not in off.title
    assert "throttle closed" in off.steps[0]
    assert "set power 65 %" in on.steps[0]
    assert any("88 in" in line for line in on.setup)
    assert len(on.stop_conditions) == len(off.stop_conditions) + 1
    height = {"height above ground": "4500 ft"}
    assert METHOD.guard(BELIEFS, height) == []
    said = [notice.sentence for notice in METHOD.guard(BELIEFS, {**height, "power": "65 %"})]
    assert any("only 1,500 ft to recover in" in sentence for sentence in said)
    assert any("spin recovery" in sentence for sentence in said)
