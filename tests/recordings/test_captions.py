"""Captions: cues, spoken numbers, and how well readings and marks are told from chatter on files written beforehand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.recordings.caption_score import FOLDER, Score, score
from wringout.recordings.reader import read_recording
from wringout.recordings.spoken.captions import Cue, read_cues
from wringout.recordings.spoken.numbers import tokens_of
from wringout.recordings.spoken.said import find_candidates
from wringout.recordings.types import EventKind

ALL = sorted(path.name.removesuffix(".truth.csv") for path in FOLDER.glob("*.truth.csv"))
TUNED = [stem for stem in ALL if not stem.startswith("kept-back")]
KEPT_BACK = [stem for stem in ALL if stem.startswith("kept-back")]

# Ways of speaking numbers on the radio and in everyday English (common practice, no source).
SPOKEN = {
    "one hundred ten": "110",
    "one hundred and ten": "110",
    "eighty-two knots": "82",
    "one one zero": "110",
    "one oh eight": "108",
    "one ten": "110",
    "ninety nine": "99",
    "one two niner": "129",
    "six five hundred": "6500",
    "two thousand seven hundred": "2700",
    "twenty four hundred": "2400",
    "one nineteen point four": "119.4",
    "126": "126",
    "6,500 ft": "6500",
    "fife fower": "54",
    "hundred and fifteen": "115",
}


@pytest.mark.parametrize("words", SPOKEN)
def test_spoken_numbers(words: str) -> None:
    assert tokens_of(words)[0].text == SPOKEN[words]


def pooled(stems: list[str]) -> Score:
    parts = [score(stem) for stem in stems]
    return Score(
        sum(p.true for p in parts),
        sum(p.found for p in parts),
        sum(p.right for p in parts),
        tuple(m for p in parts for m in p.missed),
        tuple(f for p in parts for f in p.false),
    )


@pytest.mark.parametrize(("stems", "least_true"), [(TUNED, 160), (KEPT_BACK, 90)], ids=["tuned", "kept back"])
def test_readings_and_marks_are_told_from_chatter(stems: list[str], least_true: int) -> None:
    found = pooled(stems)
    assert found.true >= least_true
    assert found.precision >= 0.97, found.false
    assert found.recall >= 0.97, found.missed


def cues(*lines: str) -> list[Cue]:
    return [Cue(3 * i + 1, 6.0 * i, 6.0 * i + 3.0, "", line) for i, line in enumerate(lines)]


@pytest.mark.parametrize(
    "line",
    [
        "turn right heading one two zero",
        "contact approach on one one nine point four",
        "altimeter two niner niner two",
        "maintain one hundred ten",
        "passing eighty five hundred feet",
        "squawk zero four two one",
        "runway one eight, wind one six zero at eight",
        "fuel forty gallons",
        "do not put the gear down",
        "did you see that",
        "ninety feet low",
        "what was it, ninety?",
    ],
)
def test_what_is_no_reading_is_not_likely(line: str) -> None:
    assert not any(one.is_likely for one in find_candidates(cues("one hundred", line, "ninety eight")) if one.row == 4)


def test_a_candidate_carries_its_line_and_the_reason() -> None:
    found = find_candidates(cues("one twenty", "one fifteen, gear down", "fuel eighty gallons"))
    assert [(one.key, one.kind, one.value if one.kind == "reading" else one.label) for one in found] == [
        ("1.1", "reading", 120.0),
        ("4.1", "reading", 115.0),
        ("4.2", "mark", "gear down"),
        ("7.1", "reading", 80.0),
    ]
    assert found[1].time_s < found[2].time_s <= 9.0
    assert found[2].event is not None
    assert found[2].event.kind is EventKind.SELECTED
    assert found[3].why == "it reads like fuel"


def test_both_caption_formats_read_alike() -> None:
    vtt = "WEBVTT - x\n\nNOTE hello\nthere\n\nSTYLE\n::cue {}\n\n"
    vtt += "id\n00:01.500 --> 00:03.000 line:0\n<v Ann>one <i>ten</i>\n"
    srt = "1\n00:00:01,500 --> 00:00:03,000\nAnn: one ten\n"
    one, two = (read_cues(text, "x")[0][0] for text in (vtt, srt))
    assert (one.start_s, one.end_s, one.speaker, one.words) == (1.5, 3.0, "Ann", "one ten")
    assert (two.start_s, two.end_s, two.speaker, two.words) == (1.5, 3.0, "Ann", "one ten")


def test_captions_come_through_the_front_door() -> None:
    found = read_recording((FOLDER / "stalls.vtt").read_bytes(), "stalls.vtt")
    assert found.kind == "captions"
    assert found.channels == {}
    assert "recovering, full power" in found.texts["said"]


@given(st.lists(st.text(max_size=60), min_size=1, max_size=8))
def test_any_talk(lines: list[str]) -> None:
    for one in find_candidates(cues(*lines)):
        assert 0.0 <= one.score <= 1.0


WORDS = ["one", "two", "oh", "niner", "hundred", "thousand", "point", "and", "twenty", "fifteen", "110", "knots"]
WORDS += ["gear", "down", ",", ".", "flaps", "full", "stable", "radio"]


@given(st.lists(st.lists(st.sampled_from(WORDS), max_size=12), min_size=1, max_size=6))
def test_any_row_of_number_words(lines: list[list[str]]) -> None:
    for one in find_candidates(cues(*(" ".join(line) for line in lines))):
        assert 0.0 <= one.score <= 1.0
