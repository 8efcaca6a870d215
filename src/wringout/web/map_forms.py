"""What the forms of maps and searches share: what was typed, from form or address, and how work on it begins."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from starlette.responses import Response

from wringout.errors import BadInputError
from wringout.services.matchups.map_axes import KINDS, Kind, kind_of
from wringout.services.matchups.trials import Desk, Law
from wringout.web.ask import Ask

LAWS = tuple(str(law) for law in Law)


@dataclass(frozen=True, slots=True)
class Typed:
    """What stands in a form of a map or a search; each has some of the fields.

    Attributes:
        written: a text for each condition, by slug. law: how pitch is flown. draws: as typed.
        stops: of a search, as typed. orders: of a map, the keys that compete; none for all.
        with_search: whether the best found by search competes in a map.
    """

    written: Mapping[str, str]
    law: str
    draws: str
    stops: str = ""
    orders: tuple[str, ...] = ()
    with_search: bool = False


def typed_in_form(ask: Ask, usual: Typed) -> Typed:
    """Return what a form was sent with; a field it has not is as usual."""
    return Typed(
        {kind.slug: ask.text(kind.slug).strip() for kind in KINDS.values()},
        ask.text("law", usual.law),
        ask.text("draws", usual.draws).strip(),
        ask.text("stops", usual.stops).strip(),
        ask.texts("order"),
        ask.text("with_search") == "yes",
    )


def typed_in_address(ask: Ask, usual: Typed) -> Typed | None:
    """Return what the address carries of a form that was sent, so that work that was stopped can be asked again."""
    if not ask.query("law"):
        return None
    return Typed(
        {kind.slug: ask.query(kind.slug) for kind in KINDS.values()},
        ask.query("law"),
        ask.query("draws", usual.draws),
        ask.query("stops", usual.stops),
        tuple(ask.request.query_params.getlist("order")),
        ask.query("with_search") == "yes",
    )


def kinds_of(found: Desk) -> list[tuple[str, Kind]]:
    """Return how each condition is written on this study's plan, by slug."""
    return [(kind.slug, kind_of(condition, found.plan.situation)) for condition, kind in KINDS.items()]


def begin(ask: Ask, typed: Typed, page: str, kind: str, title: str, work: str, **asked: Any) -> Response:
    """Begin long work on what was typed, and go to its page with an address that carries the form.

    Args:
        ask: the request. typed: what stands in the form. page: the last part of its address.
        kind, title, work: of the job; see :mod:`wringout.web.jobs`. asked: what the work takes beside study and law.
    """
    here = f"/studies/{ask.slug}/techniques/{page}"
    ask.jobs.start(ask.slug, kind, title, here, work, slug=ask.slug, written=typed.written, law=typed.law, **asked)
    return ask.go(f"{here}?{urlencode(_carried(typed))}")


def _carried(typed: Typed) -> list[tuple[str, str]]:
    parts = [(slug, text) for slug, text in typed.written.items() if text]
    parts += [("law", typed.law), ("draws", typed.draws), ("stops", typed.stops)]
    parts += [("order", key) for key in typed.orders]
    return [(name, text) for name, text in [*parts, ("with_search", "yes" if typed.with_search else "")] if text]


def law_in(text: str) -> str:
    """Return a pilot law; raises BadInputError where it is none."""
    if text not in LAWS:
        raise BadInputError(f"'{text[:40]}' is no pilot law", "law", f"one of {'; '.join(LAWS)}")
    return text


def count_in(text: str, what: str, example: int) -> int:
    """Return a whole number as typed; raises BadInputError where it is none."""
    plain = text.replace(",", "")
    if not (plain.isascii() and plain.isdigit() and len(plain) < 9):
        raise BadInputError(f"'{text[:20]}' is no number of {what}", what, f"write for example {example}")
    return int(plain)


def refuse_second(ask: Ask, kind: str, what: str) -> None:
    """Refuse to begin what is under way already, so that what was typed is not taken for it."""
    if any(job.kind == kind and job.is_open for job in ask.jobs.of_study(ask.slug)):
        raise BadInputError(f"{what} is under way already", what, "wait for it, or stop it, then send this again")
