"""The plan of a matchup: what is flown, the pilot, and the ranges the verdict is for, in TOML."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

import tomli_w
from pydantic import BaseModel, ConfigDict, Field, SerializerFunctionWrapHandler, model_serializer

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import Quantity, checked, validated
from wringout.airplane.quantity import parse_measured
from wringout.airspeed import calibrated_from_indicated
from wringout.errors import BadInputError
from wringout.services.matchups.plan_details import (
    Details,
    DevicesSection,
    GroundSection,
    PilotSection,
    detailed,
    hand_s,
)
from wringout.services.matchups.plan_orders import MOST_ORDERS, OrderSection, own_orders
from wringout.services.matchups.plan_situations import (
    PROCEDURES,
    Situated,
    SituationSection,
    fields_of,
    needs_clean,
    read_entry,
    situated_document,
    situations,
    starts_clean,
)
from wringout.techniques.flying.scores import ABOVE_START, SCORE_INDEX, SCORES
from wringout.techniques.stated.orders import Detent, extensions, orders, with_hand
from wringout.techniques.stated.types import Domain, EntryReference, FlightLimits, Law, Range, Technique, Thresholds
from wringout.units import DEGREE, FOOT, KNOT, POUND

FORMAT = "wringout plan, version 1"
LONGEST_PLAN_BYTES = 1 << 20
PAGE = "docs/plan.md"
Pair = tuple[Quantity, Quantity]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


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
    pilot: PilotSection | None = None
    devices: DevicesSection | None = None
    ground: GroundSection | None = None
    orders: tuple[OrderSection, ...] = Field(default=(), max_length=MOST_ORDERS)

    @property
    def details(self) -> Details:
        """The sections beyond the usual."""
        return Details(self.pilot, self.devices, self.ground)

    @model_serializer(mode="wrap")
    def _what_is_written(self, whole: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """Leave out the sections that are not written, so that a plan without them stays as it was."""
        optional = ("pilot", "devices", "ground", "orders")
        return {key: value for key, value in whole(self).items() if value or key not in optional}


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan in SI, with the document it came from."""

    document: PlanDocument
    by_law: Mapping[Law, Situated]
    domain: Domain
    limits: FlightLimits

    @property
    def situation(self) -> Situated:
        """What is flown under the first pilot law; but for the stages of pitch it is the same under all."""
        return next(iter(self.by_law.values()))

    @property
    def laws(self) -> tuple[Law, ...]:
        """The pilot laws it is flown under; a procedure that says itself how pitch is flown has one of no meaning."""
        return tuple(self.by_law)

    def under(self, law: Law) -> Situated:
        """Return what is flown under a pilot law; a procedure that says it itself is the same under all."""
        return self.by_law.get(law, self.situation)


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
    """Return a plan as TOML that :func:`parse_plan` reads back, with the fields its procedure has."""
    table = document.model_dump(mode="json", exclude_none=True)
    fields = ("procedure", *fields_of(document.situation.procedure))
    table["situation"] = {field: table["situation"][field] for field in fields if field in table["situation"]}
    return tomli_w.dumps(table)


def usual_plan(procedure: str) -> PlanDocument:
    """Return the usual plan of a procedure; raises BadInputError where there is none of that name."""
    if procedure not in PROCEDURES:
        raise BadInputError(f"'{procedure[:60]}' is no procedure", "procedure", f"one of {'; '.join(PROCEDURES)}")
    return checked_plan({"situation": {"procedure": procedure}}, "plan")


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
    by_law = detailed(situations(document.situation, beliefs, name), document.details, beliefs, name)
    situation = next(iter(by_law.values()))
    return Plan(document, by_law, _domain(document, situation, beliefs, name), flight_limits(beliefs))


def check_score(document: PlanDocument, thresholds: Thresholds) -> None:
    """Refuse to judge a procedure by a height where staying high is not what it is flown for.

    Raises:
        BadInputError: it starts clean (an emergency descent, a slow-down) and a height decides.
    """
    score = SCORES[SCORE_INDEX[thresholds.score]]
    if starts_clean(document.situation.procedure) and score.datum == ABOVE_START:
        raise BadInputError(
            f"by {score.title} the better technique is the one that stays higher, which is not what "
            f"“{document.situation.procedure}” is flown for",
            "difference, score",
            "let another score decide, such as end_time",
        )


def techniques_of(plan: Plan, beliefs: Beliefs, waiting: bool = True) -> tuple[Technique, ...]:
    """Return the techniques that compete in a plan: orders of cleaning up, or of putting out where it starts clean.

    Orders the plan itself states compete beside them. Where a procedure ends without asking for a clean airplane, every
    one of them is complete.

    Args:
        plan: what is flown. beliefs: the airplane.
        waiting: whether what is not done at once may be in it: a device that is put out waits until the speed is below
            its limit, and the orders of the plan itself for what they say.

    Raises:
        BadInputError: a step of an order of the plan cannot be read, naming it.
    """
    document = plan.document
    known = _known_orders(plan, beliefs, waiting)
    if waiting and document.orders:
        start = (plan.situation.start_gear if beliefs.retractable else 0.0, plan.situation.start_flap_rad)
        own = own_orders(document.orders, beliefs, start, needs_clean(document.situation.procedure), "plan")
        known = (*known, *own)
    hand = hand_s(document.details, "plan")
    return tuple(with_hand(technique, hand) for technique in known)


def _known_orders(plan: Plan, beliefs: Beliefs, waiting: bool) -> tuple[Technique, ...]:
    """Return every sensible order of a plan, without those it states itself."""
    detents = [Detent(setting.name, setting.angle_rad) for setting in beliefs.settings]
    if starts_clean(plan.document.situation.procedure):
        limits = plan.limits if waiting else FlightLimits()
        gear = [x for x in (limits.gear_operating_cas_mps, limits.gear_extended_cas_mps) if x is not None]
        slowest = min(gear) if gear else None
        return extensions(detents, beliefs.retractable, dict(limits.flaps_extended_cas_mps), slowest)
    start = plan.situation
    known = orders(detents, start.start_flap_rad, start.start_gear > 0.0 and beliefs.retractable)
    if needs_clean(plan.document.situation.procedure):
        return known
    return tuple(replace(technique, complete=True) for technique in known)


def _domain(document: PlanDocument, situation: Situated, beliefs: Beliefs, name: str) -> Domain:
    section, entry = document.domain, situation.entry_speed

    def read(pair: Pair, dimension: str, field: str, example: str) -> Range:
        low, high = (parse_measured(x, dimension, f"{name}, domain.{field}", example)[0] for x in pair)
        if low > high:
            raise BadInputError(f"{pair[0]} is more than {pair[1]}", f"{name}, domain.{field}", "lowest first")
        return low, high

    heaviest = beliefs.limits.max_mass_kg
    factor = entry.reference is EntryReference.VS0
    half = min(0.05, max(entry.value - 1.0, 0.0) / 2.0) if factor else 3.0 * KNOT
    speeds = (entry.value - half, entry.value + half)
    if section.entry_speed is not None:
        found = [read_entry(x, f"{name}, domain.entry_speed") for x in section.entry_speed]
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
    """Return what is flown with numbers and units, as results keep it; further sections as they are written."""
    written = plan.document.model_dump(mode="json", include={"pilot", "devices", "ground"}, exclude_none=True)
    return situated_document(plan.situation, plan.document.situation) | written


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
