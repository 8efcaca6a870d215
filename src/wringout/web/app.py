"""The workbench as one application: every page, its assets, and the guard before them."""

from __future__ import annotations

import contextlib
import traceback
from collections.abc import AsyncIterator, Callable
from http import HTTPStatus
from importlib.resources import files
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import BaseRoute, Mount
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from wringout.errors import ConflictError, NotFoundError, StoreError, WringoutError
from wringout.services.opening import Store, open_studies
from wringout.web.jobs import Jobs
from wringout.web.late import LatePages
from wringout.web.pages import FIRST, load, routes_of
from wringout.web.rendering import STATIC, render
from wringout.web.security import Guard, TooLargeError, TooSlowError
from wringout.web.settings import Settings
from wringout.web.site import Site

Opener = Callable[[Settings], Store]


def open_store_of(settings: Settings) -> Store:
    """Open the store a workbench is started on."""
    return open_studies(settings.database, settings.clock)


def make_app(settings: Settings, opener: Opener = open_store_of) -> Starlette:
    """Return the application.

    Args:
        settings: what it is started with.
        opener: opens the store when the application starts; the application closes it when it ends.
    """

    @contextlib.asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        with opener(settings) as store:
            jobs = Jobs(store.place.database)
            app.state.site = Site(settings, store, jobs)
            late.begin_soon()
            try:
                yield
            finally:
                late.forget()
                jobs.close()

    late = LatePages()
    app = Starlette(
        routes=[*routes_of(load(FIRST)), *assets(), Mount("", app=late)],
        middleware=guarded(settings),
        exception_handlers=TOLD,
        lifespan=lifespan,
    )
    app.state.late = late
    return app


class _Unforeseen:
    """Turns an error that nobody foresaw into a page, inside the guard, so that the page is dressed like any other."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        started = False

        async def sending(message: Message) -> None:
            nonlocal started
            started = True
            await send(message)

        try:
            await self.app(scope, receive, sending)
        except (TooLargeError, TooSlowError):
            raise
        except Exception as error:
            if started or scope["type"] != "http":
                raise
            await _unexpected(Request(scope, receive), error)(scope, receive, send)


class _Kept(StaticFiles):
    """Static files that a browser may keep: their addresses change with them."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        response = await super().get_response(path, scope)
        kept = "public, max-age=31536000, immutable" if scope.get("query_string") else "no-cache"
        response.headers["Cache-Control"] = kept
        return response


def guarded(settings: Settings) -> list[Middleware]:
    """Return what every request passes first: the guard, and inside it what turns the unforeseen into a page."""
    return [Middleware(Guard, settings=settings, refuse=_refusal), Middleware(_Unforeseen)]


def assets() -> list[BaseRoute]:
    """Return the routes of fonts, styles and scripts."""
    fonts = Path(str(files("wringout.briefs") / "fonts"))
    return [Mount("/static/fonts", _Kept(directory=fonts)), Mount("/static", _Kept(directory=STATIC))]


def _error_page(request: Request, status: int, what: str, where: str, advice: str) -> Response:
    template = "error_part.html" if "hx-request" in request.headers else "error.html"
    context = {"what": what, "where": where, "advice": advice, "status": int(status)}
    return HTMLResponse(render(request, template, context), status)


def _refusal(request: Request, status: int, what: str, advice: str) -> Response:
    return _error_page(request, status, what, "", advice)


def _told(request: Request, error: Exception) -> Response:
    """Answer an error of ours with its sentence, in its parts."""
    if not isinstance(error, WringoutError):
        raise error
    status = HTTPStatus.UNPROCESSABLE_ENTITY
    if isinstance(error, NotFoundError):
        status = HTTPStatus.NOT_FOUND
    elif isinstance(error, ConflictError):
        status = HTTPStatus.CONFLICT
    elif isinstance(error, StoreError):
        status = HTTPStatus.INTERNAL_SERVER_ERROR
    return _error_page(request, status, error.what, error.where, error.advice)


def _not_a_page(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else HTTPStatus.NOT_FOUND
    if status == HTTPStatus.METHOD_NOT_ALLOWED:
        return _error_page(
            request, status, "This address only takes what a form sends", "", "open the shelf of studies"
        )
    if status == HTTPStatus.BAD_REQUEST:
        return _error_page(request, status, "The form could not be read", "", "go back and send it again")
    what = "There is no page at this address"
    return _error_page(request, status, what, "", "open the shelf of studies and go on from there")


def _unexpected(request: Request, error: Exception) -> Response:
    """Answer what nobody foresaw; the details go to the terminal."""
    traceback.print_exception(error)
    what = f"Something unexpected went wrong ({type(error).__name__})"
    advice = "what was kept before is still kept; try again, and report what the terminal shows"
    return _error_page(request, HTTPStatus.INTERNAL_SERVER_ERROR, what, "", advice)


TOLD: dict[Any, Any] = {WringoutError: _told, HTTPException: _not_a_page}
"""How errors are answered: with a page of one sentence and what to do."""
