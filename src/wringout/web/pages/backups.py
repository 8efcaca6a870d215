"""Back-ups: everything in one file, checked, handed out, and taken back; on the workbench's own machine only."""

from __future__ import annotations

from http import HTTPStatus

from starlette.responses import FileResponse, Response

from wringout.errors import BadInputError, NotFoundError, WringoutError
from wringout.services.backups import Held, add_backup, backup_file, backup_folder, backups_beside, examine, stands
from wringout.web.ask import Ask
from wringout.web.here import only_here
from wringout.web.routing import Tab, get, post

WORK = "wringout.web.work.keeping"
AT = "/backups"
SENTENCE = "take it back"
"""What has to be typed before the database gives way."""


def show(ask: Ask) -> Response:
    """Show the back-ups beside the database, and whether something was edited since the newest."""
    return _page(ask)


def _page(ask: Ask, refused: str = "", status: int = HTTPStatus.OK) -> Response:
    database, now = ask.site.database, stands(ask.store)
    files = backups_beside(database)
    return ask.page(
        "backups.html",
        status,
        jobs=ask.jobs_of(""),
        files=files,
        now=now,
        later=bool(files) and now.edited_at[:19] > files[0].at[:19],
        folder=backup_folder(database),
        database=database,
        refused=refused,
    )


def write(ask: Ask) -> Response:
    """Begin to write a back-up, in the background."""
    stem = f"wringout-{ask.now:%Y-%m-%d-%H%M}"
    ask.jobs.start("", "backup", "Writing a back-up", AT, f"{WORK}:write_backup_of", stem=stem)
    return ask.go(AT)


def check(ask: Ask) -> Response:
    """Begin to check a back-up."""
    name = backup_file(ask.site.database, ask.path("name")).name
    ask.jobs.start("", "check", f"Checking {name}", AT, f"{WORK}:check_backup_of", name=name)
    return ask.go(AT)


def check_database(ask: Ask) -> Response:
    """Begin to read the database from end to end."""
    ask.jobs.start("", "check", "Checking the database", AT, f"{WORK}:check_database_of")
    return ask.go(AT)


def add(ask: Ask) -> Response:
    """Put a back-up from elsewhere beside the others, and begin to check it."""
    files = ask.uploads("backup")
    if not files:
        return _page(ask, "Choose a back-up first: a .zip file.", HTTPStatus.UNPROCESSABLE_ENTITY)
    try:
        kept = add_backup(ask.site.database, files[0].file, files[0].filename or "back-up.zip")
    except BadInputError as error:
        return _page(ask, str(error), HTTPStatus.UNPROCESSABLE_ENTITY)
    ask.jobs.start("", "check", f"Checking {kept.name}", AT, f"{WORK}:check_backup_of", name=kept.name)
    return ask.go(AT)


def hand_out(ask: Ask) -> Response:
    """Hand a back-up out as a file."""
    kept = backup_file(ask.site.database, ask.path("name"))
    return FileResponse(kept.path, media_type="application/zip", filename=kept.name)


def before_restore(ask: Ask) -> Response:
    """Show what a back-up would put in the place of what."""
    return _restore(ask)


def _restore(ask: Ask, refused: str = "", status: int = HTTPStatus.OK) -> Response:
    database = ask.site.database
    kept = backup_file(database, ask.path("name"))
    held: Held | None = None
    try:
        with kept.path.open("rb") as stream:
            held = examine(database, stream, kept.name, whole=False)
    except WringoutError as error:
        refused, status = str(error), HTTPStatus.UNPROCESSABLE_ENTITY
    except OSError:
        raise NotFoundError(f"'{kept.name}' is not there any more", advice="load the list again") from None
    now = stands(ask.store)
    return ask.page(
        "backup_restore.html",
        status,
        jobs=ask.jobs_of(""),
        kept=kept,
        held=held,
        now=now,
        gone=() if held is None else tuple(title for title in now.studies if title not in held.studies),
        sentence=SENTENCE,
        typed=ask.text("sentence"),
        refused=refused,
        database=database,
    )


def restore(ask: Ask) -> Response:
    """Begin to take a back-up back, once the sentence was typed."""
    if " ".join(ask.text("sentence").lower().split()) != SENTENCE:
        refused = f"Nothing was changed: type “{SENTENCE}” into the field to take it back."
        return _restore(ask, refused, HTTPStatus.UNPROCESSABLE_ENTITY)
    name = backup_file(ask.site.database, ask.path("name")).name
    ask.jobs.start("", "restore", f"Taking {name} back", AT, f"{WORK}:restore_backup_of", name=name)
    return ask.go(AT)


TAB = Tab(95, "backups", "Back-ups", AT, of_study=False)
ROUTES = [
    get(AT, only_here(show)),
    post(AT, only_here(write)),
    post(f"{AT}/add", only_here(add)),
    post(f"{AT}/database/check", only_here(check_database)),
    get(f"{AT}/{{name}}", only_here(hand_out)),
    post(f"{AT}/{{name}}/check", only_here(check)),
    get(f"{AT}/{{name}}/restore", only_here(before_restore)),
    post(f"{AT}/{{name}}/restore", only_here(restore)),
]
