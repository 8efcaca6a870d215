"""The test card of an out-and-back pair, and the limits its points must respect."""

from __future__ import annotations

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.quantity import parse_measured
from wringout.methods.cautions import CAUTIONS
from wringout.methods.level_deceleration.words import THIN_MARGIN_MPS, deceleration_guard
from wringout.methods.types import Card, GuardNotice
from wringout.units import KNOT


def pair_card(words: dict[str, str]) -> Card:
    """Return the card for a pair described by ``device``, ``to``, ``entry speed`` and ``altitude``."""
    device = words.get("device", "gear")
    target = words.get("to", "down" if device == "gear" else "full")
    entry = words.get("entry speed", "the planned entry speed")
    return Card(
        title=f"Out-and-back pair, {device} {target} and up",
        purpose=f"Find the drag of the {device} over the whole speed range, with thrust and clean drag cancelled.",
        setup=(
            f"{words.get('altitude', 'The planned altitude')}, smooth air, altimeter 29.92 inHg, wings level",
            f"Clean, level and stable at {entry} for one minute; note manifold pressure, rpm and mixture",
            "Note outside air temperature and fuel on board; guard the power levers from here to the end",
        ),
        steps=(
            "The second person starts the clock and calls the stable entry speed twice, ten seconds apart",
            f'Select {device} {target}; call the moment the handle moves ("{device} {target}") and the moment it stops',
            "Hold altitude with pitch, most of all as the device moves; read the airspeed about every six seconds "
            "until it has settled for 30 seconds",
            f'Select {device} up without touching power, mixture or rpm; call "{device} up" and the moment it stops',
            "Read on every six seconds while it accelerates, until it is within 3 kt of the entry speed",
            "Read altitude, temperature, manifold pressure and rpm again",
        ),
        readings=(
            "time and airspeed, about every 6 s, both ways",
            "manifold pressure and rpm before, between and after",
            "transit time of the device each way, altitude at both ends and the furthest from it",
        ),
        stop_conditions=(
            "Airspeed within 10 kt of the stall speed for the configuration, or the first sign of buffet or warning",
            "Altitude more than 100 ft from entry altitude, or below the planned floor",
            "A power lever was moved: the pair is void, and only its first leg can be used",
            "Traffic, turbulence, or anything unusual about the device, the engine or the crew",
        ),
        cautions=CAUTIONS,
    )


def pair_guard(beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
    """Hold the planned entry speed against the limits of the device going out, and of the gear coming in again.

    Raises BadInputError on words that cannot be read.
    """
    out = deceleration_guard(beliefs, words)
    limit = beliefs.limits.gear_retract_mps
    if words.get("device", "gear") != "gear" or limit is None:
        return out
    settled = words.get("settled speed", words.get("entry speed", ""))
    speed, _ = parse_measured(settled, "speed", "card, settled speed", "90 kt")
    said = f"retraction from {speed / KNOT:.0f} kt against VLO (retract) {limit / KNOT:.0f} kt"
    if speed > limit:
        out.append(GuardNotice(True, f"{said}: above the limit; plan a lower speed for the way back."))
    elif speed > limit - THIN_MARGIN_MPS:
        out.append(GuardNotice(False, f"{said}: only {(limit - speed) / KNOT:.0f} kt of margin."))
    return out
