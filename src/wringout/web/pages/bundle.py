"""The bundle alone: what it would hold, what in it could point to a person, and the file."""

from __future__ import annotations

import shutil
import tempfile
from http import HTTPStatus
from pathlib import Path

from starlette.background import BackgroundTask
from starlette.responses import FileResponse, Response

from wringout.services.publishing.bundles import export_study
from wringout.services.publishing.contained import contained
from wringout.web.ask import Ask
from wringout.web.frame import study_page
from wringout.web.routing import get, post

AT = "/studies/{slug}/bundle"


def show(ask: Ask) -> Response:
    """Show what the bundle would hold; nothing is written."""
    return _page(ask)


def _page(ask: Ask, refused: str = "", status: int = HTTPStatus.OK) -> Response:
    found = contained(ask.store, ask.slug)
    return study_page(ask, "brief", "The bundle", "bundle.html", status, found=found, refused=refused)


def hand_out(ask: Ask) -> Response:
    """Hand the bundle out, once what can point to a person was looked through."""
    found = contained(ask.store, ask.slug)
    if found.personal and ask.text("private") != "yes":
        said = "Nothing was written: look through what can point to a person, then tick that it may be passed on."
        return _page(ask, said, HTTPStatus.UNPROCESSABLE_ENTITY)
    folder = Path(tempfile.mkdtemp(prefix="wringout-"))
    try:
        path = folder / f"{found.study.slug}.zip"
        export_study(ask.store, found.study.slug, path)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    gone = BackgroundTask(shutil.rmtree, folder, ignore_errors=True)
    return FileResponse(path, media_type="application/zip", filename=path.name, background=gone)


ROUTES = [get(AT, show), post(AT, hand_out)]
