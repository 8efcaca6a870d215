"""The test card of a level deceleration, and the limits its points must respect."""

from __future__ import annotations

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.quantity import parse_measured
from wringout.methods.cautions import CAUTIONS
from wringout.methods.setup_words import flap_setting
from wringout.methods.types import Card, GuardNotice
from wringout.units import KNOT

THIN_MARGIN_MPS = 5.0 * KNOT


def deceleration_card(words: dict[str, str]) -> Card:
    """Return the card for a point described by ``device``, ``to``, ``entry speed`` and ``altitude``."""
    device = words.get("device", "gear")
    target = words.get("to", "down" if device == "gear" else "full")
    entry = words.get("entry speed", "the planned entry speed")
    altitude = words.get("altitude", "the planned altitude")
    return Card(
        title=f"Level deceleration, {device} {target}",
        purpose=f"Find the drag of the {device} from how the airspeed falls at fixed power.",
        setup=(
            f"{altitude}, smooth air, altimeter 29.92 inHg, wings level",
            f"Clean, level and stable at {entry} for one minute; note manifold pressure, rpm and mixture",
            "Note outside air temperature and fuel on board",
        ),
        steps=(
            "The second person starts the clock and calls the stable entry speed twice, ten seconds apart",
            f'Select {device} {target}; call the moment the handle moves ("{device} {target}") and the moment it stops',
            "Do not touch power, mixture or rpm; hold altitude with pitch, most of all as the device moves",
            "Read the airspeed about every six seconds, as whole knots, until it has not changed for 30 seconds",
            'Call "stable", read altitude and temperature, then recover to clean cruise',
        ),
        readings=(
            "time and airspeed, about every 6 s",
            "altitude at entry and end, and the furthest from it",
            "transit time of the device",
        ),
        stop_conditions=(
            "Airspeed within 10 kt of the stall speed for the configuration, or the first sign of buffet or warning",
            "Altitude more than 100 ft from entry altitude, or below the planned floor",
            "Traffic, turbulence, or anything unusual about the device, the engine or the crew",
        ),
        cautions=CAUTIONS,
    )


def deceleration_guard(beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
    """Hold the planned entry speed against VNE and the limit speed of the device; raises BadInputError on bad words."""
    entry, _ = parse_measured(words.get("entry speed", ""), "speed", "card, entry speed", "110 kt")
    device = words.get("device", "gear")
    limits = beliefs.limits
    if device == "gear":
        named = [("VLO", limits.gear_operate_mps), ("VLE", limits.gear_extended_mps)]
    else:
        setting = flap_setting(words.get("to", "full"), beliefs, "card, to")
        named = [(f"VFE ({setting.name})", limits.flap_limit(setting.name))]
    named.append(("VNE", limits.never_exceed_mps))
    out = []
    for label, limit in named:
        if limit is None:
            continue
        margin = limit - entry
        said = f"entry at {entry / KNOT:.0f} kt against {label} {limit / KNOT:.0f} kt"
        if margin < 0.0:
            out.append(GuardNotice(True, f"{said}: above the limit; plan a lower entry speed."))
        elif margin < THIN_MARGIN_MPS:
            out.append(GuardNotice(False, f"{said}: only {margin / KNOT:.0f} kt of margin."))
    return out
