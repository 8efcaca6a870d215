"""The demo airplane, and plans of it, for the tests of planning."""

from __future__ import annotations

from collections.abc import Callable
from importlib.resources import files
from typing import Any

import pytest

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.planning.document import TestPlanDocument, plan_from_table
from wringout.planning.plan import TestPlan, plan_in_si

FLIGHT = {
    "start": "2027-05-09T14:00+02:00", "latitude": 48.0, "longitude": 9.0, "ground_elevation": "1500 ft",
    "fuel": "50 gal", "fuel_flow": "11 gal/h", "fuel_reserve": "12 gal",
}  # fmt: skip
WORDS = {
    "level deceleration": {"device": "gear", "entry speed": "110 kt", "altitude": "7000 ft"},
    "out and back": {"device": "gear", "entry speed": "110 kt", "settled speed": "85 kt", "altitude": "7000 ft"},
    "stall series": {"entry speed": "85 kt", "altitude": "7000 ft"},
    "transit timing": {"speed": "85 kt", "altitude": "7000 ft"},
    "glide": {"speeds": "75, 90, 115 kt", "altitude": "7000 ft"},
    "climb": {"speeds": "75, 90, 115 kt", "altitude": "7000 ft"},
}


@pytest.fixture(scope="session")
def beliefs() -> Beliefs:
    text = (files("wringout.services") / "demo_study" / "airplane.toml").read_text(encoding="utf-8")
    return airplane_from_document(parse_airplane(text))


@pytest.fixture
def make(beliefs: Beliefs) -> Callable[..., TestPlan]:
    """Return a plan of points given as (key, method, words that differ), and fields of the flight that differ."""

    def plan(*points: tuple[str, str, dict[str, str]], engine: dict[str, Any] | None = None, **flight: Any) -> TestPlan:
        table = {
            "flight": {**FLIGHT, **flight},
            "engine": engine or {},
            "points": [{"key": k, "method": m, "words": {**WORDS.get(m, {}), **w}} for k, m, w in points],
        }
        document: TestPlanDocument = plan_from_table(table, "plan")
        return plan_in_si(document, beliefs)

    return plan
