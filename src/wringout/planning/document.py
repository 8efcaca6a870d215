"""The test plan as it is kept and edited: flight, loading, points, hazards, go/no-go list, with units."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from wringout.airplane.document import Quantity, checked, validated

FORMAT: Final = "wringout test plan, version 1"
PAGE: Final = "docs/planning.md"
MOST_POINTS: Final = 60
Line = Annotated[str, Field(max_length=400)]
Key = Annotated[str, Field(min_length=1, max_length=40)]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


class FlightSection(_Section):
    """When and where, with what fuel and load, and how it is recorded.

    ``start`` is the moment of take-off with its offset, ISO 8601. ``floor`` is above ground. ``climb`` and ``return``
    are the time from engine start to the first point and from the last one to the shutdown.
    """

    start: Line = ""
    latitude: float | None = Field(default=None, ge=-90.0, le=90.0)
    longitude: float | None = Field(default=None, ge=-180.0, le=180.0)
    ground_elevation: Quantity | None = None
    floor: Quantity = "3000 ft"
    isa_deviation: float = 0.0
    altimeter_setting: Quantity = "29.92 inHg"
    climb: Quantity = "20 min"
    back: Quantity = "20 min"
    fuel: Quantity | None = None
    fuel_flow: Quantity | None = None
    fuel_reserve: Quantity | None = None
    load: dict[Line, Quantity] = Field(default_factory=dict)
    recording: Literal["called", "logger"] = "called"
    air: Literal["smooth", "rough"] = "smooth"


class EngineSection(_Section):
    """Limits of the engine as its own manual states them; what is left out is asked for on the card."""

    highest_rpm: Quantity | None = None
    highest_manifold_pressure: Quantity | None = None
    highest_density_altitude: Quantity | None = None
    other: list[Line] = []


class PointSection(_Section):
    """One point of the flight: its method and the words that describe it, as ``wringout card`` takes them."""

    key: Key
    method: Line
    words: dict[Line, Line] = {}
    minutes: float = Field(default=6.0, gt=0.0, le=120.0)
    bank: Quantity = "30 deg"
    remark: Line = ""


class HazardSection(_Section):
    """One hazard, assessed before and after what is done about it."""

    key: Key
    methods: list[Line] = []
    hazard: Line
    cause: Line
    effect: Line
    mitigation: list[Line]
    stop: Line
    likelihood: Literal["frequent", "probable", "occasional", "remote", "improbable"]
    severity: Literal["catastrophic", "critical", "marginal", "negligible"]
    residual_likelihood: Literal["frequent", "probable", "occasional", "remote", "improbable"]
    residual_severity: Literal["catastrophic", "critical", "marginal", "negligible"]
    source: Line = ""


class QuestionSection(_Section):
    """Which two techniques the plan should decide between, under which pilot law, and what is known before it."""

    first: Line = ""
    second: Line = ""
    law: Line = "hold speed"
    knowing: Literal["what was flown", "beliefs only"] = "what was flown"


class TestPlanDocument(_Section):
    """A whole test plan."""

    __test__ = False  # not a test, whatever its name

    format: Literal["wringout test plan, version 1"] = "wringout test plan, version 1"
    title: Line = "Test plan"
    question: QuestionSection = QuestionSection()
    flight: FlightSection = FlightSection()
    engine: EngineSection = EngineSection()
    points: list[PointSection] = Field(default_factory=list, max_length=MOST_POINTS)
    hazards: list[HazardSection] = Field(default_factory=list, max_length=200)
    go_no_go: list[Line] = Field(default_factory=list, max_length=60)


def parse_test_plan(text: str, name: str) -> TestPlanDocument:
    """Return the checked test plan of a TOML text; raises BadInputError naming the field."""
    return checked(TestPlanDocument, FORMAT, text, name, PAGE, ".")


def plan_from_table(raw: Mapping[str, Any], name: str) -> TestPlanDocument:
    """Return the checked test plan that a JSON document holds; raises BadInputError naming the field."""
    return validated(TestPlanDocument, raw, name, PAGE, ".")
