"""What was said in captions: candidates, a person's yes or no to each, and called readings from the yeses.

The list with its answers is a document of the study, revision by revision; the captions stay in the vault as they are,
and the readings are a new recording that names the captions it came from.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from wringout.errors import BadInputError, ConflictError
from wringout.recordings.decoding import decode
from wringout.recordings.marks import read_mark
from wringout.recordings.spoken.captions import Cue, looks_captioned, read_cues
from wringout.recordings.spoken.said import NOTHING, Candidate, as_typed, find_candidates, unmeant
from wringout.recordings.types import Device, EventKind
from wringout.services.flights.recordings import Arrival, take_in_recording
from wringout.services.flights.runs import find_recording
from wringout.services.opening import the_study
from wringout.store import Store, StudyRecording, get_document, put_document, read_recording_bytes
from wringout.store.documents import Document

KIND = "caption-candidates"
YES, NO = "yes", "no"
CLOCK_SD_S = 1.0
"""How well captions are timed: one standard deviation [s] (judged, no source)."""


@dataclass(frozen=True, slots=True)
class OfferedCandidate:
    """A candidate with the answer given to it: "yes", "no", or "" while nobody has answered.

    ``typed`` is what somebody wrote in its place, such as "82 kt", which goes with a yes; "" where it stands as found.
    """

    found: Candidate
    answer: str
    typed: str = ""

    @property
    def meant(self) -> Candidate:
        """What counts once the answer is yes."""
        return as_typed(self.found, self.typed) if self.typed else self.found


@dataclass(frozen=True, slots=True)
class Phrase:
    """One caption with what it may be: candidates, or, where the rules found none, one of kind "nothing"."""

    cue: Cue
    offered: tuple[OfferedCandidate, ...]


@dataclass(frozen=True, slots=True)
class CandidateList:
    """The candidates of a caption file; ``revision`` of the answers kept, 0 before the first.

    ``phrases`` are all its captions; ``candidates`` those of them that may count, by the rules or because somebody
    said so.
    """

    item: StudyRecording
    revision: int
    phrases: tuple[Phrase, ...]

    @property
    def candidates(self) -> tuple[OfferedCandidate, ...]:
        """What may count, in order of time."""
        every = (one for phrase in self.phrases for one in phrase.offered if one.meant.kind != NOTHING)
        return tuple(sorted(every, key=lambda one: (one.found.time_s, one.found.row)))

    @property
    def waiting(self) -> int:
        """How many are not answered yet."""
        return sum(not one.answer for one in self.candidates)

    @property
    def accepted(self) -> tuple[Candidate, ...]:
        """What was said yes to, as it counts."""
        return tuple(one.meant for one in self.candidates if one.answer == YES)

    def named(self, key: str) -> OfferedCandidate:
        """Return what a key names.

        Raises:
            BadInputError: it names nothing.
        """
        for phrase in self.phrases:
            for one in phrase.offered:
                if one.found.key == key:
                    return one
        raise BadInputError(f"there is no candidate {key[:40]!r}", self.item.name, "choose one from the list")


def caption_candidates(store: Store, slug: str | None, recording: str) -> CandidateList:
    """Return the candidates in a caption file of a study, with the answers given so far.

    Raises:
        BadInputError: the recording holds no captions.
        NotFoundError: there is no such study or recording.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        item = find_recording(view, study.id, recording)
        data = read_recording_bytes(view, item.recording.sha256)
        kept = get_document(view, study.id, KIND, _key(item))
    text = decode(data, item.name)
    if not looks_captioned(text[:20_000]):
        raise BadInputError("this recording holds no captions", item.name, "name a WebVTT or SubRip file (.vtt, .srt)")
    cues, _ = read_cues(text, item.name)
    by_row: dict[int, list[Candidate]] = {}
    for one in find_candidates(cues):
        by_row.setdefault(one.row, []).append(one)
    found = [
        Phrase(cue, tuple(OfferedCandidate(one, "") for one in by_row.get(cue.row) or [unmeant(cue)])) for cue in cues
    ]
    return _answered(item, kept.revision if kept else 0, found, kept.body if kept else None)


def _offered(found: Candidate, answer: str, typed: str) -> OfferedCandidate:
    """Return a candidate with what was kept for it; words that mean nothing leave it without an answer."""
    try:
        one = OfferedCandidate(found, answer, typed)
        return one if answer != YES or one.meant.kind != NOTHING else OfferedCandidate(found, "")
    except BadInputError:
        return OfferedCandidate(found, "")


def answer_candidates(
    store: Store, slug: str | None, recording: str, answers: Mapping[str, str], expected_revision: int | None = None
) -> CandidateList:
    """Keep answers to candidates: by key "yes", "no", or "" to take an answer back.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        recording: the caption file.
        answers: by the candidates' keys.
        expected_revision: the revision of the list they were given on; None for whatever is there.

    Raises:
        BadInputError: an answer is none of the three, or there is no such candidate.
        ConflictError: somebody else has answered since.
        NotFoundError: there is no such study or recording.
    """
    known = caption_candidates(store, slug, recording)
    for key, answer in answers.items():
        where = f"{known.item.name}, candidate {known.named(key).found.key}"
        if answer not in {YES, NO, ""}:
            raise BadInputError(f"{answer!r} is no answer", where, 'say "yes" or "no"')
        if answer == YES and known.named(key).meant.kind == NOTHING:
            raise BadInputError(
                "nothing in it reads like a speed or a mark", where, 'write what it was, such as "82 kt"'
            )
    return _keep(store, slug, known, answers, {}, expected_revision)


def answer_phrase(
    store: Store,
    slug: str | None,
    recording: str,
    key: str,
    answer: str,
    typed: str = "",
    seen: tuple[str, str] | None = None,
) -> CandidateList:
    """Keep the answer to one candidate or phrase, with what it was where that is not what the rules made of it.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        recording: the caption file.
        key: of the candidate, or of a phrase in which none was found.
        answer: "yes", "no", or "" to take an answer back.
        typed: with a yes, what it was: a speed ("82 kt") or the words of a mark ("gear down"); "" as it was found.
        seen: the answer and the words that were there when it was given; None for whatever is there.

    Raises:
        BadInputError: the answer is none of the three, the words say neither, or there is no such candidate.
        ConflictError: somebody else has answered this one since.
        NotFoundError: there is no such study or recording.
    """
    known = caption_candidates(store, slug, recording)
    one = known.named(key)
    words = " ".join(typed.split()) if answer == YES else ""
    where = f"{known.item.name}, line {one.found.row}"
    if answer not in {YES, NO, ""}:
        raise BadInputError(f"{answer[:40]!r} is no answer", where, 'say "yes" or "no"')
    if words:
        try:
            as_typed(one.found, words)
        except BadInputError as error:
            raise error.at(where) from None
    elif answer == YES and one.found.kind == NOTHING:
        raise BadInputError("nothing in it reads like a speed or a mark", where, 'write what it was, such as "82 kt"')
    return _keep(store, slug, known, {key: answer}, {key: words}, seen={} if seen is None else {key: seen})


def _keep(
    store: Store,
    slug: str | None,
    known: CandidateList,
    answers: Mapping[str, str],
    typed: Mapping[str, str],
    expected_revision: int | None = None,
    seen: Mapping[str, tuple[str, str]] | None = None,
) -> CandidateList:
    with store.writing() as work:
        study = the_study(work, slug)
        kept = get_document(work, study.id, KIND, _key(known.item))
        there, words = (_kept(kept.body if kept else None, name) for name in ("answers", "typed"))
        for key, (answer, said) in (seen or {}).items():
            if (there.get(key, ""), words.get(key, "")) != (answer, said):
                now = " ".join(part for part in (there.get(key, "") or "no answer", words.get(key, "")) if part)
                raise ConflictError(
                    f"it was answered meanwhile, in another window: {now}",
                    f"{known.item.name}, candidate {key}",
                    "look at it as it is now and answer again; nothing was changed",
                )
        merged = {**there, **answers}
        texts = {**words, **typed}
        body: Document = {
            "recording": known.item.name,
            "answers": {key: merged[key] for key in sorted(merged) if merged[key]},
            "typed": {key: texts[key] for key in sorted(texts) if texts[key] and merged.get(key) == YES},
            "candidates": [
                _document(one.found) for phrase in known.phrases for one in phrase.offered if merged.get(one.found.key)
            ],
        }
        made = put_document(work, study.id, KIND, _key(known.item), body, expected_revision)
    return _answered(known.item, made.revision, known.phrases, body)


def _answered(item: StudyRecording, revision: int, phrases: Iterable[Phrase], body: Document | None) -> CandidateList:
    """Return phrases with the answers that a document keeps."""
    answers, typed = _kept(body, "answers"), _kept(body, "typed")
    told = [
        Phrase(
            phrase.cue,
            tuple(
                _offered(one.found, answers.get(one.found.key, ""), typed.get(one.found.key, ""))
                for one in phrase.offered
            ),
        )
        for phrase in phrases
    ]
    return CandidateList(item, revision, tuple(told))


def answer_likely(store: Store, slug: str | None, recording: str) -> CandidateList:
    """Say yes to every likely candidate that is not answered, and no to the others.

    Raises:
        BadInputError: the recording holds no captions.
        NotFoundError: there is no such study or recording.
    """
    known = caption_candidates(store, slug, recording)
    answers = {one.found.key: YES if one.found.is_likely else NO for one in known.candidates if not one.answer}
    return answer_candidates(store, slug, recording, answers, known.revision)


def readings_from_captions(
    store: Store, slug: str | None, recording: str, header: Mapping[str, str] | None = None, name: str = ""
) -> Arrival:
    """Take in the accepted candidates as a recording of called readings.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        recording: the caption file.
        header: set-up words to stand at its head, such as ``method``.
        name: of the new recording; by default that of the captions with ``-readings.csv``.

    Raises:
        BadInputError: nothing was accepted yet.
        NotFoundError: there is no such study or recording.
    """
    known = caption_candidates(store, slug, recording)
    accepted = list(known.accepted)
    if not any(one.kind == "reading" for one in accepted):
        raise BadInputError("no reading was accepted yet", known.item.name, "say yes to the readings first")
    text = called_readings(accepted, known.item, header or {})
    stem = known.item.name.rpartition(".")[0] or known.item.name
    note = f"accepted from {known.item.name}"
    return take_in_recording(store, slug, io.BytesIO(text.encode()), name or f"{stem}-readings.csv", note)


def called_readings(accepted: list[Candidate], item: StudyRecording, header: Mapping[str, str]) -> str:
    """Return accepted candidates as a file of hand-called readings, each row with the line of its caption."""
    units = {one.unit for one in accepted if one.kind == "reading"}
    lines = [f"# {_one_line(key)}: {_one_line(value)}" for key, value in header.items()]
    lines += [
        "# kind: called",
        f"# from captions: {_one_line(item.name)}",
        f"# captions hash: {item.recording.sha256}",
        f"# clock uncertainty: {CLOCK_SD_S:g} s",
        f"time, speed{f' ({units.pop()})' if len(units) == 1 else ''}, mark, caption line",
    ]
    for one in sorted(accepted, key=lambda one: one.time_s):
        speed = f"{one.value:g}{f' {one.unit}' if units else ''}" if one.kind == "reading" else ""
        mark = _mark_words(one).replace('"', "'") if one.event is not None else ""
        lines.append(f'{one.time_s:.1f}, {speed}, "{mark}", {one.row}')
    return "\n".join([*lines, ""])


def _mark_words(one: Candidate) -> str:
    """Return the words of a mark, put so that a reader takes the meaning that was accepted."""
    event = one.event
    if event is None or read_mark(one.label) == event:
        return one.label
    target = event.target
    if event.device is Device.GEAR:
        return f"gear locked {target}" if event.kind is EventKind.ARRIVED and target else f"gear {target or 'moving'}"
    if event.device is Device.FLAPS:
        return f"flaps {target} stopped" if event.kind is EventKind.ARRIVED else f"flaps {target or 'moving'}"
    return "power set" if event.kind is EventKind.POWER else str(event.kind)


def _one_line(text: str) -> str:
    return " ".join(text.split())


def candidate_document(one: OfferedCandidate) -> Document:
    """Return a candidate as JSON, with its answer."""
    return {**_document(one.found), "answer": one.answer or None, "typed": one.typed or None}


def _document(one: Candidate) -> Document:
    return {
        "key": one.key,
        "kind": one.kind,
        "time_s": round(one.time_s, 2),
        "row": one.row,
        "said": one.said,
        "value": one.value if one.kind == "reading" else None,
        "unit": one.unit or None,
        "label": one.label or None,
        "score": round(one.score, 2),
        "likely": one.is_likely,
        "why": one.why,
    }


def _key(item: StudyRecording) -> str:
    return item.recording.sha256[:40]


def _kept(body: Document | None, name: str) -> dict[str, str]:
    kept = (body or {}).get(name, {})
    return {str(key): str(value) for key, value in kept.items()} if isinstance(kept, dict) else {}
