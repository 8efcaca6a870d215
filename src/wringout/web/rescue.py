"""The face of a damaged database: the ways forward as a page, until one was gone and the workbench can open."""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus

from starlette.applications import Starlette
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from wringout.errors import BadInputError, NotFoundError, WringoutError
from wringout.numerals import count
from wringout.services.backups import add_backup, backup_file, backup_folder, backups_beside, place_of, rescue, restore
from wringout.web.app import TOLD, assets, guarded
from wringout.web.rendering import render
from wringout.web.routing import Tab, check_token
from wringout.web.security import is_here
from wringout.web.settings import Settings

OVER = {"Refresh": "1; url=/", "Connection": "close"}
"""Sends the browser on by itself: asked at once, the page that is about to end might still answer."""
Act = Callable[[Settings, FormData], list[str]]


class _NoTabs:
    """What stands for the chapters while none can be shown."""

    def tabs(self) -> tuple[Tab, ...]:
        return ()


def make_rescue(settings: Settings) -> Starlette:
    """Return the application that is served while the database is damaged.

    Whoever serves it sets ``state.end``, which ends serving it, so that the workbench itself can be served.
    """

    async def show(request: Request) -> Response:
        _only_here(request)
        return await run_in_threadpool(_page, request, settings)

    async def go_on(request: Request) -> Response:
        _only_here(request)
        check_token(request, await request.form())
        page = render(request, "rescue_over.html", {})
        return HTMLResponse(page, headers=OVER, background=BackgroundTask(app.state.end))

    def doing(act: Act) -> Callable[[Request], object]:
        async def endpoint(request: Request) -> Response:
            _only_here(request)
            form = await request.form(max_files=1, max_fields=20)
            try:
                check_token(request, form)
                said = await run_in_threadpool(act, settings, form)
            except WringoutError as error:
                page = _page(request, settings, str(error))
                page.status_code = HTTPStatus.UNPROCESSABLE_ENTITY
                return page
            finally:
                await form.close()
            return HTMLResponse(render(request, "rescued.html", {"said": said}))

        return endpoint

    app = Starlette(
        routes=[
            Route("/rescue", doing(_rescue), methods=["POST"]),
            Route("/rescue/back-up", doing(_restore), methods=["POST"]),
            Route("/rescue/go-on", go_on, methods=["POST"]),
            *assets(),
            Route("/{path:path}", show, methods=["GET"]),
        ],
        middleware=guarded(settings),
        exception_handlers=TOLD,
    )
    app.state.late = _NoTabs()
    return app


def _only_here(request: Request) -> None:
    if not is_here(request):
        raise NotFoundError("the database is damaged; it is mended on the machine where Wringout was opened")


def _page(request: Request, settings: Settings, refused: str = "") -> HTMLResponse:
    place = place_of(settings.database)
    context = {
        "database": place.database,
        "recordings": place.recordings,
        "files": backups_beside(settings.database),
        "folder": backup_folder(settings.database),
        "refused": refused,
    }
    return HTMLResponse(render(request, "rescue.html", context))


def _rescue(settings: Settings, _: FormData) -> list[str]:
    done = rescue(settings.database, settings.clock)
    rows = sum(done.rows.values())
    said = [
        f"{count(done.recordings, 'recording')} saved, and {count(rows, 'row')} of the database.",
        f"The damaged database is kept as {done.aside}.",
    ]
    if done.loose:
        said.append(f"{count(done.loose, 'recording')} belonged to no study any more: see “{done.study_slug}”.")
    if done.damaged:
        said.append(f"{count(len(done.damaged), 'recording')} damaged as well: take in the original files again.")
    return said


def _restore(settings: Settings, form: FormData) -> list[str]:
    name, upload = form.get("name"), form.get("backup")
    if isinstance(upload, UploadFile) and upload.filename:
        name = add_backup(settings.database, upload.file, upload.filename).name
    if not isinstance(name, str):
        raise BadInputError("no back-up was chosen", "back-up", "choose a file that was written by “Write a back-up”")
    with backup_file(settings.database, name).path.open("rb") as stream:
        done = restore(settings.database, stream, name, replace=True)
    return [f"All studies of {name}, with {count(done.recordings, 'recording')}, are here.", *done.notices]
