"""The plan of a matchup: the approach that is broken off, the pilot, and the ranges the verdict is for, in TOML."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import tomli_w
from pydantic import BaseModel, ConfigDict, Field

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import Quantity, checked, validated
from wringout.airplane.quantity import parse_measured
from wringout.airspeed import calibrated_from_indicated
from wringout.errors import BadInputError
from wringout.methods.setup_words import flap_setting
from wringout.techniques.types import Domain, EntryReference, EntrySpeed, FlightLimits, GoAround, Range
from wringout.units import DEGREE, FOOT, KNOT, POUND, find_unit

FORMAT = "wringout plan, version 1"
LONGEST_PLAN_BYTES = 1 << 20
PAGE = "docs/plan.md"
Pair = tuple[Quantity, Quantity]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


class SituationSection(_Section):
    """The approach and the pilot.

    ``entry_speed`` is a plain number, in multiples of the stall speed in the starting configuration, or a calibrated
    airspeed with its unit.
    """

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


class DomainSection(_Section):
    """The ranges the verdict is for, lowest and highest; what is left out is taken from the airplane's limits."""

    weight: Pair | None = None
    pressure_altitude: Pair = ("0 ft", "4000 ft")
    isa_deviation: Pair = (0, 20)
    entry_speed: Pair | None = None


class PlanDocument(_Section):
    """A whole plan; every field may be left out."""

    format: Literal["wringout plan, version 1"] = "wringout plan, version 1"
    situation: SituationSection = Field(default_factory=SituationSection)
    domain: DomainSection = Field(default_factory=DomainSection)


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan in SI, with the document it came from."""

    document: PlanDocument
    situation: GoAround
    domain: Domain
    limits: FlightLimits


def parse_plan(text: str, name: str) -> PlanDocument:
    """Return the checked plan of a TOML text with the sections ``[situation]`` and ``[domain]``.

    Raises:
        BadInputError: it is not TOML, or a field is unknown or of the wrong type.
    """
    return checked(PlanDocument, FORMAT, text, name, PAGE, ".")


def read_plan(data: bytes, name: str) -> PlanDocument:
    """Return the plan in the bytes of a TOML file.

    Raises:
        BadInputError: it is too large, not UTF-8, or no plan.
    """
    if len(data) > LONGEST_PLAN_BYTES:
        raise BadInputError("the file is larger than 1 MB", name, "a plan is a page of TOML")
    try:
        return parse_plan(data.decode("utf-8-sig"), name)
    except UnicodeDecodeError:
        raise BadInputError("the file is not UTF-8 text", name, "save it as UTF-8") from None


def plan_text(document: PlanDocument) -> str:
    """Return a plan as TOML that :func:`parse_plan` reads back."""
    return tomli_w.dumps(document.model_dump(mode="json", exclude_none=True))


def checked_plan(raw: Mapping[str, Any], name: str) -> PlanDocument:
    """Return the plan that a table holds.

    Raises:
        BadInputError: a field is unknown or of the wrong type.
    """
    return validated(PlanDocument, raw, name, PAGE, ".")


def plan_of(document: PlanDocument, beliefs: Beliefs, name: str = "plan") -> Plan:
    """Turn a plan document into SI for one airplane.

    Raises:
        BadInputError: a quantity cannot be read, or a flap setting is not the airplane's.
    """
    situation = _situation(document.situation, beliefs, name)
    return Plan(document, situation, _domain(document, situation, beliefs, name), flight_limits(beliefs))


def _situation(section: SituationSection, beliefs: Beliefs, name: str) -> GoAround:
    def read(field: str, dimension: str, example: str) -> tuple[float, float | None]:
        return parse_measured(getattr(section, field), dimension, f"{name}, situation.{field}", example)

    delay, delay_sd = read("action_delay", "time", "2 ± 0.7 s")
    return GoAround(
        start_flap_rad=flap_setting(section.start_flaps, beliefs, f"{name}, situation.start_flaps").angle_rad,
        entry_speed=_entry(section.entry_speed, f"{name}, situation.entry_speed"),
        descent_rad=read("descent", "angle", "3 deg")[0],
        start_height_m=read("height", "length", "100 ft")[0],
        start_gear=1.0 if section.start_gear == "down" or not beliefs.retractable else 0.0,
        power_delay_s=read("power_delay", "time", "1 s")[0],
        power_ramp_s=read("power_ramp", "time", "2 s")[0],
        reaction_s=(delay, 0.35 * delay if delay_sd is None else delay_sd),
        duration_s=read("duration", "time", "60 s")[0],
        climb_speed_factor=read("climb_speed", "number", "1.3")[0],
        pitch_up_rad=None if section.pitch_up is None else read("pitch_up", "angle", "8 deg")[0],
    )


def _entry(value: Quantity, where: str) -> EntrySpeed:
    """Read an entry speed: a plain number is a multiple of the stall speed, one with a unit a calibrated airspeed."""
    if not isinstance(value, str) or find_unit(value.lstrip("+-.,0123456789 ")) is None:
        return EntrySpeed(parse_measured(value, "number", where, "1.3, or 75 kt")[0])
    return EntrySpeed(parse_measured(value, "speed", where, "75 kt, or 1.3")[0], EntryReference.CAS)


def _domain(document: PlanDocument, situation: GoAround, beliefs: Beliefs, name: str) -> Domain:
    section, entry = document.domain, situation.entry_speed

    def read(pair: Pair, dimension: str, field: str, example: str) -> Range:
        low, high = (parse_measured(x, dimension, f"{name}, domain.{field}", example)[0] for x in pair)
        if low > high:
            raise BadInputError(f"{pair[0]} is more than {pair[1]}", f"{name}, domain.{field}", "lowest first")
        return low, high

    heaviest = beliefs.limits.max_mass_kg
    factor = entry.reference is EntryReference.VS0
    half = 0.05 if factor else 3.0 * KNOT
    speeds = (entry.value - half, entry.value + half)
    if section.entry_speed is not None:
        found = [_entry(x, f"{name}, domain.entry_speed") for x in section.entry_speed]
        if any(item.reference is not entry.reference for item in found):
            raise BadInputError(
                "the range and the entry speed of the situation are not of one kind",
                f"{name}, domain.entry_speed",
                "write both as multiples of the stall speed, or both with a unit",
            )
        speeds = (found[0].value, found[1].value)
        if not speeds[0] <= entry.value <= speeds[1]:
            raise BadInputError(
                "the entry speed of the situation is not in the range it is flown over",
                f"{name}, domain.entry_speed",
                "put the situation's entry speed between the two",
            )
    return Domain(
        mass_kg=(0.85 * heaviest, heaviest)
        if section.weight is None
        else read(section.weight, "mass", "weight", "2,800 lb"),
        pressure_altitude_m=read(section.pressure_altitude, "length", "pressure_altitude", "4000 ft"),
        isa_deviation_k=read(section.isa_deviation, "number", "isa_deviation", "20"),
        entry_speed=speeds,
    )


def flight_limits(beliefs: Beliefs) -> FlightLimits:
    """Return the limits of the airplane's manual as calibrated speeds, through its position errors."""
    limits, table = beliefs.limits, beliefs.instrument.position_error

    def calibrated(speed_mps: float | None, flap_rad: float, gear: float) -> float | None:
        return (
            None if speed_mps is None else float(calibrated_from_indicated(speed_mps, table, flap_rad / DEGREE, gear))
        )

    flaps = [(s.angle_rad, calibrated(limits.flap_limit(s.name), s.angle_rad, 1.0)) for s in beliefs.settings[1:]]
    operate = [x for x in (limits.gear_retract_mps or limits.gear_operate_mps,) if x is not None]
    return FlightLimits(
        flaps_extended_cas_mps=tuple((angle, speed) for angle, speed in flaps if speed is not None),
        gear_extended_cas_mps=calibrated(limits.gear_extended_mps, 0.0, 1.0),
        gear_operating_cas_mps=calibrated(operate[0], 0.0, 1.0) if operate else None,
        max_mass_kg=limits.max_mass_kg,
    )


def situation_document(plan: Plan) -> dict[str, Any]:
    """Return the situation with numbers and units, as results keep it."""
    s = plan.situation
    factor = s.entry_speed.reference is EntryReference.VS0
    return {
        "start_flaps": {"value": round(s.start_flap_rad / DEGREE, 6), "unit": "deg"},
        "start_gear": "down" if s.start_gear > 0.0 else "up",
        "entry_speed": {
            "value": s.entry_speed.value if factor else s.entry_speed.value / KNOT,
            "unit": "times VS in the starting configuration" if factor else "kt calibrated",
        },
        "descent": {"value": round(s.descent_rad / DEGREE, 6), "unit": "deg"},
        "height": {"value": round(s.start_height_m / FOOT, 6), "unit": "ft"},
        "power_delay": {"value": s.power_delay_s, "unit": "s"},
        "power_ramp": {"value": s.power_ramp_s, "unit": "s"},
        "action_delay": {"value": s.reaction_s[0], "standard_deviation": s.reaction_s[1], "unit": "s"},
        "climb_speed": {"value": s.climb_speed_factor, "unit": "times VS with flaps up"},
        "duration": {"value": s.duration_s, "unit": "s"},
    }


def domain_document(plan: Plan) -> dict[str, Any]:
    """Return the ranges a verdict is for with numbers and units, as results keep them."""
    d, factor = plan.domain, plan.situation.entry_speed.reference is EntryReference.VS0

    def span(pair: Range, size: float, unit: str) -> dict[str, Any]:
        return {"low": round(pair[0] / size, 6), "high": round(pair[1] / size, 6), "unit": unit}

    return {
        "weight": span(d.mass_kg, POUND, "lb"),
        "pressure_altitude": span(d.pressure_altitude_m, FOOT, "ft"),
        "isa_deviation": span(d.isa_deviation_k, 1.0, "°C"),
        "entry_speed": span(
            d.entry_speed,
            1.0 if factor else KNOT,
            "times VS in the starting configuration" if factor else "kt calibrated",
        ),
    }
