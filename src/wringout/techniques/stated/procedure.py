"""A procedure as data: start, power lever, stages of flying pitch, what fails, the runway, and when it ends. SI.

The kernel flies any procedure; a go-around is one way to fill one in. Procedures of the trade are in
`wringout.techniques.stated.procedures`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from wringout.techniques.stated.types import EntrySpeed, Handling, Range

MAX_STAGES = 6
MAX_POWER_MOVES = 4


class Aim(StrEnum):
    """What a stage of flying holds, and what its value is counted in."""

    START_ATTITUDE = "attitude of the start"  # value: rad above it
    CLIMB_ATTITUDE = "attitude of the steady climb"  # full power at the entry speed, nothing moved; rad above it
    ENTRY_SPEED = "times the entry speed"
    CLEAN_STALL = "times the stall speed with flaps up"
    START_STALL = "times the stall speed in the starting configuration"
    CALIBRATED = "m/s calibrated"
    PATH = "flight path"  # value: rad, positive up


SPEED_AIMS = frozenset({Aim.ENTRY_SPEED, Aim.CLEAN_STALL, Aim.START_STALL, Aim.CALIBRATED})
ATTITUDE_AIMS = frozenset({Aim.START_ATTITUDE, Aim.CLIMB_ATTITUDE})


class When(StrEnum):
    """What ends a stage, or the whole procedure."""

    NEVER = "never"
    TIME = "time"  # s from the start
    POWER_MOVES = "power moves"  # the first movement of the power lever
    SPEED_ABOVE = "speed at least"
    SPEED_BELOW = "speed at most"
    HEIGHT_ABOVE = "height at least"  # m above the ground
    HEIGHT_BELOW = "height at most"
    CLIMB_ABOVE = "climb rate at least"  # m/s


@dataclass(frozen=True, slots=True)
class Until:
    """A condition: ``value`` in s, m, m/s or, for speeds, in the unit of ``aim`` (one of the speed aims)."""

    when: When = When.NEVER
    value: float = 0.0
    aim: Aim = Aim.CALIBRATED


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of flying pitch: hold ``aim`` at ``value`` until a condition is met. A row of them is a schedule."""

    aim: Aim
    value: float
    until: Until = field(default_factory=Until)


class StartPower(StrEnum):
    """Power at the start."""

    BALANCED = "what the path needs"
    NONE = "none"
    FULL = "full"


@dataclass(frozen=True, slots=True)
class PowerMove:
    """One movement of power that happens by the clock: the pilot's hand, or the engine failing.

    Attributes:
        at_s: when it begins.
        ramp_s: how long it takes, linear.
        target: -1 none, 0 the power of the start, 1 full throttle.
        by_hand: whether the pilot's hand makes it (and is busy until it is done) or it happens to the pilot.
    """

    at_s: float
    ramp_s: float
    target: float
    by_hand: bool = True


@dataclass(frozen=True, slots=True)
class Travel:
    """How far gear and flaps can move; a device that is stuck has both ends where it stands.

    A lever moved beyond an end takes its device as far as that end. Flaps in rad.
    """

    gear: Range = (0.0, 1.0)
    flap_rad: Range = (0.0, 2.0)


@dataclass(frozen=True, slots=True)
class Ground:
    """The runway: ground effect and contact.

    Attributes:
        wing_height_m: height of the wing above the ground with the wheels on it (invented default: a low wing).
        friction: rolling friction over weight on the wheels (common textbook value for a hard surface: 0.02 to 0.05).
    """

    wing_height_m: float = 1.0
    friction: float = 0.04


@dataclass(frozen=True, slots=True)
class Procedure:
    """Everything but what the hands do with gear and flaps.

    Attributes:
        key, title: short stable name, and plain words.
        start_flap_rad, start_gear, start_height_m: at the start; the height is above the ground.
        entry_speed: at the start.
        descent_rad: descent angle at the start, positive down; None for the steady path that the start power gives.
        start_power: see `StartPower`.
        power: what happens to power by the clock, in order of time, at most ``MAX_POWER_MOVES``.
        stages: how pitch is flown, at most ``MAX_STAGES``.
        hands_free_s: when the clock of the first action starts; None: when the last hand-made power move is done.
        reaction_s: mean and standard deviation of the pilot's delay before each action, lognormal, s.
        duration_s: longest time flown.
        end: ends the procedure before that; the scores of the end are taken there.
        handling: rates and limits of pitching.
        travel: how far devices can move.
        ground: the runway; None flies on below it, as over a valley.
        dead_area_m2: drag area a dead engine adds (windmilling or stopped propeller).
        power_travel_s: time of the power lever from none to the power of the start or from there to full, for actions.
        by_law: whether its stages are those of a pilot law; else it says itself how pitch is flown.
    """

    key: str
    title: str
    start_flap_rad: float
    entry_speed: EntrySpeed
    stages: tuple[Stage, ...]
    start_height_m: float = 300.0
    start_gear: float = 1.0
    descent_rad: float | None = 0.0
    start_power: StartPower = StartPower.BALANCED
    power: tuple[PowerMove, ...] = ()
    hands_free_s: float | None = None
    reaction_s: Range = (2.0, 0.7)
    duration_s: float = 60.0
    end: Until = field(default_factory=Until)
    handling: Handling = field(default_factory=Handling)
    travel: Travel = field(default_factory=Travel)
    ground: Ground | None = None
    dead_area_m2: float = 0.0
    power_travel_s: float = 2.0
    by_law: bool = False

    @property
    def first_action_s(self) -> float:
        """Time at which the delay of the first action begins to run."""
        if self.hands_free_s is not None:
            return self.hands_free_s
        return max((m.at_s + m.ramp_s if m.by_hand else m.at_s for m in self.power), default=0.0)
