"""The test card of an airspeed calibration, and the limits its points must respect."""

from __future__ import annotations

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.quantity import parse_measured
from wringout.methods.cautions import CAUTIONS
from wringout.methods.setup_words import flap_setting, gear_position
from wringout.methods.types import Card, GuardNotice
from wringout.units import KNOT

THIN_MARGIN_MPS = 5.0 * KNOT


def calibration_card(words: dict[str, str]) -> Card:
    """Return the card for a point described by ``speed``, ``flaps``, ``gear`` and ``altitude``."""
    speed = words.get("speed", "the planned indicated airspeed")
    configuration = f"flaps {words.get('flaps', 'up')}, gear {words.get('gear', 'up')}"
    return Card(
        title=f"Airspeed calibration, {speed}, {configuration}",
        purpose="Find the error of the airspeed system from ground speed and track, and the wind with it.",
        setup=(
            f"{words.get('altitude', 'The planned altitude')}, smooth air, steady wind, altimeter 29.92 inHg",
            f"{configuration}, level at {speed} indicated, trimmed, power untouched through all legs",
            "Satellite receiver showing ground speed and track; note outside air temperature",
        ),
        steps=(
            "Fly a heading until ground speed and track have been steady for 30 seconds",
            "Read indicated airspeed, ground speed, track and altitude; write the heading too if convenient",
            "Turn about 120 degrees and repeat for three headings at the same altitude",
            "Fly the first heading once more: a changed ground speed shows that the wind drifted",
            "Instead of legs: log one full turn of constant slow rate at one indicated airspeed",
        ),
        readings=("indicated airspeed, ground speed, track, altitude, each leg", "outside air temperature"),
        stop_conditions=(
            "Altitude more than 100 ft from that of the first leg, or airspeed more than 2 kt off: repeat the leg",
            "Airspeed within 10 kt of the stall speed for the configuration, or above a limit speed",
            "Traffic, turbulence, cloud ahead, or anything unusual about the airplane or the crew",
        ),
        cautions=CAUTIONS,
    )


def calibration_guard(beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
    """Hold the planned ``speed`` and configuration against the limits; raises BadInputError on bad words."""
    speed, _ = parse_measured(words.get("speed", ""), "speed", "card, speed", "90 kt")
    setting = flap_setting(words.get("flaps", "up"), beliefs, "card, flaps")
    limits = beliefs.limits
    named = [("VNE", limits.never_exceed_mps), (f"VFE ({setting.name})", limits.flap_limit(setting.name))]
    if beliefs.retractable and gear_position(words.get("gear", "up"), "card, gear") > 0.5:
        named.append(("VLE", limits.gear_extended_mps))
    out = []
    for label, limit in named:
        if limit is None:
            continue
        said = f"legs at {speed / KNOT:.0f} kt against {label} {limit / KNOT:.0f} kt"
        if speed > limit:
            out.append(GuardNotice(True, f"{said}: above the limit; plan a lower speed."))
        elif speed > limit - THIN_MARGIN_MPS:
            out.append(GuardNotice(False, f"{said}: only {(limit - speed) / KNOT:.0f} kt of margin."))
    return out
