"""The whole history of a study: everything that was done to it, newest first, with what can be undone or redone."""

from __future__ import annotations

from starlette.responses import Response

from wringout.services.undo import whole_history
from wringout.web.ask import Ask
from wringout.web.frame import study_page
from wringout.web.routing import get

ROWS_A_PAGE = 200


def show(ask: Ask) -> Response:
    """Show a stretch of the history."""
    entries = whole_history(ask.store, ask.slug)
    wanted = ask.query("first", "0")
    first = int(wanted) if wanted.isascii() and wanted.isdigit() and len(wanted) < 9 else 0
    return study_page(
        ask,
        "question",
        "History",
        "history.html",
        entries=entries[first : first + ROWS_A_PAGE],
        total=len(entries),
        earlier=first + ROWS_A_PAGE if first + ROWS_A_PAGE < len(entries) else 0,
        first=first,
    )


ROUTES = [get("/studies/{slug}/history", show)]
