"""Runs proposed from an unlabelled log, and what a person made of each proposal: accepted into a run, or turned down.

The answers are kept as a document of the study, so a page and the command line see the same list.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from wringout.advice import Way
from wringout.errors import BadInputError, NotFoundError
from wringout.planning.stall_margin import believed_stall_ias_mps
from wringout.recordings.finding.proposals import CONFIGURATION_CHANGE, Proposal
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.flights.read_once import runs_found_in
from wringout.services.flights.runs import BuiltRun, add_run_to, find_recording, read_study_recording
from wringout.services.opening import the_study
from wringout.store import Store, StudyRecording, View, get_document, list_runs, put_document
from wringout.store.documents import Document, JsonValue
from wringout.units import KNOT

KIND = "run-proposals"
OPEN, ACCEPTED, TURNED_DOWN = "open", "accepted", "turned down"


@dataclass(frozen=True, slots=True)
class OfferedRun:
    """A proposal as offered to a person.

    Attributes:
        number: counts from 1 in order of time; the same for the same recording and mapping.
        found: the proposal.
        state: "open", "accepted" or "turned down".
        run: the run that was made of it, "".
        reason: why it was turned down, "".
        overlapping: runs in the study that rest on some of the same stretch.
    """

    number: int
    found: Proposal
    state: str
    run: str
    reason: str
    overlapping: tuple[str, ...]


def offered_runs(store: Store, slug: str | None, recording: str) -> tuple[OfferedRun, ...]:
    """Return the runs proposed from a recording, in order of time, with what was made of each.

    Raises:
        BadInputError: the recording cannot be read, or has no times or no speed.
        NotFoundError: there is no such study or recording.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        item = find_recording(view, study.id, recording)
        read = read_study_recording(view, item)
        kept = get_document(view, study.id, KIND, _key(item))
        runs = [run for run in list_runs(view, study.id) if run.recording_sha256 == item.recording.sha256]
        stall_kt = _stall_speeds_kt(view, study.id)
    answers = _answers(kept.body if kept else None)
    out = []
    for number, found in enumerate(runs_found_in(item, read, stall_kt), 1):
        answer = answers.get(_stretch(found), {})
        over = tuple(
            run.key
            for run in runs
            if run.from_s is not None and run.to_s is not None and run.from_s < found.to_s and found.from_s < run.to_s
        )
        state, run, reason = (str(answer.get(name, default)) for name, default in _FIELDS)
        out.append(OfferedRun(number, found, state, run, reason, over))
    return tuple(out)


def _stall_speeds_kt(view: View, study_id: int) -> tuple[float, float] | None:
    """Return the lowest and the highest stall speed believed of the study's airplane, indicated [kt], at sea level.

    The lowest is that with all flaps at the least weight it may fly at, taken as 0.6 of the greatest (judged). None
    where the study has no airplane that can be used.
    """
    try:
        beliefs = study_airplane(view, study_id).beliefs
    except (BadInputError, NotFoundError):
        return None
    heavy = beliefs.limits.max_mass_kg
    speeds = [
        believed_stall_ias_mps(beliefs, setting.angle_rad, 0.0, mass, 0.0, 0.0, 0.0) / KNOT
        for setting in beliefs.settings
        for mass in (0.6 * heavy, heavy)
    ]
    return round(min(speeds), 3), round(max(speeds), 3)


_FIELDS = (("state", OPEN), ("run", ""), ("reason", ""))


def accept_proposal(
    store: Store,
    slug: str | None,
    recording: str,
    number: int,
    method: str | None = None,
    setup: Mapping[str, str] | None = None,
    key: str | None = None,
) -> BuiltRun:
    """Make a run of a proposal and note the answer.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        recording: the recording's name, or the beginning of its hash.
        number: of the proposal.
        method: another flight-test method than the proposal's.
        setup: set-up words, before those of the proposal.
        key: the run's short name; chosen when not given.

    Raises:
        BadInputError: no such proposal, no method for it, or the run cannot be built.
        NotFoundError: there is no such study or recording, or no airplane yet.
    """
    one = _numbered(store, slug, recording, number)
    flown = method or one.found.method
    if not flown:
        raise BadInputError(
            f"proposal {number}, a {one.found.kind}, is evidence for no flight-test method by itself",
            recording,
            f"{Way.METHOD}, such as level deceleration",
        )
    words = {**one.found.setup, **(setup or {})}
    span = (one.found.from_s, one.found.to_s)
    run = add_run_to(store, slug, recording, flown, span, words, key)
    _answer(store, slug, recording, one.found, {"state": ACCEPTED, "run": run.stored.key, "reason": ""})
    return run


def turn_down_proposal(store: Store, slug: str | None, recording: str, number: int, reason: str = "") -> OfferedRun:
    """Note that a proposal is no run; it stays in the list and can still be accepted.

    Raises:
        BadInputError: there is no such proposal.
        NotFoundError: there is no such study or recording.
    """
    one = _numbered(store, slug, recording, number)
    _answer(store, slug, recording, one.found, {"state": TURNED_DOWN, "run": "", "reason": reason.strip()})
    return _numbered(store, slug, recording, number)


def proposal_document(one: OfferedRun) -> Document:
    """Return a proposal as JSON; times in seconds on the recording's own clock."""
    found = one.found
    return {
        "number": one.number,
        "kind": found.kind,
        "method": found.method or None,
        "from_s": round(found.from_s, 3),
        "to_s": round(found.to_s, 3),
        "from_row": found.from_row,
        "to_row": found.to_row,
        "device": found.device or None,
        "configuration": found.configuration or None,
        "why": found.why,
        "score": round(found.score, 2),
        "setup": dict(found.setup),
        "state": one.state,
        "run": one.run or None,
        "reason": one.reason,
        "overlapping": list(one.overlapping),
    }


def _numbered(store: Store, slug: str | None, recording: str, number: int) -> OfferedRun:
    offered = offered_runs(store, slug, recording)
    if not 1 <= number <= len(offered):
        last = f"proposals are numbered 1 to {len(offered)}" if offered else "nothing in it looks like a run"
        raise BadInputError(f"there is no proposal {number}", recording, last)
    return offered[number - 1]


def _key(item: StudyRecording) -> str:
    return item.recording.sha256[:40]


def _stretch(found: Proposal) -> str:
    return f"{found.kind} {found.from_s:.1f} {found.to_s:.1f}"


def _answers(body: Document | None) -> dict[str, dict[str, JsonValue]]:
    kept = (body or {}).get("answers", {})
    return {str(k): dict(v) for k, v in kept.items() if isinstance(v, dict)} if isinstance(kept, dict) else {}


def _answer(store: Store, slug: str | None, recording: str, found: Proposal, answer: dict[str, JsonValue]) -> None:
    with store.writing() as work:
        study = the_study(work, slug)
        item = find_recording(work, study.id, recording)
        kept = get_document(work, study.id, KIND, _key(item))
        answers: dict[str, JsonValue] = {**_answers(kept.body if kept else None), _stretch(found): answer}
        put_document(work, study.id, KIND, _key(item), {"recording": item.name, "answers": answers})


__all__ = [
    "CONFIGURATION_CHANGE",
    "OfferedRun",
    "accept_proposal",
    "offered_runs",
    "proposal_document",
    "turn_down_proposal",
]
