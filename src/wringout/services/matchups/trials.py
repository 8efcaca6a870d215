"""Trying techniques one at a time on the airplane as it is known: what a person arranges, flown at once.

A trial answers "what would follow" on one airplane, the middle of what is known, with the conditions at hand. It is no
verdict: that takes all draws (:mod:`wringout.services.matchups.compare`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.vector import FLAP_DOWN_TIME, FLAP_UP_TIME, GEAR_DOWN_TIME, GEAR_UP_TIME
from wringout.atmosphere import density_altitude_m, temperature_k
from wringout.errors import BadInputError, NotFoundError
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.findings.reduce import airplane_rows, kept_reduction
from wringout.services.matchups.compare import last_plan
from wringout.services.matchups.plans import Plan, plan_of, techniques_of
from wringout.services.opening import the_study
from wringout.services.study.thresholds import thresholds_of
from wringout.store import (
    ChangeMark,
    Result,
    Store,
    Study,
    View,
    change_mark,
)
from wringout.techniques.flying.trace import fly_one
from wringout.techniques.stated.orders import POSITIVE_RATE_MPS
from wringout.techniques.stated.types import (
    MAX_ACTIONS,
    Action,
    Conditions,
    Device,
    EntryReference,
    Gate,
    Law,
    Technique,
    Thresholds,
    Trace,
)
from wringout.units import DEGREE, FOOT, KNOT, POUND

__all__ = [
    "Desk",
    "Knob",
    "Law",
    "density_altitude_ft",
    "desk",
    "knobs",
    "steps_of",
    "technique_of",
    "try_out",
]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Desk:
    """What techniques are tried with.

    Attributes:
        row: parameter row of the airplane, the median of each parameter over the draws.
        stands_on: where that airplane comes from, in words.
        plan: situation, ranges and limits.
        known: every sensible order of cleaning up, to begin from.
    """

    slug: str
    beliefs: Beliefs
    row: FloatArray
    stands_on: str
    plan: Plan
    known: tuple[Technique, ...]
    thresholds: Thresholds


@dataclass(frozen=True, slots=True)
class Knob:
    """A condition that can be turned: its name, unit, lowest, highest and usual value, and the step of a slider."""

    key: str
    title: str
    unit: str
    low: float
    high: float
    usual: float
    step: float


_LAID: dict[tuple[str, str], tuple[ChangeMark, Desk]] = {}
_MOST_LAID = 8


def desk(store: Store, slug: str | None) -> Desk:
    """Return what techniques of a study are tried with: its newest reduction, or else what is believed.

    Raises:
        NotFoundError: there is no such study, or it has no airplane.
        BadInputError: the plan does not fit the airplane.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        place = (str(store.place.database), study.slug)
        mark = change_mark(view, study.id)
        laid = _LAID.get(place)
        if laid is not None and laid[0] == mark:  # a trial must answer at once
            return laid[1]
        found = _lay(view, study)
    if len(_LAID) >= _MOST_LAID:
        _LAID.clear()
    _LAID[place] = (mark, found)
    return found


def _lay(view: View, study: Study) -> Desk:
    beliefs = study_airplane(view, study.id).beliefs
    plan = plan_of(last_plan(view, study), beliefs)
    try:
        reduction: Result | None = kept_reduction(view, study)
    except NotFoundError:
        reduction = None
    known = techniques_of(plan, beliefs, waiting=False)
    if reduction is None:
        row = beliefs.row_from_latent(np.zeros(len(beliefs.parameters)))
        said = "what is believed of the airplane before any flight; nothing measured is in it"
    else:
        row = np.median(airplane_rows(reduction.draws or b""), axis=0)
        said = "the middle of what the runs have shown of the airplane"
    return Desk(study.slug, beliefs, row, said, plan, known, thresholds_of(study.difference_that_matters))


def knobs(found: Desk) -> tuple[Knob, ...]:
    """Return the conditions that can be turned, each over the range the study's verdict is for, and some way beyond."""
    domain, situation = found.plan.domain, found.plan.situation
    middle = [sum(pair) / 2.0 for pair in (domain.mass_kg, domain.pressure_altitude_m, domain.isa_deviation_k)]
    factor = situation.entry_speed.reference is EntryReference.VS0
    speed = situation.entry_speed.value / (1.0 if factor else KNOT)
    heaviest = found.beliefs.limits.max_mass_kg / POUND
    return (
        Knob("weight", "weight", "lb", round(0.6 * heaviest, -1), round(heaviest), round(middle[0] / POUND), 10.0),
        Knob("altitude", "pressure altitude", "ft", 0.0, 10_000.0, round(middle[1] / FOOT), 100.0),
        Knob("isa", "warmer than standard", "°C", -20.0, 35.0, round(middle[2]), 1.0),
        Knob("entry", "entry speed", "VS" if factor else "kt", 1.1 if factor else round(0.8 * speed),
             1.6 if factor else round(1.3 * speed), round(speed, 2), 0.01 if factor else 1.0),
        Knob("delay", "delay before each action", "s", 0.0, 8.0, round(situation.reaction_s[0], 1), 0.1),
        Knob("gear_transit", "gear transit, times the measured", "×", 0.5, 3.0, 1.0, 0.05),
        Knob("flap_transit", "flap transit, times the measured", "×", 0.5, 3.0, 1.0, 0.05),
    )  # fmt: skip


def technique_of(found: Desk, key: str, steps: Sequence[Mapping[str, Any]]) -> Technique:
    """Return the technique that a list of steps means.

    Args:
        found: the desk.
        key: its short name.
        steps: each with ``device`` ("gear" or "flaps"), ``to`` ("up", "down" or a flap setting's name), ``wait_s``
            (after the step before, or once power is full) and ``gate`` ("" or "positive climb").

    Raises:
        BadInputError: a step names what the airplane does not have, or there are too many.
    """
    if len(steps) > MAX_ACTIONS:
        raise BadInputError(f"{len(steps)} steps are too many", "technique", f"at most {MAX_ACTIONS}")
    actions = tuple(_action(found, step, f"step {i}") for i, step in enumerate(steps, 1))
    words = [f"{step.get('device')} {step.get('to')}" for step in steps]
    return Technique(key, ", ".join(words).capitalize() or "Power only, nothing moved", actions)


def _action(found: Desk, step: Mapping[str, Any], where: str) -> Action:
    device, to = str(step.get("device", "")), str(step.get("to", ""))
    gate = Gate.POSITIVE_CLIMB if step.get("gate") == Gate.POSITIVE_CLIMB else Gate.NONE
    wait = step.get("wait_s", 0.0)
    if not isinstance(wait, (int, float)) or not 0.0 <= wait <= 60.0:
        raise BadInputError(f"a wait of {wait!r} s cannot be flown", where, "0 to 60 s")
    if device == Device.GEAR and to in {"up", "down"} and found.beliefs.retractable:
        target = 0.0 if to == "up" else 1.0
    elif device == Device.FLAPS:
        angles = {setting.name: setting.angle_rad for setting in found.beliefs.settings}
        angles.setdefault("up", 0.0)
        if to not in angles:
            raise BadInputError(f"'{to[:30]}' is no flap setting", where, f"one of {', '.join(angles)}")
        target = angles[to]
    else:
        raise BadInputError(f"'{device[:30]} {to[:30]}' is nothing that can be moved", where, "gear up, or flaps up")
    return Action(Device(device), target, float(wait), gate, POSITIVE_RATE_MPS if gate else 0.0)


def steps_of(found: Desk, technique: Technique) -> list[dict[str, Any]]:
    """Return a technique as the steps a person edits."""
    names = {round(setting.angle_rad, 6): setting.name for setting in found.beliefs.settings}
    names[0.0] = "up"
    return [
        {
            "device": str(action.device),
            "to": names.get(round(action.target, 6), f"{action.target / DEGREE:.0f}")
            if action.device is Device.FLAPS
            else ("down" if action.target > 0.5 else "up"),
            "wait_s": action.wait_s,
            "gate": str(action.gate) if action.gate is Gate.POSITIVE_CLIMB else "",
        }
        for action in technique.actions
    ]


def try_out(found: Desk, technique: Technique, law: Law, turned: Mapping[str, float]) -> Trace:
    """Fly one technique once.

    Args:
        found: the desk.
        technique: what the hands do.
        law: how pitch is flown.
        turned: conditions by the keys of :func:`knobs`, in their units; what is left out stays as usual.

    Raises:
        BadInputError: a condition is out of its range, or something cannot be flown, naming it.
    """
    at = _conditions(found, turned)
    row = found.row.copy()
    row[[GEAR_DOWN_TIME, GEAR_UP_TIME]] *= at["gear_transit"]
    row[[FLAP_DOWN_TIME, FLAP_UP_TIME]] *= at["flap_transit"]
    factor = found.plan.situation.entry_speed.reference is EntryReference.VS0
    conditions = Conditions(
        mass_kg=at["weight"] * POUND,
        pressure_altitude_m=at["altitude"] * FOOT,
        isa_deviation_k=at["isa"],
        entry_speed=at["entry"] * (1.0 if factor else KNOT),
        reactions_s=(at["delay"],) * MAX_ACTIONS,
    )
    return fly_one(row, found.plan.under(law), conditions, technique, law, found.plan.limits)


def density_altitude_ft(found: Desk, turned: Mapping[str, float]) -> float:
    """Return the density altitude that pressure altitude and temperature make together, feet.

    Args:
        found: the desk.
        turned: as for :func:`try_out`.

    Raises:
        BadInputError: a condition is out of its range.
    """
    at = _conditions(found, turned)
    altitude = at["altitude"] * FOOT
    return density_altitude_m(altitude, temperature_k(altitude, at["isa"])) / FOOT


def _conditions(found: Desk, turned: Mapping[str, float]) -> dict[str, float]:
    return {knob.key: _turned(knob, turned.get(knob.key, knob.usual)) for knob in knobs(found)}


def _turned(knob: Knob, value: float) -> float:
    if not isinstance(value, (int, float)) or not knob.low - 1e-9 <= value <= knob.high + 1e-9:
        raise BadInputError(
            f"{value!r} {knob.unit} is out of range", knob.title, f"{knob.low:g} to {knob.high:g} {knob.unit}"
        )
    return float(value)
