from __future__ import annotations

from pathlib import Path

import pytest

from tests.store.samples import ticking
from wringout.errors import BadInputError, NotFoundError, StoreError
from wringout.store import default_database, open_store, place_at


def test_the_default_is_the_users_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    # XDG Base Directory Specification 0.8: user data live under $XDG_DATA_HOME.
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert default_database() == tmp_path / "wringout" / "wringout.sqlite3"
    assert place_at().database == default_database()


def test_recordings_lie_beside_the_database(tmp_path: Path) -> None:
    place = place_at(tmp_path / "club.db")
    assert (place.database, place.recordings) == (tmp_path / "club.db", tmp_path / "club.recordings")


@pytest.mark.parametrize("name", [".", "a\x00b", "n" * 300])
def test_a_path_that_cannot_be_a_database_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises((BadInputError, StoreError)) as caught:
        open_store(place_at(tmp_path / name), ticking())
    assert str(caught.value).endswith(".")


def test_a_reading_command_does_not_make_a_database(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match=r"There is no database at .*typo\.db"):
        open_store(place_at(tmp_path / "typo.db"), ticking(), create=False)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreError, match=r"cannot be made|cannot be reached"):
        open_store(place_at(tmp_path / "file" / "a.db"), ticking())


def test_odd_characters_in_the_path_are_no_trouble(tmp_path: Path) -> None:
    folder = tmp_path / "a?b#c%20d é"
    with open_store(place_at(folder / "x?mode=ro.db"), ticking()) as store:
        assert store.place.database.exists()
    with open_store(place_at(folder / "x?mode=ro.db"), ticking(), create=False):
        assert [path.name for path in folder.glob("*.db")] == ["x?mode=ro.db"]
