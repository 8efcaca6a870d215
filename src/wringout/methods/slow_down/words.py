"""The test card of a slow-down or descent, and the limits its points must respect."""

from __future__ import annotations

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.quantity import parse_measured
from wringout.methods.cautions import CAUTIONS
from wringout.methods.steady_words import configuration_in, floor_notices, planned_speeds, speed_notices
from wringout.methods.types import Card, GuardNotice
from wringout.units import KNOT


def slow_down_card(words: dict[str, str]) -> Card:
    """Return the card of a run described by ``power``, ``gear``, ``flaps``, ``from speed`` and ``to speed``."""
    flaps, gear, power = words.get("flaps", "up"), words.get("gear", "up"), words.get("power", "idle")
    start, end = words.get("from speed", "cruise speed"), words.get("to speed", "approach speed")
    return Card(
        title=f"Slow-down, power {power}, gear {gear}, flaps {flaps}",
        purpose=f"Find time, distance and height from {start} to {end}, as flown every day.",
        setup=(
            f"{words.get('altitude', 'The planned altitude')}, smooth air, altimeter 29.92 inHg, level at {start}",
            "Settle on the figures to compare: level, or down a steady path; the same each time",
            "Note outside air temperature and fuel on board",
        ),
        steps=(
            f"Start the clock, set power {power} as the manual allows and call it; reduce in steps if the manual asks",
            f"Move gear ({gear}) and flaps ({flaps}) only below their limit speeds; call each when the handle moves",
            f"The second person reads time, airspeed and altitude every five seconds down to {end}",
            "Hold the altitude, or the path, as settled before; recover to cruise; fly it again the other way",
        ),
        readings=("time, airspeed and altitude every 5 s", "power as set, and each move with its time"),
        stop_conditions=(
            "Airspeed within 10 kt of the stall speed for the configuration, or the first sign of warning",
            "Speed above the limit of a device that is to move",
            "Cylinder-head temperature falls faster than the manual allows, traffic, rough air",
        ),
        cautions=CAUTIONS,
    )


def slow_down_guard(beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
    """Hold ``from speed`` and ``to speed`` against VNE and the stall, and ``device speed`` against VLO and VFE.

    Raises BadInputError on words that cannot be read.
    """
    ends = [planned_speeds(words, key, "140 kt")[0] for key in ("from speed", "to speed")]
    clean = {key: word for key, word in words.items() if key not in ("flaps", "gear")}
    out = [*floor_notices(words, "slow-downs"), *speed_notices(beliefs, clean, ends)]
    setting, gear = configuration_in(words, beliefs)
    if setting.angle_rad <= 0.0 and gear <= 0.0:
        return out
    speed, _ = parse_measured(words.get("device speed", words["from speed"]), "speed", "card, device speed", "105 kt")
    limits = [(f"VFE ({setting.name})", beliefs.limits.flap_limit(setting.name))] if setting.angle_rad > 0.0 else []
    if gear > 0.0:
        limits.append(("VLO", beliefs.limits.gear_operate_mps))
    for label, limit in limits:
        if limit is not None and speed > limit:
            said = f"the device moves at {speed / KNOT:.0f} kt against {label} {limit / KNOT:.0f} kt"
            out.append(GuardNotice(True, f"{said}: above the limit; slow down first."))
    return out
