"""Files of the airplane: every version there was, and one made from the figures a flight manual prints."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from starlette.responses import Response

from wringout.errors import BadInputError, NotFoundError
from wringout.services.airplane.airplanes import LONGEST_AIRPLANE_BYTES, show_airplane
from wringout.services.airplane.handbook_start import STARTER, handbook_document, handbook_reading
from wringout.services.airplane.sheet import newest_text
from wringout.web.ask import Ask
from wringout.web.frame import study_page
from wringout.web.routing import get, post

AT = "/studies/{slug}/airplane"


def versions(ask: Ask) -> Response:
    """Show one version of the airplane's file, and a way to the others."""
    newest = newest_text(ask.store, ask.slug)[1]
    wanted = ask.query("version")
    number = int(wanted) if wanted.isascii() and wanted.isdigit() and len(wanted) < 9 else newest
    found = show_airplane(ask.store, ask.slug, number) if newest else None
    return study_page(
        ask, "airplane", "Versions of the airplane", "airplane_versions.html", found=found, newest=newest, number=number
    )


def hand_out(ask: Ask) -> Response:
    """Hand out one version as it was put in."""
    text = ask.path("version")
    if not (text.isascii() and text.isdigit() and len(text) < 9):
        raise NotFoundError("there is no such version", advice="choose one from the list")
    found = show_airplane(ask.store, ask.slug, int(text))
    headers = {"Content-Disposition": f'attachment; filename="airplane-{found.version.version}.toml"'}
    return Response(found.version.toml.encode(), media_type="application/toml", headers=headers)


def handbook(ask: Ask) -> Response:
    """Show the form in which a manual's figures are written down."""
    return _handbook(ask, STARTER)


def _handbook(
    ask: Ask, text: str, found: dict[str, Any] | None = None, refused: str = "", status: int = HTTPStatus.OK
) -> Response:
    version = newest_text(ask.store, ask.slug)[1]
    return study_page(
        ask, "airplane", "From a handbook", "airplane_handbook.html", status,
        text=text, found=found, refused=refused, version=version,
    )  # fmt: skip


def read(ask: Ask) -> Response:
    """Read a manual's figures, hold them against each other, and show the airplane file they make."""
    files = ask.uploads("file")
    data = files[0].file.read(LONGEST_AIRPLANE_BYTES + 1) if files else ask.text("text").encode()
    name = (files[0].filename or "handbook.toml") if files else "handbook"
    typed = data.decode("utf-8", "replace")
    try:
        found = handbook_document(handbook_reading(data, name))
    except BadInputError as error:
        return _handbook(ask, typed, None, str(error), HTTPStatus.UNPROCESSABLE_ENTITY)
    return _handbook(ask, typed, found)


ROUTES = [
    get(f"{AT}/versions", versions),
    get(f"{AT}/versions/{{version}}.toml", hand_out),
    get(f"{AT}/handbook", handbook),
    post(f"{AT}/handbook", read),
]
