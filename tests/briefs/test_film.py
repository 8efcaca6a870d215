"""The film: which moment each frame shows, captions of marks, figures at 16 by 9, and what FFmpeg is handed."""

from __future__ import annotations

import io
import struct
import sys
import tracemalloc
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.briefs import study
from wringout.briefs.film.captions import STAYS_S, stamp, webvtt
from wringout.briefs.film.content import Film, FilmMark, FilmStrip, reading_at
from wringout.briefs.film.frames import Signs, cursor_column, frame, frames, make_signs
from wringout.briefs.film.layers import Layers, draw_layers
from wringout.briefs.film.palette import NIGHT
from wringout.briefs.film.stills import png_of, stills
from wringout.briefs.house_style import COLOURS
from wringout.errors import StoreError
from wringout.recordings.spoken.captions import read_cues
from wringout.services.publishing import movies
from wringout.services.publishing.movies import Reel, write_movies, write_pictures

TIMES = np.arange(0.0, 61.0, 2.0)
SPEEDS = 110.0 - 30.0 * TIMES / 60.0
MARK_S = 21.0


@cache
def film(height: int = 360) -> Film:
    strips = (
        FilmStrip("airspeed, indicated", "kt", TIMES, SPEEDS),
        FilmStrip("flap", "deg", TIMES, np.where(TIMES < MARK_S, 0.0, 40.0), "flaps"),
    )
    return Film("F1", strips, (FilmMark(MARK_S, "flaps full"),), 5.0, 40.0, 10, height)


@cache
def drawn() -> tuple[Layers, Signs]:
    return draw_layers(film()), make_signs(film())


def shown(index: int) -> np.ndarray:
    return frame(film(), *drawn(), index)


def ink() -> np.ndarray:
    return np.array([int(COLOURS["ink"][i : i + 2], 16) for i in (1, 3, 5)] + [255])


@pytest.mark.parametrize("index", [1, 57, 160, 161, 250, 399])
def test_the_cursor_of_a_frame_stands_at_its_moment(index: int) -> None:
    layers = drawn()[0]
    picture, before = shown(index), frame(film(), *drawn(), 0)
    gap = round(0.5 * (layers.rows[0][0] + layers.rows[1][1]))  # a row of pixels between the strips
    columns = np.flatnonzero((picture[gap] == ink()).all(axis=-1) & (before[gap] != picture[gap]).any(axis=-1))
    assert columns.size >= 1
    seconds = (columns[0] - layers.left) / (layers.right - layers.left) * film().seconds
    a_pixel_s = film().seconds / (layers.right - layers.left)
    assert film().begins_s + seconds == pytest.approx(film().time_of(index), abs=a_pixel_s)
    assert film().time_of(index) == pytest.approx(5.0 + index / 10.0)


def test_what_was_flown_is_bright_up_to_the_cursor_and_pale_beyond() -> None:
    layers = drawn()[0]
    picture, column = shown(200), cursor_column(film(), layers, 200)
    left = int(layers.left)
    assert np.array_equal(picture[:, left:column], layers.flown[:, left:column])
    beyond = slice(column + 4, round(layers.right))
    assert np.array_equal(picture[:, beyond], layers.ahead[:, beyond])
    assert not np.array_equal(layers.flown[:, beyond], layers.ahead[:, beyond])
    assert picture[0, 0, 3] == 0, "the ground is transparent"


def test_a_mark_comes_up_in_the_frame_of_its_moment_and_not_before() -> None:
    layers = drawn()[0]
    at = round(layers.left + (MARK_S - 5.0) / 40.0 * (layers.right - layers.left))
    rows = slice(layers.top, layers.foot)
    differs = (layers.flown[rows] != layers.ahead[rows]).any(axis=-1)[:, at - 1 : at + 2].any()
    assert differs, "the mark is drawn"
    before, after = round((MARK_S - 5.0 - 0.3) * 10), round((MARK_S - 5.0 + 0.3) * 10)
    assert np.array_equal(shown(before)[rows, at - 1 : at + 2], layers.ahead[rows, at - 1 : at + 2])
    assert np.array_equal(shown(after)[rows, at - 1 : at + 2], layers.flown[rows, at - 1 : at + 2])


def test_the_number_beside_a_strip_is_the_last_one_read() -> None:
    strip = film().strips[0]
    assert np.isnan(reading_at(strip, -0.1))
    assert reading_at(strip, 3.9) == SPEEDS[1]
    assert reading_at(strip, 4.0) == SPEEDS[2]
    same = film().time_of(16), film().time_of(25)  # 6.6 and 7.5 s: the reading of 6 s stands in both
    assert reading_at(strip, same[0]) == reading_at(strip, same[1]) == SPEEDS[3]
    right = slice(round(drawn()[0].right) + 8, None)
    assert np.array_equal(shown(16)[:, right], shown(25)[:, right])
    assert not np.array_equal(shown(16)[:, right], shown(160)[:, right])


def test_a_long_film_takes_no_more_memory_than_a_short_one() -> None:
    def most(count: int) -> int:
        tracemalloc.start()
        for index, _ in enumerate(frames(film())):
            if index == count:
                break
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return peak

    most(1)
    assert most(60) < 1.2 * most(2) + 2_000_000


words = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=30).filter(lambda w: w.strip())


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.floats(-50.0, 500.0), words), max_size=8), st.floats(-20.0, 20.0))
def test_captions_come_back_at_their_moments(made: list[tuple[float, str]], begins: float) -> None:
    marks = [FilmMark(at, said) for at, said in made]
    text = webvtt(marks, begins, 400.0)
    assert text.startswith("WEBVTT\n")
    inside = sorted({round(at - begins, 3) for at, _ in made if 0.0 <= round(at - begins, 3) < 400.0})
    if not inside:
        assert "-->" not in text
        return
    assert text.count(" --> ") == len(inside)
    cues, _ = read_cues(text, "marks.vtt")
    assert [cue.start_s for cue in cues] == pytest.approx(inside, abs=6e-4)
    assert all(0.0 < cue.end_s - cue.start_s <= STAYS_S + 1e-3 for cue in cues)


def test_a_caption_is_text_whatever_was_typed() -> None:
    text = webvtt([FilmMark(1.0, "<b>a --> b & c\n\nWEBVTT")], 0.0, 10.0)
    assert "<b>" not in text
    assert text.splitlines()[2:] == ["1", "00:00:01.000 --> 00:00:05.000", "&lt;b&gt;a --&gt; b &amp; c WEBVTT"]
    assert stamp(3725.5) == "01:02:05.500"


def test_figures_are_16_by_9_on_nothing_with_their_letters_drawn() -> None:
    made = {still.name: still for still in stills(study.content())}
    assert {"orders-1", "drag", "drag-over-speed", "stalls", "in-time-1"} <= set(made)
    for still in made.values():
        assert 'width="1920" height="1080" viewBox="0 0 1920 1080"' in still.svg
        assert "<text" not in still.svg
        assert len(still.spoken) > 20
    dark = {still.name: still.svg for still in stills(study.content(), dark=True)}["drag"]
    assert NIGHT["ink"] in dark
    assert COLOURS["ink"] not in dark
    png = png_of(made["drag"])
    assert struct.unpack(">II", png[16:24]) == (1920, 1080)  # IHDR: width, height (ISO/IEC 15948, 11.2.2)
    assert png[25] == 6, "truecolour with alpha"
    picture = movies_read(png)
    assert picture[0, 0, 3] == 0
    assert picture[:, :, 3].max() == 255


def movies_read(png: bytes) -> np.ndarray:
    """Return a PNG's pixels, RGBA bytes."""
    from matplotlib.image import imread

    return np.round(255 * imread(io.BytesIO(png), format="png")).astype(np.uint8)


STAND_IN = """#!{python}
import sys
data = sys.stdin.buffer.read()
made = [one for one in sys.argv if one.endswith((".mp4", ".webm"))]
for one in made:
    open(one, "wb").write(data)
"""
"""Takes in what FFmpeg would and keeps it as it came."""


def program(folder: Path, text: str) -> str:
    path = folder / "ffmpeg"
    path.write_text(text.format(python=sys.executable), encoding="utf-8")
    path.chmod(0o755)
    return str(path)


def test_ffmpeg_is_handed_every_frame_once_and_files_appear_whole(tmp_path: Path) -> None:
    told: list[int] = []
    reel = Reel(640, 360, 10, "#fbf7ef")
    some = [shown(index) for index in (0, 7, 200)]
    made = write_movies(program(tmp_path, STAND_IN), iter(some), reel, tmp_path / "film", told.append)
    assert [path.name for path in made] == ["film.mp4", "film.webm"]
    assert made[0].read_bytes() == b"".join(one.tobytes() for one in some)
    assert told == [1, 2, 3]
    line = movies.command("ffmpeg", reel, list(made))
    assert line[line.index("-s") + 1] == "640x360"
    assert line[line.index("-r") + 1] == "10"


def test_what_ffmpeg_refuses_is_said_and_leaves_nothing(tmp_path: Path) -> None:
    refusing = program(tmp_path, "#!/bin/sh\necho 'Unknown encoder libx264' >&2\nexit 1\n")
    with pytest.raises(StoreError, match="Unknown encoder libx264"):
        write_movies(refusing, iter([shown(0)] * 40), Reel(640, 360, 10, "#fbf7ef"), tmp_path / "film", lambda _: None)
    assert [path.name for path in tmp_path.iterdir()] == ["ffmpeg"]


def test_without_ffmpeg_there_is_a_sequence_of_pictures(tmp_path: Path) -> None:
    assert write_pictures(iter([shown(0), shown(100), shown(200)]), tmp_path / "f", lambda _: None) == 3
    assert write_pictures(iter([shown(0), shown(100)]), tmp_path / "f", lambda _: None) == 2
    found = sorted((tmp_path / "f").iterdir())
    assert [path.name for path in found] == ["00001.png", "00002.png"]
    assert np.array_equal(movies_read(found[1].read_bytes()), shown(100))
