"""Runs: a stretch of a recording flown for one method, in use or set aside with a reason."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wringout.advice import Way
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.limits import Exceedance
from wringout.errors import BadInputError, NotFoundError
from wringout.estimate.problem import StudyRun
from wringout.methods.register import METHODS, method
from wringout.methods.remarks import remarks_on
from wringout.methods.setup_words import words_of
from wringout.methods.types import IntArray, Method
from wringout.recordings.changes import marks_from_channels
from wringout.recordings.cutting import cut
from wringout.recordings.types import Device, EventKind, Recording
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.flights.read_once import recording_of
from wringout.services.flights.weights import WEIGHT_WORDS, Weighing, weigh
from wringout.services.opening import the_study
from wringout.store import (
    Run,
    RunState,
    Store,
    StudyRecording,
    View,
    Work,
    add_run,
    edit_run,
    get_run,
    list_recordings,
    list_runs,
    read_recording_bytes,
)
from wringout.units import POUND

Span = tuple[float, float]
METHOD_WORD, KEY_WORD, MARKS_WORD = "method", "run", "marks"
MARKS_FROM_COLUMNS = "columns"
_STALL_CHANNELS = {"ias", "entry_rate", "mass", "warning", "cg"}
_KIND_METHODS = {
    "stalls": "stall series",
    "transits": "transit timing",
    "legs": "airspeed calibration",
    "pairs": "go around pairs",
}
_LETTERS = {
    "airspeed calibration": "C",
    "climb": "CL",
    "glide": "GL",
    "go around pairs": "GA",
    "out and back": "OB",
    "stall series": "S",
    "transit timing": "T",
}
"""How a run's short name begins where neither its device nor the initials of its method give it."""


@dataclass(frozen=True, slots=True)
class BuiltRun:
    """A stored run with what was made of it.

    Attributes:
        stored: the run's row.
        recording_name: of its recording in the study.
        built: the runs of the method (almost always one), ready for the estimator; empty where it cannot be built.
        problem: the sentence that says why it cannot be built, or "".
        exceedances: limits the readings went beyond.
        weighing: how its weight is known.
    """

    stored: Run
    recording_name: str
    built: tuple[StudyRun, ...]
    problem: str
    exceedances: tuple[Exceedance, ...]
    weighing: Weighing | None

    @property
    def title(self) -> str:
        """What was flown, in words."""
        return "; ".join(dict.fromkeys(item.run.title for item in self.built))

    @property
    def readings(self) -> int:
        """How many rows of its recording it uses."""
        return sum(len(rows_read(item)) for item in self.built)

    @property
    def is_fitted(self) -> bool:
        """Whether the joint fit takes it; False for a run that checks techniques and must not shape the airplane."""
        return any(len(item.run.rows) for item in self.built)


def rows_read(item: StudyRun) -> IntArray:
    """Return the source rows a run rests on, those of a run that is kept out of the joint fit too."""
    rows: IntArray = getattr(item.run, "flown_rows", item.run.rows)
    return rows


def read_study_recording(view: View, item: StudyRecording) -> Recording:
    """Read a study's recording from the vault, with the mapping chosen for it.

    Raises:
        BadInputError: its bytes do not read as a recording.
        StoreError: they are missing or damaged.
    """
    data = read_recording_bytes(view, item.recording.sha256)
    return recording_of(item, data)


def find_recording(view: View, study_id: int, wanted: str) -> StudyRecording:
    """Return a study's recording by its name or by the beginning of its hash.

    Raises:
        NotFoundError: there is none, or more than one.
    """
    items = list_recordings(view, study_id)
    found = [item for item in items if item.name == wanted]
    if not found and len(wanted) >= 4:
        found = [item for item in items if item.recording.sha256.startswith(wanted.lower())]
    if len(found) == 1:
        return found[0]
    if found:
        hashes = ", ".join(item.recording.sha256[:12] for item in found[::-1][:12])
        raise NotFoundError(
            f"more than one recording is called '{wanted[:80]}'", advice=f"name it by its hash, newest first: {hashes}"
        )
    names = ", ".join(item.name for item in items[:12]) or "nothing; take one in first"
    raise NotFoundError(f"there is no recording '{wanted[:80]}'", advice=f"there is {names}")


def method_of(recording: Recording, setup: Mapping[str, str]) -> Method | None:
    """Return the method a recording's words name, or that a list of its kind must be for; None when neither says.

    Raises:
        BadInputError: the word names no method.
    """
    words = words_of(recording, dict(setup))
    named = words.get(METHOD_WORD, _method_of_kind(recording))
    if not named:
        return None
    try:
        return method(named)
    except BadInputError as error:
        raise BadInputError(error.what, f"{recording.name}, method", error.expected) from None


def _method_of_kind(recording: Recording) -> str:
    """Return the method a list of its kind can only be for, or ""; a list of glides looks like one of stalls."""
    if recording.kind == "stalls" and not set(recording.channels) <= _STALL_CHANNELS:
        return ""
    return _KIND_METHODS.get(recording.kind, "")


def build(
    key: str,
    flown: Method,
    recording: Recording,
    span_s: tuple[float, float] | None,
    setup: Mapping[str, str],
    beliefs: Beliefs,
) -> tuple[tuple[StudyRun, ...], Weighing]:
    """Make a method's runs from a recording: cut, marks from columns where asked, weight from fuel, then the method.

    Raises:
        BadInputError: the recording or a set-up word cannot be used, in one sentence.
    """
    words = words_of(recording, dict(setup))
    if words.get(MARKS_WORD, "").lower() == MARKS_FROM_COLUMNS:
        marks = sorted((*recording.marks, *marks_from_channels(recording)), key=lambda mark: mark.time_s)
        recording = dataclasses.replace(recording, marks=tuple(marks))
    whole = recording
    if span_s is not None:
        recording = dataclasses.replace(cut(recording, span_s[0], span_s[1], key), name=recording.name)
    weighing = weigh(words, recording, beliefs, recording.name, whole)
    given = dict(setup)
    if weighing.mass_kg is not None and "weight" not in words:
        given["weight"] = f"{weighing.mass_kg / POUND:.3f} lb"
    try:
        made = flown.from_recording(key, recording, given, beliefs)
    except BadInputError as error:
        raise _with_columns(error, recording) from None
    remarks = remarks_on(made, recording, given, frozenset(WEIGHT_WORDS))
    weighing = dataclasses.replace(weighing, notices=(*weighing.notices, *remarks))
    return tuple(StudyRun(run, flown) for run in made), weighing


def _with_columns(error: BadInputError, recording: Recording) -> BadInputError:
    """Return what was refused, with what may help where a logger's own columns show gear or flaps and no mark does."""
    moving = {"gear", "flap", "flap_fraction"} & {*recording.channels, *recording.texts}
    if recording.marks or not moving or recording.kind != "logger":
        return error
    said = f"{error.advice}, or {Way.OWN_MARKS}" if error.advice else str(Way.OWN_MARKS)
    return BadInputError(error.what, error.where, said)


def free_key(taken: set[str], recording: Recording, flown: Method) -> str:
    """Return a short free name for a run.

    The recording's own ``run`` word, or how its file name begins ("G2-gear.csv"), or a letter for what was flown and a
    number.
    """
    named = re.match(r"[A-Za-z]{1,3}\d{1,3}(?=[-_. ]|$)", recording.name)
    for wanted in (recording.header.get(KEY_WORD, "").strip(), named.group() if named else ""):
        if re.fullmatch(r"[A-Za-z0-9][\w.-]{0,19}", wanted) and wanted not in taken:
            return wanted
    letter = _letter(recording, flown)
    number = 1
    while f"{letter}{number}" in taken:
        number += 1
    return f"{letter}{number}"


def _letter(recording: Recording, flown: Method) -> str:
    if flown.key != "level deceleration":
        return _LETTERS.get(flown.key, "".join(word[0] for word in flown.key.split()).upper())
    moved = [m.event.device for m in recording.marks if m.event.kind is EventKind.SELECTED and m.event.device]
    first = moved[0] if moved else recording.header.get("device", "")
    return {Device.GEAR: "G", Device.FLAPS: "F"}.get(Device(first), "D") if first in set(Device) else "D"


def add_run_to(
    store: Store,
    slug: str | None,
    recording_name: str,
    method_key: str | None = None,
    span_s: tuple[float, float] | None = None,
    setup: Mapping[str, str] | None = None,
    key: str | None = None,
) -> BuiltRun:
    """Add a run, in use, after showing that it can be built.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        recording_name: the recording's name in the study, or the beginning of its hash.
        method_key: the flight-test method; None where the recording says it.
        span_s: from and to, seconds on the recording's own clock; None for the whole of it.
        setup: set-up words, which go before those in the recording's header.
        key: its short name; chosen when not given.

    Raises:
        BadInputError: it cannot be built, the key is taken, or a run in use has some of its readings already.
        NotFoundError: there is no such study or recording, or no airplane yet.
    """
    words = {k.strip().lower(): v for k, v in (setup or {}).items()}
    with store.reading() as view:
        study = the_study(view, slug)
        item = find_recording(view, study.id, recording_name)
        beliefs = study_airplane(view, study.id).beliefs
        recording = read_study_recording(view, item)
        others = list_runs(view, study.id)
    taken = {run.key for run in others}
    flown = method(method_key) if method_key else method_of(recording, words)
    if flown is None:
        raise BadInputError(
            "nothing says which method was flown", item.name, f"{Way.METHOD}, one of {', '.join(METHODS)}"
        )
    _refuse_twice(others, item, flown.key, span_s)
    name = key or free_key(taken, recording, flown)
    runs, weighing = build(name, flown, recording, span_s, words, beliefs)
    with store.writing() as work:
        stored = add_run(work, study.id, name, flown.key, item.recording.sha256, span_s, dict(words))
    return BuiltRun(stored, item.name, runs, "", _exceedances(runs, beliefs), weighing)


def _refuse_twice(others: Sequence[Run], item: StudyRecording, method_key: str, span_s: Span | None) -> None:
    """Raise BadInputError where a run in use rests on the same readings: what is counted twice looks twice as sure."""
    for run in others:
        same = run.recording_sha256 == item.recording.sha256 and run.method == method_key
        if same and run.state is RunState.IN_USE and _overlap(_span(run), span_s):
            raise BadInputError(
                f"run {run.key} has these readings already, and nothing may count twice",
                item.name,
                f"set {run.key} aside first, or give another stretch of the recording",
            )


def _span(run: Run) -> Span | None:
    return None if run.from_s is None or run.to_s is None else (run.from_s, run.to_s)


def _overlap(one: Span | None, other: Span | None) -> bool:
    return one is None or other is None or (one[0] < other[1] and other[0] < one[1])


def set_run_aside(store: Store, slug: str | None, key: str, reason: str) -> Run:
    """Take a run out of use, with the reason; its readings stay.

    Raises:
        BadInputError: the reason is blank.
        NotFoundError: there is no such study or run.
    """
    with store.writing() as work:
        known = get_run(work, the_study(work, slug).id, key)
        return edit_run(work, dataclasses.replace(known, state=RunState.SET_ASIDE, reason=reason.strip()))


def refuse_shared_readings(work: Work, study_id: int, run: Run) -> None:
    """Refuse to put a run in use when another one in use has some of its readings.

    Raises:
        BadInputError: another has.
    """
    items = {item.recording.sha256: item for item in list_recordings(work, study_id)}
    others = [other for other in list_runs(work, study_id) if other.id != run.id]
    _refuse_twice(others, items[run.recording_sha256], run.method, _span(run))


def put_run_back(store: Store, slug: str | None, key: str) -> Run:
    """Put a run back in use.

    Raises:
        BadInputError: another run in use has some of its readings.
        NotFoundError: there is no such study or run.
    """
    with store.writing() as work:
        study_id = the_study(work, slug).id
        known = get_run(work, study_id, key)
        refuse_shared_readings(work, study_id, known)
        return edit_run(work, dataclasses.replace(known, state=RunState.IN_USE, reason=""))


def study_runs(store: Store, slug: str | None) -> tuple[BuiltRun, ...]:
    """Return every run of a study with what can be made of it, in the order they were added.

    Raises:
        NotFoundError: there is no such study, or runs but no airplane.
    """
    with store.reading() as view:
        return built_runs(view, the_study(view, slug).id)


def study_run(store: Store, slug: str | None, key: str) -> tuple[BuiltRun, Recording | None]:
    """Return one run with what can be made of it, and its recording as read (None where it cannot be read).

    Raises:
        NotFoundError: there is no such study or run.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        stored = get_run(view, study.id, key)
        items = {item.recording.sha256: item for item in list_recordings(view, study.id)}
        cache: dict[str, Recording | str] = {}
        found = _built(view, stored, items[stored.recording_sha256], study_airplane(view, study.id).beliefs, cache)
        read = cache.get(stored.recording_sha256)
        return found, read if isinstance(read, Recording) else None


def built_runs(view: View, study_id: int) -> tuple[BuiltRun, ...]:
    """Return every run of a study built, in the order they were added; a problem stands in the run, not in an error.

    Raises:
        NotFoundError: there are runs but no airplane.
    """
    stored = list_runs(view, study_id)
    if not stored:
        return ()
    beliefs = study_airplane(view, study_id).beliefs
    items = {item.recording.sha256: item for item in list_recordings(view, study_id)}
    cache: dict[str, Recording | str] = {}
    return tuple(_built(view, run, items[run.recording_sha256], beliefs, cache) for run in stored)


def _built(
    view: View, stored: Run, item: StudyRecording, beliefs: Beliefs, cache: dict[str, Recording | str]
) -> BuiltRun:
    sha256 = item.recording.sha256
    if sha256 not in cache:
        try:
            cache[sha256] = read_study_recording(view, item)
        except BadInputError as error:
            cache[sha256] = str(error)
    recording = cache[sha256]
    if isinstance(recording, str):
        return BuiltRun(stored, item.name, (), recording, (), None)
    try:
        runs, weighing = build(
            stored.key, method(stored.method), recording, _span(stored), _words(stored.setup), beliefs
        )
    except BadInputError as error:
        return BuiltRun(stored, item.name, (), str(error), (), None)
    return BuiltRun(stored, item.name, runs, "", _exceedances(runs, beliefs), weighing)


def _words(setup: Mapping[str, Any]) -> dict[str, str]:
    return {str(key): str(value) for key, value in setup.items()}


def _exceedances(runs: tuple[StudyRun, ...], beliefs: Beliefs) -> tuple[Exceedance, ...]:
    return tuple(found for item in runs for found in item.method.exceedances(item.run, beliefs))
