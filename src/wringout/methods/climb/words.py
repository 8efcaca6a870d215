"""The test card of climbs, and the limits their points must respect."""

from __future__ import annotations

from wringout.airplane.beliefs import Beliefs
from wringout.methods.cautions import CAUTIONS
from wringout.methods.steady_words import floor_notices, planned_speeds, speed_notices
from wringout.methods.types import Card, GuardNotice


def climb_card(words: dict[str, str]) -> Card:
    """Return the card of climbs described by ``speeds``, ``flaps``, ``gear``, ``power`` and ``altitude``."""
    flaps, gear, power = words.get("flaps", "up"), words.get("gear", "up"), words.get("power", "full")
    speeds = words.get("speeds", "five speeds from 1.3 times the stall speed to well above best rate")
    return Card(
        title=f"Saw-tooth climbs, flaps {flaps}, gear {gear}, {power} power",
        purpose="Find the rate of climb against speed, and with it best-rate and best-angle speed.",
        setup=(
            f"{words.get('altitude', 'The planned altitude')} at the middle of each climb, altimeter 29.92 inHg",
            "Smooth air, no inversion in the band: read the temperature every 500 ft on the way up first",
            f"Flaps {flaps}, gear {gear}, mixture as the manual asks, cowl flaps open",
            "Across the wind if it grows with height",
            "Note temperature and fuel on board; a lighter airplane climbs better",
        ),
        steps=(
            f"Fly {speeds}: start 500 ft below the band with {power} power, speed steady on entering it",
            "Hold the speed within 1 kt for one to two minutes, wings level, ball centred",
            "Turn round and climb again on the reciprocal heading at the same speed",
            "The second person reads altitude, speed and heading every ten seconds, and the temperature at both ends",
            "Let the engine cool between climbs; repeat the first speed at the end",
        ),
        readings=(
            "flap, gear, speed, vertical speed by altimeter and clock, heading, altitude, temperature, weight",
            "manifold pressure and rpm in each climb",
        ),
        stop_conditions=(
            "A temperature or pressure of the engine leaves its normal range",
            "Stall warning, or speed within 5 kt of a limit",
            "Traffic ahead that the nose hides: clear by turning between climbs",
        ),
        cautions=CAUTIONS,
    )


def climb_guard(beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
    """Hold ``speeds`` and ``height above ground`` of a plan against the limits; raises BadInputError on bad words."""
    speeds = planned_speeds(words, "speeds", "65, 75, 85, 100 kt")
    return [*floor_notices(words, "slow climbs"), *speed_notices(beliefs, words, speeds)]
