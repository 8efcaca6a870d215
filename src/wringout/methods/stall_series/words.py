"""The test card of a stall series, power off or on, and the height, weight and limits its points must respect."""

from __future__ import annotations

from collections.abc import Mapping

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.quantity import parse_measured
from wringout.methods.cautions import CAUTIONS
from wringout.methods.setup_words import flap_setting
from wringout.methods.types import Card, GuardNotice
from wringout.units import FOOT, KNOT, POUND

FLOOR_M = 3000.0 * FOOT
"""Least height above ground to complete the recovery by (common practice, no source)."""
HEIGHT_MARGIN_M = 1000.0 * FOOT
POWER_ON_HEIGHT_M = 1000.0 * FOOT
"""Height kept above the floor besides, where power is on: a wing that drops costs more then (judged, no source)."""
IDLE_WORDS = frozenset({"off", "idle", "closed", "throttle closed", "power off", "zero thrust", "none"})
THIN_MARGIN_MPS = 5.0 * KNOT


def power_on(words: Mapping[str, str]) -> str:
    """Return how much power is on, in the words given, or "" for power off."""
    power = words.get("power", "off").strip().lower()
    return "" if power in IDLE_WORDS else power


def stall_card(beliefs: Beliefs, words: dict[str, str]) -> Card:
    """Return the card for a series: ``flaps``, ``power``, ``cg``, ``height above ground``, ``altitude``."""
    wanted = words.get("flaps", ", ".join(setting.name for setting in beliefs.settings))
    floor = f"{FLOOR_M / FOOT:,.0f} ft above ground"
    power = power_on(words)
    balance = f"planned centre of gravity {words['cg']}" if "cg" in words else "centre of gravity"
    return Card(
        title=f"Stall series, flaps {wanted}" + (f", power {power}" if power else ""),
        purpose=(
            "Find by how much power lowers the stall speed of each flap setting; fly the same settings power off too."
            if power
            else "Find the stall speed and the maximum lift coefficient of each flap setting."
        ),
        setup=(
            f"{words.get('altitude', 'The planned altitude')}, smooth air, away from cloud and traffic; recovered by "
            f"{floor} at the latest",
            "An instructor current in stalls of this airplane on board; recovery briefed as the manual describes it",
            f"Weight and {balance} inside the envelope and written down; clearing turns made",
        ),
        steps=(
            f"Configure below the limit speed, {'slow, then set power ' + power if power else 'throttle closed'}, "
            "propeller as the manual asks, wings level, ball centred",
            "Trim near 1.5 times the expected stall speed, then raise the nose to lose 1 kt each second",
            *(("Hold the ball centred with rudder all the way into the stall and out of it",) if power else ()),
            "The second person reads the dial and calls every 5 kt, then the lowest airspeed at the stall",
            "Recover at once at the stall as the manual describes; keep the ball centred",
            "Write flap, speed, entry rate, weight and gear; repeat each setting at least three times",
        ),
        readings=(
            "flap, airspeed at the stall, entry rate, weight, gear",
            "warning: the airspeed at which the horn or the buffet began, before the stall",
            "what was taken as the stall: nose drop or full aft stick; a stall during the recovery noted as secondary",
        ),
        stop_conditions=(
            f"Recovery not complete by {floor}, or by the instructor's floor if that is higher",
            "A wing drops more than 15 degrees, or yaw starts: recover and end the series",
            *(("The nose rises above the attitude the instructor has briefed as the highest",) if power else ()),
            "Anything unusual about the airplane, the weather or the crew",
        ),
        cautions=CAUTIONS,
    )


def stall_guard(beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
    """Hold ``height above ground``, ``weight``, ``power`` and ``entry speed`` of a plan against floor and limits.

    Raises BadInputError on words that cannot be read.
    """
    out = [_height(words)]
    if "weight" in words:
        mass, _ = parse_measured(words["weight"], "mass", "card, weight", "3000 lb")
        heaviest = beliefs.limits.max_mass_kg
        if mass > heaviest:
            said = f"stalls planned at {mass / POUND:,.0f} lb against a maximum weight of {heaviest / POUND:,.0f} lb"
            out.append(GuardNotice(True, f"{said}: above the limit; plan a lower weight."))
    if power := power_on(words):
        out.append(
            GuardNotice(
                False,
                f"power {power} at the stall: expect yaw, a higher nose, a wing that drops sooner; spin recovery is "
                "briefed as the manual describes it, an instructor current in it aboard (common practice, no source).",
            )
        )
    if "entry speed" in words:
        out += _entry_speed(beliefs, words)
    return [notice for notice in out if notice is not None]


def _height(words: dict[str, str]) -> GuardNotice | None:
    floor = f"the floor of {FLOOR_M / FOOT:,.0f} ft (common practice, no source; the instructor's comes first)"
    if "height above ground" not in words:
        return GuardNotice(False, f"the height above ground is not stated; it must leave the recovery above {floor}.")
    height, _ = parse_measured(words["height above ground"], "length", "card, height above ground", "4500 ft")
    said = f"stalls from {height / FOOT:,.0f} ft above ground against {floor}"
    if height < FLOOR_M:
        return GuardNotice(True, f"{said}: below it; plan a greater height.")
    if height < FLOOR_M + HEIGHT_MARGIN_M + (POWER_ON_HEIGHT_M if power_on(words) else 0.0):
        return GuardNotice(False, f"{said}: only {(height - FLOOR_M) / FOOT:,.0f} ft to recover in.")
    return None


def _entry_speed(beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
    speed, _ = parse_measured(words["entry speed"], "speed", "card, entry speed", "85 kt")
    named = [
        flap_setting(text, beliefs, "card, flaps")
        for text in words.get("flaps", ",".join(s.name for s in beliefs.settings)).split(",")
        if text.strip()
    ]
    out = []
    for setting in named:
        limit = beliefs.limits.flap_limit(setting.name)
        if limit is None:
            continue
        said = f"entry at {speed / KNOT:.0f} kt against VFE ({setting.name}) {limit / KNOT:.0f} kt"
        if speed > limit:
            out.append(GuardNotice(True, f"{said}: above the limit; slow down before the flaps go out."))
        elif speed > limit - THIN_MARGIN_MPS:
            out.append(GuardNotice(False, f"{said}: only {(limit - speed) / KNOT:.0f} kt of margin."))
    return out
