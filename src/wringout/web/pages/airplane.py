"""The airplane: its speeds to scale, what is believed of it as sentences saved field by field, and its file."""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from starlette.responses import Response

from wringout.errors import BadInputError, ConflictError
from wringout.services.airplane.airplanes import LONGEST_AIRPLANE_BYTES, StudyAirplane, decoded, show_airplane
from wringout.services.airplane.documents import airplane_document
from wringout.services.airplane.sheet import newest_text, put_airplane_text, sheet_of, starter, with_values
from wringout.services.airplane.speeds import speed_sketch
from wringout.services.study.studies import summary
from wringout.services.undo import list_edits
from wringout.web.airplane_fields import SHEET, Field, field_of, named, refusal_words
from wringout.web.ask import Ask
from wringout.web.drawn.speed_scale import speed_scale
from wringout.web.frame import chapter_path, study_page
from wringout.web.routing import get, post
from wringout.web.units import told_in

PREFIX, WAS = "v:", "was:"
NARROW = 350.0
"""Width of the scale of speeds in the window of a phone, in its own units; the page shows the one that fits."""


@dataclass(frozen=True, slots=True)
class Typed:
    """What stands in the form and the text: as kept, or as typed and refused."""

    text: str
    made_from: int
    refused: str = ""
    said: str = ""


def show(ask: Ask) -> Response:
    """Show the newest airplane, or an empty sheet."""
    text, version = newest_text(ask.store, ask.slug)
    return _page(ask, Typed(text, version))


def _page(ask: Ask, typed: Typed, status: int = HTTPStatus.OK) -> Response:
    newest = newest_text(ask.store, ask.slug)[0]
    fixed = ask.query("gear") == "fixed"
    text = typed.text or starter(retractable=not fixed)
    sheet, kept = sheet_of(text), sheet_of(newest)

    def fields(path: str) -> Field:
        value = sheet.value(path)
        if not newest:
            return field_of(sheet, path)
        return field_of(kept, path, value if value != kept.value(path) else None)

    return study_page(
        ask,
        "airplane",
        "Airplane",
        "airplane.html",
        status,
        **_seen(show_airplane(ask.store, ask.slug) if newest else None),
        sheet=sheet,
        fields=fields,
        text=text,
        typed=typed,
    )


def _seen(found: StudyAirplane | None) -> dict[str, Any]:
    """Return what the head of the page, its version and its beliefs are shown from."""
    if found is None:
        return {"found": None, "about": None, "sketch": None, "drawings": None}
    sketch = speed_sketch(found)
    drawings = {"wide": speed_scale(sketch), "narrow": speed_scale(sketch, NARROW)}
    return {"found": found, "about": told_in(airplane_document(found)), "sketch": sketch, "drawings": drawings}


def save_field(ask: Ask) -> Response:
    """Save what was changed on the sheet since it was shown; other fields may be changed in another window."""
    text, version = newest_text(ask.store, ask.slug)
    now = sheet_of(text)
    form = ask.form.multi_items() if ask.form is not None else []
    sent = {key.removeprefix(PREFIX): str(value).strip() for key, value in form if key.startswith(PREFIX)}
    was = {path: ask.text(f"{WAS}{path}", now.value(path)) for path in sent if named(path) is not None}
    left = ask.request.headers.get("hx-trigger-name", "").removeprefix(PREFIX)
    typed = {path: sent[path] for path in was if sent[path] != was[path]}
    if not version or not was:
        raise BadInputError("there is no such field of the airplane", "form", "load the page again")
    theirs = [path for path in was if now.value(path) not in {was[path], sent[path]}]
    shown = list(dict.fromkeys([*(path for path in was if path == left), *typed, *theirs]))
    try:
        if both := [path for path in theirs if path in typed]:
            told = ", ".join(f"{field_of(now, path).label} to {now.value(path) or 'nothing'}" for path in both)
            raise ConflictError(
                f"another window has changed {told}",
                advice="yours is not saved; change it again to put it in its place",
            )
        put_airplane_text(ask.store, ask.slug, with_values(text, typed), version, SHEET)
    except (BadInputError, ConflictError) as error:
        status = HTTPStatus.CONFLICT if isinstance(error, ConflictError) else HTTPStatus.UNPROCESSABLE_ENTITY
        said = refusal_words(error) if isinstance(error, BadInputError) else str(error)
        return _field_page(ask, status, [field_of(now, path, typed.get(path)) for path in shown], said)
    kept = sheet_of(newest_text(ask.store, ask.slug)[0])
    return _field_page(ask, HTTPStatus.OK, [field_of(kept, path) for path in shown])


def _field_page(ask: Ask, status: HTTPStatus, changed: list[Field], refused: str = "") -> Response:
    """Answer with the fields and what follows from them."""
    if not ask.is_part:
        if not refused:
            return ask.go(chapter_path(ask.slug, "airplane"))
        text, version = newest_text(ask.store, ask.slug)
        typed = with_values(text, {field.path: field.value for field in changed})
        return _page(ask, Typed(typed, version, refused), status)
    edits = list_edits(ask.store, ask.slug, 1)
    undo = str(edits[0].number) if edits and edits[0].what == "airplane put" and not edits[0].undone else ""
    study = summary(ask.store, ask.slug)
    return ask.page(
        "airplane_saved.html",
        status,
        **_seen(show_airplane(ask.store, ask.slug)),
        changed=changed,
        address=f"/studies/{study.study.slug}/airplane/field",
        refused=refused,
        said="Saved.",
        undo=undo,
        study=study.study,
        summary=study,
    )


def save_sheet(ask: Ask) -> Response:
    """Save the values of the sheet."""
    text, version = newest_text(ask.store, ask.slug)
    base = text or starter(retractable=ask.text("gear", "retractable") == "retractable")
    form = ask.form.multi_items() if ask.form is not None else []
    changes = {key.removeprefix(PREFIX): str(value) for key, value in form if key.startswith(PREFIX)}
    return _save(ask, with_values(base, changes), _made_from(ask, version), SHEET)


def save_text(ask: Ask) -> Response:
    """Save the text of the file, or a file that was chosen."""
    version = newest_text(ask.store, ask.slug)[1]
    files = ask.uploads("file")
    if not files:
        return _save(ask, ask.text("text"), _made_from(ask, version), "airplane.toml")
    name = files[0].filename or "airplane.toml"
    try:
        text = decoded(files[0].file.read(LONGEST_AIRPLANE_BYTES + 1), name)
    except BadInputError as error:
        kept = ask.text("text") or newest_text(ask.store, ask.slug)[0]
        return _page(ask, Typed(kept, _made_from(ask, version), str(error)), HTTPStatus.UNPROCESSABLE_ENTITY)
    return _save(ask, text, _made_from(ask, version), name)


def _made_from(ask: Ask, newest: int) -> int:
    text = ask.text("version")
    return int(text) if text.isdigit() and len(text) < 9 else newest


def _save(ask: Ask, text: str, made_from: int, name: str) -> Response:
    try:
        put_airplane_text(ask.store, ask.slug, text, made_from, name)
    except BadInputError as error:
        return _page(ask, Typed(text, made_from, refusal_words(error)), HTTPStatus.UNPROCESSABLE_ENTITY)
    except ConflictError as error:
        newest = newest_text(ask.store, ask.slug)[1]
        return _page(ask, Typed(text, newest, str(error)), HTTPStatus.CONFLICT)
    return ask.go(chapter_path(ask.slug, "airplane"))


ROUTES = [
    get("/studies/{slug}/airplane", show),
    post("/studies/{slug}/airplane/field", save_field),
    post("/studies/{slug}/airplane/sheet", save_sheet),
    post("/studies/{slug}/airplane/file", save_text),
]
