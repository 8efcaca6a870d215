"""Refusals of techniques that cannot be flown, in one sentence that names the technique and the offending action."""

from __future__ import annotations

from wringout.airplane import vector as v
from wringout.techniques.stated.procedure import Procedure
from wringout.techniques.stated.procedure_checks import refuse
from wringout.techniques.stated.types import MAX_ACTIONS, Action, Device, FloatArray, Gate, GoAround, Technique
from wringout.units import DEGREE

_SAME = 1e-6


def full_flap_rad(row: FloatArray) -> float:
    """Return the angle of full flap, rad."""
    return float(row[v.ANGLES + int(row[v.SETTINGS]) - 1])


def degrees(angle_rad: float) -> str:
    """Return an angle in words, e.g. ``"20°"``."""
    return f"{angle_rad / DEGREE:.0f}°"


def action_words(action: Action) -> str:
    """Return an action in words, e.g. ``"gear up"`` or ``"flaps to 20°"``."""
    if action.device is Device.GEAR:
        return "gear up" if action.target <= 0.0 else "gear down"
    if action.device is Device.POWER:
        return {-1.0: "power off", 1.0: "full power"}.get(action.target, f"power to {action.target:g}")
    return "flaps up" if action.target <= 0.0 else f"flaps to {degrees(action.target)}"


def check_technique(technique: Technique, situation: GoAround | Procedure, row: FloatArray) -> None:
    """Refuse a technique that cannot be flown from this situation by this airplane.

    Raises:
        BadInputError: naming the technique and the offending action.
    """
    refuse(
        len(technique.actions) > MAX_ACTIONS,
        f"{len(technique.actions)} actions are too many",
        f"technique '{technique.title}'",
        f"at most {MAX_ACTIONS} are flown",
    )
    gear, flap = situation.start_gear, situation.start_flap_rad
    for number, action in enumerate(technique.actions, start=1):
        where = f"technique '{technique.title}', action {number} ({action_words(action)})"
        _check_timing(action, situation, where)
        if action.device is Device.GEAR:
            _check_gear(action, gear, where)
            gear = action.target
        elif action.device is Device.POWER:
            _check_power_action(action, situation, where)
        else:
            _check_flap(action, flap, full_flap_rad(row), where)
            flap = action.target


def _check_timing(action: Action, situation: GoAround | Procedure, where: str) -> None:
    refuse(not action.wait_s >= 0.0, f"a wait of {action.wait_s:g} s is negative", where, "give seconds, zero or more")
    refuse(
        action.wait_s > situation.duration_s,
        f"a wait of {action.wait_s:g} s is longer than the {situation.duration_s:g} s flown",
        where,
        "give seconds, for example 2",
    )
    refuse(
        not 0.0 <= action.hand_s <= situation.duration_s,
        f"a hand on the lever for {action.hand_s:g} s is out of range",
        where,
        "give seconds, zero or more",
    )
    if action.gate in (Gate.HEIGHT, Gate.HEIGHT_BELOW):
        refuse(
            not -500.0 <= action.gate_value <= 6000.0,
            f"a height of {action.gate_value:g} m to wait for is out of range",
            where,
            "give metres above the ground",
        )
    if action.gate in (Gate.SPEED, Gate.SPEED_BELOW):
        refuse(
            not 10.0 <= action.gate_value <= 200.0,
            f"a speed of {action.gate_value:g} m/s to wait for is not one of a light airplane",
            where,
            "give calibrated airspeed in m/s",
        )
    if action.gate is Gate.POSITIVE_CLIMB:
        refuse(
            not 0.0 <= action.gate_value <= 10.0,
            f"a climb rate of {action.gate_value:g} m/s to wait for is out of range",
            where,
            "give m/s, zero for any climb",
        )


def _check_gear(action: Action, gear: float, where: str) -> None:
    refuse(
        action.target not in (0.0, 1.0),
        f"a gear position of {action.target:g} is neither up nor down",
        where,
        "give 0 or 1",
    )
    refuse(
        action.target <= 0.0 and gear <= 0.0,
        "the gear is to be retracted but is not out at that point",
        where,
        "leave the action out or start with the gear down",
    )
    refuse(action.target == gear, "the gear is already down at that point", where, "leave the action out")


def _check_power_action(action: Action, situation: GoAround | Procedure, where: str) -> None:
    refuse(
        not -1.0 <= action.target <= 1.0,
        f"a power of {action.target:g} is out of range",
        where,
        "give -1 (none), 0 (as at the start) to 1 (full)",
    )
    dead = isinstance(situation, Procedure) and any(not m.by_hand and m.target <= -1.0 for m in situation.power)
    refuse(dead, "the engine has failed and the lever does nothing", where, "leave the action out")


def _check_flap(action: Action, flap: float, full: float, where: str) -> None:
    refuse(
        not -_SAME <= action.target <= full + _SAME,
        f"a flap angle of {degrees(action.target)} is outside the travel of 0° to {degrees(full)}",
        where,
        "give the angle in radians within the travel",
    )
    refuse(
        action.target <= _SAME and flap <= _SAME,
        "the flaps are to be retracted but are not out at that point",
        where,
        "leave the action out or start with flaps",
    )
    refuse(
        abs(action.target - flap) <= _SAME,
        f"the flaps are already at {degrees(flap)} at that point",
        where,
        "leave the action out",
    )
