"""What forms of maps and searches share: conditions as typed, pilot laws, numbers."""

from __future__ import annotations

from urllib.parse import urlencode

from wringout.errors import BadInputError
from wringout.services.matchups.map_axes import KINDS, Kind, kind_of
from wringout.services.matchups.trials import Desk, Law
from wringout.web.ask import Ask

LAWS = tuple(str(law) for law in Law)


def kinds_of(found: Desk) -> list[tuple[str, Kind]]:
    """Return how each condition is written on this study's plan, by slug."""
    return [(kind.slug, kind_of(condition, found.plan.situation)) for condition, kind in KINDS.items()]


def written_in(ask: Ask) -> dict[str, str]:
    """Return the conditions as they stand in the form, by slug."""
    return {kind.slug: ask.text(kind.slug).strip() for kind in KINDS.values()}


def written_in_address(ask: Ask) -> dict[str, str]:
    """Return the conditions as the address carries them, by slug."""
    return {kind.slug: ask.query(kind.slug) for kind in KINDS.values()}


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


def address(here: str, written: dict[str, str], **more: str | tuple[str, ...]) -> str:
    """Return an address that carries a form, so that it can be sent again."""
    parts = [(slug, text) for slug, text in written.items() if text]
    for name, value in more.items():
        parts += [(name, value)] if isinstance(value, str) else [(name, one) for one in value]
    return f"{here}?{urlencode(parts)}"
