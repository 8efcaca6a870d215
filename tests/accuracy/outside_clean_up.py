"""Clean-up orders in a go-around: the technique engine beside JSBSim, on the same start, power, pitch and levers.

The engine flies the row of `identified_airplane`; the times of each order's levers are the engine's own, and JSBSim's
levers are moved at those. What is compared is the height gained 30 s after the decision. Used by the test beside this
file and by tools/accuracy_methods.py.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, replace
from itertools import combinations

from tests.accuracy.identified_airplane import identified_row
from tests.outside.airplanes import L17, PC7, Array, Outside
from tests.outside.clean_up import Away, Flown, LeverMove, Pitch, fly_clean_up, power_ramp_s
from tests.outside.flight_dynamics_model import weight_lb
from wringout.techniques.flying.trace import fly_one
from wringout.techniques.stated.orders import Detent, orders
from wringout.techniques.stated.types import (
    Conditions,
    Device,
    EntryReference,
    EntrySpeed,
    Gate,
    GoAround,
    Handling,
    Law,
    Technique,
    Trace,
)
from wringout.units import DEGREE, FOOT, KNOT, POUND

AT_S = 30.0
MATTERS_FT, SHARE = 10.0, 0.15
LOW_FT = MATTERS_FT / SHARE
"""Nearer to zero than this a share of the height is less than the height that matters."""
REACTION_S = 2.0
LAWS: dict[Pitch, Law] = {"speed": Law.HOLD_SPEED, "attitude": Law.HOLD_ATTITUDE}


@dataclass(frozen=True, slots=True)
class Setting:
    """What one airplane is compared at; the speeds are those its row is fitted at, knots calibrated."""

    away: Away
    fitted_kias: tuple[float, ...]

    @property
    def airplane(self) -> Outside:
        """The model flown."""
        return self.away.airplane


SETTINGS: dict[str, Setting] = {
    "L17": Setting(Away(L17, 78.0, 2000.0, 30.0, 0.82, "speed", pitch_up_rad=6.0 * DEGREE), (70.0, 74.0, 78.0)),
    "pc7": Setting(Away(PC7, 84.0, 2000.0, 30.0, 0.8, "speed", pitch_up_rad=6.0 * DEGREE), (78.0, 84.0, 92.0)),
}


@dataclass(frozen=True, slots=True)
class Order:
    """One order of the hands: heights gained after 30 s, feet, by the engine and by JSBSim."""

    title: str
    moves: tuple[LeverMove, ...]
    engine_ft: float
    outside_ft: float

    @property
    def off(self) -> float:
        """The engine's height less JSBSim's, over JSBSim's."""
        return self.error_ft / abs(self.outside_ft)

    @property
    def error_ft(self) -> float:
        """The engine's height less JSBSim's, feet."""
        return self.engine_ft - self.outside_ft


def techniques(airplane: Outside) -> tuple[Technique, ...]:
    """Return every order without a gate, and the baselines."""
    names = ("half", "full") if len(airplane.flap_settings_deg) == 2 else ("first", "second", "full")
    detents = [Detent("up", 0.0)]
    detents += [Detent(n, a * DEGREE) for n, a in zip(names, airplane.flap_settings_deg, strict=True)]
    every = orders(detents, airplane.full_flap_deg * DEGREE)
    return tuple(t for t in every if all(a.gate is Gate.NONE for a in t.actions))


@functools.cache
def ramp_s(away: Away) -> float:
    """Return the straight ramp that stands for how thrust came up in JSBSim with nothing retracted."""
    return power_ramp_s(fly_clean_up(away, ()), away.power_delay_s)


def situation(away: Away) -> GoAround:
    """Return the same go-around in the engine's terms."""
    return GoAround(
        start_flap_rad=away.flap_deg * DEGREE,
        entry_speed=EntrySpeed(away.entry_kias * KNOT, EntryReference.CAS),
        descent_rad=away.descent_rad,
        power_delay_s=away.power_delay_s,
        power_ramp_s=ramp_s(away),
        reaction_s=(REACTION_S, 0.0),
        duration_s=away.run_s,
        pitch_up_rad=away.pitch_up_rad,
        handling=Handling(speed_time_s=4.0),
    )


def engine(setting: Setting, away: Away, technique: Technique) -> Trace:
    """Fly one order on the technique engine."""
    row = identified_row(setting.airplane, setting.fitted_kias, away.altitude_ft, away.throttle)
    conditions = Conditions(
        mass_kg=weight_lb(setting.airplane) * POUND,
        pressure_altitude_m=away.altitude_ft * FOOT,
        isa_deviation_k=0.0,
        entry_speed=away.entry_kias * KNOT,
        reactions_s=(REACTION_S,) * len(technique.actions),
    )
    return fly_one(row, situation(away), conditions, technique, LAWS[away.pitch])


def lever_moves(technique: Technique, times_s: Array) -> tuple[LeverMove, ...]:
    """Return the engine's actions as lever movements."""
    return tuple(
        LeverMove(
            round(float(t), 2), a.device.value, a.target if a.device is Device.GEAR else round(a.target / DEGREE, 6)
        )
        for a, t in zip(technique.actions, times_s, strict=True)
        if math.isfinite(t)
    )


def outside(away: Away, moves: tuple[LeverMove, ...]) -> Flown:
    """Fly the same levers in JSBSim; raises RuntimeError where the approach was not steady at the decision."""
    flown = fly_clean_up(away, moves)
    if not flown.settled:
        raise RuntimeError(f"{away.airplane.model} was not steady on the approach at {away.entry_kias:g} kt")
    return flown


@functools.cache
def compared(model: str, pitch: Pitch, complete_only: bool = False) -> tuple[Order, ...]:
    """Return every order as flown by both, the highest of JSBSim's first."""
    setting = SETTINGS[model]
    away = replace(setting.away, pitch=pitch)
    out = []
    for technique in techniques(setting.airplane):
        if complete_only and not technique.complete:
            continue
        trace = engine(setting, away, technique)
        moves = lever_moves(technique, trace.action_times_s)
        height = float(_at(trace.t_s, trace.height_m)) / FOOT
        out.append(Order(technique.title, moves, height, outside(away, moves).height_at(AT_S)))
    return tuple(sorted(out, key=lambda one: -one.outside_ft))


def _at(time_s: Array, values: Array) -> float:
    """Return a value at 30 s; a doubled moment does no harm."""
    after = int((time_s < AT_S).sum())
    low, high = time_s[after - 1], time_s[after]
    share = (AT_S - low) / (high - low) if high > low else 1.0
    return float(values[after - 1] + share * (values[after] - values[after - 1]))


def disagreements(found: tuple[Order, ...], matters_ft: float = MATTERS_FT) -> list[tuple[Order, Order]]:
    """Return the pairs whose difference exceeds what matters in JSBSim and has the other sign on the engine."""
    return [
        (a, b)
        for a, b in combinations(found, 2)
        if abs(a.outside_ft - b.outside_ft) > matters_ft
        and (a.outside_ft - b.outside_ft) * (a.engine_ft - b.engine_ft) <= 0.0
    ]


def counted(found: tuple[Order, ...], matters_ft: float = MATTERS_FT) -> int:
    """Return how many pairs differ by more than what matters in JSBSim."""
    return sum(abs(a.outside_ft - b.outside_ft) > matters_ft for a, b in combinations(found, 2))
