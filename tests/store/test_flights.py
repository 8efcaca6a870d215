from __future__ import annotations

import dataclasses
import errno
import hashlib
import io
from pathlib import Path

import pytest

from tests.store.samples import CALLED, LOGGED, add_full, add_invented, names_in, open_at
from wringout import store as kept
from wringout.errors import BadInputError, NotFoundError, StoreError
from wringout.store import vault
from wringout.store.flights import file_name

SHA256 = hashlib.sha256(CALLED).hexdigest()


def test_a_recording_is_taken_in_before_anyone_reads_it(store: kept.Store) -> None:
    study = add_invented(store)
    taken = kept.take_in(store, study.id, io.BytesIO(CALLED), "flights/gear.csv", note="smooth air")
    assert (taken.already_kept, taken.already_in_study) == (False, False)
    assert taken.recording.recording == kept.Recording(SHA256, "gear.csv", len(CALLED), "2026-05-01T09:30:02.000Z", "")
    with store.reading() as view:
        assert kept.list_recordings(view, study.id) == (taken.recording,)
        assert kept.read_recording_bytes(view, SHA256) == CALLED
        assert kept.list_history(view, study.id)[-1].what == "recording taken in"


def test_the_same_bytes_twice_are_noticed(store: kept.Store) -> None:
    one, two = add_invented(store), add_invented(store)
    first = kept.take_in(store, one.id, io.BytesIO(CALLED), "gear.csv", "first")
    again = kept.take_in(store, one.id, io.BytesIO(CALLED), "renamed.csv", "second")
    other = kept.take_in(store, two.id, io.BytesIO(CALLED), "other.csv")
    assert (again.already_kept, again.already_in_study) == (True, True)
    assert again.recording == first.recording  # what was typed first stays
    assert (other.already_kept, other.already_in_study) == (True, False)
    assert other.recording.name == "other.csv"
    assert other.recording.recording == first.recording.recording
    with store.reading() as view:
        assert len(kept.list_recordings(view, one.id)) == 1
        assert len(kept.list_history(view, one.id)) == 2


@pytest.mark.parametrize(
    ("name", "kept_as"),
    [("a.csv", "a.csv"), ("/home/x/a.csv", "a.csv"), ("C:\\x\\a.csv", "a.csv"), ("../../a.csv", "a.csv"), ("a/", "a")],
)
def test_a_recording_is_called_by_the_end_of_its_path(name: str, kept_as: str) -> None:
    assert file_name(name) == kept_as


@pytest.mark.parametrize(("name", "note"), [("", ""), ("/", ""), ("a\nb.csv", ""), ("a.csv", "\x00"), ("x" * 301, "")])
def test_names_and_notes_that_cannot_be_kept_are_refused_before_the_bytes(
    store: kept.Store, name: str, note: str
) -> None:
    study = add_invented(store)
    with pytest.raises(BadInputError):
        kept.take_in(store, study.id, io.BytesIO(CALLED), name, note)
    assert not store.place.recordings.exists()


def test_a_recording_above_the_limit_is_refused(store: kept.Store) -> None:
    study = add_invented(store)
    with pytest.raises(BadInputError, match=r"gear\.csv: it is larger than"):
        kept.take_in(store, study.id, io.BytesIO(CALLED), "gear.csv", limit_bytes=10)
    with store.reading() as view:
        assert kept.list_recordings(view, study.id) == ()


def test_a_full_disk_leaves_no_entry(tmp_path: Path) -> None:
    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    with open_at(tmp_path / "a.db", dataclasses.replace(vault.DISK, write=full)) as store:
        study = add_invented(store)
        with pytest.raises(StoreError, match=r"could not be kept .*No space left on device"):
            kept.take_in(store, study.id, io.BytesIO(CALLED), "gear.csv")
        with store.reading() as view:
            assert kept.list_recordings(view, study.id) == ()
    assert names_in(tmp_path / "a.recordings") == []


def test_a_recording_for_no_study_is_refused(store: kept.Store) -> None:
    with pytest.raises(NotFoundError, match="no study number 5"):
        kept.take_in(store, 5, io.BytesIO(CALLED), "gear.csv")


def test_a_recording_is_found_by_the_beginning_of_its_hash(store: kept.Store) -> None:
    study = add_invented(store)
    taken = kept.take_in(store, study.id, io.BytesIO(CALLED), "gear.csv").recording
    kept.take_in(store, study.id, io.BytesIO(LOGGED), "log.csv")
    with store.reading() as view:
        assert kept.get_recording(view, study.id, SHA256[:8]) == taken
        with pytest.raises(NotFoundError, match="no recording whose hash begins with 'zz'"):
            kept.get_recording(view, study.id, "zz")
        with pytest.raises(NotFoundError, match="more than one recording"):
            kept.get_recording(view, study.id, "")
        with pytest.raises(BadInputError, match="is not a SHA-256"):
            kept.read_recording_bytes(view, "../../etc/passwd")


def test_notes_and_mappings_are_edited_and_bytes_are_not(store: kept.Store) -> None:
    study = add_invented(store)
    taken = kept.take_in(store, study.id, io.BytesIO(CALLED), "gear.csv").recording
    mapping = {"ias": {"column": "speed", "unit": "kt", "confirmed": True}}
    with store.writing() as work:
        changed = kept.edit_recording(work, dataclasses.replace(taken, note="rough", mapping=mapping))
        kept.edit_recording(work, changed)
        assert kept.name_kind(work, SHA256, "called").kind == "called"
    with store.reading() as view:
        found = kept.get_recording(view, study.id, SHA256)
        edits = kept.list_history(view, study.id)
        assert kept.read_recording_bytes(view, SHA256) == CALLED
    assert (found.note, found.mapping, found.recording.kind) == ("rough", mapping, "called")
    assert [entry.what for entry in edits] == ["study made", "recording taken in", "recording edited"]
    assert edits[-1].before is not None
    assert edits[-1].before["note"] == ""


def test_runs_are_added_listed_and_set_aside_with_a_reason(store: kept.Store) -> None:
    study = add_invented(store)
    kept.take_in(store, study.id, io.BytesIO(CALLED), "gear.csv")
    with store.writing() as work:
        run = kept.add_run(work, study.id, "G1", "level-deceleration", SHA256, (0, 12), {"device": "gear"})
        table = kept.add_run(work, study.id, "S1", "stall-series", SHA256, None, {})
    with store.writing() as work:
        aside = kept.edit_run(work, dataclasses.replace(run, state=kept.RunState.SET_ASIDE, reason="turbulence"))
        kept.edit_run(work, aside)
    with store.reading() as view:
        assert kept.list_runs(view, study.id) == (aside, table)
        assert kept.get_run(view, study.id, "G1") == aside
        last = kept.list_history(view, study.id)[-1]
    assert (aside.id, aside.created_at, aside.from_s) == (run.id, run.created_at, 0.0)
    assert last.before is not None
    assert last.after == {**last.before, "state": "set aside", "reason": "turbulence"}
    with store.reading() as view, pytest.raises(NotFoundError, match=r"no run 'X'; there is G1, S1"):
        kept.get_run(view, study.id, "X")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"key": ""}, "run, key: it is blank"),
        ({"key": "x" * 41}, "keep it within 40"),
        ({"key": "G2"}, "the study has a run 'G2' already"),
        ({"method": " "}, "method: it is blank"),
        ({"from_s": None}, "only one end of the run is given"),
        ({"from_s": float("nan")}, "only one end|finite"),
        ({"from_s": 12.0}, "the run ends at 12 s, not after it begins at 12 s"),
        ({"state": kept.RunState.SET_ASIDE}, "a run set aside needs a reason"),
        ({"reason": "why"}, "a run in use carries a reason"),
        ({"setup": {"mass_kg": float("inf")}}, r"run G1, setup\.mass_kg: inf is not a finite number"),
        ({"recording_sha256": "0" * 64}, "names the recording 000000000000, which the study does not have"),
        ({"id": 99}, "no run number 99"),
    ],
)
def test_runs_that_make_no_sense_are_refused(store: kept.Store, change: dict[str, object], says: str) -> None:
    study = add_full(store)
    with store.reading() as view:
        before = kept.list_runs(view, study.id), kept.list_history(view, study.id)
        run = kept.get_run(view, study.id, "G1")
    with pytest.raises((BadInputError, NotFoundError), match=f"(?i){says}"), store.writing() as work:
        kept.edit_run(work, dataclasses.replace(run, **change))  # type: ignore[arg-type]
    with store.reading() as view:
        assert (kept.list_runs(view, study.id), kept.list_history(view, study.id)) == before


def test_a_run_key_is_used_once(store: kept.Store) -> None:
    study = add_full(store)
    with pytest.raises(BadInputError, match="a run 'G1' already"), store.writing() as work:
        kept.add_run(work, study.id, "G1", "m", SHA256, None, {})
