"""The brief: written in the background, looked at here, taken away as page, paper and bundle."""

from __future__ import annotations

from starlette.responses import Response

from wringout.errors import NotFoundError
from wringout.services.publishing.brief_files import brief_file, newest_brief
from wringout.web.ask import Ask
from wringout.web.frame import study_page
from wringout.web.routing import Tab, get, post

WRITE_BRIEF = "wringout.web.work:publish_brief_of"
TYPES = {".html": "text/html; charset=utf-8", ".pdf": "application/pdf", ".zip": "application/zip"}
OF_THE_BRIEF = (
    "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; frame-ancestors 'self'"
)
"""A brief is a page of its own: it runs nothing and loads nothing."""


def show(ask: Ask) -> Response:
    """Show the newest brief, and write one."""
    return study_page(ask, "brief", "Brief", "brief.html", brief=newest_brief(ask.store, ask.slug))


def write(ask: Ask) -> Response:
    """Write the brief in the background."""
    folder = ask.site.brief_folder(ask.slug)
    address = f"/studies/{ask.slug}/brief"
    ask.jobs.start(ask.slug, "brief", "Writing the brief", address, WRITE_BRIEF, slug=ask.slug, folder=str(folder))
    return ask.go(address)


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
