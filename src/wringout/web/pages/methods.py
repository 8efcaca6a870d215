"""The flight-test methods there are, and one test card of any of them held against the limits of a study's airplane."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from starlette.responses import Response

from wringout.errors import BadInputError, LimitError, NotFoundError
from wringout.services.planning.single_cards import card_document, method_documents, plan_point
from wringout.services.planning.words import EXAMPLES
from wringout.web.ask import Ask
from wringout.web.frame import study_page
from wringout.web.routing import get

LONGEST_WORDS = 4000


def show(ask: Ask) -> Response:
    """Show the methods, and the card that the address asks for."""
    methods = method_documents()
    key = ask.query("method") if ask.query("method") in {m["key"] for m in methods} else ""
    words = ask.query("words")[:LONGEST_WORDS] if "words" in ask.request.query_params else _example(key)
    card: dict[str, Any] | None = None
    refused, status = "", HTTPStatus.OK
    if key and "words" in ask.request.query_params:
        try:
            planned = plan_point(ask.store, ask.slug, key, _table(words))
            card = card_document(planned.card, list(planned.notices))
        except (BadInputError, LimitError, NotFoundError) as error:
            refused, status = str(error), HTTPStatus.UNPROCESSABLE_ENTITY
    return study_page(
        ask, "plan", "Methods and single cards", "methods.html", status,
        methods=methods, key=key, words=words, card=card, refused=refused,
    )  # fmt: skip


def _example(key: str) -> str:
    return "\n".join(f"{word}: {text}" for word, text in EXAMPLES.get(key, {}).items())


def _table(text: str) -> dict[str, str]:
    found = {}
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        word, colon, value = line.partition(":")
        if not colon or not value.strip():
            raise BadInputError(
                f"{line.strip()[:60]!r} is no word", f"words, line {number}", 'write "altitude: 7,000 ft"'
            )
        found[word.strip().lower()] = value.strip()
    return found


ROUTES = [get("/studies/{slug}/methods", show)]
