"""The airplane: its speeds to scale, what is believed of it as sentences, and its file."""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus

from starlette.responses import Response

from wringout.errors import BadInputError, ConflictError
from wringout.services.airplane.airplanes import LONGEST_AIRPLANE_BYTES, StudyAirplane, decoded, show_airplane
from wringout.services.airplane.documents import airplane_document
from wringout.services.airplane.sheet import newest_text, put_airplane_text, sheet_of, starter, with_values
from wringout.services.airplane.speeds import speed_sketch
from wringout.web.ask import Ask
from wringout.web.frame import chapter_path, study_page
from wringout.web.routing import get, post
from wringout.web.speed_scale import speed_scale

PREFIX = "v:"


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
    found: StudyAirplane | None = None
    if newest_text(ask.store, ask.slug)[1]:
        found = show_airplane(ask.store, ask.slug)
    fixed = ask.query("gear") == "fixed"
    text = typed.text or starter(retractable=not fixed)
    sketch = None if found is None else speed_sketch(found)
    return study_page(
        ask,
        "airplane",
        "Airplane",
        "airplane.html",
        status,
        found=found,
        about=None if found is None else airplane_document(found),
        drawing=None if sketch is None else speed_scale(sketch),
        sketch=sketch,
        sheet=sheet_of(text),
        text=text,
        typed=typed,
        prefix=PREFIX,
    )


def save_sheet(ask: Ask) -> Response:
    """Save the values of the sheet."""
    text, version = newest_text(ask.store, ask.slug)
    base = text or starter(retractable=ask.text("gear", "retractable") == "retractable")
    form = ask.form.multi_items() if ask.form is not None else []
    changes = {key.removeprefix(PREFIX): str(value) for key, value in form if key.startswith(PREFIX)}
    return _save(ask, with_values(base, changes), _made_from(ask, version), "the sheet")


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
        return _page(ask, Typed(text, made_from, str(error)), HTTPStatus.UNPROCESSABLE_ENTITY)
    except ConflictError as error:
        newest = newest_text(ask.store, ask.slug)[1]
        return _page(ask, Typed(text, newest, str(error)), HTTPStatus.CONFLICT)
    return ask.go(chapter_path(ask.slug, "airplane"))


ROUTES = [
    get("/studies/{slug}/airplane", show),
    post("/studies/{slug}/airplane/sheet", save_sheet),
    post("/studies/{slug}/airplane/file", save_text),
]
