"""What a technique, a situation and a matchup are. Values only; SI units; angles in radians.

Speeds that carry ``cas`` in their name are calibrated airspeeds. Times run from the decision to go around.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from wringout.units import DEGREE

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Range = tuple[float, float]

MAX_ACTIONS = 8
"""Most actions one technique may have."""


class Device(StrEnum):
    """A device the pilot moves."""

    GEAR = "gear"
    FLAPS = "flaps"
    POWER = "power"


class Gate(StrEnum):
    """What the pilot must see before making an action, besides time having passed."""

    NONE = "none"
    POSITIVE_CLIMB = "positive climb"
    SPEED = "speed"
    SPEED_BELOW = "speed no more than"
    HEIGHT = "height"
    HEIGHT_BELOW = "height no more than"


class Law(StrEnum):
    """How the pilot flies pitch during the manoeuvre."""

    HOLD_ATTITUDE = "hold attitude"
    HOLD_SPEED = "hold speed"
    LEVEL_THEN_CLIMB = "level, then climb"


@dataclass(frozen=True, slots=True)
class Action:
    """One movement of one lever.

    Attributes:
        device: the gear, the flaps or the power lever.
        target: gear 0 (up) to 1 (down); flaps the angle, rad; power -1 (none) by 0 (that of the start) to 1 (full).
        wait_s: pause the technique itself asks for after the previous action (the first: after the power lever has
            reached the stop), s. The pilot's reaction delay of the situation comes on top.
        gate: what must also be seen before the action is made.
        gate_value: climb rate, m/s, calibrated airspeed, m/s, or height above the ground, m, at which the gate opens.
        when_settled: whether a device that is still moving is waited for, so that "flaps to half, flaps up" does stop
            at half; if not, it is turned round or sent on from where it is.
        hand_s: how long the hand stays on the lever before it is free for the next one, s.
    """

    device: Device
    target: float
    wait_s: float = 0.0
    gate: Gate = Gate.NONE
    gate_value: float = 0.0
    when_settled: bool = True
    hand_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Technique:
    """Actions in order; each one is made only after the one before it (one hand, one lever at a time).

    Attributes:
        key: short stable name, e.g. ``"flaps-half,gear-up,flaps-up"``.
        title: plain words of the trade, e.g. ``"Flaps to half, gear up, flaps up"``.
        actions: in the order they are made.
        complete: whether the airplane ends clean; a technique that does not is kept as a baseline.
    """

    key: str
    title: str
    actions: tuple[Action, ...]
    complete: bool = True


class EntryReference(StrEnum):
    """What an entry speed is measured in."""

    VS0 = "times the stall speed in the starting configuration"
    CAS = "m/s calibrated"


@dataclass(frozen=True, slots=True)
class EntrySpeed:
    """Speed on the approach: a multiple of the 1 g stall speed in the starting configuration, or calibrated m/s.

    As a multiple it is taken of each draw's own stall speed, so the margin at the start is exactly the stated one.
    """

    value: float
    reference: EntryReference = EntryReference.VS0


@dataclass(frozen=True, slots=True)
class Handling:
    """How fast and how firmly the pilot pitches.

    Attributes:
        pitch_rate_rps: rate of rotation to the go-around attitude, rad/s.
        path_time_s: time constant with which the flight path follows the wanted one, s.
        speed_time_s: time constant with which a speed error is flown off, s.
        load_factor: lowest and highest load factor used; approached smoothly, never passed.
        path_rate_rps: largest rate of the flight path, rad/s; limits the load factor too.
    """

    pitch_rate_rps: float = 3.0 * DEGREE
    path_time_s: float = 1.0
    speed_time_s: float = 4.0
    load_factor: Range = (0.8, 1.2)
    path_rate_rps: float = 10.0


@dataclass(frozen=True, slots=True)
class GoAround:
    """A go-around from a steady approach, up to the technique: everything but what the hands do with gear and flaps.

    Neither ground contact nor ground effect is modelled: a trajectory that reaches the ground flies on below it, and
    the verdict counts it against the lowest acceptable height.

    Attributes:
        start_flap_rad: flap angle on the approach.
        entry_speed: speed on the approach.
        descent_rad: descent angle, positive down.
        start_height_m: height above the ground at the decision.
        start_gear: gear position, 1 down.
        power_delay_s: from the decision to the first movement of the power lever.
        power_ramp_s: from approach power (in equilibrium on the descent path) to full power, linear; the hand is on
            that lever until then.
        reaction_s: mean and standard deviation of the pilot's delay before each action, lognormal, s.
        duration_s: how long each trajectory is flown.
        climb_speed_factor: speed to climb at after levelling, in multiples of the stall speed with flaps up.
        pitch_up_rad: for the law "hold attitude": how far the nose is raised from the approach attitude. None means
            to the attitude of the steady climb that full power gives at the entry speed before anything is retracted.
        handling: rates and limits of pitching.
    """

    start_flap_rad: float
    entry_speed: EntrySpeed
    descent_rad: float = 3.0 * DEGREE
    start_height_m: float = 30.0
    start_gear: float = 1.0
    power_delay_s: float = 1.0
    power_ramp_s: float = 2.0
    reaction_s: Range = (2.0, 0.7)
    duration_s: float = 60.0
    climb_speed_factor: float = 1.3
    pitch_up_rad: float | None = None
    handling: Handling = field(default_factory=Handling)

    @property
    def title(self) -> str:
        """What is flown, in plain words."""
        return "Go-around from the approach"

    @property
    def by_law(self) -> bool:
        """Whether pitch is flown by a pilot law."""
        return True


@dataclass(frozen=True, slots=True)
class Domain:
    """The conditions a verdict is for: each a (lowest, highest), sampled uniformly and alike for all techniques.

    Attributes:
        mass_kg: stated mass.
        pressure_altitude_m: at the start.
        isa_deviation_k: air temperature less the standard one.
        entry_speed: in the unit of the situation's entry speed.
    """

    mass_kg: Range
    pressure_altitude_m: Range
    isa_deviation_k: Range
    entry_speed: Range


@dataclass(frozen=True, slots=True)
class Conditions:
    """The conditions of one trajectory; reaction delays in the order of the actions, s (empty: none)."""

    mass_kg: float
    pressure_altitude_m: float
    isa_deviation_k: float
    entry_speed: float
    reactions_s: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class FlightLimits:
    """Limits from the airplane's approved manual; None where it states none.

    Attributes:
        flaps_extended_cas_mps: ``(angle rad, VFE m/s)`` pairs; between settings the limit of the larger one holds.
        gear_extended_cas_mps: VLE.
        gear_operating_cas_mps: VLO, for retraction; holds while the gear moves.
        max_mass_kg: maximum mass.
    """

    flaps_extended_cas_mps: tuple[tuple[float, float], ...] = ()
    gear_extended_cas_mps: float | None = None
    gear_operating_cas_mps: float | None = None
    max_mass_kg: float | None = None


@dataclass(frozen=True, slots=True)
class Thresholds:
    """What counts as a win and what cannot be accepted; stated before flying.

    Attributes:
        score: key of the score that decides (see `wringout.techniques.flying.scores.SCORES`).
        difference: smallest difference of that score that matters in the cockpit, in its SI unit.
        probability: share of draws in which one technique must be ahead by that difference to be favoured.
        min_stall_ratio: smallest acceptable V/Vs at the moment's flap angle, weight and load factor.
        min_height_m: smallest acceptable height above the ground.
        allowed_share: share of draws that may break a margin.
    """

    score: str = "energy_height_30s"
    difference: float = 3.0
    probability: float = 0.9
    min_stall_ratio: float = 1.1
    min_height_m: float = 0.0
    allowed_share: float = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """One trajectory in time; arrays of equal length. A moment of sudden change appears twice, before and after.

    Heights are relative to the start, areas are equivalent parasite areas, pitch is measured from the clean wing's
    zero-lift line. ``action_times_s`` has one entry per action, NaN for one never made. ``power`` runs from -1 (none)
    by 0 (that of the start) to 1 (full).
    """

    technique: str
    law: Law
    t_s: FloatArray
    height_m: FloatArray
    distance_m: FloatArray
    tas_mps: FloatArray
    cas_mps: FloatArray
    energy_height_m: FloatArray
    climb_rate_mps: FloatArray
    stall_ratio: FloatArray
    load_factor: FloatArray
    path_rad: FloatArray
    pitch_rad: FloatArray
    gear: FloatArray
    flap_rad: FloatArray
    thrust_n: FloatArray
    drag_n: FloatArray
    clean_area_m2: FloatArray
    gear_area_m2: FloatArray
    flap_area_m2: FloatArray
    action_times_s: FloatArray
    scores: FloatArray
    power: FloatArray
    weight_n: float


class Situation(Protocol):
    """What a go-around and any other procedure have in common, as those who report results need it."""

    @property
    def start_flap_rad(self) -> float:
        """Flap angle at the start, rad."""

    @property
    def start_gear(self) -> float:
        """Gear position at the start, 1 down."""

    @property
    def start_height_m(self) -> float:
        """Height above the ground at the start, m."""

    @property
    def entry_speed(self) -> EntrySpeed:
        """Speed at the start."""

    @property
    def duration_s(self) -> float:
        """Longest time flown, s."""

    @property
    def title(self) -> str:
        """What is flown, in plain words."""

    @property
    def by_law(self) -> bool:
        """Whether pitch is flown by a pilot law."""


@dataclass(frozen=True, slots=True, eq=False)
class Matchup:
    """All techniques flown on the same draws and conditions under one pilot law.

    Attributes:
        scores: shape (draws, techniques, scores), SI, in the order of ``SCORES``.
        conditions: shape (draws, ``len(CONDITION_NAMES)``), in the order of ``CONDITION_NAMES``.
        traces: one per technique, all on ``representative``, the draw nearest the middle of the deciding score.
    """

    techniques: tuple[Technique, ...]
    law: Law
    situation: Situation
    domain: Domain
    thresholds: Thresholds
    draws: int
    seed: int
    scores: FloatArray
    conditions: FloatArray
    representative: int
    traces: tuple[Trace, ...]

    @property
    def flown(self) -> str:
        """How pitch is flown: the pilot law, or the name of a procedure that says it itself."""
        return self.law.value if self.situation.by_law else self.situation.title
