"""Refusals of procedures that cannot be flown, in one sentence that names the field, the stage or the power move."""

from __future__ import annotations

import math

from wringout.errors import BadInputError
from wringout.techniques.stated.procedure import (
    MAX_POWER_MOVES,
    MAX_STAGES,
    SPEED_AIMS,
    Aim,
    Procedure,
    Stage,
    StartPower,
    Until,
    When,
)
from wringout.units import DEGREE

_SPEEDS = frozenset({When.SPEED_ABOVE, When.SPEED_BELOW})
_HEIGHTS = frozenset({When.HEIGHT_ABOVE, When.HEIGHT_BELOW})


def refuse(bad: bool, what: str, where: str, expected: str) -> None:
    """Raise the sentence if something is bad.

    Raises:
        BadInputError: it is.
    """
    if bad:
        raise BadInputError(what, where, expected)


def within(value: float, lowest: float, highest: float, name: str, where: str, expected: str) -> None:
    """Refuse a value outside its range, or one that is no number.

    Raises:
        BadInputError: naming it.
    """
    refuse(not lowest <= value <= highest, f"a {name} of {value:g} is out of range", where, expected)


def check_procedure(p: Procedure, full_flap_rad: float) -> None:
    """Refuse a procedure with a number that is missing or out of range, a stage or a power move that makes no sense.

    Raises:
        BadInputError: naming the field, the stage or the move.
    """
    where = f"procedure '{p.title}'"
    low, high = p.handling.load_factor
    mean, sd = p.reaction_s
    for value, lowest, highest, name, expected in (
        (p.start_flap_rad, 0.0, full_flap_rad + 1e-6, "starting flap angle", f"0 to {full_flap_rad:.3f} rad"),
        (p.start_gear, 0.0, 1.0, "starting gear position", "0 (up) or 1 (down)"),
        (p.descent_rad or 0.0, -20.0 * DEGREE, 30.0 * DEGREE, "descent angle", "radians, positive down"),
        (p.start_height_m, 0.0, 6000.0, "start height", "metres above the ground"),
        (mean, 0.0, 30.0, "mean reaction delay", "seconds, zero or more"),
        (sd, 0.0, 30.0, "spread of the reaction delay", "seconds, zero or more"),
        (p.duration_s, 1.0, 1800.0, "duration", "seconds, 1 to 1800"),
        (p.handling.pitch_rate_rps, 0.001, 1.0, "pitch rate", "about 3 degrees a second, in rad/s"),
        (p.handling.path_time_s, 0.2, 10.0, "time constant of the path", "seconds, about 1"),
        (p.handling.speed_time_s, 1.0, 60.0, "time constant of the speed", "seconds, about 4"),
        (p.handling.path_rate_rps, 0.001, 10.0, "largest rate of the path", "rad/s"),
        (low, -2.0, 0.999, "lowest load factor", "less than 1"),
        (high, 1.001, 6.0, "highest load factor", "more than 1"),
        (p.dead_area_m2, 0.0, 5.0, "drag area of a dead engine", "square metres"),
        (p.power_travel_s, 0.0, 30.0, "travel of the power lever", "seconds"),
        (p.first_action_s, 0.0, 600.0, "time the hands are free", "seconds"),
    ):
        within(value, lowest, highest, name, where, expected)
    _check_stages(p, where)
    _check_power(p, where)
    _check_until(p.end, f"{where}, end")


def _check_stages(p: Procedure, where: str) -> None:
    refuse(
        not 1 <= len(p.stages) <= MAX_STAGES,
        f"{len(p.stages)} stages of flying cannot be flown",
        where,
        f"give one to {MAX_STAGES}",
    )
    for number, stage in enumerate(p.stages, start=1):
        at = f"{where}, stage {number} ({stage.aim})"
        _check_aim(stage, at)
        _check_until(stage.until, at)
        refuse(
            stage.until.when is When.NEVER and number < len(p.stages),
            "a stage that never ends is followed by another",
            at,
            "say what ends it, or leave the others out",
        )


def _check_aim(stage: Stage, where: str) -> None:
    if stage.aim is Aim.CALIBRATED:
        within(stage.value, 10.0, 200.0, "speed", where, "calibrated airspeed in m/s")
    elif stage.aim in SPEED_AIMS:
        within(stage.value, 0.5, 5.0, "multiple", where, "about 1.3")
    else:
        within(stage.value, -60.0 * DEGREE, 40.0 * DEGREE, "angle", where, "radians")


def _check_until(until: Until, where: str) -> None:
    if until.when is When.TIME:
        within(until.value, 0.0, 1800.0, "time", where, "seconds from the start")
    elif until.when in _HEIGHTS:
        within(until.value, -10_000.0, 10_000.0, "height", where, "metres above the ground")
    elif until.when in _SPEEDS:
        refuse(until.aim not in SPEED_AIMS, "a speed is counted in something else", where, "give one of the speed aims")
        calibrated = until.aim is Aim.CALIBRATED
        lowest, highest = (10.0, 200.0) if calibrated else (0.5, 5.0)
        within(until.value, lowest, highest, "speed", where, "m/s calibrated, or a multiple such as 1.3")
    elif until.when is When.CLIMB_ABOVE:
        within(until.value, -30.0, 30.0, "climb rate", where, "m/s")


def _check_power(p: Procedure, where: str) -> None:
    refuse(len(p.power) > MAX_POWER_MOVES, f"{len(p.power)} moves of power are too many", where, "give four at most")
    last, failed = 0.0, False
    for number, move in enumerate(p.power, start=1):
        at = f"{where}, power move {number}"
        within(move.at_s, 0.0, 1800.0, "power delay", at, "seconds, zero or more")
        within(move.ramp_s, 0.0, 60.0, "power ramp", at, "seconds, zero or more")
        within(move.target, -1.0, 1.0, "power", at, "-1 (none), 0 (as at the start) to 1 (full)")
        refuse(move.at_s < last, "it comes before the one above it", at, "list them in order of time")
        refuse(failed and move.by_hand, "the engine has failed before that", at, "leave the move out")
        last, failed = move.at_s, failed or (not move.by_hand and move.target <= -1.0)
    if p.start_power is StartPower.BALANCED:
        refuse(
            p.descent_rad is None or not math.isfinite(p.descent_rad),
            "the power the path needs is asked for, but no path is given",
            where,
            "give the descent angle, or say none or full for the power",
        )
