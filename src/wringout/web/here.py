"""Pages for the workbench's own machine only: what reads and writes files beside the studies is not shared."""

from __future__ import annotations

import functools

from starlette.responses import Response

from wringout.errors import NotFoundError
from wringout.web.ask import Ask
from wringout.web.routing import Handler
from wringout.web.security import is_here


def only_here(handler: Handler) -> Handler:
    """Return a handler that answers this machine only; another device is told where to go."""

    @functools.wraps(handler)
    def guarded(ask: Ask) -> Response:
        if not is_here(ask.request):
            raise NotFoundError(
                "this page works with files of the machine where Wringout was opened, and is not shared with others",
                advice="go to that machine",
            )
        return handler(ask)

    return guarded
