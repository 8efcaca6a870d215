"""Hand-written lists without times. All numbers are invented."""

from __future__ import annotations

import numpy as np
import pytest

from wringout.errors import BadInputError
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Recording, Severity
from wringout.units import KNOT, POUND

STALLS = """# method: stall series
flap, speed, entry rate, weight (lb), gear
up, 59, 1.0, 2890, up
half, 51, 1.2, 2885, up
full, 48, 0.9, 2880, down
"""


def read(text: str) -> Recording:
    return read_recording(text.encode(), "list.csv")


def test_a_list_of_stalls() -> None:
    recording = read(STALLS)
    assert recording.kind == "stalls"
    assert recording.time_s is None
    assert recording.channels["ias"].values == pytest.approx(np.array([59, 51, 48]) * KNOT)
    assert recording.channels["entry_rate"].values == pytest.approx(np.array([1.0, 1.2, 0.9]) * KNOT)
    assert recording.channels["mass"].values == pytest.approx(np.array([2890, 2885, 2880]) * POUND)
    assert recording.texts == {"flap": ("up", "half", "full"), "gear": ("up", "up", "down")}
    assert recording.rows.tolist() == [3, 4, 5]
    assert recording.notices == ()


@pytest.mark.parametrize(
    "text",
    [
        STALLS.replace(", ", ";"),
        STALLS.replace(", ", "\t"),
        STALLS.replace(", ", "   "),
        STALLS.replace("flap, speed", "Flap setting, Stall speed (kt)"),
        STALLS.replace("2890", "2890 lb"),
        STALLS.replace(", ", ";").replace("1.2", "1,2"),
    ],
)
def test_the_same_stalls_written_otherwise(text: str) -> None:
    one, other = read(STALLS), read(text)
    assert other.kind == "stalls"
    for key, channel in one.channels.items():
        assert other.channels[key].values == pytest.approx(channel.values)
    assert other.texts == one.texts


def test_a_weight_without_a_unit_is_a_question_and_not_used() -> None:
    recording = read(STALLS.replace("weight (lb)", "weight"))
    assert "mass" not in recording.channels
    (question,) = [n for n in recording.notices if n.severity is Severity.QUESTION]
    assert question.field == "weight"
    assert "has no unit and values from 2880 to 2890; lb or kg would fit" in question.sentence


def test_weights_may_carry_their_unit_in_every_cell() -> None:
    text = STALLS.replace("weight (lb)", "weight").replace("2890", "2890 lb").replace("2885", "2885 lb")
    recording = read(text.replace("2880", "1306 kg"))
    assert recording.channels["mass"].values == pytest.approx([2890 * POUND, 2885 * POUND, 1306.0])


def test_a_list_of_timings() -> None:
    recording = read("device,from,to,seconds,note\ngear,up,down,6.2,\nflaps,0,full,0:08.5,cold day\ngear,down,up,,\n")
    assert recording.kind == "transits"
    assert recording.channels["duration"].values == pytest.approx([6.2, 8.5, np.nan], nan_ok=True)
    assert recording.texts == {
        "device": ("gear", "flaps", "gear"),
        "from": ("up", "0", "down"),
        "to": ("down", "full", "up"),
        "note": ("", "cold day", ""),
    }


@pytest.mark.parametrize("name", ["seconds", "time", "time (s)", "duration", "duration (s)", "transit time", "sec"])
def test_names_for_the_time_a_device_took(name: str) -> None:
    recording = read(f"device,from,to,{name}\ngear,up,down,6.2\n")
    assert recording.channels["duration"].values == pytest.approx([6.2])


def test_a_timing_of_minutes_is_not_believed() -> None:
    recording = read("device,from,to,time (min)\ngear,up,down,6.2\nflaps,up,full,8\n")
    assert "duration" not in recording.channels
    assert any("s would fit" in n.sentence for n in recording.notices if n.severity is Severity.QUESTION)


def test_cells_behind_the_last_column_are_named() -> None:
    recording = read(STALLS.replace("2880, down", "2880, down, a little late"))
    assert [n.sentence for n in recording.notices] == [
        "row 5: 'a little late' stands behind the last column and is not used; "
        "put words that hold a separator in quotes"
    ]


def test_names_without_rows_are_refused() -> None:
    with pytest.raises(BadInputError, match="column names but no rows"):
        read("flap,speed,gear\n")


LEGS = """# method: airspeed calibration
speed, ground speed, track, heading, flap
110, 118.5, 39, 30, up
110, 137, 147, 150, up
"""
PAIRS = """# method: go-around pairs
pair; technique; height lost (ft); time to climb (s); height at 15 s (m); weather
1; flaps first; 110; 5,5; 20 ft; calm
1; gear first; 85 m; -; ; calm, hazy
"""


def test_a_list_of_legs() -> None:
    recording = read(LEGS)
    assert (recording.kind, recording.time_s, recording.notices) == ("legs", None, ())
    assert recording.channels["ground_speed"].values == pytest.approx(np.array([118.5, 137.0]) * KNOT)
    assert np.degrees(recording.channels["track"].values) == pytest.approx([39.0, 147.0])
    assert np.degrees(recording.channels["heading"].values) == pytest.approx([30.0, 150.0])
    assert recording.texts == {"flap": ("up", "up")}


def test_legs_with_a_time_are_calls() -> None:
    recording = read("time, speed, ground speed, track\n0:00, 110, 118, 39\n2:00, 110, 137, 147\n")
    assert recording.kind == "called"
    assert {"ias", "ground_speed", "track"} <= set(recording.channels)


@pytest.mark.parametrize("text", [PAIRS, PAIRS.replace(";", "\t"), PAIRS.replace("5,5", "5.5")])
def test_a_list_of_pairs_keeps_every_column_in_words(text: str) -> None:
    recording = read(text)
    assert (recording.kind, recording.notices, dict(recording.channels)) == ("pairs", (), {})
    assert recording.texts == {
        "pair": ("1", "1"),
        "technique": ("flaps first", "gear first"),
        "height lost": ("110 ft", "85 m"),
        "time to climb": ("5.5 s", ""),
        "height at 15 s": ("20 ft", ""),
        "weather": ("calm", "calm, hazy"),
    }


def test_columns_of_other_lists_that_are_not_known_are_still_named() -> None:
    recording = read(STALLS.replace("weight (lb)", "mood"))
    assert [notice.sentence for notice in recording.notices] == ["1 column is not used: 'mood'"]


def test_techniques_that_are_called_like_units_are_techniques() -> None:
    recording = read("pair,technique,height lost (ft)\n1,A,\n1,m,90\n2,s,\n2,A,80\n")
    assert recording.kind == "pairs"
    assert recording.texts["technique"] == ("A", "m", "s", "A")
