"""The question: what is asked, what difference would matter, and everything that was edited, which can be undone."""

from __future__ import annotations

import json
from http import HTTPStatus

from starlette.responses import Response

from wringout.errors import BadInputError, ConflictError, WringoutError
from wringout.services.study.editing import TEXT_FIELDS, edit_difference, edit_text, score_choices
from wringout.services.study.shelf import shelf_entry
from wringout.services.study.studies import summary
from wringout.services.undo import list_edits, redo, undo
from wringout.web.ask import Ask
from wringout.web.frame import chapter_path, study_page
from wringout.web.routing import get, post

DIFFERENCE_FIELDS = ("score", "smallest", "probability", "stall_ratio", "height", "allowed_share")
USUAL = {
    "score": "energy_height_30s",
    "smallest": "25 ft",
    "probability": "0.9",
    "stall_ratio": "1.1",
    "height": "0 ft",
    "allowed_share": "0.05",
}


def show(ask: Ask) -> Response:
    """Show the question of a study and where it stands."""
    entry = shelf_entry(ask.store, ask.slug)
    return study_page(
        ask,
        "question",
        "Question",
        "question.html",
        entry=entry,
        fields=[_field(ask, name) for name in TEXT_FIELDS],
        difference=_difference(ask),
        edits=list_edits(ask.store, ask.slug, 12),
    )


def _field(ask: Ask, name: str, **changes: str) -> dict[str, str]:
    study = summary(ask.store, ask.slug).study
    value = getattr(study, name)
    base = {"name": name, "label": TEXT_FIELDS[name].removeprefix("The ").capitalize(), "value": value, "was": value}
    return base | {"said": "", "refused": "", "theirs": "", "undo": ""} | changes


def _difference(ask: Ask, **changes: str) -> dict[str, object]:
    table = dict(summary(ask.store, ask.slug).study.difference_that_matters)
    values = {name: str(table.get(name, USUAL[name])) for name in DIFFERENCE_FIELDS}
    base: dict[str, object] = {"values": values, "was": json.dumps(table, sort_keys=True), "scores": score_choices()}
    return base | {"said": "", "refused": "", "undo": ""} | changes


def save_text(ask: Ask) -> Response:
    """Save the title or the question."""
    name, typed, was = ask.path("field"), ask.text("value"), ask.text("was")
    status = HTTPStatus.OK
    try:
        edit_text(ask.store, ask.slug, name, typed, was)
        field = _field(ask, name, said="Saved.", undo=_last_edit(ask))
    except ConflictError as error:
        theirs = _field(ask, name)["value"]
        field = _field(ask, name, value=typed, was=theirs, theirs=theirs, refused=str(error))
        status = HTTPStatus.CONFLICT
    except BadInputError as error:
        if name not in TEXT_FIELDS:
            raise
        field = _field(ask, name, value=typed, was=was, refused=str(error))
        status = HTTPStatus.UNPROCESSABLE_ENTITY
    if ask.is_part:
        return ask.page("question_field.html", status, field=field, study=summary(ask.store, ask.slug).study)
    if status == HTTPStatus.OK:
        return ask.go(chapter_path(ask.slug, "question"))
    others = [field if other == name else _field(ask, other) for other in TEXT_FIELDS]
    return _again(ask, status, others, _difference(ask))


def save_difference(ask: Ask) -> Response:
    """Save the difference that matters."""
    typed = {name: ask.text(name).strip() for name in DIFFERENCE_FIELDS}
    was, status = ask.text("was", "{}"), HTTPStatus.OK
    try:
        _, late = edit_difference(ask.store, ask.slug, _changed(typed, _table(was)), _table(was))
        said = "Saved."
        if late:
            said = "Saved. Recordings are there already, so this was not stated before flying; the history shows it."
        found = _difference(ask, said=said, undo=_last_edit(ask))
    except WringoutError as error:
        if not isinstance(error, BadInputError | ConflictError):
            raise
        now = _difference(ask)
        told = str(error)
        if isinstance(error, ConflictError):
            told += f" It stands now as {_said(str(now['was']))}. Change a field again to put yours in its place."
            was = str(now["was"])
        found = now | {"values": typed, "was": was, "refused": told}
        status = HTTPStatus.CONFLICT if isinstance(error, ConflictError) else HTTPStatus.UNPROCESSABLE_ENTITY
    if ask.is_part:
        study = summary(ask.store, ask.slug).study
        return ask.page("question_difference.html", status, difference=found, study=study)
    if status == HTTPStatus.OK:
        return ask.go(chapter_path(ask.slug, "question"))
    return _again(ask, status, [_field(ask, name) for name in TEXT_FIELDS], found)


def _table(text: str) -> dict[str, str | int | float | bool]:
    try:
        found = json.loads(text)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _changed(typed: dict[str, str], was: dict[str, str | int | float | bool]) -> dict[str, str | int | float | bool]:
    """Return the table with what was typed; a field that still shows its usual value is not written down."""
    out: dict[str, str | int | float | bool] = {}
    for name, text in typed.items():
        if name in was and str(was[name]) == text:
            out[name] = was[name]
        elif name in was or text != USUAL[name]:
            out[name] = text
    return out


def _said(text: str) -> str:
    return ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in _table(text).items()) or "the usual"


def _last_edit(ask: Ask) -> str:
    edits = list_edits(ask.store, ask.slug, 1)
    return str(edits[0].number) if edits and not edits[0].undone else ""


def _again(ask: Ask, status: HTTPStatus, fields: list[dict[str, str]], difference: dict[str, object]) -> Response:
    entry = shelf_entry(ask.store, ask.slug)
    edits = list_edits(ask.store, ask.slug, 12)
    context = {"entry": entry, "fields": fields, "difference": difference, "edits": edits}
    return study_page(ask, "question", "Question", "question.html", status, **context)


def undo_edit(ask: Ask) -> Response:
    """Undo an edit, as a new edit."""
    undo(ask.store, ask.slug, _edit_number(ask))
    return ask.go(chapter_path(ask.slug, ask.text("chapter", "question")))


def redo_edit(ask: Ask) -> Response:
    """Redo an edit that was undone."""
    redo(ask.store, ask.slug, _edit_number(ask))
    return ask.go(chapter_path(ask.slug, ask.text("chapter", "question")))


def _edit_number(ask: Ask) -> int:
    text = ask.text("edit")
    if not text.isdigit():
        raise BadInputError(f"{text[:20]!r} is no number of an edit", "edit", "choose one from the list")
    return int(text)


ROUTES = [
    get("/studies/{slug}/", show),
    post("/studies/{slug}/text/{field}", save_text),
    post("/studies/{slug}/difference", save_difference),
    post("/studies/{slug}/undo", undo_edit),
    post("/studies/{slug}/redo", redo_edit),
]
