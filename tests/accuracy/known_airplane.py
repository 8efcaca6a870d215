"""The airplane that self-tests draw their truths from, and level decelerations planned with it, still unread."""

from __future__ import annotations

from collections.abc import Sequence

from tests.accuracy.outside_airplane import taken_in
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.estimate.problem import StudyRun
from wringout.units import POUND

MASS_KG = 3000.0 * POUND

# Invented, and narrower than a user would write, so that drawn airplanes fly and settle.
AIRPLANE = """\
format = "wringout airplane, version 1"
name = "Quillback 230 (invented)"
invented = true
stall_speed_clean = "60 ± 1.5 kt"

[geometry]
wing_area = "174 ft2"
span = "33.5 ft"

[propulsion]
propeller = "constant speed"
diameter = "76 in"
rated_power = "230 ± 5 hp"
efficiency_slope = "0.1 ± 0.1"

[drag]
best_glide = { ratio = "11.0 ± 0.4", speed = "93 ± 2 kt", weight = "3200 lb" }
clean_slope = "0 ± 0.5 ft2"
gear_area = "4.5 ± 0.9 ft2"
interaction = "0.3 ± 0.1"

[[flaps]]
name = "half"
angle = "20 deg"
area = "2.2 ± 0.4 ft2"
area_slope = "-1 ± 0.7 ft2"
stall_speed = "55 ± 1.5 kt"

[[flaps]]
name = "full"
angle = "40 deg"
area = "6 ± 1.2 ft2"
area_slope = "-3 ± 1.5 ft2"
stall_speed = "52 ± 1.5 kt"

[flap_travel]
down_time = "6 ± 1 s"
up_time = "6 ± 1 s"

[gear]
down_time = "7 ± 1 s"
up_time = "7 ± 1 s"

[limits]
max_weight = "3200 lb"

[instrument]
bias = "0 ± 0.7 kt"
"""

DECELERATION = """\
# method: level deceleration
# altitude: 6000 ft
# weight: 3000 lb
# altitude held: 40 ft
time, speed, mark
"""


def known_airplane(with_stall_speeds: bool = True) -> Beliefs:
    """Return the belief that truths are drawn from, and that the fit starts from."""
    lines = [line for line in AIRPLANE.splitlines() if with_stall_speeds or not line.startswith("stall_speed")]
    return airplane_from_document(parse_airplane("\n".join(lines)))


def decelerations(beliefs: Beliefs, flown: Sequence[tuple[str, str, int]], until_s: int) -> list[StudyRun]:
    """Return runs read every 6 s, each by its key, what is moved at 12 s, and its entry speed, which all readings have.

    Args:
        beliefs: of the airplane. flown: key, words of the mark, entry speed in kt. until_s: of the last reading.
    """
    runs = []
    for key, said, entry in flown:
        rows = [f"{t}, {entry}{f', {said}' if t == 12 else ''}" for t in range(0, until_s + 1, 6)]
        runs.append(taken_in(key, DECELERATION + "\n".join(rows) + "\n", beliefs))
    return runs
