"""Words and guards that the cards of steady points share."""

from __future__ import annotations

import re

from wringout.airplane import forces
from wringout.airplane.beliefs import Beliefs, FlapSetting
from wringout.airplane.quantity import parse_measured
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3
from wringout.methods.setup_words import flap_setting, gear_position
from wringout.methods.types import GuardNotice
from wringout.units import FOOT, KNOT, STANDARD_GRAVITY

FLOOR_M = 3000.0 * FOOT
"""Least height above ground for slow flight (common practice, no source; the instructor's comes first)."""
THIN_MARGIN_MPS = 5.0 * KNOT
LEAST_STALL_FACTOR = 1.2
"""Least speed planned over the stall speed believed (common practice, no source)."""


def planned_speeds(words: dict[str, str], key: str, example: str) -> list[float]:
    """Return the planned speeds, m/s, of a word such as "75, 85, 95 kt"; raises BadInputError naming the card."""
    text = words.get(key, "")
    unit = re.sub(r"^.*?([A-Za-z/]+)\s*$", r"\1", text) if re.search(r"[A-Za-z]\s*$", text) else ""
    parts = [part.strip() for part in re.split(r",|;|\band\b", text) if part.strip()] or [text]
    return [
        parse_measured(part if re.search(r"[A-Za-z]", part) else f"{part} {unit}", "speed", f"card, {key}", example)[0]
        for part in parts
    ]


def configuration_in(words: dict[str, str], beliefs: Beliefs) -> tuple[FlapSetting, float]:
    """Return the planned flap setting and gear position, both up when the words do not say."""
    setting = flap_setting(words.get("flaps", "up"), beliefs, "card, flaps")
    return setting, gear_position(words.get("gear", "up"), "card, gear")


def speed_notices(beliefs: Beliefs, words: dict[str, str], speeds_mps: list[float]) -> list[GuardNotice]:
    """Hold planned speeds in a configuration against VNE, VFE, VLE and the stall margin."""
    setting, gear = configuration_in(words, beliefs)
    fastest, slowest = max(speeds_mps), min(speeds_mps)
    limits = [("VNE", beliefs.limits.never_exceed_mps)]
    if setting.angle_rad > 0.0:
        limits.append((f"VFE ({setting.name})", beliefs.limits.flap_limit(setting.name)))
    if gear > 0.0:
        limits.append(("VLE", beliefs.limits.gear_extended_mps))
    out = []
    for label, limit in limits:
        if limit is None:
            continue
        said = f"{fastest / KNOT:.0f} kt planned against {label} {limit / KNOT:.0f} kt"
        if fastest > limit:
            out.append(GuardNotice(True, f"{said}: above the limit; plan a lower speed."))
        elif fastest > limit - THIN_MARGIN_MPS:
            out.append(GuardNotice(False, f"{said}: only {(limit - fastest) / KNOT:.0f} kt of margin."))
    weight = beliefs.limits.max_mass_kg * STANDARD_GRAVITY
    stall = float(forces.stall_speed(beliefs.prior_row(), weight, SEA_LEVEL_DENSITY_KGM3, setting.angle_rad))
    said = f"{slowest / KNOT:.0f} kt planned against a believed stall speed of {stall / KNOT:.0f} kt at maximum weight"
    if slowest < stall:
        out.append(GuardNotice(True, f"{said}: below it; plan a higher speed."))
    elif slowest < LEAST_STALL_FACTOR * stall:
        out.append(GuardNotice(False, f"{said}: less than {LEAST_STALL_FACTOR:.1f} times it."))
    return out


def floor_notices(words: dict[str, str], subject: str) -> list[GuardNotice]:
    """Hold the planned height above ground at the end of a point against the floor."""
    floor = f"the floor of {FLOOR_M / FOOT:,.0f} ft (common practice, no source; the instructor's comes first)"
    if "height above ground" not in words:
        return [GuardNotice(False, f"the height above ground is not stated; {subject} must end above {floor}.")]
    height, _ = parse_measured(words["height above ground"], "length", "card, height above ground", "4500 ft")
    said = f"{subject} end at {height / FOOT:,.0f} ft above ground against {floor}"
    if height < FLOOR_M:
        return [GuardNotice(True, f"{said}: below it; plan a greater height.")]
    return []
