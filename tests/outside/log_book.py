"""The book of a logged flight: pilot, clock, levers, records, and what a piece, a segment and a move are.

See `logs`. Nothing of the package under test is imported here.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from .airplanes import FT_PER_NAUTICAL_MILE, L17, PC7, STEP_S, set_power, thrust_lbf
from .pilot import Pilot

RECORD_EVERY = 6  # steps: 20 Hz
COLUMNS = (
    "time_s",
    "ias_kt",
    "tas_kt",
    "altitude_ft",
    "climb_fpm",
    "heading_deg",
    "pitch_deg",
    "roll_deg",
    "flap_deg",
    "gear",
    "rpm",
    "manifold_inhg",
    "throttle",
    "alpha_deg",
    "thrust_lbf",
    "north_kt",
    "east_kt",
)
FULL_POWER = {L17.model: 0.78, PC7.model: 0.9}
"""Throttle of climbs and go-arounds; full throttle turns the engine of L17 over its rated speed."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One thing to fly.

    Attributes:
        kind: one of `KINDS`.
        kias: speed to fly it at, or to enter it at; 0 where it has its own.
        seconds: how long it is flown once steady; 0 where it has its own end.
        device, flap_deg: what is moved ("gear", "flaps"), and how far; ``flap_deg`` is also the setting of stalls,
            glides and approaches.
        gear: the gear of glides and approaches, 1 down.
        bank_deg: of a turn, right positive. ``turn_deg``: how far it goes round.
        order: of a go-around: "gear" for up, or a flap angle in degrees, in the order of the hands.
        pause_s: between the moves of a go-around, the first after the power.
        altitude_ft: where a climb or descent leads.
    """

    kind: str
    kias: float = 0.0
    seconds: float = 0.0
    device: str = ""
    flap_deg: float = 0.0
    gear: float = 0.0
    bank_deg: float = 0.0
    turn_deg: float = 0.0
    order: tuple[str | float, ...] = ()
    pause_s: float = 3.0
    altitude_ft: float = 0.0


@dataclass(frozen=True, slots=True)
class Segment:
    """What was flown from ``start_s`` to ``end_s``. ``piece`` is what was asked for.

    Level runs start where power is frozen and speed steady, 15 s before the lever moves, and end 30 s after the speed
    stands still, or near the stall. A stall is the fall of speed from 1.2 times the stall speed to ``break_s``. What
    lies between the pieces of a flight has the kind "in between".
    """

    kind: str
    start_s: float
    end_s: float
    piece: Piece
    break_s: float | None = None


@dataclass(frozen=True, slots=True)
class Move:
    """A lever moved at ``time_s``: the device, "gear" or "flaps", and where to: 0 or 1, or degrees.

    ``arrived_s`` is when the device stood there, None where it was sent elsewhere before.
    """

    time_s: float
    device: str
    target: float
    arrived_s: float | None = None


@dataclass(slots=True)
class Book:
    """The flight being flown: pilot, clock, records, labels; ``height_ft`` is the level to hold."""

    pilot: Pilot
    height_ft: float
    step: int = 0
    rows: list[tuple[float, ...]] = field(default_factory=list)
    segments: list[Segment] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)
    power_sum: float = 0.0
    sought_kias: float = 0.0

    @property
    def now_s(self) -> float:
        return self.step * STEP_S

    @property
    def kias(self) -> float:
        return float(self.pilot.fdm["velocities/vc-kts"])

    @property
    def near_stall(self) -> bool:
        return bool(self.pilot.fdm["aero/alpha-rad"] > self.pilot.airplane.stop_alpha_rad)

    def fly(self, seconds: float, act: Callable[[], None], until: Callable[[], bool] = lambda: False) -> bool:
        """Fly for so long, or until something holds; True if it did."""
        end = self.step + round(seconds / STEP_S)
        while self.step < end:
            if self.step % RECORD_EVERY == 0:
                self.rows.append(_row(self.pilot, self.now_s))
            act()
            self.step += 1
            if until():
                return True
        return False

    def power(self, throttle: float) -> None:
        self.pilot.throttle = min(max(throttle, 0.0), 1.0)
        set_power(self.pilot.fdm, self.pilot.airplane, self.pilot.throttle)

    def full_power(self, over_s: float = 2.0) -> None:
        """Move the throttle one step towards climb power."""
        most = FULL_POWER.get(self.pilot.airplane.model, 1.0)
        self.power(min(self.pilot.throttle + STEP_S / over_s, max(most, self.pilot.throttle)))

    def seek(self) -> None:
        """Start working the throttle from the speed and lever of the moment."""
        self.sought_kias, self.power_sum = self.kias, self.pilot.throttle

    def work_power(self, kias: float) -> None:
        """Work the throttle for one step so that the speed goes to ``kias`` at 0.8 kt/s and stays there."""
        self.sought_kias += max(min(kias - self.sought_kias, 0.8 * STEP_S), -0.8 * STEP_S)
        short = self.sought_kias - self.kias
        self.power_sum = min(max(self.power_sum + 0.003 * short * STEP_S, 0.0), 1.0)
        wanted = min(max(self.power_sum + 0.03 * short, 0.0), 1.0)
        most = 0.3 * STEP_S
        self.power(self.pilot.throttle + max(min(wanted - self.pilot.throttle, most), -most))

    def move(self, device: str, target: float) -> None:
        """Move a lever."""
        fdm = self.pilot.fdm
        if device == "gear":
            fdm["gear/gear-cmd-norm"] = target
        else:
            fdm["fcs/flap-cmd-norm"] = target / self.pilot.airplane.full_flap_deg
        self.moves.append(Move(self.now_s, device, target))

    def out(self, device: str) -> float:
        """Return where the lever of a device stands."""
        fdm, full = self.pilot.fdm, self.pilot.airplane.full_flap_deg
        return float(fdm["gear/gear-cmd-norm"] if device == "gear" else fdm["fcs/flap-cmd-norm"] * full)

    def configure(self, flap_deg: float, gear: float) -> None:
        """Bring both devices where they are wanted."""
        for device, wanted in (("gear", gear), ("flaps", flap_deg)):
            if abs(self.out(device) - wanted) > 1e-6:
                self.move(device, wanted)

    def note(self, kind: str, start_s: float, piece: Piece, break_s: float | None = None) -> None:
        self.segments.append(Segment(kind, start_s, self.now_s, piece, break_s))


def _row(pilot: Pilot, time_s: float) -> tuple[float, ...]:
    fdm = pilot.fdm
    knot = FT_PER_NAUTICAL_MILE / 3600.0
    pressure = fdm["propulsion/engine/map-inhg"] if pilot.airplane.model != PC7.model else math.nan
    return (
        time_s,
        fdm["velocities/vc-kts"],
        fdm["velocities/vt-fps"] / knot,
        fdm["atmosphere/pressure-altitude"],
        fdm["velocities/h-dot-fps"] * 60.0,
        fdm["attitude/psi-deg"],
        math.degrees(fdm["attitude/theta-rad"]),
        math.degrees(fdm["attitude/phi-rad"]),
        fdm["fcs/flap-pos-deg"],
        fdm["gear/gear-pos-norm"],
        fdm["propulsion/engine/propeller-rpm"],
        pressure,
        pilot.throttle,
        math.degrees(fdm["aero/alpha-rad"]),
        thrust_lbf(fdm, pilot.airplane),
        fdm["velocities/v-north-fps"] / knot,
        fdm["velocities/v-east-fps"] / knot,
    )
