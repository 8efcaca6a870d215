"""Needles and digits followed through drawn clips against known truth, and refusals in one sentence."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest

from tests.instruments.rendered import (
    SCALE_DEG,
    SCALE_KT,
    Trouble,
    dial_picture,
    digits_picture,
    marks_toml,
    true_speeds,
)
from wringout.errors import BadInputError
from wringout.instruments.marks import DialMarks, read_marks
from wringout.instruments.readings import InstrumentReadings
from wringout.recordings.reader import read_recording
from wringout.services.flights import frames
from wringout.services.flights.instruments import read_clip, write_frame

CLEAN = Trouble(0.0, 3.0, 0.0, 0.0)
DIGITS = 'kind = "digits"\nbox = [40, 30, 110, 60]\n'


def _write(path: Path, pictures: list[np.ndarray]) -> Path:
    height, width = pictures[0].shape
    video = cv2.VideoWriter(str(path), cv2.VideoWriter_fourcc(*"MJPG"), 10.0, (width, height))
    for picture in pictures:
        video.write(cv2.cvtColor(picture, cv2.COLOR_GRAY2BGR))
    video.release()
    return path


def _check(readings: InstrumentReadings, truth: np.ndarray, least_share: float) -> None:
    sure = readings.confident()
    off = np.abs(readings.speeds - truth)[sure]
    assert readings.times_s == pytest.approx(np.arange(truth.size) / 10.0, abs=0.02)
    assert sure.mean() >= least_share
    assert np.median(off) < 1.0
    assert off.max() <= 3.0


@pytest.mark.parametrize("trouble", [Trouble(), Trouble(dark_needle=True), Trouble(3.0, 10.0, 0.9, 0.5)])
def test_a_needle_is_followed_through_shaking_glare_and_hands(tmp_path: Path, trouble: Trouble) -> None:
    rng = np.random.default_rng(41)
    truth = true_speeds(np.arange(80) / 10.0, rng)
    still = Trouble(0.0, 3.0, 0.0, 0.0, trouble.dark_needle)
    shown = [dial_picture(v, trouble if i else still, rng, 0.03 * i) for i, v in enumerate(truth)]
    clip = _write(tmp_path / "dial.avi", shown)
    (tmp_path / "dial.toml").write_text(marks_toml(), encoding="utf-8")
    read = read_clip(clip, tmp_path / "dial.toml")
    _check(read.readings, truth, 0.6)
    recording = read_recording(read.table.encode(), "speeds.csv")
    assert recording.kind == "logger"
    assert recording.header["clip hash"] == read.sha256
    blank = np.isnan(recording.channels["ias"].values)
    assert np.array_equal(blank, ~read.readings.confident())


@pytest.mark.parametrize(
    ("trouble", "least_share"), [(CLEAN, 0.9), (Trouble(), 0.3), (Trouble(3.0, 10.0, 0.9, 0.5), 0.1)]
)
def test_digits_are_read_through_shaking_glare_and_hands(tmp_path: Path, trouble: Trouble, least_share: float) -> None:
    rng = np.random.default_rng(43)
    taught = (138, 120, 95, 64, 107)
    truth = np.array([*taught, *true_speeds(np.arange(80) / 10.0, rng)])
    shown = [digits_picture(v, CLEAN if i < 5 else trouble, rng, 0.03 * i) for i, v in enumerate(truth)]
    clip = _write(tmp_path / "digits.avi", shown)
    known = "".join(f'[[known]]\ntime = {i / 10}\nreads = "{n}"\n' for i, n in enumerate(taught))
    (tmp_path / "box.toml").write_text(DIGITS + known, encoding="utf-8")
    _check(read_clip(clip, tmp_path / "box.toml").readings, truth, least_share)


def test_a_needle_that_never_moves_is_read_too(tmp_path: Path) -> None:
    rng = np.random.default_rng(44)
    clip = _write(tmp_path / "still.avi", [dial_picture(97.0, CLEAN, rng, 0.0) for _ in range(20)])
    (tmp_path / "dial.toml").write_text(marks_toml(), encoding="utf-8")
    _check(read_clip(clip, tmp_path / "dial.toml").readings, np.full(20, 97.0), 0.9)


def test_a_clip_without_a_needle_gives_no_confident_reading(tmp_path: Path) -> None:
    rng = np.random.default_rng(45)
    noise = [rng.integers(60, 120, (260, 300)).astype(np.uint8) for _ in range(20)]
    (tmp_path / "dial.toml").write_text(marks_toml(), encoding="utf-8")
    read = read_clip(_write(tmp_path / "noise.avi", noise), tmp_path / "dial.toml")
    assert not read.readings.confident().any()


def test_the_scale_goes_through_its_marks_and_rises() -> None:
    marks = read_marks(marks_toml(), "dial.toml")
    assert isinstance(marks, DialMarks)
    assert marks.speed_at(SCALE_DEG.copy()) == pytest.approx(SCALE_KT, abs=0.4)
    assert np.all(np.diff(marks.speed_at(np.linspace(31.0, 304.0, 500))) > 0.0)
    assert np.isnan(marks.speed_at(np.array([320.0]))).all()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("centre = [1", "no TOML"),
        ("", "no kind of instrument"),
        ('kind = "dial"\ncentre = [150]', "not 2 numbers"),
        ('kind = "dial"\ncentre = [150, 130]', "fewer than two"),
        (marks_toml() + '\n[[speeds]]\nvalue = 60\nat = [10, 10]', "marked twice"),
        (marks_toml() + '\n[[speeds]]\nvalue = 62\nat = [150, 30]', "rise clockwise"),
        (marks_toml().replace("[150, 130]", "[150, 130]\nouter = 140"), "not inside the picture"),
        (marks_toml().replace('kind = "dial"', 'kind = "dial"\nunit = "ft"'), "no unit of speed"),
        ('kind = "digits"\nbox = [40, 30, 900, 60]', "not inside the picture"),
        (DIGITS + '[[known]]\ntime = 0\nreads = "1x"', "known"),
        (DIGITS + '[[known]]\ntime = 99\nreads = "100"', "no frame at 99 s"),
    ],
)  # fmt: skip
def test_bad_marks_are_one_sentence(tmp_path: Path, text: str, said: str) -> None:
    rng = np.random.default_rng(46)
    clip = _write(tmp_path / "clip.avi", [dial_picture(97.0, CLEAN, rng, 0.0)])
    (tmp_path / "marks.toml").write_text(text, encoding="utf-8")
    with pytest.raises(BadInputError, match=said) as caught:
        read_clip(clip, tmp_path / "marks.toml")
    assert str(caught.value).endswith(".")


@pytest.mark.parametrize("data", [b"", b"time,speed\n0,100\n", b"RIFF\x00\x00\x00\x00AVI "])
def test_what_is_no_clip_is_one_sentence(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "clip.avi").write_bytes(data)
    with pytest.raises(BadInputError, match=r"clip\.avi: .*(no video|no frame)"):
        write_frame(tmp_path / "clip.avi", 0.0, tmp_path / "a.png")


def test_a_clip_without_frames_is_one_sentence(tmp_path: Path) -> None:
    video = cv2.VideoWriter(str(tmp_path / "none.avi"), cv2.VideoWriter_fourcc(*"MJPG"), 10.0, (64, 64))
    video.release()
    with pytest.raises(BadInputError, match=r"no video|no frame"):
        write_frame(tmp_path / "none.avi", 0.0, tmp_path / "a.png")


def test_a_missing_extra_is_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "cv2", None)
    with pytest.raises(BadInputError, match=r"OpenCV, which is not installed.*pip install -e '\.\[video\]'"):
        write_frame(tmp_path / "clip.avi", 0.0, tmp_path / "a.png")


def test_a_clip_that_breaks_the_decoder_is_told_in_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clip = _write(tmp_path / "dial.avi", [np.zeros((120, 160), np.uint8)] * 3)
    said = "the decoder broke off over this clip"
    for fault in ("import os; os.abort()", "import sys; sys.stdout.write('half of an answer')"):
        monkeypatch.setattr(frames, "COMMAND", (sys.executable, "-c", fault))
        for ask in (lambda: frames.shape_of(clip), lambda: frames.frame_at(clip, 0.0), lambda: list(_all(clip))):
            with pytest.raises(BadInputError, match=said):
                ask()
    monkeypatch.setattr(frames, "COMMAND", (str(tmp_path / "nothing"),))
    with pytest.raises(BadInputError, match="there is no room for the process"):
        frames.shape_of(clip)


def _all(clip: Path) -> Iterator[object]:
    return frames.frames(clip, 10.0)


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="this system has no timer that ends a process")
def test_a_decoder_that_makes_no_headway_ends(tmp_path: Path) -> None:
    code = "from wringout.services.flights import decoder as d; d.LONGEST_S = 0.1; d.in_time()\nwhile True: pass"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == -signal.SIGPROF


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux holds a process to its address space")
def test_a_decoder_that_eats_memory_is_told(tmp_path: Path) -> None:
    code = (
        "import sys; from wringout.services.flights import decoder as d; d.bounded()\n"
        "d.shape_of = lambda clip, name: bytearray(4 << 30)\n"
        "d.answer({'what': 'shape', 'clip': 'x.avi', 'name': 'x.avi'}, sys.stdout.buffer)"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)
    assert b"its pictures cannot be decoded" in done.stdout
