"""The airplane file: what a user writes down about an airplane, in TOML, with units, as its handbook prints it.

``parse_airplane`` checks every field and says in one sentence what is wrong and what would be right. What it returns
is still in the user's words; :mod:`wringout.airplane.beliefs` turns it into priors in SI units.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Annotated, Any, Literal, TypeVar, get_origin

from pydantic import BaseModel, ConfigDict, Field, StrictFloat, StrictInt, StrictStr, ValidationError

from wringout.errors import BadInputError

FORMAT = "wringout airplane, version 1"

Text = Annotated[str, Field(min_length=1, max_length=400)]
Quantity = StrictStr | StrictInt | StrictFloat  # strict, so that true is not taken as 1
Document = TypeVar("Document", bound=BaseModel)


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


class GeometrySection(_Section):
    """Wing and where the numbers come from."""

    wing_area: Quantity
    span: Quantity


class PropulsionSection(_Section):
    """Engine and propeller. ``aspiration`` says how full-throttle power falls with height."""

    propeller: Literal["constant speed", "fixed pitch"]
    diameter: Quantity
    rated_power: Quantity
    aspiration: Literal["normal", "flat rated"] = "normal"
    disk_efficiency: Quantity = "0.82 ± 0.05"
    efficiency_slope: Quantity | None = None
    thrust_bend: Quantity | None = None


class BestGlideSection(_Section):
    """The handbook's best glide: ratio, indicated speed and the weight it is printed for."""

    ratio: Quantity
    speed: Quantity
    weight: Quantity


class DragSection(_Section):
    """Drag areas. Give ``clean_area`` and ``span_efficiency``, or ``best_glide`` in their place."""

    clean_area: Quantity | None = None
    span_efficiency: Quantity | None = None
    clean_slope: Quantity | None = None
    best_glide: BestGlideSection | None = None
    gear_area: Quantity = "4 ± 3 ft2"
    interaction: Quantity = "0.3 ± 0.2"
    door_bump: Quantity = "0 ± 0.05"


class FlapSection(_Section):
    """One flap setting beyond up, in order of travel.

    ``area`` is its drag area at lift coefficient 0.5, ``area_slope`` how much it changes per unit lift coefficient,
    ``least_share`` what is left of it at high lift, over full flap's area times the share of full flap's angle.
    """

    name: Text
    angle: Quantity
    area: Quantity | None = None
    area_slope: Quantity | None = None
    least_share: Quantity | None = None
    stall_speed: Quantity | None = None
    limit_speed: Quantity | None = None


class GearSection(_Section):
    """Gear travel and limits; leave the section out for a fixed gear."""

    down_time: Quantity = "8 ± 4 s"
    up_time: Quantity = "8 ± 4 s"
    operate_limit: Quantity | None = None
    retract_limit: Quantity | None = None
    extended_limit: Quantity | None = None


class FlapTravelSection(_Section):
    """Time for the flaps to run their full travel."""

    down_time: Quantity = "6 ± 4 s"
    up_time: Quantity = "6 ± 4 s"


class LimitsSection(_Section):
    """Limits from the approved manual."""

    max_weight: Quantity
    never_exceed: Quantity | None = None
    maneuvering: Quantity | None = None


class PositionErrorSection(_Section):
    """Calibration of the airspeed system for one configuration: equal-length lists in knots or as quantities."""

    flaps: Text
    gear: Literal["up", "down"]
    indicated: list[Quantity]
    calibrated: list[Quantity]


class InstrumentSection(_Section):
    """How well things can be read, as standard deviations, and what the airspeed system is known to do."""

    reading: Quantity = "1 kt"
    clock: Quantity = "0.5 s"
    bias: Quantity = "0 ± 1.5 kt"
    weight_error: Quantity = "0.01"
    position_error: list[PositionErrorSection] = []


class StationSection(_Section):
    """A loading station."""

    name: Text
    arm: Quantity
    weight: Quantity = "0 lb"


class LoadingSection(_Section):
    """The weighed airplane, the fuel and the centre-of-gravity envelope as (arm, weight) corners."""

    empty_weight: Quantity
    empty_arm: Quantity
    fuel_arm: Quantity
    fuel_weight_per_gallon: Quantity = "6.0 lb"
    stations: list[StationSection] = []
    envelope: list[tuple[Quantity, Quantity]] = []


class AirplaneDocument(_Section):
    """A whole airplane file."""

    format: Literal["wringout airplane, version 1"]
    name: Text
    invented: bool = False
    source: str = ""
    geometry: GeometrySection
    propulsion: PropulsionSection
    drag: DragSection
    stall_speed_clean: Quantity | None = None
    flaps: list[FlapSection] = Field(min_length=1, max_length=7)
    flap_travel: FlapTravelSection = FlapTravelSection()
    gear: GearSection | None = None
    limits: LimitsSection
    instrument: InstrumentSection = InstrumentSection()
    loading: LoadingSection | None = None


def parse_airplane(text: str, name: str = "airplane.toml") -> AirplaneDocument:
    """Return the checked document of an airplane file.

    Raises BadInputError naming the file and field with one sentence for TOML that cannot be read, a missing or
    unknown field, or a value of the wrong type. Quantities are checked by ``beliefs.airplane_from_document``.
    """
    return checked(AirplaneDocument, FORMAT, text, name, "docs/airplane.md")


def checked(model: type[Document], format_line: str, text: str, name: str, page: str, between: str = " / ") -> Document:
    """Return the document that a TOML text holds, checked field by field.

    ``format_line`` is what its ``format`` must say; ``page`` describes its fields; ``between`` stands between the parts
    of a field's name. Raises BadInputError naming the file and field.
    """
    try:
        raw: dict[str, Any] = tomllib.loads(text)
    except ValueError as error:  # TOML that is not sound, or a number of thousands of digits
        raise BadInputError(f"this is not TOML: {error}", name, f"write it as {page} shows") from None
    except RecursionError:
        raise BadInputError("the brackets are nested too deeply", name, f"write it as {page} shows") from None
    if raw.get("format") != format_line:
        raise BadInputError(
            f"the format is {raw.get('format')!r}", f"{name}, format", f'write format = "{format_line}"'
        )
    return validated(model, raw, name, page, between)


def validated(model: type[Document], raw: Mapping[str, Any], name: str, page: str, between: str = " / ") -> Document:
    """Return the document that a table holds, checked field by field; raises BadInputError naming file and field.

    ``between`` stands between the parts of a field's name.
    """
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        first = error.errors()[0]
        what, advice = _complaint(first, page)
        if first["type"] == "missing" and (head := _head(model, first["loc"])):
            what, advice = "this section is missing", f"begin it with a line {head}; {page} shows its fields"
        raise BadInputError(what, f"{name}, {_path(first['loc'], between)}", advice) from None


def _head(model: type[BaseModel], location: tuple[int | str, ...]) -> str:
    """Return the line that begins a section of the document, such as ``[geometry]``; "" for what is none."""
    if len(location) != 1:
        return ""
    name = str(location[0])
    kind = model.model_fields[name].annotation
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return f"[{name}]"
    return f"[[{name}]]" if get_origin(kind) is list else ""


_SCALARS = {"str", "int", "float", "constrained-str"}


def _path(location: tuple[int | str, ...], between: str) -> str:
    parts = [f"number {part + 1}" if isinstance(part, int) else part for part in location]
    return between.join(part for part in parts if part not in _SCALARS)


def _complaint(first: Any, page: str) -> tuple[str, str]:
    """Return what is wrong with a field and what would be right."""
    given = f"{str(first['input'])[:60]!r}"
    match first["type"]:
        case "missing":
            return "this field is missing", f"add it, as {page} shows"
        case "extra_forbidden":
            return "this field is not known", f"check the spelling against {page}, or take it out"
        case "literal_error":
            return f"{first['input']!r} is not one of the choices", f"write {first['ctx']['expected']}"
        case "string_too_short":
            return f"{given} is blank", "write a word or more"
        case "string_too_long":
            return f"{given} goes on beyond {first['ctx']['max_length']} characters", "shorten it"
        case "tuple_type":
            return f"{given} is not a pair", 'write two values, such as ["2700 lb", "3200 lb"]'
        case "list_type":
            return f"{given} is not a list", "write its parts in square brackets, separated by commas"
        case "bool_type" | "bool_parsing":
            return f"{given} is neither true nor false", "write true or false, without quotation marks"
        case "string_type" if first["loc"][-1] not in _SCALARS:
            return f"{given} is not text", "write it in quotation marks"
        case "string_type" | "int_type" | "float_type":
            return f"{given} is not a quantity", 'write a number with its unit, such as "174 ft2"'
        case _:
            return f"{given} does not fit ({first['msg'].lower()})", f"write it as {page} shows"
