"""A printed order read as something that can be flown, with every doubt about its words listed.

Where the words leave room, each way of reading them is kept as a reading of its own; nothing is decided for the pilot.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from wringout.airplane.beliefs import Beliefs, FlapSetting
from wringout.airspeed import calibrated_from_indicated
from wringout.errors import BadInputError
from wringout.handbooks.steps import Item, Step, When, cleaning_up, parse_steps
from wringout.units import DEGREE, KNOT

GENERAL_TEXT = "power full; flaps intermediate; gear up when climbing; flaps up in steps"
GENERAL_ORDER = parse_steps(GENERAL_TEXT)
GENERAL_SOURCE = (
    "FAA-H-8083-3C, Airplane Flying Handbook, chapter 9, Go-Arounds (Rejected Landings): full or maximum allowable "
    "power first; unless the airplane's own handbook says otherwise, flaps at least partially up before the gear, the "
    "gear up after a positive rate of climb is established, the rest of the flaps in small increments"
)

MOST_READINGS = 8
MOST_MOVES = 8
_SAME = 1e-6
_NEAR = 0.75 * DEGREE
_FULL_POWER = re.compile(r"full|max|take-?off|go-?around|rated", re.IGNORECASE)
_UP = re.compile(r"\b(up|retract|retracted|raise|raised|zero|0)\b", re.IGNORECASE)
_STAGES = re.compile(r"slow|stage|step|increment|gradual|notch by notch", re.IGNORECASE)
_PARTLY = re.compile(r"intermediate|partial|partly|take-?off|approach", re.IGNORECASE)
_NOTCH = re.compile(r"\bone (?:notch|setting)\b|\bnext\b", re.IGNORECASE)
_NUMBER = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Move:
    """One movement of gear or flaps as it would be flown.

    Attributes:
        is_gear: whether it is the gear (up) or the flaps.
        flap_rad: where the flaps go, rad; 0 for the gear.
        name: of the flap setting.
        climbing: whether the airplane must be climbing first.
        speed_cas_mps: calibrated airspeed that must be reached first, m/s.
        speed_kt: the same as printed, indicated, kt.
    """

    is_gear: bool
    flap_rad: float = 0.0
    name: str = ""
    climbing: bool = False
    speed_cas_mps: float | None = None
    speed_kt: float | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """One way of reading a printed order. ``choices`` says how each doubt was settled in it."""

    moves: tuple[Move, ...]
    choices: tuple[str, ...]

    @property
    def key(self) -> str:
        """A short stable name, the same for the same movements."""
        return ",".join(_key(move) for move in self.moves) or "power-only"

    @property
    def title(self) -> str:
        """The movements in plain words."""
        if not self.moves:
            return "Power only, nothing retracted"
        said = ", ".join(_words(move) for move in self.moves)
        return said[0].upper() + said[1:]


@dataclass(frozen=True, slots=True)
class Readings:
    """Every way of reading one printed order.

    Attributes:
        readings: at least one.
        doubts: what the words leave open, a sentence each.
        not_flown: steps that the computation knows nothing of, a sentence each.
    """

    readings: tuple[Reading, ...]
    doubts: tuple[str, ...]
    not_flown: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to make one step: its movements, where the flaps are then, and how it was read ("" if no doubt)."""

    moves: tuple[Move, ...]
    flap_rad: float
    choice: str = ""


def read_order(steps: Sequence[Step], beliefs: Beliefs, start_flap_rad: float, where: str = "steps") -> Readings:
    """Return every way of reading a printed order on an airplane.

    Args:
        steps: the printed order.
        beliefs: the airplane: its flap settings, its airspeed indicator, whether its gear moves.
        start_flap_rad: flap angle on the approach, rad.
        where: names the entry in an error.

    Raises:
        BadInputError: a flap position is no setting of the airplane and cannot be guessed, or the order is too long.
    """
    doubts = list(_about_power(steps))
    partial = [Reading((), ())]
    flaps = [start_flap_rad]
    for number, step in enumerate(cleaning_up(tuple(steps)), 1):
        grown, angles = [], []
        for reading, angle in zip(partial, flaps, strict=True):
            for way in _ways(step, beliefs, angle, f"{where}, movement {number}", doubts):
                choices = (*reading.choices, way.choice) if way.choice else reading.choices
                grown.append(Reading((*reading.moves, *way.moves), choices))
                angles.append(way.flap_rad)
        partial, flaps = grown, angles
    kept = list({reading.key: reading for reading in reversed(partial)}.values())[::-1]
    if any(len(reading.moves) > MOST_MOVES for reading in kept):
        raise BadInputError(f"the order asks for more than {MOST_MOVES} movements", where, "leave out what repeats")
    if len(kept) > MOST_READINGS:
        doubts.append(f"{len(kept)} readings are possible; the first {MOST_READINGS} are flown.")
        kept = kept[:MOST_READINGS]
    if any(reading.moves != () for reading in kept) and beliefs.retractable and not _raises_gear(kept):
        doubts.append("It does not say when the gear comes up: flown with the gear left down.")
    return Readings(tuple(kept), tuple(dict.fromkeys(doubts)), tuple(_not_flown(steps, beliefs)))


def general_readings(beliefs: Beliefs, start_flap_rad: float) -> Readings:
    """Return the readings of the general order of the training handbooks (see ``GENERAL_SOURCE``) on an airplane."""
    settings = [s for s in beliefs.settings if _SAME < s.angle_rad < start_flap_rad - _SAME]
    steps = GENERAL_ORDER if settings else tuple(s for s in GENERAL_ORDER if s.target != "intermediate")
    return read_order(steps, beliefs, start_flap_rad, "general order")


def _raises_gear(readings: Sequence[Reading]) -> bool:
    return any(move.is_gear for reading in readings for move in reading.moves)


def _about_power(steps: Sequence[Step]) -> list[str]:
    power = [place for place, step in enumerate(steps) if step.item is Item.POWER]
    moved = [place for place, step in enumerate(steps) if step.item in (Item.GEAR, Item.FLAPS)]
    if not power:
        return ["It does not name the power: flown with full power first."]
    found = []
    words = steps[power[0]].target
    if not _FULL_POWER.search(words):
        found.append(f"It says power “{words or 'on'}”: flown as full power, which may be more than it means.")
    if moved and power[0] > moved[0]:
        found.append("It prints the power after the first movement of gear or flaps: flown with the power first.")
    return found


def _not_flown(steps: Sequence[Step], beliefs: Beliefs) -> list[str]:
    names = [str(s.item) for s in steps if s.item not in (Item.POWER, Item.GEAR, Item.FLAPS)]
    found = []
    if names:
        found.append(f"Not part of the computation: {', '.join(dict.fromkeys(names))}.")
    if not beliefs.retractable and any(s.item is Item.GEAR for s in steps):
        found.append("It prints a movement of the gear, but the gear of this airplane is fixed.")
    return found


def _ways(step: Step, beliefs: Beliefs, angle: float, where: str, doubts: list[str]) -> list[_Way]:
    """Return the ways to make a step from a flap angle; doubts about it are added to ``doubts``."""
    if step.item is Item.GEAR:
        if not beliefs.retractable or not _UP.search(step.target):
            return [_Way((), angle)]
        ways = [_Way((Move(True),), angle)]
    else:
        ways = _flap_ways(step, beliefs.settings, angle, where, doubts)
    return [waited for way in ways for waited in (_waits(step, way, beliefs, angle, doubts) if way.moves else [way])]


def _flap_ways(step: Step, settings: Sequence[FlapSetting], angle: float, where: str, doubts: list[str]) -> list[_Way]:
    below = [s for s in settings if s.angle_rad < angle - _SAME]
    targets = _targets(step, settings, below, where)
    if len(targets) > 1:
        names = " or ".join(f"“{s.name}”" for s in targets)
        doubts.append(f"It says flaps “{step.target}”, which can be {names} here: each is flown.")
    ways = []
    for target in targets:
        choice = f"flaps “{step.target}” as {target.name}" if len(targets) > 1 else ""
        if target.angle_rad >= angle - _SAME:
            ways.append(_Way((), angle, choice))
            continue
        between = [s for s in reversed(below) if target.angle_rad < s.angle_rad]
        once = _Way((_flap(target),), target.angle_rad, choice)
        steps = _Way(tuple(_flap(s) for s in (*between, target)), target.angle_rad, choice)
        if not between or _PARTLY.search(step.target):
            ways.append(once)
        elif _STAGES.search(step.target):
            ways.append(steps)
        else:
            doubts.append(
                f"It says flaps “{step.target}” past {_settings_between(between)}, and not whether in one movement or "
                "in steps: both are flown."
            )
            both = ("in one movement", "in steps")
            ways += [
                replace(way, choice=", ".join(x for x in (choice, f"flaps {target.name} {how}") if x))
                for way, how in zip((once, steps), both, strict=True)
            ]
    return ways


def _settings_between(between: Sequence[FlapSetting]) -> str:
    names = [s.name for s in between]
    return f"the setting {names[0]}" if len(names) == 1 else f"the settings {' and '.join(names)}"


def _flap(setting: FlapSetting) -> Move:
    return Move(False, setting.angle_rad, setting.name)


def _targets(
    step: Step, settings: Sequence[FlapSetting], below: Sequence[FlapSetting], where: str
) -> list[FlapSetting]:
    """Return the settings a flap step can mean, the likeliest first."""
    words = step.target.lower()
    bare = _STAGES.sub("", words).strip(" ,ly")
    named = next((s for s in settings if s.name.lower() in (words, bare)), None)
    if named is not None:
        return [named]
    number = _NUMBER.search(words)
    if number is not None and float(number[0]) > 0.0:
        return _nearest(float(number[0]), settings)
    if _UP.search(words):
        return [settings[0]]
    middle = [s for s in below if s.angle_rad > _SAME]
    if _NOTCH.search(words) and below:
        return [below[-1]]
    if _PARTLY.search(words) and middle:
        return list(reversed(middle))
    names = ", ".join(s.name for s in settings)
    raise BadInputError(f"flaps “{step.target}” is no setting of this airplane", where, f"write one of {names}")


def _nearest(degrees: float, settings: Sequence[FlapSetting]) -> list[FlapSetting]:
    wanted = degrees * DEGREE
    exact = [s for s in settings if abs(s.angle_rad - wanted) <= _NEAR]
    if exact:
        return exact[:1]
    around = [pair for pair in pairwise(settings) if pair[0].angle_rad < wanted < pair[1].angle_rad]
    return list(around[0][::-1]) if around else [settings[-1]]


def _waits(step: Step, way: _Way, beliefs: Beliefs, angle: float, doubts: list[str]) -> list[_Way]:
    """Return a way with what must be seen before its first movement; two ways where the words leave it open."""
    first, *rest = way.moves
    what = "the gear" if first.is_gear else "the flaps"
    if step.when is When.IN_TURN:
        return [way]
    if step.when is When.CLIMBING:
        return [replace(way, moves=(replace(first, climbing=True), *rest))]
    if step.when is When.SPEED and step.speed_kt is not None:
        table = beliefs.instrument.position_error
        cas = float(calibrated_from_indicated(step.speed_kt * KNOT, table, angle / DEGREE, 1.0))
        return [replace(way, moves=(replace(first, speed_cas_mps=cas, speed_kt=step.speed_kt), *rest))]
    if step.when is When.SAFE_SPEED:
        doubts.append(f"It says “{step.condition}” for {what} without a number: flown when its turn comes.")
        return [way]
    doubts.append(
        f"It says “{step.condition}” for {what}, which the computation cannot see: flown when its turn comes, and once "
        "climbing."
    )
    said = f"{what.removeprefix('the ')} “{step.condition}” as"
    return [
        replace(way, choice=_joined(way.choice, f"{said} at its turn")),
        replace(
            way,
            moves=(replace(first, climbing=True), *rest),
            choice=_joined(way.choice, f"{said} once climbing"),
        ),
    ]


def _joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


def _key(move: Move) -> str:
    if move.is_gear:
        key = "gear-up"
    else:
        key = "flaps-up" if move.flap_rad <= _SAME else f"flaps-{move.name.lower().replace(' ', '-')}"
    if move.climbing:
        return f"{key}-climbing"
    return f"{key}-at-{move.speed_kt:.0f}kt" if move.speed_kt is not None else key


def _words(move: Move) -> str:
    flaps = "flaps up" if move.flap_rad <= _SAME else f"flaps to {move.name}"
    words = "gear up" if move.is_gear else flaps
    if move.climbing:
        return f"{words} once climbing"
    return f"{words} at {move.speed_kt:.0f} kt" if move.speed_kt is not None else words
