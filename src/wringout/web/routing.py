"""How a page's function becomes a route: plain functions of an ``Ask``, run off the event loop."""

from __future__ import annotations

import hmac
from collections.abc import Callable
from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from wringout.errors import BadInputError
from wringout.web.ask import Ask
from wringout.web.security import token_of
from wringout.web.units import chosen_by, shown_in

Handler = Callable[[Ask], Response]
TOKEN_FIELD, TOKEN_HEADER = "form-token", "x-form-token"
MOST_FILES, MOST_FIELDS = 200, 2000


@dataclass(frozen=True, slots=True)
class Tab:
    """A chapter of the notebook, as the line of chapters names it.

    Attributes:
        order: where it stands; the chapters follow the order of the work, in steps of ten.
        key: what a page of the chapter calls itself.
        title: as printed.
        path: after ``/studies/{slug}``, beginning with a stroke; or a whole path for a chapter beside the studies.
        of_study: False for a page that belongs to no one study.
    """

    order: int
    key: str
    title: str
    path: str
    of_study: bool = True


def get(path: str, handler: Handler) -> Route:
    """Return the route of a page that only shows."""

    async def endpoint(request: Request) -> Response:
        with shown_in(chosen_by(request)):
            return await run_in_threadpool(handler, _asked(request))

    return Route(path, endpoint, methods=["GET"], name=handler.__name__)


def post(path: str, handler: Handler) -> Route:
    """Return the route of a form; its token is checked before the handler runs."""

    async def endpoint(request: Request) -> Response:
        form = await request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS, max_part_size=4 << 20)
        try:
            check_token(request, form)
            with shown_in(chosen_by(request)):
                return await run_in_threadpool(handler, _asked(request, form))
        finally:
            await form.close()

    return Route(path, endpoint, methods=["POST"], name=handler.__name__)


def post_json(path: str, handler: Handler) -> Route:
    """Return the route of a script that sends JSON (``ask.json()``); a foreign page cannot send that type unasked."""

    async def endpoint(request: Request) -> Response:
        if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
            raise BadInputError("this address takes JSON", "request", "send it as application/json")
        body = await request.body()
        with shown_in(chosen_by(request)):
            return await run_in_threadpool(handler, _asked(request, None, body))

    return Route(path, endpoint, methods=["POST"], name=handler.__name__)


def _asked(request: Request, form: FormData | None = None, body: bytes = b"") -> Ask:
    return Ask(request, form, body, request.app.state.site.jobs.every())


def check_token(request: Request, form: FormData) -> None:
    """Refuse a form that was not sent from a page of this browser; raises BadInputError."""
    given = request.headers.get(TOKEN_HEADER) or form.get(TOKEN_FIELD)
    wanted = token_of(request.scope["session_key"])
    if not isinstance(given, str) or not hmac.compare_digest(given.encode(), wanted.encode()):
        raise BadInputError(
            "the form was not sent from this browser's own page, so nothing was changed",
            "form",
            "go back, load the page again and send it once more",
        )
