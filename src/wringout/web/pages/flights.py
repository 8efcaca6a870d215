"""Flights: recordings taken in, what was noticed in them, and the runs that were made of them."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from starlette.responses import FileResponse, Response

from wringout.errors import BadInputError, WringoutError
from wringout.instruments.opencv import missing_opencv
from wringout.recordings.spoken.captions import KIND as CAPTIONS
from wringout.services.flights.documents import arrival_document, recording_document, run_document
from wringout.services.flights.media import has_sound, is_clip
from wringout.services.flights.recordings import (
    ReadRecording,
    read_mapping,
    recording_file,
    study_recording,
    study_recordings,
    take_in_recording,
    use_mapping,
)
from wringout.services.flights.run_pages import columns_of, mapping_text, run_view, window_of
from wringout.services.flights.runs import add_run_to, put_run_back, set_run_aside, study_runs
from wringout.services.flights.speech import missing_recogniser
from wringout.services.planning.single_cards import method_documents
from wringout.web.ask import Ask
from wringout.web.drawn.runs import run_drawings
from wringout.web.frame import study_page
from wringout.web.routing import get, post
from wringout.web.setup_words import setup_in
from wringout.web.units import told_in

ROWS_SHOWN = 200


def show(ask: Ask) -> Response:
    """Show every recording and every run."""
    return _flights(ask)


def _flights(ask: Ask, status: int = HTTPStatus.OK, **told: Any) -> Response:
    read = study_recordings(ask.store, ask.slug)
    recordings = [
        recording_document(found) | {"has_times": _has_times(found), "opens": opens(ask.slug, found)} for found in read
    ]
    runs = (
        told_in([run_document(run) for run in study_runs(ask.store, ask.slug)])
        if any(r["runs"] for r in recordings)
        else []
    )
    context = {"recordings": recordings, "runs": runs, "arrivals": [], "refused": "", "note": "", "words": ""} | told
    return study_page(ask, "flights", "Flights", "flights.html", status, **context)


def _has_times(found: ReadRecording) -> bool:
    """Say whether a recording can be shown as strips."""
    return found.recording is not None and found.recording.time_s is not None and bool(found.recording.channels)


def opens(slug: str, found: ReadRecording) -> list[dict[str, str]]:
    """Return the pages of its own that a recording has before readings come of it, each with what is done there."""
    at, name = f"/studies/{slug}/recordings/{found.item.recording.sha256}", found.item.name
    if found.recording is not None:
        captions = {"href": f"{at}/captions", "words": "say which phrases count", "needs": ""}
        return [captions] if found.recording.kind == CAPTIONS else []
    ways = []
    if is_clip(name):
        ways.append({"href": f"{at}/clip", "words": "read its instrument", "needs": missing_opencv()})
    if has_sound(name):
        heard = {"href": f"/studies/{slug}/captions#hear", "words": "hear what is said in it"}
        ways.append(heard | {"needs": missing_recogniser()})
    return ways


def take_in(ask: Ask) -> Response:
    """Take recordings in; each is kept, whatever it is, and each says what became of it."""
    files = ask.uploads("recordings")
    words = ask.text("setup")
    if not files:
        said = "Choose one or more recordings first, or drop them on the place below."
        return _flights(ask, HTTPStatus.UNPROCESSABLE_ENTITY, refused=said, words=words)
    try:
        setup = setup_in(words)
    except BadInputError as error:
        return _flights(ask, HTTPStatus.UNPROCESSABLE_ENTITY, refused=str(error), words=words)
    arrivals, troubles = [], []
    for upload in files:
        name = (upload.filename or "recording").replace("\\", "/").rpartition("/")[2]
        try:
            arrivals.append(
                arrival_document(
                    take_in_recording(ask.store, ask.slug, upload.file, name, ask.text("note"), setup=setup)
                )
            )
        except BadInputError as error:
            troubles.append(str(error))
    status = HTTPStatus.UNPROCESSABLE_ENTITY if troubles and not arrivals else HTTPStatus.OK
    return _flights(ask, status, arrivals=arrivals, refused="\n".join(troubles))


def recording(ask: Ask) -> Response:
    """Show one recording: what it holds, what was noticed, its marks, its columns."""
    return _recording(ask)


def _recording(ask: Ask, status: int = HTTPStatus.OK, **told: Any) -> Response:
    found = study_recording(ask.store, ask.slug, ask.path("sha256"))
    about = recording_document(found)
    context = {
        "about": about,
        "columns": columns_of(found),
        "has_times": _has_times(found),
        "opens": opens(ask.slug, found),
        "methods": method_documents(),
        "mapping": mapping_text(ask.store, ask.slug, ask.path("sha256")),
        "refused": "",
        "run_refused": "",
        "typed": {},
    } | told
    return study_page(ask, "flights", f"Recording {about['name']}", "recording.html", status, **context)


def rows(ask: Ask) -> Response:
    """Show rows of a recording as they were read, around the one that is asked for."""
    found = study_recording(ask.store, ask.slug, ask.path("sha256"))
    wanted = ask.query("row", "1")
    if found.recording is None:
        raise BadInputError(found.problem, "recording", "choose what its columns are, or take in another")
    window = window_of(found.recording, int(wanted) if wanted.isdigit() and len(wanted) < 10 else 1, ROWS_SHOWN)
    about = recording_document(found)
    return study_page(
        ask, "flights", f"Rows of {about['name']}", "rows.html", about=about, window=window, wanted=wanted,
        run=ask.query("run"), flagged=ask.query("flagged"),
    )  # fmt: skip


def file(ask: Ask) -> Response:
    """Hand out a recording's bytes as they were taken in."""
    item, path = recording_file(ask.store, ask.slug, ask.path("sha256"))
    return FileResponse(path, media_type="application/octet-stream", filename=item.name)


def save_mapping(ask: Ask) -> Response:
    """Keep what the columns are: answers to the reader's questions, or a whole mapping document."""
    form = ask.form.multi_items() if ask.form is not None else []
    answers = [(key[2:], str(value)) for key, value in form if key.startswith("a:") and str(value).strip()]
    text = ask.text("mapping")
    name = ask.path("sha256")
    try:
        chosen = read_mapping(text.encode(), "mapping") if text.strip() else None
        use_mapping(ask.store, ask.slug, name, chosen, answers)
    except BadInputError as error:
        told: dict[str, Any] = {"refused": str(error), "typed": dict(form)}
        if text:
            told["mapping"] = text
        return _recording(ask, HTTPStatus.UNPROCESSABLE_ENTITY, **told)
    return ask.go(f"/studies/{ask.slug}/recordings/{name}")


def add_run(ask: Ask) -> Response:
    """Make a run of a recording."""
    sha256, words = ask.path("sha256"), ask.text("setup")
    try:
        span = _span(ask.text("from"), ask.text("to"))
        key = ask.text("key").strip() or None
        made = add_run_to(ask.store, ask.slug, sha256, ask.text("method") or None, span, setup_in(words), key)
    except WringoutError as error:
        typed = {name: ask.text(name) for name in ("setup", "from", "to", "key", "method")}
        return _recording(ask, HTTPStatus.UNPROCESSABLE_ENTITY, run_refused=str(error), typed=typed)
    return ask.go(f"/studies/{ask.slug}/runs/{made.stored.key}")


def _span(start: str, end: str) -> tuple[float, float] | None:
    if not start.strip() and not end.strip():
        return None
    try:
        return float(start), float(end)
    except ValueError:
        what = "the stretch needs two numbers of seconds"
        raise BadInputError(what, "stretch", "write for example 120 and 180") from None


def run(ask: Ask) -> Response:
    """Show one run: its readings with their rows, the fit through them, and every strength of evidence."""
    return _run(ask)


def _run(ask: Ask, status: int = HTTPStatus.OK, refused: str = "", reason: str = "") -> Response:
    view = told_in(run_view(ask.store, ask.slug, ask.path("key")))
    rows_at = f"/studies/{ask.slug}/recordings/{view['run']['recording']['sha256']}/rows"
    drawn = "" if view["reduced"] is None else run_drawings(view["reduced"], rows_at)
    title = f"Run {view['run']['key']}"
    return study_page(ask, "flights", title, "run.html", status, view=view, refused=refused, reason=reason, drawn=drawn)


def aside(ask: Ask) -> Response:
    """Set a run aside, with the reason."""
    reason = ask.text("reason")
    try:
        set_run_aside(ask.store, ask.slug, ask.path("key"), reason)
    except BadInputError as error:
        return _run(ask, HTTPStatus.UNPROCESSABLE_ENTITY, str(error), reason)
    return ask.go(f"/studies/{ask.slug}/runs/{ask.path('key')}")


def back(ask: Ask) -> Response:
    """Put a run back in use."""
    try:
        put_run_back(ask.store, ask.slug, ask.path("key"))
    except BadInputError as error:
        return _run(ask, HTTPStatus.UNPROCESSABLE_ENTITY, str(error))
    return ask.go(f"/studies/{ask.slug}/runs/{ask.path('key')}")


ROUTES = [
    get("/studies/{slug}/flights", show),
    post("/studies/{slug}/recordings", take_in),
    get("/studies/{slug}/recordings/{sha256}", recording),
    get("/studies/{slug}/recordings/{sha256}/rows", rows),
    get("/studies/{slug}/recordings/{sha256}/file", file),
    post("/studies/{slug}/recordings/{sha256}/mapping", save_mapping),
    post("/studies/{slug}/recordings/{sha256}/runs", add_run),
    get("/studies/{slug}/runs/{key}", run),
    post("/studies/{slug}/runs/{key}/aside", aside),
    post("/studies/{slug}/runs/{key}/back", back),
]
