"""Test cards: what to fly, held against the airplane's limits before it is printed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from wringout.errors import LimitError
from wringout.methods.register import METHODS, method
from wringout.methods.types import Card, GuardNotice
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.opening import the_study
from wringout.store import Store

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class PlannedPoint:
    """A card, and the margins that are thin on it."""

    airplane: str
    card: Card
    notices: tuple[GuardNotice, ...]


def plan_point(store: Store, slug: str | None, method_key: str, words: Mapping[str, str]) -> PlannedPoint:
    """Return the test card of a point, after holding it against the limits of the study's airplane.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        method_key: the flight-test method.
        words: what describes the point, such as ``device`` and ``entry speed``.

    Raises:
        LimitError: the point would break a limit; no card is made then.
        BadInputError: the method or a word cannot be read.
        NotFoundError: there is no such study, or it has no airplane.
    """
    flown = method(method_key)
    with store.reading() as view:
        beliefs = study_airplane(view, the_study(view, slug).id).beliefs
    notices = tuple(flown.guard(beliefs, dict(words)))
    for notice in notices:
        if notice.blocking:
            raise LimitError(notice.sentence.rstrip("."), "card", "no card is printed for a point beyond a limit")
    return PlannedPoint(beliefs.name, flown.card(beliefs, dict(words)), notices)


def card_document(card: Card, notices: list[GuardNotice]) -> Json:
    """Return a test card with what stands against it."""
    return {
        "title": card.title,
        "purpose": card.purpose,
        "setup": list(card.setup),
        "steps": list(card.steps),
        "readings": list(card.readings),
        "stop_conditions": list(card.stop_conditions),
        "notices": [{"blocking": notice.blocking, "sentence": notice.sentence} for notice in notices],
        "cautions": list(card.cautions),
    }


def method_documents() -> list[Json]:
    """Return every flight-test method there is."""
    return [{"key": key, "title": found.title, "observed_unit": found.observed_unit} for key, found in METHODS.items()]
