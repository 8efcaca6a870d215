"""Orders of one's own in a plan: steps in words, such as "gear up after 2 s" or "flaps up above 75 kt"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from pydantic import BaseModel, ConfigDict, Field

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.quantity import parse_measured
from wringout.errors import BadInputError
from wringout.services.matchups.plan_details import flap_angle
from wringout.techniques.stated.orders import POSITIVE_RATE_MPS
from wringout.techniques.stated.types import MAX_ACTIONS, Action, Device, Gate, Technique
from wringout.units import KNOT

EXAMPLE: Final = "flaps to half; gear up after 2 s; flaps up above 75 kt"
MOST_ORDERS: Final = 20
_STEP: Final = re.compile(r"(gear|flaps|power)\s+(?:to\s+)?(.+?)((?:\s+(?:after|when|once|above|below)\b.*)?)", re.I)
_CONDITION: Final = re.compile(
    r"\b(after|when|once|above|below)\s+(.+?)(?=\s+(?:after|when|once|above|below)\b|$)", re.I
)
_POWERS: Final = {"full": 1.0, "off": -1.0, "none": -1.0, "as at the start": 0.0}
_SAME: Final = 1e-6
SLOWEST_MPS, FASTEST_MPS = 20.0 * KNOT, 350.0 * KNOT


class OrderSection(BaseModel):
    """One order of one's own: what it is called, and its steps in words, one movement of one lever each."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)

    steps: list[str] = Field(max_length=MAX_ACTIONS)
    title: str = Field(default="", max_length=120)


def own_orders(
    sections: Sequence[OrderSection], beliefs: Beliefs, start: tuple[float, float], ends_clean: bool, name: str
) -> tuple[Technique, ...]:
    """Return the orders that a plan states, to compete beside those that are found.

    Args:
        sections: as written. beliefs: the airplane. start: gear position and flap angle (rad) at the start.
        ends_clean: whether an order must end clean to be complete. name: of the plan, for errors.

    Raises:
        BadInputError: a step cannot be read, naming the order and the step.
    """
    found: list[Technique] = []
    for number, section in enumerate(sections, 1):
        where = f"{name}, orders {number}"
        actions = tuple(
            _action(text, beliefs, f"{where}, step {i} ({text[:60]})") for i, text in enumerate(section.steps, 1)
        )
        title = section.title or ", ".join(section.steps)
        key = re.sub(r"[^a-z0-9]+", "-", " ".join(section.steps).lower()).strip("-") or "nothing"
        complete = not ends_clean or _is_clean(actions, *start)
        if any(technique.actions == actions for technique in found):
            raise BadInputError("it moves the same levers as an order above it", where, "leave it out")
        found.append(
            Technique(f"own-{key}"[:120], f"{title[:1].upper()}{title[1:]}" or "Nothing moved", actions, complete)
        )
    return tuple(found)


def _is_clean(actions: Sequence[Action], gear: float, flap_rad: float) -> bool:
    for action in actions:
        if action.device is Device.GEAR:
            gear = action.target
        elif action.device is Device.FLAPS:
            flap_rad = action.target
    return gear <= 0.0 and flap_rad <= _SAME


def _action(text: str, beliefs: Beliefs, where: str) -> Action:
    found = _STEP.fullmatch(" ".join(text.split()))
    if found is None:
        raise BadInputError(f"{text[:60]!r} moves no lever", where, f'write steps such as "{EXAMPLE}", one for each')
    device = Device(found[1].lower())
    target = _target(device, found[2].strip(), beliefs, where)
    wait, gate, value = 0.0, Gate.NONE, 0.0
    for word, what in _CONDITION.findall(found[3]):
        if word.lower() == "after":
            wait = parse_measured(what, "time", where, "after 2 s")[0]
            continue
        if gate is not Gate.NONE:
            raise BadInputError("it waits for two things", where, 'keep one, beside a pause such as "after 2 s"')
        gate, value = _gate(word.lower(), what, where)
    return Action(device, target, wait, gate, value)


def _target(device: Device, text: str, beliefs: Beliefs, where: str) -> float:
    if device is Device.FLAPS:
        return flap_angle(text, beliefs, where)
    known = {"up": 0.0, "down": 1.0} if device is Device.GEAR else _POWERS
    if device is Device.GEAR and not beliefs.retractable:
        raise BadInputError("the gear of this airplane does not move", where, "leave the step out")
    if text.lower() not in known:
        raise BadInputError(f"{text[:40]!r} is nowhere the {device} goes", where, f"write {', or '.join(known)}")
    return known[text.lower()]


def _gate(word: str, what: str, where: str) -> tuple[Gate, float]:
    """Return what is waited for: a climb, a calibrated airspeed, or a height above the ground."""
    if word in ("when", "once"):
        if what.strip().lower() not in ("climbing", "it climbs", "positive climb"):
            raise BadInputError(f"{what[:40]!r} is nothing that is waited for", where, 'write "when climbing"')
        return Gate.POSITIVE_CLIMB, POSITIVE_RATE_MPS
    above, high = word == "above", re.search(r"\d\s*(ft|m|feet|metres|meters)\b(?!/)", what)
    if high:
        height = parse_measured(what, "length", where, f"{word} 200 ft")[0]
        return Gate.HEIGHT if above else Gate.HEIGHT_BELOW, height
    speed = parse_measured(what, "speed", where, f"{word} 75 kt")[0]
    if not SLOWEST_MPS <= speed <= FASTEST_MPS:
        span = f"{SLOWEST_MPS / KNOT:.0f} to {FASTEST_MPS / KNOT:.0f} kt calibrated"
        raise BadInputError(f"{what} is no speed of a light airplane", where, span)
    return Gate.SPEED if above else Gate.SPEED_BELOW, speed
