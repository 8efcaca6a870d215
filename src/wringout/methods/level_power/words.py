"""The test card of level speed-power points, and the limits its points must respect."""

from __future__ import annotations

from wringout.airplane.beliefs import Beliefs
from wringout.methods.cautions import CAUTIONS
from wringout.methods.steady_words import planned_speeds, speed_notices
from wringout.methods.types import Card, GuardNotice


def level_power_card(words: dict[str, str]) -> Card:
    """Return the card of points described by ``power``, ``flaps``, ``gear`` and ``altitude``."""
    flaps, gear = words.get("flaps", "up"), words.get("gear", "up")
    powers = words.get("power", "five powers from just above the least that holds level to full throttle")
    return Card(
        title=f"Level speed-power points, flaps {flaps}, gear {gear}",
        purpose="Find what power each level speed needs, for the propeller's efficiency and the polar.",
        setup=(
            f"{words.get('altitude', 'The planned altitude')}, smooth air, altimeter 29.92 inHg, wings level",
            f"Flaps {flaps}, gear {gear}; mixture and cowl flaps the same for all points, written down",
            "The engine's power chart at hand: shaft power for each manifold pressure and rpm, by altitude",
        ),
        steps=(
            f"Set each of {powers}; approach the speed from above, then leave power and trim alone",
            "Hold altitude within 20 ft until the speed has not changed by 1 kt for two minutes",
            "Read speed, altitude, temperature, manifold pressure, rpm and fuel; go to the next power",
            "Repeat the first point at the end",
        ),
        readings=(
            "flap, gear, speed, altitude, temperature, manifold pressure, rpm, weight",
            "power from the chart: 23 in 2300 rpm = ... hp, a line for each setting",
        ),
        stop_conditions=(
            "A temperature or pressure of the engine leaves its normal range",
            "Speed above the limit for the configuration, or within 10 kt of the stall speed",
            "Traffic, rough air, or an altitude that will not hold",
        ),
        cautions=CAUTIONS,
    )


def level_power_guard(beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
    """Hold ``speeds`` of a plan, in its configuration, against the limits; raises BadInputError on bad words."""
    return speed_notices(beliefs, words, planned_speeds(words, "speeds", "80, 100, 120, 140 kt"))
