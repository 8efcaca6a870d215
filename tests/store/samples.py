"""A clock that ticks, an invented study, and a look at what a store holds, for the tests of the store."""

from __future__ import annotations

import dataclasses
import io
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from wringout import store as kept
from wringout.store import vault

CALLED = b"time, speed, mark\n0:00, 121, gear down\n0:06, 113,\n0:12, 106, stable\n"
LOGGED = b"t (s),ias (kt)\n0,120\n1,119\n"
AIRPLANE = 'name = "Quillback 230 (invented)"\n[geometry]\nwing_area_ft2 = 174.0\n'
INPUTS = "ab" * 32


def ticking(start: datetime = datetime(2026, 5, 1, 9, 30, tzinfo=UTC)) -> Callable[[], datetime]:
    """Return a clock that stands a second later at each look."""
    moments = (start + timedelta(seconds=count) for count in range(10**9))
    return lambda: next(moments)


def open_at(database: Path, disk: vault.DiskSteps = vault.DISK) -> kept.Store:
    return kept.open_store(kept.place_at(database), ticking(), disk=disk)


def add_invented(store: kept.Store, title: str = "Gear or flaps first?") -> kept.Study:
    """Add an empty invented study."""
    with store.writing() as work:
        return kept.add_study(work, title, "Which first in a go-around?", {"energy_height_m": 3.0}, invented=True)


def add_full(store: kept.Store) -> kept.Study:
    """Add an invented study that uses everything a study can hold."""
    study = add_invented(store)
    with store.writing() as work:
        kept.put_airplane(work, study.id, AIRPLANE)
        kept.put_airplane(work, study.id, AIRPLANE.replace("174.0", "174.5"))
    called = kept.take_in(
        store, study.id, io.BytesIO(CALLED), "gear run.csv", note='=smooth air, "three" calls\n'
    ).recording
    logged = kept.take_in(store, study.id, io.BytesIO(LOGGED), "C:\\flights\\log.csv").recording
    with store.writing() as work:
        kept.name_kind(work, called.recording.sha256, "called")
        kept.edit_recording(work, dataclasses.replace(logged, mapping={"ias": {"column": "ias (kt)", "unit": "kt"}}))
        sha256 = called.recording.sha256
        kept.add_run(work, study.id, "G1", "level-deceleration", sha256, (0.0, 12.0), {"device": "gear", "flap": None})
        stray = kept.add_run(
            work, study.id, "G2", "level-deceleration", logged.recording.sha256, None, {"device": "gear"}
        )
        kept.edit_run(work, dataclasses.replace(stray, state=kept.RunState.SET_ASIDE, reason="too short"))
        kept.put_result(
            work,
            study.id,
            kept.ResultKind.REDUCTION,
            INPUTS,
            7,
            "0.1.0",
            {"draws": 4},
            {"f_m2": [0.43, None, 1e-9]},
            b"\x93NUMPY draws",
        )
        kept.put_result(
            work, study.id, kept.ResultKind.MATCHUP, INPUTS, 8, "0.1.0", {}, {"verdict": "too close to call"}
        )
    add_documents(store, study)
    with store.reading() as view:
        return kept.get_study(view, study.slug)


def add_documents(store: kept.Store, study: kept.Study) -> None:
    """Add documents, one of them changed and one removed, and the taps of two devices."""
    with store.writing() as work:
        kept.put_document(work, study.id, "test-plan", "flight-1", {"points": [{"ias_kt": 90.0}]}, 0)
        kept.put_document(work, study.id, "test-plan", "flight-1", {"points": [], "note": '=1+1 "<b>'}, 1)
        kept.put_document(work, study.id, "hazard", "stall", {"cautions": ["height"]})
        kept.remove_document(work, study.id, "hazard", "stall", 1)
        kept.add_taps(
            work, study.id, "flight-1", "left", [kept.Tap(2, {"mark": "gear up"}), kept.Tap(1, {"ias_kt": 90})]
        )
        kept.add_taps(work, study.id, "flight-1", "right", [kept.Tap(1, {"mark": "flaps"})])


def everything(store: kept.Store, study: kept.Study) -> tuple[object, ...]:
    """Return all a study holds, without the ids the database gave."""
    with store.reading() as view:
        runs = kept.list_runs(view, study.id)
        results = kept.list_results(view, study.id)
        recordings = kept.list_recordings(view, study.id)
        return (
            dataclasses.replace(kept.get_study(view, study.slug), id=0, slug=""),
            [dataclasses.replace(item, study_id=0) for item in kept.list_airplanes(view, study.id)],
            [(r.recording.sha256, r.recording.kind, r.name, r.note, r.mapping, r.added_at) for r in recordings],
            [dataclasses.replace(run, id=0, study_id=0) for run in runs],
            [dataclasses.replace(result, id=0, study_id=0) for result in results],
            [dataclasses.replace(entry, id=0, study_id=0) for entry in kept.list_history(view, study.id)],
            [
                (item.kind, item.key, item.revision, item.body, item.at)
                for name in kept.document_names(view, study.id)
                for item in kept.document_revisions(view, study.id, *name)
            ],
            [
                (item.flight, item.device, item.sequence, item.body, item.at)
                for flight in kept.list_tap_flights(view, study.id)
                for item in kept.list_taps(view, study.id, flight)
            ],
            [kept.read_recording_bytes(view, r.recording.sha256) for r in recordings],
        )


def names_in(folder: Path) -> list[str]:
    """Return every file under a folder, as paths from it."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
