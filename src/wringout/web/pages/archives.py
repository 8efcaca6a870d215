"""Archives: folders of recordings on this machine scanned for go-arounds; the finds sifted, handed out, opened."""

from __future__ import annotations

from dataclasses import replace
from http import HTTPStatus
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from starlette.responses import Response

from wringout.errors import BadInputError, NotFoundError
from wringout.numerals import MINUS
from wringout.services.fleet.archive_finds import (
    CONFIDENCES,
    SORTS,
    Sieve,
    archive_file,
    archive_finds,
    archive_orders,
    begin_archive,
    find_archive,
    finds_file,
    forget_archive,
    list_archives,
    unread_files,
)
from wringout.services.flights.recordings import take_in_recording
from wringout.services.study.studies import summaries
from wringout.web.ask import Ask
from wringout.web.here import only_here
from wringout.web.routing import Tab, get, post

AT = "/archives"
WORK = "wringout.web.work.archives:scan_of"
ROWS_A_PAGE = 100
MOST_ORDERS = 40
TYPES = {"csv": "text/csv; charset=utf-8", "parquet": "application/vnd.apache.parquet"}


def show(ask: Ask) -> Response:
    """Show the archives that were scanned, and the form for another."""
    return _page(ask)


def _page(ask: Ask, refused: str = "", status: int = HTTPStatus.OK) -> Response:
    found = list_archives(ask.site.database)
    typed = ask.text("folder")
    return ask.page(
        "archives.html", status, archives=found, jobs=ask.jobs_of(""), typed=typed, refused=refused, going=_going(ask)
    )


def _going(ask: Ask) -> set[str]:
    """Return the keys of the archives that are being scanned."""
    return {job.kind.removeprefix("scan-") for job in ask.jobs_at_first if job.is_open and job.kind.startswith("scan-")}


def begin(ask: Ask) -> Response:
    """Begin to scan a folder in the background."""
    try:
        made = begin_archive(ask.site.database, ask.text("folder"), ask.site.settings.clock)
    except BadInputError as error:
        return _page(ask, str(error), HTTPStatus.UNPROCESSABLE_ENTITY)
    return _begin(ask, made.key, made.source)


def _begin(ask: Ask, key: str, source: str) -> Response:
    here = f"{AT}/{key}"
    ask.jobs.start("", f"scan-{key}", f"Scanning {Path(source).name}", here, WORK, key=key)
    return ask.go(here)


def again(ask: Ask) -> Response:
    """Scan a folder again: what is new or was changed, and what a stopped scan left."""
    found = find_archive(ask.site.database, ask.path("key"))
    return _begin(ask, found.key, begin_archive(ask.site.database, found.source, ask.site.settings.clock).source)


def forget(ask: Ask) -> Response:
    """Take an archive's tables away."""
    forget_archive(ask.site.database, ask.path("key"))
    return ask.go(AT)


def one(ask: Ask) -> Response:
    """Show the finds of an archive."""
    database, key = ask.site.database, ask.path("key")
    archive, sieve = find_archive(database, key), _sieve(ask)
    wanted = ask.query("first", "0")
    first = int(wanted) if wanted.isascii() and wanted.isdigit() and len(wanted) < 9 else 0
    rows, total = archive_finds(database, key, sieve, first, ROWS_A_PAGE)
    orders = archive_orders(database, key)
    return ask.page(
        "archive.html",
        jobs=ask.jobs_of(""),
        archive=archive,
        going=key in _going(ask),
        sieve=sieve,
        sorts=SORTS,
        confidences=CONFIDENCES,
        rows=[_row(row) for row in rows],
        total=total,
        first=first,
        earlier=_address(sieve, max(first - ROWS_A_PAGE, 0)) if first else "",
        later=_address(sieve, first + ROWS_A_PAGE) if first + ROWS_A_PAGE < total else "",
        query=_address(sieve),
        orders=[(order, n, _address(replace(sieve, order=order or "none"))) for order, n in orders[:MOST_ORDERS]],
        unread=unread_files(database, key),
    )


def _sieve(ask: Ask) -> Sieve:
    """Return what the address asks for; a word that is none of the choices wants all."""

    def among(name: str, known: Any, usual: str) -> str:
        return ask.query(name) if ask.query(name) in known else usual

    return Sieve(
        among("kind", ("go-around", "change"), "go-around"),
        among("sure", CONFIDENCES, ""),
        ask.query("order")[:400],
        ask.query("words").strip()[:200],
        among("sort", SORTS, "sure"),
    )


def _address(sieve: Sieve, first: int = 0) -> str:
    asked = {"kind": sieve.kind, "sure": sieve.confidence, "order": sieve.order, "words": sieve.words}
    parts = {name: value for name, value in (asked | {"sort": sieve.sort}).items() if value}
    return "?" + urlencode(parts | ({"first": str(first)} if first else {}))


def _row(row: dict[str, Any]) -> dict[str, Any]:
    """Return a find with its file's name and its time as a clock shows it."""
    seconds = row["time_s"]
    minutes, rest = divmod(abs(round(seconds)), 60)
    sign = MINUS if seconds < 0 else ""
    clock = f"{sign}{minutes}:{rest:02d}"
    return row | {"name": Path(row["path"]).name, "clock": clock}


def hand_out(ask: Ask) -> Response:
    """Hand the finds that are asked for out as a table."""
    form = ask.path("form")
    if form not in TYPES:
        raise NotFoundError(f"finds are not handed out as '{form[:20]}'", advice="choose Parquet or CSV")
    data = finds_file(ask.site.database, ask.path("key"), _sieve(ask), form)
    headers = {"Content-Disposition": f'attachment; filename="finds.{form}"'}
    return Response(data, media_type=TYPES[form], headers=headers)


def file(ask: Ask) -> Response:
    """Show what was found in one recording of an archive."""
    return _file(ask)


def _file(ask: Ask, refused: str = "", status: int = HTTPStatus.OK) -> Response:
    key = ask.path("key")
    about, events = archive_file(ask.site.database, key, ask.path("sha256"))
    return ask.page(
        "archive_file.html",
        status,
        archive=find_archive(ask.site.database, key),
        about=about,
        name=Path(about["path"]).name,
        events=[_row(event) for event in events],
        studies=[(one.study.slug, one.study.title) for one in summaries(ask.store)],
        typed=ask.text("study"),
        refused=refused,
    )


def take_in(ask: Ask) -> Response:
    """Take a recording of an archive into a study."""
    about, _ = archive_file(ask.site.database, ask.path("key"), ask.path("sha256"))
    path, slug = Path(about["path"]), ask.text("study")
    if not slug:
        return _file(ask, "Choose the study it is for.", HTTPStatus.UNPROCESSABLE_ENTITY)
    try:
        with path.open("rb") as stream:
            arrival = take_in_recording(ask.store, slug, stream, path.name, f"from the archive {path.parent}")
    except (BadInputError, NotFoundError) as error:
        return _file(ask, str(error), HTTPStatus.UNPROCESSABLE_ENTITY)
    except OSError as error:
        said = f"{path} cannot be read ({error.strerror or error}); scan the folder again."
        return _file(ask, said, HTTPStatus.UNPROCESSABLE_ENTITY)
    return ask.go(f"/studies/{slug}/recordings/{arrival.item.recording.sha256}")


TAB = Tab(93, "archives", "Archives", AT, of_study=False)
ROUTES = [
    get(AT, only_here(show)),
    post(AT, only_here(begin)),
    get(f"{AT}/{{key}}", only_here(one)),
    post(f"{AT}/{{key}}/again", only_here(again)),
    post(f"{AT}/{{key}}/forget", only_here(forget)),
    get(f"{AT}/{{key}}/finds.{{form}}", only_here(hand_out)),
    get(f"{AT}/{{key}}/files/{{sha256}}", only_here(file)),
    post(f"{AT}/{{key}}/files/{{sha256}}", only_here(take_in)),
]
