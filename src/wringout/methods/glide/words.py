"""The test card of glides, and the limits, stall margin and floor its points must respect."""

from __future__ import annotations

from wringout.airplane.beliefs import Beliefs
from wringout.methods.cautions import CAUTIONS
from wringout.methods.steady_words import floor_notices, planned_speeds, speed_notices
from wringout.methods.types import Card, GuardNotice

SPEEDS_EXAMPLE = "75, 90, 105 kt"


def glide_card(words: dict[str, str]) -> Card:
    """Return the card of glides described by ``speeds``, ``flaps``, ``gear``, ``power`` and ``altitude``."""
    flaps, gear = words.get("flaps", "up"), words.get("gear", "up")
    power = words.get("power", "idle")
    speeds = words.get("speeds", "five speeds spread from 1.3 times the stall speed to well above best glide")
    return Card(
        title=f"Glides, flaps {flaps}, gear {gear}, {power}",
        purpose="Find the polar of this configuration: drag area, span efficiency, best glide and minimum sink.",
        setup=(
            f"{words.get('altitude', 'The planned altitude')} at the middle of each glide, smooth air without "
            "lift or wave, altimeter 29.92 inHg",
            f"Flaps {flaps}, gear {gear}, cowl flaps as noted; engine warmed up and cooled as the manual asks",
            f"Power: {power}; write down mixture, carburettor heat and propeller lever, and leave them",
        ),
        steps=(
            f"Fly {speeds}; start 500 ft above the band to have the speed steady on entering it",
            "Hold the speed within 1 kt for one to two minutes, wings level, ball centred, power untouched",
            "The second person reads altitude and speed every ten seconds, and the temperature once",
            "Clear the engine between glides as the manual asks; repeat one speed at the end",
        ),
        readings=(
            "flap, gear, speed, vertical speed by altimeter and clock, altitude, temperature, weight",
            "manifold pressure and rpm, to show that the power was the same in every glide",
        ),
        stop_conditions=(
            "Height reaches the planned floor, or the engine does not answer the throttle as it should",
            "Cylinder-head or oil temperature leaves its normal range",
            "First sign of stall warning, buffet, or rough air",
        ),
        cautions=CAUTIONS,
    )


def glide_guard(beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
    """Hold ``speeds`` (in the configuration of the words) and ``height above ground`` against the limits.

    Raises BadInputError on words that cannot be read.
    """
    speeds = planned_speeds(words, "speeds", SPEEDS_EXAMPLE)
    return [*floor_notices(words, "glides"), *speed_notices(beliefs, words, speeds)]
