"""The printed order as structured steps: what is moved, where to, and what must be seen first.

Written ``"power full; flaps half; gear up when climbing; flaps up at 75 kt"``: steps in the printed order, each an
item, where it goes, and a condition after "when", "once", "after" or "at".
"""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass
from enum import StrEnum

from wringout.errors import BadInputError

EXAMPLE = "power full; flaps half; gear up when climbing; flaps up at 75 kt"
LONGEST_STEP = 120
MOST_STEPS = 24


class Item(StrEnum):
    """What a step is about."""

    POWER = "power"
    FLAPS = "flaps"
    GEAR = "gear"
    PITCH = "pitch"
    SPEED = "speed"
    PROPELLER = "propeller"
    MIXTURE = "mixture"
    CARBURETOR_HEAT = "carburetor heat"
    COWL_FLAPS = "cowl flaps"
    TRIM = "trim"
    OTHER = "other"


class When(StrEnum):
    """What must be seen before a step is made."""

    IN_TURN = ""
    CLIMBING = "climbing"
    OBSTACLES = "clear of obstacles"
    SPEED = "speed"
    SAFE_SPEED = "safe speed"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Step:
    """One printed step.

    Attributes:
        item: what it is about.
        target: where it goes, in the handbook's own word: "full", "half", "20", "up", "slowly up".
        when: what must be seen first.
        condition: the words of the condition as written, "" for none.
        speed_kt: indicated airspeed of a speed condition, kt.
    """

    item: Item
    target: str
    when: When = When.IN_TURN
    condition: str = ""
    speed_kt: float | None = None

    def __str__(self) -> str:
        """Return it as :func:`parse_steps` reads it."""
        parts = [str(self.item), self.target, self.condition]
        return " ".join(part for part in parts if part)


_NAMES: tuple[tuple[str, Item], ...] = (
    ("cowl flaps", Item.COWL_FLAPS),
    ("carburetor heat", Item.CARBURETOR_HEAT),
    ("carburettor heat", Item.CARBURETOR_HEAT),
    ("carb heat", Item.CARBURETOR_HEAT),
    ("landing gear", Item.GEAR),
    ("undercarriage", Item.GEAR),
    ("wing flaps", Item.FLAPS),
    ("manifold pressure", Item.POWER),
    ("throttle", Item.POWER),
    ("propeller", Item.PROPELLER),
    ("attitude", Item.PITCH),
    ("airspeed", Item.SPEED),
    ("mixture", Item.MIXTURE),
    ("power", Item.POWER),
    ("pitch", Item.PITCH),
    ("climb", Item.SPEED),
    ("flaps", Item.FLAPS),
    ("flap", Item.FLAPS),
    ("gear", Item.GEAR),
    ("speed", Item.SPEED),
    ("trim", Item.TRIM),
    ("other", Item.OTHER),
)
_ITEMS = dict(_NAMES)
_NAME = re.compile(rf"({'|'.join(name for name, _ in _NAMES)})\b", re.IGNORECASE)
_CONDITION = re.compile(r"\b(when|once|after|at|above|with)\b.*$", re.IGNORECASE)
_SPEED = re.compile(r"(\d{2,3}(?:\.\d)?)\s*(kt|kts|knots|kias|ias|mph)\b", re.IGNORECASE)
_CLIMBING = re.compile(r"climb|positive rate|rate of climb", re.IGNORECASE)
_OBSTACLES = re.compile(r"obstacle|landing (?:is )?(?:no longer )?(?:im)?possible|runway|clear of", re.IGNORECASE)
_SAFE = re.compile(r"safe (?:air)?speed", re.IGNORECASE)
_KNOTS_PER_MPH = 1609.344 / 1852.0


def parse_steps(text: str, where: str = "steps") -> tuple[Step, ...]:
    """Return the steps of a text, in its order.

    Raises:
        BadInputError: a step names no item, or there are too many; the step is named by its number.
    """
    parts = [" ".join(part.split()) for part in re.split(r"[;\n]", text)]
    parts = [part for part in parts if part]
    if not parts:
        raise BadInputError("no step is written", where, f'write for example "{EXAMPLE}"')
    if len(parts) > MOST_STEPS:
        raise BadInputError(f"there are {len(parts)} steps", where, f"keep the order within {MOST_STEPS}")
    return tuple(_known_step(part) or _step(part, f"{where}, step {number}") for number, part in enumerate(parts, 1))


@functools.lru_cache(maxsize=4096)
def _known_step(part: str) -> Step | None:
    """Return a step, or None where it cannot be read; registers say the same few steps over and over."""
    try:
        return _step(part, "")
    except BadInputError:
        return None


def _step(part: str, where: str) -> Step:
    if len(part) > LONGEST_STEP:
        raise BadInputError(f"the step has {len(part)} characters", where, "part steps by a semicolon")
    named = _NAME.match(part)
    name = "" if named is None else named[1]
    item = _ITEMS.get(name.lower())
    if item is None:
        known = ", ".join(dict.fromkeys(str(i) for _, i in _NAMES))
        raise BadInputError(f"{part[:40]!r} names nothing that is moved", where, f"begin with one of {known}")
    rest = part[len(name) :].strip(" :-–—,")
    found = None if item in (Item.PITCH, Item.SPEED, Item.OTHER, Item.TRIM) else _CONDITION.search(rest)
    condition = found.group().strip() if found else ""
    target = (rest[: found.start()] if found else rest).strip(" ,")
    target = re.sub(r"\s*(?:°|deg|degrees)$", "", target)
    if item in (Item.GEAR, Item.FLAPS) and not target:
        raise BadInputError(f"{part[:40]!r} does not say where to", where, f'write for example "{item} up"')
    when, speed_kt = _when(condition)
    return Step(item, target, when, condition, speed_kt)


def _when(condition: str) -> tuple[When, float | None]:
    if not condition:
        return When.IN_TURN, None
    speed = _SPEED.search(condition)
    if speed is not None:
        value = float(speed[1])
        return When.SPEED, value * _KNOTS_PER_MPH if speed[2].lower() == "mph" else value
    for pattern, when in ((_CLIMBING, When.CLIMBING), (_SAFE, When.SAFE_SPEED), (_OBSTACLES, When.OBSTACLES)):
        if pattern.search(condition):
            return when, None
    return When.OTHER, None


def steps_text(steps: tuple[Step, ...]) -> str:
    """Return steps as :func:`parse_steps` reads them."""
    return "; ".join(str(step) for step in steps)


def cleaning_up(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Return the steps that move gear or flaps, in order."""
    return tuple(step for step in steps if step.item in (Item.GEAR, Item.FLAPS))


def order_words(steps: tuple[Step, ...]) -> str:
    """Return the order in which gear and flaps are moved, in a few words: ``"flaps half, gear up, flaps up"``."""
    moved = cleaning_up(steps)
    return ", ".join(f"{step.item} {step.target}" for step in moved) if moved else "nothing is raised"
