"""The test card of go-around pairs, and the heights and limits they must respect."""

from __future__ import annotations

import math

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.forces import stall_speed
from wringout.airplane.quantity import parse_measured
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3
from wringout.methods.cautions import CAUTIONS
from wringout.methods.go_around_pairs.pair_tests import fewest_pairs
from wringout.methods.setup_words import flap_setting
from wringout.methods.types import Card, GuardNotice
from wringout.units import FOOT, KNOT, STANDARD_GRAVITY

DECK_FLOOR_M = 3000.0 * FOOT
"""Least height of the hard deck above ground (common practice, no source)."""
ABOVE_DECK_M = 500.0 * FOOT
"""Least height of the call above the hard deck (judged, no source)."""
THIN_STALL_RATIO = 1.2
LOW_STALL_RATIO = 1.1
THIN_MARGIN_MPS = 5.0 * KNOT


def pairs_card(words: dict[str, str]) -> Card:
    """Return the card for pairs described by ``techniques``, ``entry speed``, ``entry descent`` and ``hard deck``."""
    techniques = words.get("techniques", "the two techniques")
    entry = (
        f"{words.get('entry speed', 'the approach speed')}, descending {words.get('entry descent', 'at 500 ft/min')}"
    )
    deck = words.get("hard deck", "the floor")
    return Card(
        title=f"Go-around pairs, {techniques}",
        purpose="Hold two go-around techniques against each other, flown in pairs at altitude.",
        setup=(
            f"{deck} (at least {DECK_FLOOR_M / FOOT:,.0f} ft above ground) is the runway; begin the approach "
            f"{ABOVE_DECK_M / FOOT:.0f} ft or more above the height of the call",
            f"Landing configuration, stabilised at {entry}, power as on approach; smooth air, away from cloud",
            "Both techniques briefed as exact orders of actions, with what matters stated before the first one",
        ),
        steps=(
            'The second person calls "go around" at the chosen height and starts the clock',
            "Fly the technique on the card exactly; the second person reads, the pilot does not look for the numbers",
            "Read the lowest height, the time of the first positive climb, and the height at 15, 30 and 60 seconds",
            "Set up again at the same speed and descent and fly the other technique: that is one pair",
            "Alternate which technique comes first (A B, B A, A B, ...), or toss a coin before each pair",
            f"Fly at least {fewest_pairs()} pairs; fewer cannot tell techniques apart whatever they show",
        ),
        readings=(
            "pair, technique, entry speed, entry descent, weight",
            "height lost, time to climb, height at 15, 30 and 60 s",
        ),
        stop_conditions=(
            "At or below the floor that stands for the runway: recover as the manual describes; the run is over and is "
            "not scored",
            "Stall warning, buffet, or airspeed below the briefed least speed",
            "Above a flap or gear limit speed, an engine limit, or anything unusual",
        ),
        cautions=CAUTIONS,
    )


def pairs_guard(beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
    """Hold ``hard deck above ground``, ``call above deck`` and ``entry speed`` against floor, limits and stall speed.

    Raises BadInputError on words that cannot be read.
    """
    out = [_deck(words), _call(words)]
    if "entry speed" in words:
        speed, _ = parse_measured(words["entry speed"], "speed", "card, entry speed", "75 kt")
        setting = flap_setting(words.get("entry flaps", "full"), beliefs, "card, entry flaps")
        out += _limits(beliefs, setting.name, speed)
        out.append(_stall(beliefs, setting.angle_rad, speed))
    return [notice for notice in out if notice is not None]


def _deck(words: dict[str, str]) -> GuardNotice | None:
    floor = f"{DECK_FLOOR_M / FOOT:,.0f} ft above ground (common practice, no source; the instructor's comes first)"
    if "hard deck above ground" not in words:
        return GuardNotice(False, f"the height of the hard deck is not stated; it must be at least {floor}.")
    height, _ = parse_measured(words["hard deck above ground"], "length", "card, hard deck above ground", "3500 ft")
    if height < DECK_FLOOR_M:
        return GuardNotice(True, f"a hard deck at {height / FOOT:,.0f} ft above ground is below {floor}.")
    return None


def _call(words: dict[str, str]) -> GuardNotice | None:
    if "call above deck" not in words:
        return None
    height, _ = parse_measured(words["call above deck"], "length", "card, call above deck", "500 ft")
    if height < ABOVE_DECK_M:
        return GuardNotice(
            True,
            f"a call {height / FOOT:.0f} ft above the hard deck leaves less than {ABOVE_DECK_M / FOOT:.0f} ft to lose; "
            "plan a higher call.",
        )
    return None


def _limits(beliefs: Beliefs, setting: str, speed: float) -> list[GuardNotice]:
    limits = beliefs.limits
    named = [(f"VFE ({setting})", limits.flap_limit(setting))]
    if beliefs.retractable:
        named += [("VLE", limits.gear_extended_mps), ("VLO (retract)", limits.gear_retract_mps)]
    out = []
    for label, limit in named:
        if limit is None:
            continue
        said = f"entry at {speed / KNOT:.0f} kt against {label} {limit / KNOT:.0f} kt"
        if speed > limit:
            out.append(GuardNotice(True, f"{said}: above the limit; plan a lower entry speed."))
        elif speed > limit - THIN_MARGIN_MPS:
            out.append(GuardNotice(False, f"{said}: only {(limit - speed) / KNOT:.0f} kt of margin."))
    return out


def _stall(beliefs: Beliefs, flap_rad: float, speed: float) -> GuardNotice | None:
    weight = beliefs.limits.max_mass_kg * STANDARD_GRAVITY
    stall = float(stall_speed(beliefs.prior_row(), weight, SEA_LEVEL_DENSITY_KGM3, flap_rad))
    ratio = speed / stall
    if ratio >= THIN_STALL_RATIO or math.isnan(ratio):
        return None
    return GuardNotice(
        ratio < LOW_STALL_RATIO,
        f"entry at {speed / KNOT:.0f} kt is {ratio:.2f} times the believed stall speed of {stall / KNOT:.0f} kt at "
        "maximum weight; plan a higher entry speed.",
    )
