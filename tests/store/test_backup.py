from __future__ import annotations

import contextlib
import dataclasses
import errno
import io
import shutil
import sqlite3
import zipfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.store.packing import packed, unpacked
from tests.store.samples import CALLED, LOGGED, add_full, add_invented, everything, names_in, open_at, ticking
from wringout import store as kept
from wringout.errors import BadInputError, StoreError
from wringout.store import vault


def backed_up(folder: Path) -> tuple[Path, kept.Study, tuple[object, ...]]:
    """Return a back-up of a full store, its study and all it holds."""
    with open_at(folder / "a.db") as store:
        study = add_full(store)
        assert kept.write_backup(store, folder / "all.zip") == kept.BackUp(2, ())
        return folder / "all.zip", study, everything(store, study)


def restored(place: kept.Place, data: bytes, replace: bool = False) -> kept.BackUp:
    return kept.restore_backup(place, io.BytesIO(data), "all.zip", replace)


def test_everything_comes_back_elsewhere(tmp_path: Path) -> None:
    path, study, held = backed_up(tmp_path)
    place = kept.place_at(tmp_path / "new" / "b.db")
    assert restored(place, path.read_bytes()).recordings == 2
    with open_at(place.database) as store:
        assert everything(store, study) == held
    assert not [name for name in names_in(tmp_path) if "part" in name or ".restore" in name or ".backup" in name]


def test_common_tools_can_read_it(tmp_path: Path) -> None:
    path, _, _ = backed_up(tmp_path)
    files = unpacked(path.read_bytes())
    assert sorted(data for name, data in files.items() if name.startswith("recordings/")) == sorted([CALLED, LOGGED])
    (tmp_path / "copy.db").write_bytes(files["wringout.sqlite3"])
    with contextlib.closing(sqlite3.connect(tmp_path / "copy.db")) as connection:
        assert connection.execute("SELECT title FROM study").fetchall() == [("Gear or flaps first?",)]


def test_it_takes_the_place_of_a_database_in_use(tmp_path: Path) -> None:
    path, study, held = backed_up(tmp_path)
    with open_at(tmp_path / "a.db") as store:
        later = add_invented(store, "Made later")
        kept.take_in(store, later.id, io.BytesIO(b"late"), "late.csv")
        with pytest.raises(BadInputError, match=r"there is a database at .* allow replacing it"):
            restored(store.place, path.read_bytes())
        (notice,) = restored(store.place, path.read_bytes(), replace=True).notices
        assert everything(store, study) == held
        with store.reading() as view:
            assert len(kept.list_studies(view)) == 1
        assert len(vault.hashes(store.place.recordings)) == 3  # the later recording stays
        add_invented(store, "Made after")
    aside = tmp_path / "a.before-restore-1.db"
    assert str(aside) in notice
    with open_at(aside) as store, store.reading() as view:
        assert [item.slug for item in kept.list_studies(view)] == [study.slug, later.slug]


def test_it_is_written_while_others_write(tmp_path: Path) -> None:
    with open_at(tmp_path / "a.db") as store, ThreadPoolExecutor(3) as pool:
        study = add_full(store)
        takes = [
            pool.submit(kept.take_in, store, study.id, io.BytesIO(b"%d" % number), f"{number}.csv")
            for number in range(60)
        ]
        for number in range(4):
            kept.write_backup(store, tmp_path / f"{number}.zip")
        for take in takes:
            take.result()
    for number in range(4):
        place = kept.place_at(tmp_path / f"new-{number}" / "b.db")
        restored(place, (tmp_path / f"{number}.zip").read_bytes())
        with open_at(place.database) as store:
            everything(store, study)  # every recording it names is there and sound


def test_a_damaged_recording_does_not_stop_it(tmp_path: Path) -> None:
    with open_at(tmp_path / "a.db") as store:
        add_full(store)
        path = vault.path_of(store.place.recordings, vault.hashes(store.place.recordings)[0])
        path.chmod(0o644)
        path.write_bytes(b"damaged")
        done = kept.write_backup(store, tmp_path / "all.zip")
    assert done.recordings == 1
    assert "is damaged: its bytes no longer match" in done.notices[0]


@pytest.mark.parametrize("step", ["sync_file", "rename", "sync_folder"])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO])
def test_a_failing_disk_leaves_no_half_back_up(tmp_path: Path, step: str, number: int) -> None:
    def fails(*_: object) -> None:
        raise OSError(number, "fails")

    with open_at(tmp_path / "a.db") as store:
        add_full(store)
    failing = dataclasses.replace(vault.DISK, **{step: fails})  # type: ignore[arg-type]
    with (
        open_at(tmp_path / "a.db", failing) as store,
        pytest.raises(StoreError, match=r"all\.zip' could not be written"),
    ):
        kept.write_backup(store, tmp_path / "all.zip")
    if step != "sync_folder":
        assert not (tmp_path / "all.zip").exists()


def without(files: dict[str, bytes], name: str) -> dict[str, bytes]:
    return {other: data for other, data in files.items() if other != name}


def first_recording(files: dict[str, bytes]) -> str:
    return next(name for name in sorted(files) if name.startswith("recordings/"))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda files: packed({**files, first_recording(files): b"x"}), "was changed"),
        (lambda files: packed({**files, "wringout.sqlite3": files["wringout.sqlite3"][:-1] + b"x"}), "was changed"),
        (lambda files: packed(without(files, first_recording(files))), "not those in its list"),
        (lambda files: packed({**files, "../evil": b"x"}), "not those in its list"),
        (lambda files: packed(without(files, "backup.json")), "'backup.json' is missing"),
        (lambda files: packed({**files, "backup.json": b"{}"}), "the format is not"),
        (lambda files: packed(files)[:-30], "is damaged"),
        (lambda files: packed(files).replace(packed(files)[90:120], bytes(30)), "is damaged"),
        (lambda files: packed({**files, "wringout.sqlite3": bytes(2**26 + 1)}), "would unpack to more than 200 times"),
        (lambda _: b"nothing", "is damaged"),
    ],
)
def test_a_bad_back_up_changes_nothing(tmp_path: Path, change: Callable[[dict[str, bytes]], bytes], says: str) -> None:
    path, study, _ = backed_up(tmp_path)
    bad = change(unpacked(path.read_bytes()))
    with open_at(tmp_path / "a.db") as store:
        add_invented(store, "Made later")
        before = everything(store, study)
        with pytest.raises(BadInputError, match=f"all.zip.*{says}"):
            restored(store.place, bad, replace=True)
        assert everything(store, study) == before
        with store.reading() as view:
            assert len(kept.list_studies(view)) == 2
    with pytest.raises(BadInputError):
        restored(kept.place_at(tmp_path / "new" / "b.db"), bad)
    assert not (tmp_path / "new" / "b.db").exists()


# Damaged databases


def damage(path: Path, begin: int, end: int) -> None:
    data = bytearray(path.read_bytes())
    data[begin:end] = b"\xa5" * (min(end, len(data)) - begin)
    path.write_bytes(data)


@pytest.mark.parametrize(("begin", "end"), [(0, 100), (100, 4096), (0, 10**9), (4096, 10**9), (8192, 8300)])
def test_every_recording_is_saved_from_a_damaged_database(tmp_path: Path, begin: int, end: int) -> None:
    with open_at(tmp_path / "a.db") as store:
        add_full(store)
    damage(tmp_path / "a.db", begin, end)
    damaged = (tmp_path / "a.db").read_bytes()
    done = kept.rescue_database(kept.place_at(tmp_path / "a.db"), ticking())
    assert (done.recordings, done.damaged) == (2, ())
    assert done.aside.read_bytes() == damaged
    with open_at(tmp_path / "a.db") as store, store.reading() as view:
        held = {
            kept.read_recording_bytes(view, item.recording.sha256)
            for study in kept.list_studies(view)
            for item in kept.list_recordings(view, study.id)
        }
        assert held == {CALLED, LOGGED}
        for study in kept.list_studies(view):
            everything(store, study)
    assert not [name for name in names_in(tmp_path) if ".rescue" in name]


def test_one_damaged_page_costs_little_else(tmp_path: Path) -> None:
    with open_at(tmp_path / "a.db") as store:
        study = add_full(store)
        with store.writing() as work:
            for number in range(400):
                kept.put_airplane(work, study.id, f"number = {number}\n" + "# \n" * 90)
    with contextlib.closing(sqlite3.connect(tmp_path / "a.db")) as connection:
        (root,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'airplane'").fetchone()
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
    data = (tmp_path / "a.db").read_bytes()
    middle = next(n for n in range(root, pages) if b"number = 200\n" in data[n * 4096 : (n + 1) * 4096])
    damage(tmp_path / "a.db", middle * 4096, (middle + 1) * 4096)
    done = kept.rescue_database(kept.place_at(tmp_path / "a.db"), ticking())
    assert 380 <= done.rows["airplane"] < 402
    assert (done.rows["run"], done.rows["study_recording"], done.rows["tap"], done.loose) == (2, 2, 3, 0)


def test_a_sound_database_is_not_rescued(tmp_path: Path) -> None:
    with open_at(tmp_path / "a.db") as store:
        add_full(store)
    with pytest.raises(BadInputError, match="is sound; there is nothing to rescue"):
        kept.rescue_database(kept.place_at(tmp_path / "a.db"), ticking())
    with pytest.raises(BadInputError, match="there is nothing at"):
        kept.rescue_database(kept.place_at(tmp_path / "b.db"), ticking())


def test_a_lost_database_is_rescued_from_the_vault(tmp_path: Path) -> None:
    with open_at(tmp_path / "a.db") as store:
        add_full(store)
    (tmp_path / "a.db").unlink()
    done = kept.rescue_database(kept.place_at(tmp_path / "a.db"), ticking())
    assert (done.recordings, done.loose, done.study_slug) == (2, 2, "rescued-recordings")


def test_a_back_up_takes_the_place_of_a_damaged_database(tmp_path: Path) -> None:
    path, study, held = backed_up(tmp_path)
    damage(tmp_path / "a.db", 0, 10**9)
    shutil.rmtree(tmp_path / "a.recordings")
    (notice,) = restored(kept.place_at(tmp_path / "a.db"), path.read_bytes(), replace=True).notices
    assert "The damaged database is kept as" in notice
    with open_at(tmp_path / "a.db") as store:
        assert everything(store, study) == held


def test_a_back_up_of_another_program_is_refused(tmp_path: Path) -> None:
    path, _, _ = backed_up(tmp_path)
    with zipfile.ZipFile(path) as archive:
        assert all(info.compress_type == zipfile.ZIP_STORED for info in archive.infolist())
    with pytest.raises(BadInputError, match=r"'backup\.json' is missing; choose a back-up that Wringout wrote"):
        restored(kept.place_at(tmp_path / "b.db"), packed({"bundle.toml": b""}))


def test_an_edit_after_a_back_up_was_taken_back_is_not_taken_for_the_one_of_the_same_number(tmp_path: Path) -> None:
    path, study, _ = backed_up(tmp_path)
    marks = []
    with open_at(tmp_path / "a.db") as store:
        for title in ("One way", "Another way"):
            with store.writing() as work:
                kept.edit_study(work, dataclasses.replace(study, title=title))
            with store.reading() as view:
                marks.append(kept.change_mark(view, study.id))
            restored(store.place, path.read_bytes(), replace=True)
    assert marks[0][0] == marks[1][0]
    assert marks[0] != marks[1]
