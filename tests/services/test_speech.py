"""Speech: what a recogniser hears in a sound becomes captions, and candidates for a yes or no."""

from __future__ import annotations

import importlib
import wave
from pathlib import Path

import numpy as np
import pytest

from wringout.errors import BadInputError
from wringout.recordings.spoken.captions import Cue
from wringout.recordings.spoken.numbers import tokens_of
from wringout.recordings.spoken.phrases import MARKS, phrases, spoken_forms
from wringout.recordings.spoken.said import find_candidates
from wringout.recordings.spoken.spans import RATE_HZ, HeardWord, as_captions, voice_spans
from wringout.services.flights import speech
from wringout.services.flights.candidates import caption_candidates
from wringout.services.flights.speech import listen, read_sound, take_in_sound
from wringout.store import Store

FOUR_CALLS = Path(__file__).parent / "sounds" / "four-calls.wav"
"""Spoken by espeak-ng 1.51 (voice en-us) over drawn engine noise, 18 dB below the voice: at 0.4 s "one hundred ten", at
2.2 s "gear down", at 3.6 s "ninety five", at 5.4 s "three green"."""


def test_calls_are_heard_with_their_times_and_wait_for_a_yes(store: Store) -> None:
    heard = listen(FOUR_CALLS)
    take_in_sound(store, None, FOUR_CALLS, heard, "flight.heard.vtt")
    found = caption_candidates(store, None, "flight.heard.vtt")
    said = [(one.found.value if one.found.kind == "reading" else one.found.label) for one in found.candidates]
    assert said == [110.0, "gear down", 95.0, "three green"]
    assert [one.found.time_s for one in found.candidates] == pytest.approx([0.4, 2.2, 3.6, 5.4], abs=0.3)
    assert {one.answer for one in found.candidates} == {""}
    assert heard.sha256 in heard.captions


def write(path: Path, samples: np.ndarray, *, rate: int = RATE_HZ, width: int = 2, channels: int = 1) -> Path:
    with wave.open(str(path), "wb") as stream:
        stream.setnchannels(channels)
        stream.setsampwidth(width)
        stream.setframerate(rate)
        stream.writeframes(samples.tobytes())
    return path


@pytest.mark.parametrize(
    ("width", "full"),
    [(1, 127.0 / 128.0), (2, 32767.0 / 32768.0), (3, 1.0 - 2.0**-23), (4, 1.0)],
    ids=["8", "16", "24", "32"],
)
def test_every_depth_of_wav_is_read_to_the_same_samples(tmp_path: Path, width: int, full: float) -> None:
    loudest = 2 ** (8 * width - 1) - 1
    values = np.array([0, loudest, -loudest] * 800, dtype=np.int64)
    raw = (
        (values + 128).astype(np.uint8) if width == 1 else values.astype("<i8").view(np.uint8).reshape(-1, 8)[:, :width]
    )
    found = read_sound(write(tmp_path / "x.wav", np.ascontiguousarray(raw), width=width))
    assert found[:3] == pytest.approx([0.0, full, -full], abs=1e-9)


def test_two_channels_at_another_rate_become_one_at_ours(tmp_path: Path) -> None:
    times = np.arange(44_100) / 44_100.0
    left = (8000.0 * np.sin(2.0 * np.pi * 500.0 * times)).astype("<i2")
    found = read_sound(write(tmp_path / "x.wav", np.stack([left, left], axis=1), rate=44_100, channels=2))
    assert len(found) == RATE_HZ
    whole = np.abs(np.fft.rfft(found))
    assert int(np.argmax(whole)) == 500
    assert float(np.max(np.abs(found[2000:-2000]))) == pytest.approx(8000.0 / 32768.0, rel=0.01)


def test_what_is_no_wav_needs_ffmpeg_and_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    other = tmp_path / "talk.m4a"
    other.write_bytes(b"\x00\x00\x00\x20ftypM4A " + bytes(200))
    monkeypatch.setattr(speech, "FFMPEG", "no-such-program-anywhere")
    with pytest.raises(BadInputError, match=r"no plain WAV file, and FFmpeg.* is not installed; install FFmpeg, or"):
        listen(other)


def test_a_missing_recogniser_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> object:
        raise ImportError(name)

    monkeypatch.setattr(importlib, "import_module", missing)
    with pytest.raises(BadInputError, match=r"needs PocketSphinx, .*pip install -e '\.\[speech\]'"):
        listen(FOUR_CALLS)


def test_nothing_is_heard_in_silence(tmp_path: Path) -> None:
    silent = write(tmp_path / "x.wav", np.zeros(RATE_HZ, dtype="<i2"))
    with pytest.raises(BadInputError, match="nothing was heard"):
        listen(silent)


def test_the_spans_are_where_a_voice_is_louder_than_the_engine() -> None:
    rng = np.random.default_rng(2)
    times = np.arange(20 * RATE_HZ) / RATE_HZ
    sound = 0.1 * rng.standard_normal(times.size) + 0.5 * np.sin(2.0 * np.pi * 77.0 * times)
    for start in (4.0, 11.0):
        inside = (times >= start) & (times < start + 1.5)
        sound[inside] += 0.3 * np.sin(2.0 * np.pi * 1200.0 * times[inside])
    assert np.array(voice_spans(sound)) == pytest.approx(np.array([[3.75, 5.75], [10.75, 12.75]]), abs=0.15)


def test_every_phrase_means_what_it_says() -> None:
    found = {words: find_candidates([Cue(1, 0.0, 2.0, "", words)]) for words in MARKS}
    assert [
        words for words, some in found.items() if [(one.kind, one.is_likely) for one in some] != [("mark", True)]
    ] == []
    wrong = [(n, form) for n in range(30, 200) for form in spoken_forms(n) if tokens_of(form)[0].text != str(n)]
    assert wrong == []
    assert phrases() == phrases()


def test_the_recogniser_knows_every_word_it_is_prepared_with() -> None:
    known = speech.recogniser().Decoder(lm=None, loglevel="FATAL")
    assert [word for word in {w for line in phrases() for w in line.split()} if not known.lookup_word(word)] == []


def test_captions_carry_the_times_of_their_words() -> None:
    text = as_captions([[HeardWord("gear", 3661.0, 3661.4), HeardWord("down", 3661.4, 3661.9)], []], ["from --> x"])
    assert text == "WEBVTT\n\nNOTE from x\n\n01:01:01.000 --> 01:01:01.900\ngear down\n"
