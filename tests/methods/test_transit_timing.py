"""Transit timing: readings to seconds of travel, with scatter, parts of travel and slips of the watch."""

import math

import numpy as np
import pytest

from tests.airplane.own_words import DEG
from tests.airplane.quillback import QUILLBACK, quillback
from wringout.airplane import vector as v
from wringout.errors import BadInputError
from wringout.methods.transit_timing import TransitRun, TransitTiming
from wringout.methods.types import HandResult
from wringout.recordings.reader import read_recording

METHOD = TransitTiming()
BELIEFS = quillback()
NONE = np.zeros(0)
HEADER = "device, from, to, seconds\n"


def run_of(rows: str, text: str = QUILLBACK) -> TransitRun:
    (run,) = METHOD.from_recording("T1", read_recording((HEADER + rows).encode(), "times.csv"), {}, quillback(text))
    return run


def results(rows: str) -> dict[str, HandResult]:
    return {result.key: result for result in METHOD.by_hand(run_of(rows), BELIEFS)}


def test_what_a_recording_becomes() -> None:
    run = run_of("gear, up, down, 7.2\nflaps, half, full, 3.1\nflaps, 40, up, 0:05.9\n")
    assert run.title == "3 timings of gear and flaps"
    assert run.is_gear.tolist() == [True, False, False]
    assert run.from_position == pytest.approx([0.0, 20 * DEG, 40 * DEG])
    assert run.to_position == pytest.approx([1.0, 40 * DEG, 0.0])
    assert run.seconds == pytest.approx([7.2, 3.1, 5.9])
    assert run.rows.tolist() == [2, 3, 4]
    assert run.step_s == 0.1
    assert run.source.recording == "times.csv"
    assert METHOD.exceedances(run, BELIEFS) == []
    assert METHOD.nuisances(run, BELIEFS) == ()


def test_a_part_of_travel_takes_its_share_of_the_time() -> None:
    run = run_of("gear, up, down, 7\ngear, down, up, 6\nflaps, up, full, 6\nflaps, up, half, 3\nflaps, full, half, 3\n")
    row = BELIEFS.prior_row()
    row[[v.GEAR_DOWN_TIME, v.GEAR_UP_TIME, v.FLAP_DOWN_TIME, v.FLAP_UP_TIME]] = [7.0, 5.5, 6.4, 4.8]
    assert METHOD.predict(run, row, NONE, BELIEFS) == pytest.approx([7.0, 5.5, 6.4, 3.2, 2.4])
    assert run.step_s == 1.0
    # 0.3 s of reaction, 3 % of the travel and the watch's whole seconds, in quadrature.
    sd = METHOD.reading_sd(run, row, NONE, BELIEFS)
    assert sd[0] == pytest.approx(math.sqrt(0.3**2 + 0.21**2 + 1.0 / 12.0))
    expected = (run.seconds - [7.0, 5.5, 6.4, 3.2, 2.4]) / sd
    assert METHOD.residuals(run, row, NONE, BELIEFS) == pytest.approx(expected)
    assert METHOD.observed(run) is run.seconds


def test_an_ignored_number_changes_nothing() -> None:
    run, row = run_of("gear, up, down, 7\nflaps, up, half, 3\nflaps, full, up, 6\n"), BELIEFS.prior_row()
    reference = METHOD.predict(run, row, NONE, BELIEFS).tolist()
    for index in METHOD.ignores:
        other = row.copy()
        other[index] = 1.01 * other[index] + 0.01
        assert METHOD.predict(run, other, NONE, BELIEFS).tolist() == reference
    assert v.GEAR_DOWN_TIME not in METHOD.ignores


def test_repeats_by_hand() -> None:
    found = results("gear, up, down, 7.0\ngear, up, down, 7.4\ngear, up, down, 7.6\ngear, down, up, 5.0\n")
    down = found["gear down"].value
    # By hand: mean 7.3333 s, scatter 0.30551 s, standard error 0.17638 s. A watch read to 0.1 s adds 0.0289 s, so the
    # effective degrees of freedom are 2 (1 + (0.0289/0.17638)^2)^2 = 2.108 (JCGM 100:2008, G.2b) and Student's t is a
    # little under the 4.303 of 2 (Table G.2).
    assert down.value == pytest.approx(7.33333, abs=1e-5)
    assert down.standard_uncertainty == pytest.approx(math.hypot(0.17638, 0.1 / math.sqrt(12)), abs=1e-5)
    low, high = down.interval()
    assert down.dof == pytest.approx(2.108, abs=0.001)
    assert 3.9 < (high - low) / 2 / down.standard_uncertainty < 4.303
    assert "scatter 0.31 s" in found["gear down"].sentence
    up = found["gear up"]
    assert up.value.value == 5.0
    assert up.value.standard_uncertainty == pytest.approx(math.sqrt(0.3**2 + 0.15**2 + 0.01 / 12))
    assert "0.3 s of reaction and 3 %" in up.sentence
    assert "no source" in up.sentence
    assert all(not result.is_drag and math.isnan(result.speed_mps) for result in found.values())


def test_repeats_that_agree_to_the_step_are_not_exact() -> None:
    value = results("gear, up, down, 7\ngear, up, down, 7\n")["gear down"].value
    assert value.standard_uncertainty == pytest.approx(1 / math.sqrt(12))


def test_equal_parts_of_travel_agree_exactly() -> None:
    # 2.2 / 0.5 three times has a standard deviation of rounding only.
    for seconds in (2.2, 2.3, 3.7):
        value = results(f"flaps, half, up, {seconds}\n" * 3)["flaps up"].value
        assert value.standard_uncertainty == pytest.approx(0.1 / math.sqrt(12) / 0.5)


def test_parts_are_scaled_to_full_travel() -> None:
    found = results("flaps, up, half, 3.0\nflaps, half, up, 2.0\nflaps, half, up, 2.2\n")
    assert found["flaps down"].value.value == pytest.approx(6.0)
    assert found["flaps up"].value.value == pytest.approx(4.2)
    assert "scaled to full travel" in found["flaps up"].sentence
    assert found["flaps up to half"].value.value == pytest.approx(3.0)
    assert "steady rate" not in found["flaps up to half"].sentence  # there is nothing to compare it with
    assert found["flaps down"].strength == 2


def test_whole_travels_count_before_parts_and_a_rate_that_is_not_steady_is_said() -> None:
    steady = results("flaps, up, full, 6.0\nflaps, up, full, 6.2\nflaps, up, half, 3.0\nflaps, up, half, 3.1\n")
    assert steady["flaps down"].value.value == pytest.approx(6.1)
    assert steady["flaps down"].strength == 1
    assert "agrees within the uncertainty" in steady["flaps up to half"].sentence
    # By hand: 50 % of 6.1 s is 3.05 s, so 4.5 s are 1.5 s too many.
    uneven = results("flaps, up, full, 6.0\nflaps, up, full, 6.2\nflaps, up, half, 4.5\n")["flaps up to half"]
    assert "would give 3.0 s, which is 1.5 s less: the rate is not steady" in uneven.sentence


def test_a_slip_with_the_watch_is_noticed_and_kept() -> None:
    rows = "gear, up, down, 7.2\ngear, up, down, 7.3\ngear, up, down, 7.1\ngear, up, down, 9.9\n"
    found = results(rows)["gear down"]
    assert found.value.value == pytest.approx((7.2 + 7.3 + 7.1 + 9.9) / 4)  # kept
    assert "Row 5 (9.9 s) is 2.7 s over" in found.sentence
    assert "without it the full travel is 7.20 s" in found.sentence
    assert "Row" not in results(rows.replace("9.9", "7.9"))["gear down"].sentence
    assert "Row" not in results("gear, up, down, 7.2\ngear, up, down, 9.9\n")["gear down"].sentence  # which one?


def test_simulated_timings_scatter_as_stated() -> None:
    run = run_of("gear, up, down, 7.2\nflaps, up, half, 3.1\nflaps, full, up, 5.9\n")
    row, rng = BELIEFS.prior_row(), np.random.default_rng(11)
    seen = np.array(
        [METHOD.residuals(METHOD.simulate(run, row, BELIEFS, rng), row, NONE, BELIEFS) for _ in range(2000)]
    )
    # 6,000 standard normal numbers: mean within 5/sqrt(6000), standard deviation within 5/sqrt(12000).
    assert abs(seen.mean()) < 0.065
    assert seen.std() == pytest.approx(1.0, abs=0.046)
    again = METHOD.simulate(run, row, BELIEFS, np.random.default_rng(3))
    assert again.seconds.tolist() == METHOD.simulate(run, row, BELIEFS, np.random.default_rng(3)).seconds.tolist()
    assert again.seconds / 0.1 == pytest.approx(np.round(again.seconds / 0.1))


FIXED = QUILLBACK[: QUILLBACK.index("[gear]")] + QUILLBACK[QUILLBACK.index("[limits]") :]
FIXED = FIXED.replace('gear_area = "4.2 ± 2 ft2"\n', "")


@pytest.mark.parametrize(
    ("rows", "text", "where", "word"),
    [
        ("wheels, up, down, 7\n", QUILLBACK, "times.csv, row 2, device", "'wheels' is not a device"),
        ("gear, up, sideways, 7\n", QUILLBACK, "times.csv, row 2, to", "'sideways' is not a gear position"),
        ("gear, up, down, 7\nflaps, up, third, 7\n", QUILLBACK, "times.csv, row 3, to", "is not a flap setting"),
        ("gear, down, down, 7\n", QUILLBACK, "times.csv, row 2, to", "no travel"),
        ("flaps, full, 40, 7\n", QUILLBACK, "times.csv, row 2, to", "no travel"),
        ("gear, up, down, 200\n", QUILLBACK, "times.csv, row 2, seconds", "200 s is not a likely travel time"),
        ("gear, up, down, 0\n", QUILLBACK, "times.csv, row 2, seconds", "0 s is not a likely travel time"),
        ("gear, up, down,\n", QUILLBACK, "times.csv, seconds", "no row has a time"),
        ("gear, up, down, 7\n", FIXED, "times.csv, row 2, device", "the gear is fixed"),
    ],
)
def test_bad_rows_get_one_sentence(rows: str, text: str, where: str, word: str) -> None:
    with pytest.raises(BadInputError) as caught:
        run_of(rows, text)
    assert str(caught.value).startswith(where)
    assert word in str(caught.value)
    assert caught.value.expected


def test_another_kind_of_recording_is_refused() -> None:
    recording = read_recording(b"time, speed\n0, 100\n6, 99\n", "speeds.csv")
    with pytest.raises(BadInputError, match=r"^speeds\.csv: a transit timing needs the columns device, from, to"):
        METHOD.from_recording("T1", recording, {}, BELIEFS)


@pytest.mark.parametrize(
    ("words", "blocking", "said"),
    [
        ({"device": "gear", "speed": "120 kt"}, [True], ["VLO (retract) 110 kt: above the limit"]),
        ({"device": "gear", "speed": "107 kt"}, [False], ["VLO (retract) 110 kt: only 3 kt of margin"]),
        ({"device": "flaps", "speed": "111 kt"}, [False, True], ["VFE (half) 115 kt", "VFE (full) 105 kt: above"]),
        ({"device": "gear", "speed": "90 kt"}, [], []),
    ],
)
def test_limits_guard_the_planned_speed(words: dict[str, str], blocking: list[bool], said: list[str]) -> None:
    notices = METHOD.guard(BELIEFS, words)
    if words == {"device": "gear", "speed": "120 kt"}:
        notices = [notice for notice in notices if notice.blocking]  # 5 kt below VLO (extend) is thin as well
    assert [notice.blocking for notice in notices] == blocking
    assert all(part in notice.sentence for part, notice in zip(said, notices, strict=True))


def test_a_plan_without_a_speed_is_asked_for_one() -> None:
    with pytest.raises(BadInputError, match="card, speed"):
        METHOD.guard(BELIEFS, {"device": "gear"})
