from __future__ import annotations

import csv
import dataclasses
import errno
import hashlib
import io
import json
import tomllib
import zipfile
from pathlib import Path

import pytest

from tests.store.packing import exported, full_bundle, packed, taken_in, unpacked
from tests.store.samples import CALLED, LOGGED, add_full, add_invented, everything, names_in, open_at
from wringout import store as kept
from wringout.errors import BadInputError, StoreError
from wringout.store import vault
from wringout.store.bundle_format import BundleLimits
from wringout.store.studies import restore_history


def test_a_study_comes_back_as_it_was(store: kept.Store, tmp_path: Path) -> None:
    study = add_full(store)
    data = exported(store, study)
    with open_at(tmp_path / "other.db") as other:
        taken = taken_in(other, data)
        assert (taken.already_there, taken.notices, taken.study.slug) == (False, (), study.slug)
        assert everything(other, taken.study) == everything(store, study)
        assert exported(other, taken.study) == data


def test_the_same_study_gives_the_same_bytes(tmp_path: Path) -> None:
    bundles = []
    for name in ("one", "two"):
        with open_at(tmp_path / f"{name}.db") as store:
            if name == "two":
                add_invented(store, "Another study that shifts the ids")
        with open_at(tmp_path / f"{name}.db") as store:
            bundles.append(exported(store, add_full(store)))
    assert bundles[0] == bundles[1]


def test_the_hash_is_of_the_manifest_and_moves_with_any_change(store: kept.Store) -> None:
    study = add_full(store)
    with store.reading() as view:
        before = kept.bundle_contents(view, study)
    files = unpacked(exported(store, study))
    assert before.sha256 == hashlib.sha256(files["bundle.toml"]).hexdigest()
    assert [entry.path for entry in before.files] == sorted(name for name in files if name != "bundle.toml")
    with store.writing() as work:
        recording = kept.list_recordings(work, study.id)[0]
        kept.edit_recording(work, dataclasses.replace(recording, note="another note"))
        assert kept.bundle_contents(work, study).sha256 != before.sha256


def test_a_brief_that_names_the_bundle_does_not_change_it(store: kept.Store) -> None:
    study = add_full(store)
    with store.writing() as work:
        sha256 = kept.bundle_contents(work, study).sha256
        kept.put_brief(work, study.id, "brief.pdf", "1" * 64, sha256)
        assert kept.bundle_contents(work, study).sha256 == sha256


def test_common_tools_can_read_it(tmp_path: Path) -> None:
    """The standard library's own zip, TOML, JSON and CSV readers, none of our code."""
    with zipfile.ZipFile(io.BytesIO(full_bundle(tmp_path))) as archive:
        assert archive.testzip() is None
        assert archive.namelist()[0] == "bundle.toml"
        assert archive.namelist()[1:] == sorted(archive.namelist()[1:])
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        manifest = tomllib.loads(archive.read("bundle.toml").decode())
        recordings = json.loads(archive.read("recordings.json"))
        runs = json.loads(archive.read("runs.json"))
        result = json.loads(archive.read("results/0001-reduction.json"))
        history = list(csv.DictReader(io.StringIO(archive.read("history.csv").decode(), newline="")))
        airplane = tomllib.loads(archive.read("airplane.toml").decode())
        earlier = tomllib.loads(archive.read("airplane-versions/0001.toml").decode())
        for entry in manifest["files"]:
            data = archive.read(entry["path"])
            assert (hashlib.sha256(data).hexdigest(), len(data)) == (entry["sha256"], entry["size_bytes"])
        assert [archive.read(item["file"]) for item in recordings] == [CALLED, LOGGED]
        assert archive.read(result["draws"]) == b"\x93NUMPY draws"
    assert (manifest["format"], manifest["version"], manifest["study"]["invented"]) == ("wringout bundle", 2, True)
    assert (airplane["geometry"]["wing_area_ft2"], earlier["geometry"]["wing_area_ft2"]) == (174.5, 174.0)
    assert [(run["key"], run["state"], run["reason"]) for run in runs] == [
        ("G1", "in use", ""),
        ("G2", "set aside", "too short"),
    ]
    assert result["body"] == {"f_m2": [0.43, None, 1e-9]}
    assert [row["what"] for row in history][:2] == ["study made", "airplane put"]
    assert all(row["after"] == "" or json.loads(row["after"]) for row in history)


def test_no_cell_of_the_history_is_a_formula(store: kept.Store, tmp_path: Path) -> None:
    """A spreadsheet runs a cell that begins with one of = + - @ (common practice, no source)."""
    study = add_invented(store)
    with store.writing() as work:
        for what in ("=1+1", "+1", "-1", "@a", "'quoted", '"', "plain"):
            restore_history(work, [kept.HistoryEntry(0, study.id, work.now, what, None, {"=a": "=1+1"})])
    data = exported(store, study)
    rows = list(csv.reader(io.StringIO(unpacked(data)["history.csv"].decode(), newline="")))
    assert not [cell for row in rows for cell in row if cell[:1] in set("=+-@\t\r")]
    with open_at(tmp_path / "other.db") as other:
        assert everything(other, taken_in(other, data).study) == everything(store, study)


def test_taking_it_in_twice_is_noticed(tmp_path: Path) -> None:
    data = full_bundle(tmp_path)
    with open_at(tmp_path / "other.db") as other:
        first = taken_in(other, data)
        before = everything(other, first.study)
        again = taken_in(other, data)
        assert again.already_there
        assert again.study == first.study
        assert again.notices == (
            "This bundle is here already, as the study 'gear-or-flaps-first'; nothing was changed.",
        )
        repacked = packed(unpacked(data), zipfile.ZIP_STORED)
        assert repacked != data
        assert taken_in(other, repacked).already_there
        assert everything(other, first.study) == before
        with other.reading() as view:
            assert len(kept.list_studies(view)) == 1


def test_taking_it_in_where_it_was_made_is_noticed(store: kept.Store) -> None:
    study = add_full(store)
    taken = taken_in(store, exported(store, study))
    assert (taken.already_there, taken.study) == (True, study)


def test_a_taken_name_gets_another_and_says_so(store: kept.Store) -> None:
    study = add_full(store)
    data = exported(store, study)
    with store.writing() as work:
        kept.put_airplane(work, study.id, "changed = true\n")
    taken = taken_in(store, data)
    assert taken.study.slug == "gear-or-flaps-first-2"
    assert taken.notices == (
        "A study called 'gear-or-flaps-first' exists already, so this one is called 'gear-or-flaps-first-2'.",
    )
    assert taken_in(store, data).study == taken.study
    assert len(vault.hashes(store.place.recordings)) == 2  # the bytes are shared, not doubled


def test_folders_in_the_zip_are_no_trouble(tmp_path: Path) -> None:
    """Programs that pack a folder by hand add an entry for each folder."""
    files = list(unpacked(full_bundle(tmp_path)).items())
    with open_at(tmp_path / "other.db") as other:
        assert not taken_in(other, packed([("recordings/", b""), *files])).already_there


@pytest.mark.parametrize(
    "name", ["a/b:c?.csv", "CON.csv", "..", " .hidden", "x" * 250 + ".csv", "é" * 200, "=1+1", "a\u202egpj.csv"]
)
def test_any_name_of_a_recording_survives(store: kept.Store, tmp_path: Path, name: str) -> None:
    study = add_invented(store)
    called = kept.take_in(store, study.id, io.BytesIO(CALLED), name).recording.name
    data = exported(store, study)
    (path,) = [path for path in unpacked(data) if path.startswith("recordings/")]
    assert len(path.rpartition("/")[2].encode()) <= 121
    assert not set(path) & set('<>:"\\|?*\u202e')
    with open_at(tmp_path / "other.db") as other, other.reading() as view:
        (found,) = kept.list_recordings(view, taken_in(other, data).study.id)
    assert found.name == called


@pytest.mark.parametrize("byte", [b"0", b"\x00"])
def test_a_recording_that_packs_unusually_well_can_be_taken_back(
    store: kept.Store, tmp_path: Path, byte: bytes
) -> None:
    study = add_invented(store)
    kept.take_in(store, study.id, io.BytesIO(byte * 80_000_000), "long.csv")
    with store.writing() as work:
        body = {"values": [0.0] * 300_000}
        kept.put_result(work, study.id, kept.ResultKind.REDUCTION, "0" * 64, 1, "0.1.0", {}, body, bytes(3_000_000))
    with open_at(tmp_path / "other.db") as other:
        assert everything(other, taken_in(other, exported(store, study)).study) == everything(store, study)


def test_a_note_of_a_megabyte_can_be_taken_back(store: kept.Store, tmp_path: Path) -> None:
    study = add_invented(store)
    note = '"=\u202e<b>\n' * 130_000
    kept.take_in(store, study.id, io.BytesIO(CALLED), "gear.csv", note)
    with store.writing() as work:
        kept.edit_study(work, dataclasses.replace(study, question=note[:100_000]))
    with open_at(tmp_path / "other.db") as other:
        assert everything(other, taken_in(other, exported(store, study)).study) == everything(store, study)


def test_an_empty_study_can_be_taken_back(store: kept.Store, tmp_path: Path) -> None:
    study = add_invented(store)
    with open_at(tmp_path / "other.db") as other:
        assert everything(other, taken_in(other, exported(store, study)).study) == everything(store, study)


def test_a_file_appears_only_when_it_is_complete(store: kept.Store, tmp_path: Path) -> None:
    study = add_full(store)
    target = tmp_path / "out" / "study.zip"
    with pytest.raises(StoreError, match="could not be written"):
        kept.export_bundle(store, study, target)
    target.parent.mkdir()
    contents = kept.export_bundle(store, study, target)
    assert target.read_bytes() == exported(store, study)
    assert contents.slug == "gear-or-flaps-first"
    with pytest.raises(BadInputError, match="exists already; choose another name or allow replacing it"):
        kept.export_bundle(store, study, target)
    kept.export_bundle(store, study, target, replace=True)
    assert names_in(target.parent) == ["study.zip"]


@pytest.mark.parametrize("step", ["sync_file", "rename"])
def test_a_full_disk_leaves_the_old_file(tmp_path: Path, step: str) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    target = tmp_path / "out" / "study.zip"
    target.parent.mkdir()
    target.write_bytes(b"the one before")
    with open_at(tmp_path / "a.db") as store:
        study = add_full(store)
    with (
        open_at(tmp_path / "a.db", dataclasses.replace(vault.DISK, **{step: full})) as store,
        pytest.raises(StoreError, match="No space left on device"),
    ):
        kept.export_bundle(store, study, target, replace=True)
    assert {name: (target.parent / name).read_bytes() for name in names_in(target.parent)} == {
        "study.zip": b"the one before"
    }


@pytest.mark.parametrize("gone", [True, False])
def test_a_damaged_recording_is_not_exported(store: kept.Store, tmp_path: Path, gone: bool) -> None:
    study = add_full(store)
    path = vault.path_of(store.place.recordings, hashlib.sha256(CALLED).hexdigest())
    path.chmod(0o644)
    path.unlink() if gone else path.write_bytes(CALLED[:-1] + b"?")
    with pytest.raises(StoreError, match="is missing" if gone else "is damaged"):
        kept.export_bundle(store, study, tmp_path / "out.zip")
    assert not (tmp_path / "out.zip").exists()


@pytest.mark.parametrize(
    ("limits", "says"),
    [
        (BundleLimits(runs=1), "The study has 2 runs, too many for one bundle; at most 1"),
        (BundleLimits(edits=3), "edits, too many for one bundle; at most 3"),
        (BundleLimits(total_bytes=100), "too much for one bundle"),
        (BundleLimits(files=13), "The study has 13 files of 0.0 MB, too much for one bundle"),
        (BundleLimits(manifest_bytes=100), "too much for one bundle"),
        (BundleLimits(document_bytes=100), "is too large for a bundle"),
    ],
)
def test_what_could_not_be_taken_back_is_not_written(
    store: kept.Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limits: BundleLimits, says: str
) -> None:
    study = add_full(store)
    monkeypatch.setattr("wringout.store.bundle_export.LIMITS", limits)
    with pytest.raises(StoreError, match=says):
        kept.export_bundle(store, study, tmp_path / "out.zip")
    assert not [name for name in names_in(tmp_path) if "bundle" in name or "out" in name]


def test_a_full_disk_while_taking_in_leaves_no_study(tmp_path: Path) -> None:
    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    data = full_bundle(tmp_path)
    with open_at(tmp_path / "other.db", dataclasses.replace(vault.DISK, write=full)) as other:
        with pytest.raises(StoreError, match="No space left on device"):
            taken_in(other, data)
        with other.reading() as view:
            assert kept.list_studies(view) == ()
    with open_at(tmp_path / "other.db") as other:
        assert not taken_in(other, data).already_there
