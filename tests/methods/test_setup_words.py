"""The words of a run's header, and what a recording's own columns say where no word does."""

from __future__ import annotations

import pytest

from tests.airplane.quillback import quillback
from wringout.errors import BadInputError
from wringout.methods.level_deceleration.method import LevelDeceleration
from wringout.methods.level_deceleration.run import DecelerationRun
from wringout.methods.setup_words import conditions_of, words_of
from wringout.recordings.reader import read_recording

FOOT = 0.3048
ROWS = "0:00, 120\n0:06, 120, gear down\n0:12, 113\n0:18, 107\n0:24, 103\n"


def run_of(text: str, **setup: str) -> DecelerationRun:
    recording = read_recording(text.encode(), "run.csv")
    (run,) = LevelDeceleration().from_recording("G1", recording, setup, quillback())
    return run


def test_other_words_for_the_air_and_the_weight_count_and_the_key_itself_goes_first() -> None:
    header = "# Pressure altitude: 6500 ft\n# OAT: 6 C\n# gross weight: 2900 lb\n"
    run = run_of(header + ROWS)
    assert run.conditions.pressure_altitude_m == pytest.approx(6500 * FOOT)
    # ICAO Doc 7488: 15 C - 1.9812 C for each 1,000 ft is 2.12 C at 6,500 ft
    assert run.conditions.isa_deviation_k == pytest.approx(6.0 - 2.12, abs=0.02)
    assert run.conditions.mass_kg == pytest.approx(2900 * 0.45359237)
    both = words_of(read_recording((header + "# temperature: 9 C\n" + ROWS).encode(), "run.csv"), {})
    assert both["temperature"] == "9 C"
    assert "oat" not in both
    assert words_of(read_recording((header + ROWS).encode(), "run.csv"), {"oat": "1 C"})["temperature"] == "1 C"


LOGGER = """# method: level deceleration
# weight: 2900 lb
Time,IAS,Altitude,OAT,Marker
s,kt,ft,degC,
0,120,6490,7,
6,120,6500,7,gear down
12,113,6510,7,
18,107,6520,7,
24,103,6480,7,
"""


def test_a_loggers_own_altitude_and_temperature_stand_in_for_words_that_are_missing() -> None:
    run = run_of(LOGGER)
    assert run.conditions.pressure_altitude_m == pytest.approx(6500 * FOOT)
    assert run.conditions.isa_deviation_k == pytest.approx(7.0 - 2.12, abs=0.02)
    said = run_of(LOGGER, altitude="7000 ft", **{"isa deviation": "+10"})
    assert said.conditions.pressure_altitude_m == pytest.approx(7000 * FOOT)
    assert said.conditions.isa_deviation_k == pytest.approx(10.0)


def test_an_altitude_by_satellite_is_no_pressure_altitude() -> None:
    with pytest.raises(BadInputError, match="does not say its altitude"):
        run_of(LOGGER.replace("Altitude", "GPS Altitude"))


def test_an_altimeter_setting_brings_the_altitude_to_standard_pressure() -> None:
    # Source: FAA-H-8083-25, density-altitude sample problem: 30.10 inHg is -165 ft (recomputed, standard atmosphere).
    words = {"altitude": "5883 ft", "altimeter setting": "30.10 inHg", "weight": "3000 lb"}
    seen = conditions_of(words, "run.csv", 1450.0).pressure_altitude_m / 0.3048
    assert seen == pytest.approx(5883.0 - 165.0, abs=1.0)


def test_an_impossible_altimeter_setting_is_one_sentence() -> None:
    words = {"altitude": "5883 ft", "altimeter setting": "20.10 inHg", "weight": "3000 lb"}
    with pytest.raises(BadInputError, match=r"^run\.csv, altimeter setting") as caught:
        conditions_of(words, "run.csv", 1450.0)
    assert str(caught.value).count(". ") == 0


def test_a_setting_does_not_move_a_pressure_altitude() -> None:
    run = run_of("# pressure altitude: 6500 ft\n# altimeter setting: 30.40 inHg\n# weight: 2900 lb\n" + ROWS)
    assert run.conditions.pressure_altitude_m == pytest.approx(6500 * FOOT)
