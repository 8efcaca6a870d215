"""The register beside the studies: searched, read, written in sentences, asked what holds, imported and exported."""

from __future__ import annotations

from collections.abc import Mapping
from http import HTTPStatus
from typing import Any
from urllib.parse import quote

from starlette.responses import Response

from wringout.errors import BadInputError, ConflictError
from wringout.numerals import count
from wringout.services.fleet_demonstration import put_demo_fleet
from wringout.services.register.documents import CAUTIONS, checked_document
from wringout.services.register.entries import (
    LONGEST_TABLE_BYTES,
    attach,
    check_register,
    export_register,
    import_register,
    parse_date,
    put_in_register,
    remove_from_register,
    show_entry,
    steps_text,
    table_of,
    what_holds,
)
from wringout.services.register.pages import PAGE, attachment, bring_back, editions, models_of_register, search_register
from wringout.web.ask import Ask
from wringout.web.routing import Tab, get, post

TAB = Tab(91, "register", "Handbook register", "/register", of_study=False)
TYPED = ("family", "model", "serials", "document", "part_number", "revision", "date", "section", "prints", "steps")
TEXTS = (*TYPED, "paraphrase", "note")
SHOWN_ERRORS = 100
LONGEST_SHOWN = 400_000


def show(ask: Ask) -> Response:
    """Show the list, or the part of it that a search asks for."""
    words = ask.query("q")
    start = int(ask.query("from")) if ask.query("from").isdigit() and len(ask.query("from")) < 9 else 0
    found = search_register(ask.store, words, start)
    today = ask.now.date().isoformat()
    context: dict[str, Any] = {"found": found, "words": words, "per_page": PAGE, "today": today, "cautions": CAUTIONS}
    if ask.is_part:
        return ask.page("register_list.html", **context)
    return ask.page("register.html", removed=ask.query("removed"), **context)


def ask_what_holds(ask: Ask) -> Response:
    """Show which procedure holds for a serial of a model on a day."""
    typed = {name: ask.query(name).strip() for name in ("family", "model", "serial", "on")}
    typed["on"] = typed["on"] or ask.now.date().isoformat()
    found, refused = None, ""
    try:
        if typed["model"] or typed["serial"]:
            day = parse_date(typed["on"], "day")
            found = what_holds(ask.store, typed["model"], typed["serial"], day, typed["family"])
    except BadInputError as error:
        refused = str(error)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if refused else HTTPStatus.OK
    known = models_of_register(ask.store)
    return ask.page(
        "register_holds.html",
        status,
        typed=typed,
        found=found,
        refused=refused,
        models=sorted({model for family, model in known if typed["family"] in ("", family)}),
        families=sorted({family for family, _ in known}),
        steps_text=steps_text,
        cautions=CAUTIONS,
    )


def check(ask: Ask) -> Response:
    """Show gaps, overlaps and revisions."""
    typed, refused = ask.query("on") or ask.now.date().isoformat(), ""
    try:
        on = parse_date(typed, "day")
    except BadInputError as error:
        on, refused = ask.now.date(), str(error)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if refused else HTTPStatus.OK
    found = checked_document(check_register(ask.store, on))
    return ask.page(
        "register_check.html", status, found=found, found_words=_found_words(found), typed=typed, refused=refused
    )


def _found_words(found: Mapping[str, Any]) -> str:
    """Return how many gaps and overlaps were found, such as "two gaps and one overlap were found"; "" for none."""
    kinds = [item["kind"] for item in found["irregular"]]
    parts = [count(kinds.count(kind), kind) for kind in ("gap", "overlap") if kind in kinds]
    return f"{' and '.join(parts)} {'was' if len(kinds) == 1 else 'were'} found" if parts else ""


def new(ask: Ask) -> Response:
    """Show an empty entry."""
    return _form(ask, {name: ask.query(name) for name in TEXTS} | {"prints": "steps", "invented": False})


def edit(ask: Ask) -> Response:
    """Show an entry, to be read and changed."""
    found, kept, attached = editions(ask.store, ask.path("key"))
    return ask.page(
        "register_entry.html",
        found=found,
        editions=kept,
        attached=attached,
        typed=table_of(found.entry),
        was=found.revision,
        refused="",
        cautions=CAUTIONS,
    )


def _form(
    ask: Ask, typed: dict[str, Any], refused: str = "", key: str = "", was: int = 0, status: int = HTTPStatus.OK
) -> Response:
    context: dict[str, Any] = {"found": None, "editions": (), "attached": ()}
    if key:
        found, kept, attached = editions(ask.store, key)
        context = {"found": found, "editions": kept, "attached": attached}
    return ask.page("register_entry.html", status, typed=typed, was=was, refused=refused, cautions=CAUTIONS, **context)


def save(ask: Ask) -> Response:
    """Keep an entry, new or changed; what was typed stays when it is refused."""
    key = str(ask.request.path_params.get("key", ""))
    typed: dict[str, Any] = {name: ask.text(name).strip() for name in TEXTS}
    typed["invented"] = ask.text("invented") == "yes"
    was = int(ask.text("was")) if ask.text("was").isdigit() else 0
    body = typed | ({"steps": ""} if typed["prints"] == "none" else {})
    try:
        if key:
            body["attachments"] = list(show_entry(ask.store, key)[0].entry.attachments)
        kept = put_in_register(ask.store, body, key or None, was)
    except ConflictError as error:
        newest = show_entry(ask.store, key)[0].revision if key else 0
        said = f"{error} Save again to put yours in its place." if key else str(error)
        return _form(ask, typed, said, key, newest, HTTPStatus.CONFLICT)
    except BadInputError as error:
        return _form(ask, typed, str(error), key, was, HTTPStatus.UNPROCESSABLE_ENTITY)
    return ask.go(f"/register/entries/{kept.key}")


def remove(ask: Ask) -> Response:
    """Take an entry out; it can be brought back."""
    return ask.go(f"/register?removed={remove_from_register(ask.store, ask.path('key')).key}")


def restore(ask: Ask) -> Response:
    """Bring a removed entry back."""
    bring_back(ask.store, ask.path("key"))
    return ask.go(f"/register/entries/{ask.path('key')}")


def put_attachment(ask: Ask) -> Response:
    """Keep a photo or page with an entry."""
    files = ask.uploads("file")
    if not files:
        raise BadInputError("no file was chosen", "attachment", "choose a photo or a PDF page")
    attach(ask.store, ask.path("key"), files[0].file, files[0].filename or "page")
    return ask.go(f"/register/entries/{ask.path('key')}")


def hand_out(ask: Ask) -> Response:
    """Hand an attachment out as a file to be saved, never shown as a page of ours."""
    data, name = attachment(ask.store, ask.path("digest"))
    return _file(data, name, "application/octet-stream")


def _file(data: bytes, name: str, kind: str) -> Response:
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{quote(name, safe='')}"}
    return Response(data, media_type=kind, headers=headers)


def show_import(ask: Ask) -> Response:
    """Show where a table is taken in."""
    return _import_page(ask, "", "register.csv")


def _import_page(
    ask: Ask, text: str, name: str, refused: str = "", errors: tuple[str, ...] = (), good: int = 0
) -> Response:
    status = HTTPStatus.UNPROCESSABLE_ENTITY if refused or errors else HTTPStatus.OK
    return ask.page(
        "register_import.html",
        status,
        text=text,
        name=name,
        refused=refused,
        errors=errors[:SHOWN_ERRORS],
        more=max(len(errors) - SHOWN_ERRORS, 0),
        good=good,
    )


def take_in(ask: Ask) -> Response:
    """Take a table in; with an error in a row nothing is kept unless asked, and the text stands to be mended."""
    files = ask.uploads("file")
    name = (files[0].filename or "table.csv") if files else ask.text("name", "typed.csv")
    data = files[0].file.read(LONGEST_TABLE_BYTES + 1) if files else ask.text("text").encode()
    text = data.decode("utf-8-sig", errors="replace") if len(data) <= LONGEST_SHOWN else ""
    try:
        done = import_register(ask.store, data, name, ask.text("good_rows") == "yes")
    except BadInputError as error:
        return _import_page(ask, text, name, str(error))
    if done.errors:
        errors = tuple(str(error) for error in done.errors)
        said = f"{_rows(done.changed)} kept; those below are not." if done.kept else ""
        return _import_page(ask, text, name, said, errors, 0 if done.kept else done.read)
    return ask.go("/register")


def _rows(count: int) -> str:
    return "1 good row is" if count == 1 else f"{count:,} good rows are"


def give_csv(ask: Ask) -> Response:
    """Hand out the register as CSV."""
    return _file(export_register(ask.store).encode(), "register.csv", "text/csv; charset=utf-8")


def give_json(ask: Ask) -> Response:
    """Hand out the register as JSON."""
    return _file(export_register(ask.store, as_json=True).encode(), "register.json", "application/json")


def take_in_fleet(ask: Ask) -> Response:
    """Put the bundled, invented fleet into the library."""
    put_demo_fleet(ask.store)
    return ask.go("/fleet" if ask.text("back") == "/fleet" else "/register")


ONE = "/register/entries/{key}"
ROUTES = [
    get("/register", show),
    get("/register/holds", ask_what_holds),
    get("/register/check", check),
    get("/register/new", new),
    post("/register/new", save),
    get("/register/import", show_import),
    post("/register/import", take_in),
    get("/register/register.csv", give_csv),
    get("/register/register.json", give_json),
    post("/register/invented", take_in_fleet),
    get("/register/attachments/{digest}", hand_out),
    get(ONE, edit),
    post(ONE, save),
    post(f"{ONE}/remove", remove),
    post(f"{ONE}/restore", restore),
    post(f"{ONE}/attach", put_attachment),
]
