"""Invented entries and an invented airplane for the tests of the register."""

from __future__ import annotations

from typing import Any

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.handbooks.entry import Entry, entry_from
from wringout.units import DEGREE

FULL = 40.0 * DEGREE
AIRPLANE = """
format = "wringout airplane, version 1"
name = "Invented retractable"
invented = true
source = "invented"
stall_speed_clean = "61 ± 1 kt"
[geometry]
wing_area = "174 ft2"
span = "33.5 ft"
[propulsion]
propeller = "constant speed"
diameter = "76 in"
rated_power = "230 ± 5 hp"
[drag]
best_glide = { ratio = "11.0 ± 0.3", speed = "95 ± 2 kt", weight = "3200 lb" }
gear_area = "4.4 ± 0.4 ft2"
[[flaps]]
name = "half"
angle = "20 deg"
area = "2.2 ± 0.2 ft2"
stall_speed = "54 ± 1 kt"
[[flaps]]
name = "full"
angle = "40 deg"
area = "6 ± 0.5 ft2"
stall_speed = "51 ± 1 kt"
[flap_travel]
up_time = "6 ± 0.5 s"
[gear]
up_time = "7 ± 0.5 s"
[limits]
max_weight = "3200 lb"
"""


def airplane() -> Beliefs:
    """Return the invented airplane."""
    return airplane_from_document(parse_airplane(AIRPLANE, "a.toml"), "a.toml")


def entry(**fields: Any) -> Entry:
    """Return an entry with some fields of its own."""
    table: dict[str, Any] = {
        "family": "Quillback",
        "model": "Q1",
        "serials": "1-100",
        "document": "Handbook",
        "part_number": "H-1",
        "revision": "A",
        "date": "1970-01-01",
        "steps": "power full; flaps half; gear up when climbing; flaps up",
        "invented": True,
    }
    return entry_from({**table, **fields})
