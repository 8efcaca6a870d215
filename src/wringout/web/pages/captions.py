"""Captions: every phrase with what it would become, a person's yes, no or correction, and a recording made of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from starlette.responses import Response

from wringout.errors import BadInputError, ConflictError, NotFoundError
from wringout.numerals import count
from wringout.recordings.spoken.captions import KIND
from wringout.recordings.spoken.said import NOTHING
from wringout.services.flights.candidates import (
    CandidateList,
    OfferedCandidate,
    Phrase,
    answer_likely,
    answer_phrase,
    caption_candidates,
    readings_from_captions,
)
from wringout.services.flights.media import has_sound
from wringout.services.flights.recordings import (
    ReadRecording,
    made_from,
    study_recording,
    study_recordings,
    take_in_recording,
)
from wringout.services.flights.speech import missing_recogniser
from wringout.services.undo import list_edits
from wringout.web.ask import Ask
from wringout.web.drawn.series import Counts, Rule, Spot, series
from wringout.web.frame import study_page
from wringout.web.map_forms import refuse_second
from wringout.web.routing import get, post
from wringout.web.setup_words import setup_in

HEAR = "wringout.web.work.flights:hear_sound_of"
JOB = "speech"
AT_ONCE = 150
"""Phrases shown on one page."""
CHOICES = ("every", "may count", "waiting")
"""What is shown of the phrases."""
Typed = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Refused:
    """An answer that was not kept: to what, what was typed, why."""

    key: str
    typed: str
    why: str


def show(ask: Ask) -> Response:
    """Show the study's captions, and take in others or a sound."""
    return _captions(ask)


def _captions(ask: Ask, status: int = HTTPStatus.OK, **told: Any) -> Response:
    read = study_recordings(ask.store, ask.slug)
    lists = [caption_candidates(ask.store, ask.slug, one.item.recording.sha256) for one in read if _is_talk(one)]
    sounds = [one.item for one in read if one.recording is None and has_sound(one.item.name)]
    context = {"lists": lists, "sounds": sounds, "missing": missing_recogniser(), "refused": "", "deaf": ""} | told
    return study_page(ask, "flights", "Captions", "captions.html", status, **context)


def _is_talk(one: ReadRecording) -> bool:
    return one.recording is not None and one.recording.kind == KIND


def take_in(ask: Ask) -> Response:
    """Take caption files in; a single one is opened at once."""
    files = ask.uploads("captions")
    if not files:
        said = "Choose a file of captions first (.vtt or .srt), or drop one on the place below."
        return _captions(ask, HTTPStatus.UNPROCESSABLE_ENTITY, refused=said)
    kept, troubles = [], []
    for upload in files:
        name = _file_name(upload.filename)
        try:
            arrival = take_in_recording(ask.store, ask.slug, upload.file, name, make_run=False)
        except BadInputError as error:
            troubles.append(str(error))
            continue
        if arrival.recording is not None and arrival.recording.kind == KIND:
            kept.append(arrival.item.recording.sha256)
        else:
            where = "choose a WebVTT or SubRip file (.vtt, .srt)"
            troubles.append(f"{name}: it holds no captions; it is kept among the recordings; {where}.")
    if len(kept) == 1 and not troubles:
        return ask.go(_at(ask, kept[0]))
    status = HTTPStatus.UNPROCESSABLE_ENTITY if troubles else HTTPStatus.OK
    return _captions(ask, status, refused="\n".join(troubles))


def _file_name(given: str | None) -> str:
    return (given or "captions").replace("\\", "/").rpartition("/")[2]


def hear(ask: Ask) -> Response:
    """Keep a sound, and hear in the background what is said in it."""
    files, chosen = ask.uploads("sound"), ask.text("recording").strip()
    try:
        missing = missing_recogniser()
        if missing:
            raise BadInputError("the sound was not heard", "sound", missing)
        refuse_second(ask, JOB, "hearing a sound")
        sha256 = _sound(ask, files[0].filename, files[0].file) if files else _chosen(ask, chosen)
    except (BadInputError, NotFoundError) as error:
        return _captions(ask, HTTPStatus.UNPROCESSABLE_ENTITY, deaf=str(error))
    here = f"/studies/{ask.slug}/captions"
    ask.jobs.start(ask.slug, JOB, "Hearing what was said", here, HEAR, slug=ask.slug, recording=sha256)
    return ask.go(here)


def _sound(ask: Ask, filename: str | None, stream: Any) -> str:
    name = _file_name(filename)
    if not has_sound(name):
        raise BadInputError(f"{name[:80]!r} is no name of a sound", "sound", "choose .wav, .mp3, .m4a or a video clip")
    note = "sound, to be heard"
    return take_in_recording(ask.store, ask.slug, stream, name, note, make_run=False).item.recording.sha256


def _chosen(ask: Ask, wanted: str) -> str:
    if not wanted:
        raise BadInputError("no sound was chosen", "sound", "choose a file, or a sound that is kept already")
    return study_recording(ask.store, ask.slug, wanted).item.recording.sha256


def phrases(ask: Ask) -> Response:
    """Show every phrase of a caption file with what it would become."""
    return _phrases(ask, caption_candidates(ask.store, ask.slug, ask.path("sha256")))


def _phrases(
    ask: Ask,
    found: CandidateList,
    status: int = HTTPStatus.OK,
    refused: Refused | None = None,
    keep_refused: str = "",
    typed: Typed | None = None,
) -> Response:
    chosen = ask.query("show", "every")
    chosen = chosen if chosen in CHOICES else "every"
    every = {name: [one for one in found.phrases if _is_shown(one, name)] for name in CHOICES}
    shown = every[chosen]
    wanted = ask.query("page", "1")
    last = max(1, -(-len(shown) // AT_ONCE))
    page = min(max(int(wanted) if wanted.isdigit() and len(wanted) < 7 else 1, 1), last)
    edits = list_edits(ask.store, ask.slug, 1)
    return study_page(
        ask,
        "flights",
        f"Captions of {found.item.name}",
        "captions_phrases.html",
        status,
        found=found,
        shown=shown[(page - 1) * AT_ONCE : page * AT_ONCE],
        chosen=chosen,
        counts={name: len(some) for name, some in every.items()},
        page=page,
        last=last,
        drawn=_drawn(found),
        holds=_holds(found),
        made=[one.item for one in made_from(ask.store, ask.slug, found.item.recording.sha256)],
        likely=sum(one.found.is_likely and not one.answer for one in found.candidates),
        undo=edits[0].number if ask.query("all") and edits and not edits[0].undone else "",
        refused=refused,
        keep_refused=keep_refused,
        typed=typed or {"setup": "", "name": ""},
        clock=_clock,
        becomes=_becomes,
    )


def _is_shown(phrase: Phrase, choice: str) -> bool:
    if choice == "every":
        return True
    counting = [one for one in phrase.offered if one.meant.kind != NOTHING]
    return any(not one.answer for one in counting) if choice == "waiting" else bool(counting)


def _clock(seconds: float) -> str:
    minutes, rest = divmod(seconds, 60.0)
    return f"{minutes:.0f}:{rest:04.1f}"


def _becomes(one: OfferedCandidate) -> str:
    """Return what a phrase would become, in words."""
    meant = one.meant
    if meant.kind == "reading":
        return f"a reading, {meant.value:g} {meant.unit}"
    return f"a mark, {meant.label}" if meant.kind == "mark" else NOTHING


def _holds(found: CandidateList) -> str:
    """Return what the recording would hold, in words; "" for nothing."""
    readings = sum(one.kind == "reading" for one in found.accepted)
    marks = len(found.accepted) - readings
    return f"{count(readings, 'reading')} and {count(marks, 'mark')}" if found.accepted else ""


def _drawn(found: CandidateList) -> Any:
    unit = next((one.meant.unit for one in found.candidates if one.meant.kind == "reading"), "kt")
    spots, rules = [], []
    for one in found.candidates:
        meant, counts = one.meant, Counts(one.answer or "waiting")
        if meant.kind == "reading":
            words = f"{_clock(meant.time_s)}: {meant.said[:80]}"
            spots.append(Spot(meant.time_s, meant.value, counts, f"#line-{meant.row}", words))
        elif counts is not Counts.NO:
            rules.append(Rule(meant.time_s, meant.label, counts))
    spoken = f"Readings that were said, {unit} over seconds of the video; the table below has every phrase."
    return series(spots, unit, spoken, rules=rules)


def answer(ask: Ask) -> Response:
    """Keep the answer to one phrase, at once."""
    sha256, key = ask.path("sha256"), ask.path("key")
    given, typed = ask.text("answer"), ask.text("typed").strip()
    seen = (ask.text("seen"), ask.text("seen_typed"))
    refused, status = None, HTTPStatus.OK
    try:
        found = answer_phrase(ask.store, ask.slug, sha256, key, *_meant(given, typed, seen), seen)
    except (BadInputError, ConflictError) as error:
        found = caption_candidates(ask.store, ask.slug, sha256)
        found.named(key)
        refused = Refused(key, typed, str(error))
        status = HTTPStatus.CONFLICT if isinstance(error, ConflictError) else HTTPStatus.UNPROCESSABLE_ENTITY
    if ask.is_part:
        phrase = next(one for one in found.phrases if any(offered.found.key == key for offered in one.offered))
        return ask.page(
            "captions_phrase.html", status, phrase=phrase, sha256=sha256, slug=ask.slug, refused=refused,
            clock=_clock, becomes=_becomes, found=found, holds=_holds(found), alone=True,
        )  # fmt: skip
    if refused is not None:
        return _phrases(ask, found, status, refused)
    return ask.go(f"{_at(ask, sha256)}#line-{key.partition('.')[0]}")


def _meant(given: str, typed: str, seen: tuple[str, str]) -> tuple[str, str]:
    """Return answer and words: a button that is pressed already takes its answer back."""
    if given == "typed":
        return "yes", typed or seen[1]
    if typed and given == "yes":
        return "yes", typed
    return ("", "") if given == seen[0] else (given, seen[1] if given == "yes" else "")


def likely(ask: Ask) -> Response:
    """Say yes to all that is likely and not answered, and no to the rest."""
    sha256 = ask.path("sha256")
    answer_likely(ask.store, ask.slug, sha256)
    return ask.go(f"{_at(ask, sha256)}?all=1")


def keep(ask: Ask) -> Response:
    """Make a recording of what counts."""
    sha256 = ask.path("sha256")
    typed = {"setup": ask.text("setup"), "name": ask.text("name").strip()}
    try:
        words = setup_in(typed["setup"])
        made = readings_from_captions(ask.store, ask.slug, sha256, words, typed["name"])
    except BadInputError as error:
        found = caption_candidates(ask.store, ask.slug, sha256)
        return _phrases(ask, found, HTTPStatus.UNPROCESSABLE_ENTITY, keep_refused=str(error), typed=typed)
    return ask.go(f"/studies/{ask.slug}/recordings/{made.item.recording.sha256}")


def _at(ask: Ask, sha256: str) -> str:
    return f"/studies/{ask.slug}/recordings/{sha256}/captions"


AT = "/studies/{slug}/recordings/{sha256}/captions"
ROUTES = [
    get("/studies/{slug}/captions", show),
    post("/studies/{slug}/captions", take_in),
    post("/studies/{slug}/captions/listen", hear),
    get(AT, phrases),
    post(f"{AT}/likely", likely),
    post(f"{AT}/keep", keep),
    post(f"{AT}/phrases/{{key}}", answer),
]
