"""The words pilots use for marks (common practice, no source)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wringout.recordings.marks import read_device, read_mark, split_mark, uninterpreted
from wringout.recordings.types import Device, Event, EventKind, Severity

GEAR, FLAPS = Device.GEAR, Device.FLAPS
SELECTED, ARRIVED, STABLE = EventKind.SELECTED, EventKind.ARRIVED, EventKind.STABLE
POWER, NOTE = EventKind.POWER, EventKind.NOTE

WORDS = {
    "gear down": (SELECTED, GEAR, "down"),
    "Gear Down": (SELECTED, GEAR, "down"),
    "GEAR DN": (SELECTED, GEAR, "down"),
    "gear-down": (SELECTED, GEAR, "down"),
    "gear coming down": (SELECTED, GEAR, "down"),
    "gear selected down": (SELECTED, GEAR, "down"),
    "gear down selected": (SELECTED, GEAR, "down"),
    "landing gear extended": (SELECTED, GEAR, "down"),
    "gear out": (SELECTED, GEAR, "down"),
    "wheels down": (SELECTED, GEAR, "down"),
    "undercarriage down": (SELECTED, GEAR, "down"),
    "gear in transit": (SELECTED, GEAR, ""),
    "gear moving": (SELECTED, GEAR, ""),
    "gear up": (SELECTED, GEAR, "up"),
    "gear retracted": (SELECTED, GEAR, "up"),
    "raise gear": (SELECTED, GEAR, "up"),
    "down and locked": (ARRIVED, GEAR, "down"),
    "gear down and locked": (ARRIVED, GEAR, "down"),
    "gear down & locked": (ARRIVED, GEAR, "down"),
    "gear locked down": (ARRIVED, GEAR, "down"),
    "three green": (ARRIVED, GEAR, "down"),
    "3 greens": (ARRIVED, GEAR, "down"),
    "gear down three green": (ARRIVED, GEAR, "down"),
    "gear is down": (ARRIVED, GEAR, "down"),
    "gear up and locked": (ARRIVED, GEAR, "up"),
    "gear stopped": (ARRIVED, GEAR, ""),
    "flaps full": (SELECTED, FLAPS, "full"),
    "full flap": (SELECTED, FLAPS, "full"),
    "full flaps": (SELECTED, FLAPS, "full"),
    "landing flaps": (SELECTED, FLAPS, "full"),
    "flaps 20": (SELECTED, FLAPS, "20"),
    "flaps 20°": (SELECTED, FLAPS, "20"),
    "20 degrees of flap": (SELECTED, FLAPS, "20"),
    "flaps to 30": (SELECTED, FLAPS, "30"),
    "flaps from full to 20": (SELECTED, FLAPS, "20"),
    "flaps half": (SELECTED, FLAPS, "half"),
    "half flap": (SELECTED, FLAPS, "half"),
    "1/2 flaps": (SELECTED, FLAPS, "half"),
    "½ flap": (SELECTED, FLAPS, "half"),
    "first notch of flaps": (SELECTED, FLAPS, "notch 1"),
    "approach flaps": (SELECTED, FLAPS, "approach"),
    "flaps up": (SELECTED, FLAPS, "up"),
    "flaps retracted": (SELECTED, FLAPS, "up"),
    "flaps 0": (SELECTED, FLAPS, "0"),
    "flaps down": (SELECTED, FLAPS, "down"),
    "flaps moving": (SELECTED, FLAPS, ""),
    "flaps in transit": (SELECTED, FLAPS, ""),
    "flaps stopped": (ARRIVED, FLAPS, ""),
    "flaps full stopped": (ARRIVED, FLAPS, "full"),
    "flaps at 20": (ARRIVED, FLAPS, "20"),
    "flaps are up": (ARRIVED, FLAPS, "up"),
    "stable": (STABLE, None, ""),
    "speed stabilised": (STABLE, None, ""),
    "Stabilized": (STABLE, None, ""),
    "settled": (STABLE, None, ""),
    "power set": (POWER, None, ""),
    "power set 22 2400": (POWER, None, "22 2400"),
    "throttle idle": (POWER, None, "idle"),
    "full power": (POWER, None, "full"),
    "unstable": (NOTE, None, ""),
    "not stable": (NOTE, None, ""),
    "gear not locked": (NOTE, None, ""),
    "no three green": (NOTE, None, ""),
    "gear": (NOTE, None, ""),
    "flaps": (NOTE, None, ""),
    "flaps and gear": (NOTE, None, ""),
    "traffic": (NOTE, None, ""),
    "": (NOTE, None, ""),
}


@pytest.mark.parametrize("label", WORDS)
def test_words_have_their_meaning(label: str) -> None:
    assert read_mark(label) == Event(*WORDS[label])


@pytest.mark.parametrize(
    ("label", "parts"),
    [
        ("gear down, flaps full", ["gear down", "flaps full"]),
        ("gear up and flaps half", ["gear up", "flaps half"]),
        ("flaps 20 then gear up", ["flaps 20", "gear up"]),
        ("gear down; stable", ["gear down", "stable"]),
        ("gear down and locked", ["gear down and locked"]),
        ("gear down and locked, flaps full", ["gear down locked", "flaps full"]),
        ("stable, bit of sink", ["stable, bit of sink"]),
        ("1/2 flap", ["1/2 flap"]),
        ("traffic and birds", ["traffic and birds"]),
        ("   ", []),
    ],
)
def test_labels_with_several_events_are_taken_apart(label: str, parts: list[str]) -> None:
    assert [words for words, _ in split_mark(label)] == parts


def test_a_device_spoken_of_but_not_understood_is_a_caution() -> None:
    (notice,) = uninterpreted("gear not locked", read_mark("gear not locked"), 7)
    assert (notice.severity, notice.row) == (Severity.CAUTION, 7)
    assert "'gear not locked' is kept as a note" in notice.sentence
    assert uninterpreted("traffic", read_mark("traffic"), 7) == []
    assert uninterpreted("gear down", read_mark("gear down"), 7) == []


def test_devices_by_name() -> None:
    assert read_device("Landing gear") is GEAR
    assert read_device("flap") is FLAPS
    assert read_device("gear and flaps") is None
    assert read_device("radio") is None


@given(st.text(max_size=60))
def test_no_label_is_lost(label: str) -> None:
    parts = split_mark(label)
    assert bool(parts) == bool(label.split())
    if len(parts) > 1:
        assert all(event.kind is not NOTE for _, event in parts)
    elif parts:
        assert parts[0][0] == " ".join(label.split())
