"""What is flown in a plan: a go-around, or another procedure of the trade, as a section of TOML and in SI."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Final, Literal, get_args

from pydantic import BaseModel, ConfigDict, model_validator

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import Quantity
from wringout.airplane.quantity import parse_measured
from wringout.errors import BadInputError
from wringout.methods.setup_words import flap_setting
from wringout.techniques.stated.go_arounds import law_stages
from wringout.techniques.stated.procedure import Aim, PowerMove, Procedure, Stage
from wringout.techniques.stated.procedures import (
    emergency_descent,
    from_bounce,
    from_flare,
    power_loss_after_take_off,
    power_loss_on_approach,
    slow_down,
    take_off_clean_up,
)
from wringout.techniques.stated.types import EntryReference, EntrySpeed, GoAround, Law
from wringout.units import DEGREE, FOOT, KNOT, find_unit

ProcedureName = Literal[
    "go-around",
    "go-around from the flare",
    "go-around from a bounce",
    "clean-up after take-off",
    "loss of power after take-off",
    "loss of power on approach",
    "emergency descent",
    "slow-down",
]
PROCEDURES: Final[tuple[ProcedureName, ...]] = get_args(ProcedureName)
Situated = GoAround | Procedure
_CLEAN_START: Final = ("emergency descent", "slow-down")
_CLEAN_END: Final = ("go-around", "go-around from the flare", "go-around from a bounce", "clean-up after take-off")

_LOW: Final = ("start_flaps", "start_gear", "entry_speed", "height", "power_delay", "power_ramp", "action_delay")
_FIELDS: Final[Mapping[str, tuple[str, ...]]] = {
    "go-around": (
        "start_flaps", "start_gear", "entry_speed", "descent", "height", "power_delay", "power_ramp", "action_delay",
        "climb_speed", "pitch_up", "duration",
    ),
    "go-around from the flare": (*_LOW, "climb_speed", "pitch_up", "duration"),
    "go-around from a bounce": (*_LOW, "climb_speed", "pitch_up", "duration"),
    "clean-up after take-off": (
        "start_flaps", "start_gear", "entry_speed", "height", "action_delay", "climb_speed", "duration"
    ),
    "loss of power after take-off": (
        "start_flaps", "start_gear", "entry_speed", "height", "recognition", "glide_speed", "action_delay"
    ),
    "loss of power on approach": (
        "start_flaps", "start_gear", "entry_speed", "descent", "height", "recognition", "glide_speed", "action_delay"
    ),
    "emergency descent": (
        "entry_speed", "descent_speed", "height_lost", "power_delay", "power_ramp", "action_delay"
    ),
    "slow-down": ("entry_speed", "target_speed", "power_delay", "power_ramp", "action_delay", "duration"),
}  # fmt: skip
_USUAL: Final[Mapping[str, Mapping[str, Any]]] = {
    "go-around": {},
    "go-around from the flare": {"entry_speed": 1.15, "height": "5 ft", "power_delay": "0.5 s"},
    "go-around from a bounce": {"entry_speed": 1.05, "height": "8 ft", "power_delay": "0.5 s"},
    "clean-up after take-off": {"entry_speed": 1.2, "height": "50 ft"},
    "loss of power after take-off": {"entry_speed": 1.3, "height": "500 ft", "recognition": "3 s", "glide_speed": 1.3},
    "loss of power on approach": {"entry_speed": 1.3, "height": "500 ft", "recognition": "2 s", "glide_speed": 1.3},
    "emergency descent": {"entry_speed": "110 kt", "descent_speed": "110 kt", "height_lost": "3000 ft"},
    "slow-down": {"entry_speed": "110 kt", "target_speed": "80 kt", "duration": "180 s"},
}
"""What stands in a plan of each procedure unless it is written (judged or invented, no source)."""


class SituationSection(BaseModel):
    """What is flown, and the pilot; each procedure has fields of its own and refuses those of others.

    ``entry_speed`` is a plain number, in multiples of the stall speed in the starting configuration, or a calibrated
    airspeed with its unit.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)

    procedure: ProcedureName = "go-around"
    start_flaps: str = "full"
    start_gear: Literal["up", "down"] = "down"
    entry_speed: Quantity = 1.3
    descent: Quantity = "3 deg"
    height: Quantity = "100 ft"
    power_delay: Quantity = "1 s"
    power_ramp: Quantity = "2 s"
    action_delay: Quantity = "2 ± 0.7 s"
    climb_speed: Quantity = 1.3
    pitch_up: Quantity | None = None
    duration: Quantity = "60 s"
    recognition: Quantity | None = None
    glide_speed: Quantity | None = None
    descent_speed: Quantity | None = None
    height_lost: Quantity | None = None
    target_speed: Quantity | None = None

    @model_validator(mode="before")
    @classmethod
    def _usual_values(cls, raw: Any) -> Any:
        """Fill what is not written with what is usual for the procedure."""
        if not isinstance(raw, dict) or not isinstance(raw.get("procedure", ""), str):
            return raw
        return {**_USUAL.get(raw.get("procedure", ""), {}), **raw}


def fields_of(procedure: ProcedureName) -> tuple[str, ...]:
    """Return the fields a plan of a procedure has, besides ``procedure``."""
    return _FIELDS[procedure]


def starts_clean(procedure: ProcedureName) -> bool:
    """Return whether gear and flaps are up at the start, so that techniques put them out."""
    return procedure in _CLEAN_START


def needs_clean(procedure: ProcedureName) -> bool:
    """Return whether a technique must end clean to be favoured."""
    return procedure in _CLEAN_END


def situations(section: SituationSection, beliefs: Beliefs, name: str) -> dict[Law, Situated]:
    """Return what is flown under each pilot law; under one only where the procedure says itself how pitch is flown.

    Raises:
        BadInputError: a quantity cannot be read, a flap setting is not the airplane's, or a field is that of another
            procedure.
    """
    _check_fields(section, name)
    read = _Reader(section, beliefs, name)
    if section.procedure == "go-around":
        return dict.fromkeys(Law, _go_around(read))
    if section.procedure in _CLEAN_END:
        return {law: _by_law(read, law) for law in Law}
    return {Law.HOLD_SPEED: _by_itself(read)}


def _check_fields(section: SituationSection, name: str) -> None:
    """Refuse a field the procedure does not have, unless it stands as it would if it were not written."""
    own = _FIELDS[section.procedure]
    for field, about in SituationSection.model_fields.items():
        if field == "procedure" or field in own:
            continue
        if getattr(section, field) != _USUAL[section.procedure].get(field, about.default):
            raise BadInputError(
                f"“{section.procedure}” has no such field", f"{name}, situation.{field}", f"use {', '.join(own)}"
            )


class _Reader:
    """Reads the fields of a section, naming each in what it refuses."""

    def __init__(self, section: SituationSection, beliefs: Beliefs, name: str) -> None:
        self.section, self.beliefs, self.name = section, beliefs, name

    def at(self, field: str) -> str:
        return f"{self.name}, situation.{field}"

    def number(self, field: str, dimension: str, example: str) -> float:
        return parse_measured(getattr(self.section, field), dimension, self.at(field), example)[0]

    @property
    def flap_rad(self) -> float:
        return flap_setting(self.section.start_flaps, self.beliefs, self.at("start_flaps")).angle_rad

    @property
    def gear(self) -> float:
        return 1.0 if self.section.start_gear == "down" or not self.beliefs.retractable else 0.0

    @property
    def reaction_s(self) -> tuple[float, float]:
        delay, sd = parse_measured(self.section.action_delay, "time", self.at("action_delay"), "2 ± 0.7 s")
        return delay, 0.35 * delay if sd is None else sd

    @property
    def entry(self) -> EntrySpeed:
        return read_entry(self.section.entry_speed, self.at("entry_speed"))

    @property
    def entry_mps(self) -> float:
        return self.number("entry_speed", "speed", "130 kt")

    @property
    def power(self) -> tuple[float, float]:
        return self.number("power_delay", "time", "1 s"), max(self.number("power_ramp", "time", "2 s"), 1e-3)

    @property
    def pitch_up_rad(self) -> float | None:
        return None if self.section.pitch_up is None else self.number("pitch_up", "angle", "8 deg")


def _go_around(read: _Reader) -> GoAround:
    return GoAround(
        start_flap_rad=read.flap_rad,
        entry_speed=read.entry,
        descent_rad=read.number("descent", "angle", "3 deg"),
        start_height_m=read.number("height", "length", "100 ft"),
        start_gear=read.gear,
        power_delay_s=read.number("power_delay", "time", "1 s"),
        power_ramp_s=read.number("power_ramp", "time", "2 s"),
        reaction_s=read.reaction_s,
        duration_s=read.number("duration", "time", "60 s"),
        climb_speed_factor=read.number("climb_speed", "number", "1.3"),
        pitch_up_rad=read.pitch_up_rad,
    )


_BY_LAW: Final[Mapping[str, Callable[[float, Law], Procedure]]] = {
    "go-around from the flare": from_flare,
    "go-around from a bounce": from_bounce,
    "clean-up after take-off": take_off_clean_up,
}


def _by_law(read: _Reader, law: Law) -> Procedure:
    """Return a procedure whose pitch a pilot law flies."""
    made = _BY_LAW[read.section.procedure](read.flap_rad, law)
    stages = law_stages(law, read.number("climb_speed", "number", "1.3"), read.pitch_up_rad)
    delay, ramp = read.power
    return replace(
        made,
        entry_speed=read.entry,
        start_height_m=read.number("height", "length", "5 ft"),
        start_gear=read.gear,
        stages=stages[-1:] if read.section.procedure == "clean-up after take-off" else stages,
        power=(PowerMove(delay, ramp, 1.0),) if made.power else (),
        reaction_s=read.reaction_s,
        duration_s=read.number("duration", "time", "60 s"),
    )


def _by_itself(read: _Reader) -> Procedure:
    """Return a procedure that says itself how pitch is flown."""
    if read.section.procedure == "emergency descent":
        return _descent(read)
    if read.section.procedure == "slow-down":
        return _slow_down(read)
    height = read.number("height", "length", "500 ft")
    glide, recognised = read.number("glide_speed", "number", "1.3"), read.number("recognition", "time", "3 s")
    if read.section.procedure == "loss of power on approach":
        made = power_loss_on_approach(read.flap_rad, height, glide, recognised)
        made = replace(made, descent_rad=read.number("descent", "angle", "3 deg"))
    else:
        made = power_loss_after_take_off(read.flap_rad, height, glide, recognised)
    return replace(made, entry_speed=read.entry, start_gear=read.gear, reaction_s=read.reaction_s)


def _descent(read: _Reader) -> Procedure:
    speed, lost = read.number("descent_speed", "speed", "130 kt"), read.number("height_lost", "length", "3000 ft")
    made = emergency_descent(read.entry_mps, speed, lost)
    return replace(made, power=_power_off(read), reaction_s=read.reaction_s, stages=(Stage(Aim.CALIBRATED, speed),))


def _slow_down(read: _Reader) -> Procedure:
    entry, target = read.entry_mps, read.number("target_speed", "speed", "80 kt")
    if target >= entry:
        raise BadInputError(
            f"{read.section.target_speed} is not below the {read.section.entry_speed} of the start",
            read.at("target_speed"),
            "write the lower speed to slow down to",
        )
    made = slow_down(entry, target)
    duration = read.number("duration", "time", "180 s")
    return replace(made, power=_power_off(read), reaction_s=read.reaction_s, duration_s=duration)


def _power_off(read: _Reader) -> tuple[PowerMove, ...]:
    delay, ramp = read.power
    return (PowerMove(delay, ramp, -1.0),)


def read_entry(value: Quantity, where: str) -> EntrySpeed:
    """Read an entry speed: a plain number is a multiple of the stall speed, one with a unit a calibrated airspeed.

    Raises:
        BadInputError: it is neither.
    """
    if not isinstance(value, str) or find_unit(value.lstrip("+-.,0123456789 ")) is None:
        return EntrySpeed(parse_measured(value, "number", where, "1.3, or 75 kt")[0])
    return EntrySpeed(parse_measured(value, "speed", where, "75 kt, or 1.3")[0], EntryReference.CAS)


def situated_document(situation: Situated, section: SituationSection) -> dict[str, Any]:
    """Return what is flown with numbers and units, as results keep it; fields a procedure lacks are left out."""
    factor = situation.entry_speed.reference is EntryReference.VS0
    delay, sd = situation.reaction_s
    common: dict[str, Any] = {
        "procedure": section.procedure,
        "start_flaps": {"value": round(situation.start_flap_rad / DEGREE, 6), "unit": "deg"},
        "start_gear": "down" if situation.start_gear > 0.0 else "up",
        "entry_speed": {
            "value": situation.entry_speed.value if factor else situation.entry_speed.value / KNOT,
            "unit": "times VS in the starting configuration" if factor else "kt calibrated",
        },
        "height": {"value": round(situation.start_height_m / FOOT, 6), "unit": "ft"},
        "action_delay": {"value": delay, "standard_deviation": sd, "unit": "s"},
        "duration": {"value": situation.duration_s, "unit": "s"},
    }
    if situation.descent_rad is not None:
        common["descent"] = {"value": round(situation.descent_rad / DEGREE, 6), "unit": "deg"}
    if isinstance(situation, GoAround):
        return common | {
            "power_delay": {"value": situation.power_delay_s, "unit": "s"},
            "power_ramp": {"value": situation.power_ramp_s, "unit": "s"},
            "climb_speed": {"value": situation.climb_speed_factor, "unit": "times VS with flaps up"},
        }
    written = ("climb_speed", "recognition", "glide_speed", "descent_speed", "height_lost", "target_speed")
    more = {field: getattr(section, field) for field in written if field in _FIELDS[section.procedure]}
    return common | {"title": situation.title} | {field: str(value) for field, value in more.items()}
