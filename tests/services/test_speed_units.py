"""Called speeds without a unit, of an airplane whose file speaks of miles an hour, are asked about and left alone."""

from __future__ import annotations

import io
import re

import pytest

from tests.services.texts import AIRPLANE, GEAR_RUN, MOMENT
from wringout.airplane.document import parse_airplane
from wringout.recordings.reader import read_recording
from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.flights.recordings import study_recording, take_in_recording
from wringout.services.flights.speed_units import indicator_unit, unit_doubt
from wringout.services.opening import open_studies
from wringout.services.study.studies import make_study
from wringout.units import KNOT

IN_MPH = re.sub(r'"(\d+)( ± [\d.]+)? kt"', lambda m: f'"{int(m[1]) * 1.15078:.0f}{m[2] or ""} mph"', AIRPLANE)


def doubt(text: str, airplane: str = IN_MPH) -> str:
    found = unit_doubt(read_recording(text.encode(), "run.csv"), parse_airplane(airplane))
    return "" if found is None else found.sentence


def test_the_unit_of_an_airplane_is_the_one_most_of_its_speeds_are_written_in() -> None:
    assert indicator_unit(parse_airplane(AIRPLANE)) == "kt"
    assert indicator_unit(parse_airplane(IN_MPH)) == "mph"
    assert indicator_unit(parse_airplane(IN_MPH.replace("mph", "km/h"))) == "km/h"


def test_speeds_without_a_unit_are_asked_about_and_used_as_written() -> None:
    assert doubt(GEAR_RUN).startswith(
        "column 'speed' has no unit and is read in kt, while the airplane's file writes its"
    )
    assert 'name the column "speed (mph)"' in doubt(GEAR_RUN)
    read = read_recording(GEAR_RUN.encode(), "run.csv")
    assert read.channels["ias"].values[0] == pytest.approx(121.0 * KNOT)


@pytest.mark.parametrize(
    ("text", "airplane"),
    [
        (GEAR_RUN, AIRPLANE),
        (GEAR_RUN.replace("time, speed,", "time, speed (mph),"), IN_MPH),
        (GEAR_RUN.replace("time, speed,", "time, speed (kt),"), IN_MPH),
        (GEAR_RUN.replace("time, speed,", "time, KIAS,"), IN_MPH),
    ],
)
def test_what_is_written_leaves_no_doubt(text: str, airplane: str) -> None:
    assert doubt(text, airplane) == ""


def test_the_doubt_is_told_on_arrival_and_on_every_look(tmp_path: object) -> None:
    with open_studies(tmp_path / "s.db", lambda: MOMENT) as store:  # type: ignore[operator]
        make_study(store, "Gear or flaps", "Which?", {}, True, "q")
        put_airplane_file(store, "q", IN_MPH.encode(), "airplane.toml")
        arrival = take_in_recording(store, "q", io.BytesIO(GEAR_RUN.encode()), "run.csv")
        seen = study_recording(store, "q", "run.csv").recording
    assert arrival.recording is not None
    assert seen is not None
    for recording in (arrival.recording, seen):
        assert any("is read in kt, while" in notice.sentence for notice in recording.notices)
