"""Clips: an instrument marked on a picture, read in the background, kept once a person saw what is not sure."""

from __future__ import annotations

import math
from http import HTTPStatus
from typing import Any

from starlette.responses import Response

from wringout.errors import BadInputError, ConflictError
from wringout.instruments.opencv import missing_opencv
from wringout.numerals import count
from wringout.services.flights.clip_documents import TYPED, Clip, Reading, answer_of
from wringout.services.flights.clips import (
    answer_reading,
    clip_picture,
    clip_shape,
    keep_marks,
    keep_readings,
    study_clip,
)
from wringout.services.flights.frames import Shape
from wringout.services.flights.media import is_clip
from wringout.services.flights.recordings import made_from, study_recordings, take_in_recording
from wringout.web.ask import Ask
from wringout.web.clip_drawing import over_picture, readings_drawing
from wringout.web.clip_forms import Typed, moment, typed_in, typed_of, wish_in
from wringout.web.frame import study_page
from wringout.web.map_forms import refuse_second
from wringout.web.routing import get, post

READ = "wringout.web.work.flights:read_clip_of"
JOB = "clip"
AT_ONCE = 60
"""Readings that wait, shown on one page."""
NO_SHAPE = Shape(0, 0, 0.0, 0.0)


def show_all(ask: Ask) -> Response:
    """Show the study's clips, and take in others."""
    return _clips(ask)


def _clips(ask: Ask, status: int = HTTPStatus.OK, refused: str = "") -> Response:
    names = [one.item for one in study_recordings(ask.store, ask.slug) if is_clip(one.item.name)]
    clips = [study_clip(ask.store, ask.slug, item.recording.sha256) for item in names]
    return study_page(
        ask, "flights", "Clips", "clips.html", status, clips=clips, missing=missing_opencv(), refused=refused
    )


def take_in(ask: Ask) -> Response:
    """Take clips in; a single one is opened at once."""
    files = ask.uploads("clips")
    troubles, kept = [], []
    if not files:
        troubles.append("Choose a clip first, or drop one on the place below.")
    for upload in files:
        name = (upload.filename or "clip").replace("\\", "/").rpartition("/")[2]
        try:
            if not is_clip(name):
                raise BadInputError("it is no clip by its name", name, "choose a video such as .mp4, .mov or .avi")
            kept.append(take_in_recording(ask.store, ask.slug, upload.file, name, "clip", make_run=False).item)
        except BadInputError as error:
            troubles.append(str(error))
    if len(kept) == 1 and not troubles:
        return ask.go(_at(ask, kept[0].recording.sha256))
    status = HTTPStatus.UNPROCESSABLE_ENTITY if troubles else HTTPStatus.OK
    return _clips(ask, status, "\n".join(troubles))


def show(ask: Ask) -> Response:
    """Show a picture of a clip with what is marked on it, and what was read."""
    return _clip(ask, study_clip(ask.store, ask.slug, ask.path("sha256")))


def _clip(ask: Ask, clip: Clip, typed: Typed | None = None, status: int = HTTPStatus.OK, **told: Any) -> Response:
    shape, trouble = _shape(ask, clip)
    at_s, asked_wrongly = _moment(ask, clip, typed)
    shown = clip.nearest(at_s)
    form = typed or typed_of(clip.wish)
    waiting = clip.waiting
    sha256 = clip.item.recording.sha256
    context = {
        "clip": clip,
        "sha256": sha256,
        "here_": _at(ask, sha256),
        "shape": shape,
        "trouble": trouble or asked_wrongly,
        "at_s": at_s,
        "shown_reading": shown,
        "before": next((one for one in reversed(waiting) if one.time_s < at_s - 1e-4), None),
        "after": next((one for one in waiting if one.time_s > at_s + 1e-4), None),
        "typed": form,
        "over": over_picture(form, shape, clip, shown) if shape.width else "",
        "drawn": readings_drawing(clip, _at(ask, sha256)) if clip.readings else "",
        "waiting": waiting[:AT_ONCE],
        "left_out": max(0, len(waiting) - AT_ONCE),
        "revision": ask.text("revision") or str(clip.revision),
        "said": _said,
        "answer_of": answer_of,
        "holds": _holds(clip),
        "made": [one.item for one in made_from(ask.store, ask.slug, sha256)] if clip.readings else [],
        "refused": "",
        "keep_refused": "",
        "answer_refused": None,
        "name": "",
        "saved": ask.query("kept") == "1",
    } | told
    return study_page(ask, "flights", f"Clip {clip.item.name}", "clip.html", status, **context)


def _shape(ask: Ask, clip: Clip) -> tuple[Shape, str]:
    try:
        return clip_shape(ask.store, clip), ""
    except BadInputError as error:
        return NO_SHAPE, str(error)


def _moment(ask: Ask, clip: Clip, typed: Typed | None) -> tuple[float, str]:
    """Return the moment of the picture: typed, in the address, the first that waits, or that of the marks."""
    try:
        if typed is not None:
            return moment(typed), ""
        if ask.query("at"):
            return moment(Typed({"at": ask.query("at")})), ""
    except BadInputError as error:
        return 0.0, str(error)
    if clip.waiting:
        return clip.waiting[0].time_s, ""
    return (0.0 if clip.wish is None else clip.wish.frame_s), ""


def _said(one: Reading, unit: str) -> str:
    """Return what a reading is, in words."""
    if one.answer == TYPED:
        return f"{one.typed:.1f} {unit}, as you wrote"
    return f"{one.made_out:.1f} {unit}" if math.isfinite(one.made_out) else "nothing was made out"


def _holds(clip: Clip) -> str:
    counting = sum(math.isfinite(one.speed) for one in clip.readings)
    return f"{count(counting, 'reading')} of {len(clip.readings):,}" if counting else ""


def look(ask: Ask) -> Response:
    """Show another moment of the clip, with everything that was typed still there."""
    clip = study_clip(ask.store, ask.slug, ask.path("sha256"))
    typed = typed_in(ask)
    try:
        moment(typed)
    except BadInputError as error:
        return _clip(ask, clip, typed, HTTPStatus.UNPROCESSABLE_ENTITY, refused=str(error))
    return _clip(ask, clip, typed)


def read(ask: Ask) -> Response:
    """Keep what is marked, and read the clip in the background."""
    sha256, typed = ask.path("sha256"), typed_in(ask)
    revision = ask.text("revision")
    try:
        wish = wish_in(typed)
        refuse_second(ask, JOB, "reading a clip")
        expected = int(revision) if revision.isdigit() and len(revision) < 10 else None
        keep_marks(ask.store, ask.slug, sha256, wish, expected)
    except (BadInputError, ConflictError) as error:
        clip = study_clip(ask.store, ask.slug, sha256)
        conflict = isinstance(error, ConflictError)
        told = f"{error} Send yours again to put them in their place." if conflict else str(error)
        status = HTTPStatus.CONFLICT if conflict else HTTPStatus.UNPROCESSABLE_ENTITY
        now = str(clip.revision) if conflict else revision
        return _clip(ask, clip, typed, status, refused=told, revision=now)
    here = _at(ask, sha256)
    ask.jobs.start(ask.slug, JOB, "Reading the clip", here, READ, slug=ask.slug, recording=sha256)
    return ask.go(f"{here}?kept=1")


def picture(ask: Ask) -> Response:
    """Hand out the picture of a moment."""
    at_s = moment(Typed({"at": ask.query("at")}))
    return Response(clip_picture(ask.store, ask.slug, ask.path("sha256"), at_s), media_type="image/jpeg")


def answer(ask: Ask) -> Response:
    """Keep what is said of one reading, at once."""
    sha256, key, seen = ask.path("sha256"), ask.path("key"), ask.text("seen")
    given, typed = ask.text("answer"), ask.text("typed").strip()
    refused, status = None, HTTPStatus.OK
    try:
        clip = answer_reading(ask.store, ask.slug, sha256, key, *_meant(given, typed, seen), seen)
    except (BadInputError, ConflictError) as error:
        clip = study_clip(ask.store, ask.slug, sha256)
        clip.named(key)
        refused = {"key": key, "typed": typed, "why": str(error)}
        status = HTTPStatus.CONFLICT if isinstance(error, ConflictError) else HTTPStatus.UNPROCESSABLE_ENTITY
    if ask.is_part:
        return ask.page(
            "clip_reading.html", status, one=clip.named(key), clip=clip, here_=_at(ask, sha256),
            answer_refused=refused, said=_said, answer_of=answer_of, holds=_holds(clip), alone=True,
        )  # fmt: skip
    if refused is not None:
        return _clip(ask, clip, None, status, answer_refused=refused)
    at_s = clip.named(key).time_s
    if ask.text("then") == "next":
        at_s = next((one.time_s for one in clip.waiting if one.time_s > at_s), at_s)
    return ask.go(f"{_at(ask, sha256)}?at={at_s:.3f}#picture")


def _meant(given: str, typed: str, seen: str) -> tuple[str, str]:
    """Return answer and words: a button that is pressed already takes its answer back."""
    if given == TYPED or (typed and given == "yes"):
        return TYPED, typed
    return ("", "") if given == seen else (given, "")


def keep(ask: Ask) -> Response:
    """Keep what counts as a recording."""
    name = ask.text("name").strip()
    try:
        made = keep_readings(ask.store, ask.slug, ask.path("sha256"), name)
    except BadInputError as error:
        clip = study_clip(ask.store, ask.slug, ask.path("sha256"))
        return _clip(ask, clip, None, HTTPStatus.UNPROCESSABLE_ENTITY, keep_refused=str(error), name=name)
    return ask.go(f"/studies/{ask.slug}/recordings/{made.item.recording.sha256}")


def _at(ask: Ask, sha256: str) -> str:
    return f"/studies/{ask.slug}/recordings/{sha256}/clip"


AT = "/studies/{slug}/recordings/{sha256}/clip"
ROUTES = [
    get("/studies/{slug}/clips", show_all),
    post("/studies/{slug}/clips", take_in),
    get(AT, show),
    get(f"{AT}/picture.jpg", picture),
    post(f"{AT}/look", look),
    post(f"{AT}/read", read),
    post(f"{AT}/readings/{{key}}", answer),
    post(f"{AT}/keep", keep),
]
