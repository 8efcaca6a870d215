"""The test card of a level acceleration, and the limits its points must respect."""

from __future__ import annotations

from wringout.airplane.beliefs import Beliefs
from wringout.methods.cautions import CAUTIONS
from wringout.methods.steady_words import floor_notices, planned_speeds, speed_notices
from wringout.methods.types import Card, GuardNotice


def acceleration_card(words: dict[str, str]) -> Card:
    """Return the card of a run described by ``power``, ``flaps``, ``gear``, ``speeds`` and ``altitude``."""
    flaps, gear, power = words.get("flaps", "up"), words.get("gear", "up"), words.get("power", "full")
    speeds = words.get("speeds", "from 1.3 times the stall speed to 5 kt below the limit or to steady speed")
    return Card(
        title=f"Level acceleration, flaps {flaps}, gear {gear}, {power} power",
        purpose="Find the excess power, and with it climb rate and best-rate speed, over all speeds in one run.",
        setup=(
            f"{words.get('altitude', 'The planned altitude')}, smooth air, altimeter 29.92 inHg, wings level",
            f"Flaps {flaps}, gear {gear}, level at the low end of the speeds; mixture as the manual asks",
            "Note outside air temperature and fuel on board",
        ),
        steps=(
            f"Fly {speeds}: set {power} power, call it, and hold the altitude with pitch",
            "The second person reads time, airspeed and altitude every five seconds, as whole knots",
            "Trim as it accelerates; keep the ball centred and the wings level",
            "End when the speed has not changed for 20 seconds or the planned speed is reached",
        ),
        readings=("time, airspeed and altitude every 5 s", "manifold pressure, rpm and temperature, twice"),
        stop_conditions=(
            "A temperature or pressure of the engine leaves its normal range",
            "Speed within 5 kt of the limit for the configuration",
            "Altitude more than 100 ft off, stall warning at the start, traffic or rough air",
        ),
        cautions=CAUTIONS,
    )


def acceleration_guard(beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
    """Hold ``speeds`` and ``height above ground`` of a plan against the limits; raises BadInputError on bad words."""
    speeds = planned_speeds(words, "speeds", "70, 140 kt")
    return [*floor_notices(words, "accelerations from slow flight"), *speed_notices(beliefs, words, speeds)]
