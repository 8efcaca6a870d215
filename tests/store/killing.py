"""A scripted session that is killed at random moments, started again, and held against what it had acknowledged.

The session does numbered things one after another and says each number when it is done. After a kill the next one
begins with the first number that was not said, as a person or a device would: so what was under way may be done twice,
and must be there once. The kill is ``SIGKILL``; a power cut, which takes the system's own cache with it, is not tried.
"""

from __future__ import annotations

import contextlib
import dataclasses
import io
import os
import random
import signal
import sqlite3
import time
import zipfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from tests.store.packing import exported
from tests.store.samples import add_invented, open_at
from wringout import store as kept
from wringout.errors import BadInputError, WringoutError

BUNDLES = 12
TAPS = 5
ROUND = 8
"""Things done in one round of the session."""


@dataclass(frozen=True, slots=True)
class Session:
    """The folder a session works in and the bundles it takes in."""

    folder: Path
    bundles: tuple[bytes, ...]

    @property
    def database(self) -> Path:
        """The database of the session."""
        return self.folder / "killed.db"


@dataclass(frozen=True, slots=True)
class Found:
    """What was found after the kills. ``faults`` are sentences; empty when every promise was kept."""

    kills: int
    acknowledged: int
    by_kind: dict[str, int]
    faults: tuple[str, ...]


def new_session(folder: Path) -> Session:
    bundles = []
    for number in range(BUNDLES):
        with open_at(folder / f"source-{number}.db") as store:
            study = add_invented(store, f"Bundle {number}")
            kept.take_in(store, study.id, io.BytesIO(b"time,speed\n0,%d\n" % (7000 + number)), "b.csv")
            bundles.append(exported(store, study))
    return Session(folder, tuple(bundles))


def recording_of(number: int) -> bytes:
    return b"time,speed\n0,%d\n" % number + b"1,99\n" * (number % 5 * 4000)


def _found(store: kept.Store, number: int) -> kept.StudyRecording:
    """Return the recording taken in as thing ``number``."""
    with store.reading() as view:
        study = kept.get_study(view, "killed")
        return next(item for item in kept.list_recordings(view, study.id) if item.name == f"{number}.csv")


def take_in(store: kept.Store, study: kept.Study, number: int, _: Session) -> None:
    kept.take_in(store, study.id, io.BytesIO(recording_of(number)), f"{number}.csv")


def add_run(store: kept.Store, study: kept.Study, number: int, _: Session) -> None:
    sha256 = _found(store, number - 1).recording.sha256
    with contextlib.suppress(BadInputError), store.writing() as work:  # it is there already
        kept.add_run(work, study.id, f"R{number}", "level-deceleration", sha256, (0.0, 9.0), {})


def put_airplane(store: kept.Store, study: kept.Study, number: int, _: Session) -> None:
    with store.writing() as work:
        kept.put_airplane(work, study.id, f"number = {number}\n")


def put_document(store: kept.Store, study: kept.Study, number: int, _: Session) -> None:
    with store.writing() as work:
        kept.put_document(
            work, study.id, "plan", f"p-{number % 5}", {"number": number, "pad": "x" * (number % 7 * 999)}
        )


def add_taps(store: kept.Store, study: kept.Study, number: int, _: Session) -> None:
    taps = [kept.Tap(number * TAPS + more, {"number": number}) for more in range(TAPS)]
    with store.writing() as work:
        kept.add_taps(work, study.id, "flight-1", "left", taps)


def import_bundle(store: kept.Store, _: kept.Study, number: int, session: Session) -> None:
    kept.import_bundle(store, io.BytesIO(session.bundles[number // ROUND % BUNDLES]), "study.zip")


def edit_recording(store: kept.Store, _: kept.Study, number: int, __: Session) -> None:
    item = _found(store, number - 6)
    with store.writing() as work:
        kept.edit_recording(work, dataclasses.replace(item, note=f"note {number}"))


def export(store: kept.Store, study: kept.Study, _: int, session: Session) -> None:
    kept.export_bundle(store, study, session.folder / "out.zip", replace=True)


STEPS: tuple[Callable[[kept.Store, kept.Study, int, Session], None], ...] = (
    take_in, add_run, put_airplane, put_document, add_taps, import_bundle, edit_recording, export,
)  # fmt: skip
assert len(STEPS) == ROUND


def run_session(session: Session, begin: int, out: int) -> None:
    """Do thing after thing, saying each number on a pipe, until killed."""
    with kept.open_store(kept.place_at(session.database), lambda: datetime.now(UTC)) as store:
        with contextlib.suppress(BadInputError), store.writing() as work:
            kept.add_study(work, "Killed", "", {}, slug="killed")
        with store.reading() as view:
            study = kept.get_study(view, "killed")
        number = begin
        while True:
            STEPS[number % ROUND](store, study, number, session)
            os.write(out, f"{number}\n".encode())
            number += 1


def kill_once(session: Session, begin: int, after_s: float | None) -> int:
    """Run the session in a process of its own, kill it, and return the first number it did not say.

    It is killed ``after_s`` after its start; None for when it has said one.
    """
    said, out = os.pipe()
    child = os.fork()
    if child == 0:
        status = 1
        try:
            os.close(said)
            run_session(session, begin, out)
        except WringoutError as error:
            os.write(out, f"!{error}\n".encode())
        finally:
            os._exit(status)
    os.close(out)
    with os.fdopen(said) as lines:
        first = ""
        if after_s is None:
            first = lines.readline()
        else:
            time.sleep(after_s)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        numbers = (first + lines.read()).split("\n")
    failed = [line for line in numbers if line.startswith("!")]
    if failed:
        raise AssertionError(failed[0])
    return max([begin, *(int(line) + 1 for line in numbers if line)])


def integrity(session: Session) -> list[str]:
    """Return what SQLite finds wrong with the database; an empty list for a sound one or none."""
    if not session.database.exists():
        return []
    with contextlib.closing(sqlite3.connect(session.database)) as connection:
        checked = [row[0] for row in connection.execute("PRAGMA integrity_check")]
        broken = connection.execute("PRAGMA foreign_key_check").fetchall()
    return [line for line in checked if line != "ok"] + [str(row) for row in broken]


def _expected(done: int) -> dict[str, Counter[object]]:
    """Return what a session that did everything below ``done`` must have made, each thing once."""
    numbers: dict[str, list[int]] = {step.__name__: [] for step in STEPS}
    for number in range(done):
        numbers[STEPS[number % ROUND].__name__].append(number)
    return {
        "recordings": Counter(numbers["take_in"]),
        "runs": Counter(numbers["add_run"]),
        "airplane versions": Counter(numbers["put_airplane"]),
        "document revisions": Counter(numbers["put_document"]),
        "taps": Counter(number * TAPS + more for number in numbers["add_taps"] for more in range(TAPS)),
        "bundles": Counter({number // ROUND % BUNDLES for number in numbers["import_bundle"]}),
        "notes": Counter(numbers["edit_recording"]),
    }


def _there(session: Session) -> tuple[dict[str, Counter[object]], list[str]]:
    """Return what is in the database, and what is wrong with the recordings or the history."""
    faults: list[str] = []
    with open_at(session.database) as store, store.reading() as view:
        study = kept.get_study(view, "killed")
        recordings = kept.list_recordings(view, study.id)
        numbers = [int(item.name.removesuffix(".csv")) for item in recordings]
        for item, number in zip(recordings, numbers, strict=True):
            if kept.read_recording_bytes(view, item.recording.sha256) != recording_of(number):
                faults.append(f"the bytes of recording {number} are others")
        bundled = [item for item in kept.list_studies(view) if item.slug != "killed"]
        for other in bundled:
            (one,) = kept.list_recordings(view, other.id)
            kept.read_recording_bytes(view, one.recording.sha256)
        documents = [
            revision
            for kind, key in kept.document_names(view, study.id)
            for revision in kept.document_revisions(view, study.id, kind, key)
        ]
        notes = [item.note.removeprefix("note ") for item in recordings if item.note]
        there: dict[str, Counter[object]] = {
            "recordings": Counter(numbers),
            "runs": Counter(int(run.key.removeprefix("R")) for run in kept.list_runs(view, study.id)),
            "airplane versions": Counter(int(a.toml.split()[-1]) for a in kept.list_airplanes(view, study.id)),
            "document revisions": Counter((revision.body or {})["number"] for revision in documents),
            "taps": Counter(tap.sequence for tap in kept.list_taps(view, study.id, "flight-1")),
            "bundles": Counter(int(other.title.removeprefix("Bundle ")) for other in bundled),
            "notes": Counter(int(note) for note in notes),
        }
        edits = sum(sum(there[name].values()) for name in there if name not in {"taps", "bundles"}) + 1
        if len(kept.list_history(view, study.id)) != edits:
            faults.append(f"the history has {len(kept.list_history(view, study.id))} edits, not {edits}")
    return there, faults


def compare(session: Session, done: int) -> list[str]:
    """Return what differs from everything below ``done``, with or without the one thing under way."""
    there, faults = _there(session)
    if there not in (_expected(done), _expected(done + 1)):
        for name, expected in _expected(done).items():
            lost, more = expected - there[name], there[name] - expected
            faults += [f"{name}: lost {sorted(lost.elements())[:5]}"] if lost else []  # type: ignore[type-var]
            faults += [f"{name}: too many {sorted(more.elements())[:5]}"] if more else []  # type: ignore[type-var]
    out = session.folder / "out.zip"
    if out.exists() and zipfile.ZipFile(out).testzip() is not None:
        faults.append("the exported bundle is damaged")
    return faults


def kill_many(session: Session, kills: int, seed: int, longest_s: float, every: int = 25) -> Found:
    """Kill the session again and again, checking the database each time and everything now and then.

    It is first let live until it has done one thing: from a large process, forking and opening can take longer than
    ``longest_s``, and kills must reach twice as far as that.
    """
    dice = random.Random(seed)  # noqa: S311 - not for secrets
    done, faults = 0, []
    begun = time.monotonic()
    done = kill_once(session, done, None)
    longest_s = max(longest_s, 2.0 * (time.monotonic() - begun))
    for count in range(1, kills + 1):
        done = kill_once(session, done, dice.uniform(0.0, longest_s))
        faults += integrity(session)
        if done and (count % every == 0 or count == kills):
            faults += compare(session, done)
        if faults:
            break
    by_kind = {name: sum(counter.values()) for name, counter in _expected(done).items()}
    return Found(kills, done, by_kind, tuple(faults))
