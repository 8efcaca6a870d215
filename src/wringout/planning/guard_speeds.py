"""A point's speeds against VNE, VA, VFE, VLE, VLO and the stall at its weight and bank."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wringout.airplane.beliefs import Beliefs
from wringout.planning.checks import Check, Level, against, missing
from wringout.planning.phases import Phase
from wringout.planning.plan import Point
from wringout.planning.settled import believed_slowest
from wringout.planning.stall_margin import STOP_ABOVE_STALL_MPS, believed_stall_ias_mps
from wringout.units import DEGREE, KNOT

THIN_SPEED_KT = 5.0
"""Margin to a limit speed below which a warning is given (judged, no source)."""
LEAST_STALL_FACTOR = 1.1
"""Least planned speed over the believed stall speed at that weight and bank (judged; the matchup's usual margin)."""
USUAL_STALL_FACTOR = 1.2
"""Below it the margin is thin (common practice, no source)."""
ALTITUDE_WHERE_NOT_STATED_M = 0.0


def speed_checks(point: Point, phases: tuple[Phase, ...], beliefs: Beliefs, isa_deviation_k: float) -> list[Check]:
    """Return every speed of a point against every limit that applies to it; raises BadInputError on a bad word."""
    out: list[Check] = []
    for phase in phases:
        out += _limits(point, phase, beliefs)
        out += _stall(point, phase, beliefs, isa_deviation_k)
    return _worst(out)


def _worst(checks: list[Check]) -> list[Check]:
    """Return for each limit its worst check: the least margin."""
    found: dict[str, Check] = {}
    for check in checks:
        known = found.get(check.subject)
        if known is None or (check.margin or 0.0) < (known.margin or 0.0):
            found[check.subject] = check
    return list(found.values())


def _limits(point: Point, phase: Phase, beliefs: Beliefs) -> Iterator[Check]:
    for subject, limit, blocks in _applying(phase, beliefs):
        if limit is None:
            if subject != "VA":
                yield missing(point.key, subject, f"{subject} is not in the airplane file; take it from the manual.")
            continue
        check = against(
            point.key,
            subject,
            phase.fastest_mps / KNOT,
            limit / KNOT,
            "kt",
            THIN_SPEED_KT,
            f"{phase.name}: planned at",
            "plan a lower speed",
        )
        if not blocks and check.level is Level.VIOLATED:
            check = Check(
                check.point,
                subject,
                Level.THIN,
                f"{phase.name.capitalize()}: planned at "
                f"{phase.fastest_mps / KNOT:.0f} kt, above {subject} {limit / KNOT:.0f} kt: smooth air only, "
                f"and no full or abrupt control movements.",
                check.planned,
                check.limit,
                "kt",
            )
        yield check


def _applying(phase: Phase, beliefs: Beliefs) -> Iterator[tuple[str, float | None, bool]]:
    """Yield (name, limit speed, whether it blocks) of every limit that a phase must keep. VA blocks stalls only."""
    limits = beliefs.limits
    yield "VNE", limits.never_exceed_mps, True
    yield "VA", limits.maneuvering_mps, phase.stalls
    if phase.setting.angle_rad > 0.0:
        yield f"VFE ({phase.setting.name})", limits.flap_limit(phase.setting.name), True
    if not beliefs.retractable:
        return
    if phase.gear > 0.0:
        yield "VLE", limits.gear_extended_mps, True
    if phase.gear_moves == "down":
        yield "VLO (extend)", limits.gear_operate_mps, True
    if phase.gear_moves == "up":
        yield "VLO (retract)", limits.gear_retract_mps or limits.gear_operate_mps, True


def _stall(point: Point, phase: Phase, beliefs: Beliefs, isa_k: float) -> Iterator[Check]:
    altitude = ALTITUDE_WHERE_NOT_STATED_M if point.altitude_m is None else point.altitude_m
    subject = f"the stall, flaps {phase.setting.name}"
    if not 0.0 <= point.bank_rad < 75.0 * DEGREE:
        yield Check(
            point.key,
            subject,
            Level.VIOLATED,
            f"A bank of {point.bank_rad / DEGREE:.0f} deg cannot be planned; 0 to 60.",
        )
        return
    if phase.stalls:
        return
    believed = None if phase.slowest_mps is not None else believed_slowest(point, phase, beliefs)
    slowest = phase.slowest_mps if phase.slowest_mps is not None else believed
    if slowest is None:
        return
    bank = point.bank_rad if believed is None else 0.0  # a run that slows by itself is flown wings level
    stall = believed_stall_ias_mps(beliefs, phase.setting.angle_rad, phase.gear, point.mass_kg, bank, altitude, isa_k)
    name, least = phase.name.capitalize(), LEAST_STALL_FACTOR * stall
    tail = f"the believed stall speed of {stall / KNOT:.0f} kt at {bank / DEGREE:.0f} deg of bank and this weight"
    if believed is not None:
        stop = stall + STOP_ABOVE_STALL_MPS
        level = Level.THIN if slowest < max(USUAL_STALL_FACTOR * stall, stop) else Level.HELD
        how = f"may slow to {slowest / KNOT:.0f} kt" if slowest > least else "may slow to the stall"
        call = f"Stop at {math.ceil(stop / KNOT - 1e-9)} kt."
        said = f"{name}: {how} (one in ten of the believed airplanes does); {tail}. {call}"
        yield Check(point.key, subject, level, said, slowest / KNOT, stop / KNOT, "kt", upper=False)
        return
    level = Level.VIOLATED if slowest < least else Level.THIN if slowest < USUAL_STALL_FACTOR * stall else Level.HELD
    cure = "; plan a higher speed or less bank" if level is Level.VIOLATED else ""
    said = f"{name}: planned at {slowest / KNOT:.0f} kt, {slowest / stall:.2f} times {tail}{cure}."
    yield Check(point.key, subject, level, said, slowest / KNOT, least / KNOT, "kt", upper=False)
