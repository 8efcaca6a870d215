"""The brief: written in the background, looked at here, taken away as page, paper and bundle."""

from __future__ import annotations

from collections.abc import Mapping
from http import HTTPStatus

from starlette.responses import Response

from wringout.errors import NotFoundError
from wringout.services.flights.recordings import study_recordings
from wringout.services.publishing.brief_files import brief_file, newest_brief
from wringout.services.publishing.contained import contained
from wringout.services.publishing.video import FOLDER
from wringout.services.publishing.video_files import video_files
from wringout.web.ask import Ask
from wringout.web.frame import study_page
from wringout.web.routing import Tab, get, post

READERS = {
    "members": "one page for members",
    "instructor": "a lesson sheet for the instructor",
    "slides": "slides",
}
VIDEO_FIELDS = ("recording", "begins", "seconds", "dark", "fps", "height", "pictures", "bare")
WRITE_BRIEF = "wringout.web.work.studies:publish_brief_of"
TYPES = {".html": "text/html; charset=utf-8", ".pdf": "application/pdf", ".zip": "application/zip"}
OF_THE_BRIEF = (
    "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; frame-ancestors 'self'"
)
"""A brief is a page of its own: it runs nothing and loads nothing."""


def show(ask: Ask, typed: Mapping[str, str] | None = None, refusal: str = "") -> Response:
    """Show the newest brief, write one, and make what a video needs; ``typed`` is what was refused, and why."""
    recordings = [
        one.item.name
        for one in study_recordings(ask.store, ask.slug)
        if one.recording is not None and one.recording.time_s is not None
    ]
    return study_page(
        ask,
        "brief",
        "Brief",
        "brief.html",
        status=HTTPStatus.UNPROCESSABLE_ENTITY if refusal else HTTPStatus.OK,
        brief=newest_brief(ask.store, ask.slug),
        video=video_files(ask.site.brief_folder(ask.slug) / FOLDER),
        recordings=recordings,
        readers=READERS,
        contained=contained(ask.store, ask.slug),
        typed=typed or dict.fromkeys(VIDEO_FIELDS, ""),
        refusal=refusal,
    )


def write(ask: Ask) -> Response:
    """Write the brief in the background, for other readers too where they are ticked."""
    ask.jobs.start(
        ask.slug,
        "brief",
        "Writing the brief",
        f"/studies/{ask.slug}/brief",
        WRITE_BRIEF,
        slug=ask.slug,
        folder=str(ask.site.brief_folder(ask.slug)),
        units="metric" if ask.text("units") == "metric" else "aviation",
        readers=tuple(reader for reader in READERS if reader in ask.texts("for")),
    )
    return ask.go(f"/studies/{ask.slug}/brief")


def hand_out(ask: Ask) -> Response:
    """Hand out one file of the brief; the page itself is shown, the others are downloads."""
    found = brief_file(ask.store, ask.slug, ask.path("name"))
    try:
        data = found.path.read_bytes()
    except OSError:
        raise NotFoundError(f"'{found.name}' is not there any more", advice="write the brief again") from None
    shown = found.path.suffix == ".html" and ask.query("as") != "file"
    headers = {"Content-Disposition": f'{"inline" if shown else "attachment"}; filename="{found.name}"'}
    if found.path.suffix == ".html":
        headers["Content-Security-Policy"] = OF_THE_BRIEF
    return Response(data, media_type=TYPES[found.path.suffix], headers=headers)


AT = "/studies/{slug}/brief"
TAB = Tab(80, "brief", "Brief", "/brief")
ROUTES = [get(AT, show), post(AT, write), get(f"{AT}/files/{{name}}", hand_out)]
