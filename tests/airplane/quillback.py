"""An invented airplane that several tests fly, as its owner would write it down."""

from __future__ import annotations

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document

QUILLBACK = """\
format = "wringout airplane, version 1"
name = "Quillback 230 (invented)"
invented = true
source = "invented for the tests"

[geometry]
wing_area = "174 ft2"
span = "33.5 ft"

[propulsion]
propeller = "constant speed"
diameter = "76 in"
rated_power = "230 hp"

[drag]
clean_area = "3.9 ± 0.6 ft2"
span_efficiency = "0.75 ± 0.08"
gear_area = "4.2 ± 2 ft2"

[[flaps]]
name = "half"
angle = "20 deg"
area = "2.4 ± 1.2 ft2"
area_slope = "0 ± 2 ft2"
stall_speed = "53 ± 2 kt"
limit_speed = "115 kt"

[[flaps]]
name = "full"
angle = "40 deg"
area = "6.2 ± 2.5 ft2"
area_slope = "0 ± 3 ft2"
stall_speed = "50 ± 2 kt"
limit_speed = "105 kt"

[gear]
down_time = "7 ± 2 s"
up_time = "6 ± 2 s"
operate_limit = "125 kt"
retract_limit = "110 kt"
extended_limit = "140 kt"

[limits]
max_weight = "3200 lb"
never_exceed = "190 kt"
"""


def quillback(text: str = QUILLBACK) -> Beliefs:
    """Return the beliefs of the invented airplane, or of a changed copy of its file."""
    return airplane_from_document(parse_airplane(text))
