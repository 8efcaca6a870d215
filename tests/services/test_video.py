"""What a video needs, made from a study in the store: frames of its recording, captions, and refusals in words."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from wringout.errors import BadInputError, NotFoundError
from wringout.services.demonstration import take_in_demonstration
from wringout.services.flights.strips import strip
from wringout.services.opening import open_studies
from wringout.services.publishing import movies
from wringout.services.publishing.video import VideoWish, check, film_of, write_video
from wringout.services.publishing.video_files import packed, video_file, video_files
from wringout.store import Store

RECORDING = "G1-gear-out-and-back.csv"
LIGHTS = "gear lights out"
WISH = VideoWish(RECORDING, begins_s=10.0, seconds=0.4, fps=10, height=720, figures=False)


def clock() -> datetime:
    return datetime(2027, 5, 1, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with open_studies(tmp_path_factory.mktemp("video") / "study.db", clock) as opened:
        take_in_demonstration(opened)
        yield opened


def test_without_ffmpeg_a_recording_becomes_pictures_and_captions(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(movies.shutil, "which", lambda _: None)
    told: list[str] = []
    done = write_video(store, None, tmp_path / "v", WISH, clock(), progress=lambda _, words: told.append(words))
    assert (done.frames, done.figures, done.movies) == (4, (), ())
    assert "FFmpeg is not installed" in done.remarks[0]
    assert told[-1] == "frame 4 of 4"
    assert done.pictures is not None
    target = packed(done.pictures)
    with zipfile.ZipFile(target) as archive:
        assert archive.namelist() == [f"{n:05d}.png" for n in range(1, 5)]
        assert archive.testzip() is None
    assert not done.pictures.exists()
    assert [one.path.suffix for one in video_files(tmp_path / "v")] == [".zip", ".vtt"]
    with pytest.raises(NotFoundError):
        video_file(tmp_path / "v", "../study.db")


def test_marks_of_the_recording_stand_at_their_moments(store: Store) -> None:
    film = film_of(strip(store, None, RECORDING), replace(WISH, seconds=None))
    made = [(mark.time_s, mark.words) for mark in film.marks]
    assert made == [(12.0, "gear down"), (20.0, "three green"), (102.0, "stable"), (108.0, "gear up"), (115.0, LIGHTS)]
    assert film.begins_s + film.seconds == pytest.approx(180.0)
    logged = film_of(strip(store, None, "F3-full-flaps-logger.csv"), replace(WISH, begins_s=0.0, seconds=None))
    assert logged.marks, "a moving flap gives marks of its own"
    assert len(logged.strips) == 5


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"fps": 0}, "0 frames a second"),
        ({"height": 5}, "a height of 5 pixels"),
        ({"seconds": -1.0}, "-1 s of film"),
        ({"seconds": 1e7}, "s of film"),
        ({"begins_s": float("nan")}, "no time on a recording"),
        ({"recording": ""}, "nothing is wanted"),
    ],
)
def test_numbers_that_make_no_film_are_refused_in_words(change: dict[str, object], said: str) -> None:
    with pytest.raises(BadInputError, match=said):
        check(replace(WISH, **change))  # type: ignore[arg-type]


def test_footage_after_the_end_and_lists_without_times_are_refused(store: Store, tmp_path: Path) -> None:
    with pytest.raises(BadInputError, match="begin earlier"):
        write_video(store, None, tmp_path, replace(WISH, begins_s=500.0, seconds=None), clock())
    with pytest.raises(BadInputError, match="without times"):
        write_video(store, None, tmp_path, replace(WISH, recording="S1-stalls.csv"), clock())
    with pytest.raises(NotFoundError):
        write_video(store, None, tmp_path, replace(WISH, figures=True), clock())  # nothing reduced yet
