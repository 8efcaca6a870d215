"""What was said in a sound, heard by an offline recogniser and handed over as timed captions.

The recogniser (PocketSphinx, with the English model it ships) is an optional part. It is prepared with the phrases of a
cockpit, `wringout.recordings.spoken.phrases`, and hears nothing else. What it heard becomes a caption file of the
study; from there on a person says yes or no to each candidate as with any other captions.
"""

from __future__ import annotations

import importlib
import io
import shutil
import subprocess
import tempfile
import wave
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from scipy.signal import resample_poly

from wringout.errors import BadInputError
from wringout.recordings.hashing import sha256_of
from wringout.recordings.spoken.phrases import phrases
from wringout.recordings.spoken.spans import RATE_HZ, HeardWord, Samples, as_captions, voice_spans
from wringout.services.flights.media import laid_out
from wringout.services.flights.recordings import Arrival, take_in_recording
from wringout.services.flights.runs import find_recording
from wringout.services.opening import the_study
from wringout.store import Store

Progress = Callable[[float], None]
LONGEST_S = 4 * 3600.0
BREATH_S = 0.30
"""A pause inside a stretch of speech from which on the words behind it are a caption of their own [s]."""
DITHER = 4.0
"""Standard deviation of the noise added before recognition, in steps of 16 bits: digital silence confuses it."""
FFMPEG = "ffmpeg"
FFMPEG_S = 600.0
CALLS = "calls"
DISCOUNT = 0.2
"""Share of the expectation left for words in an order that no phrase has (the best of three tried)."""


@dataclass(frozen=True, slots=True)
class HeardSound:
    """What was heard in a sound file: WebVTT, how many captions, the sound's length [s] and SHA-256."""

    captions: str
    count: int
    length_s: float
    sha256: str


def listen(sound: Path, progress: Progress | None = None) -> HeardSound:
    """Return what was said in a sound file, as captions.

    Args:
        sound: WAV; or any format that FFmpeg reads, where FFmpeg is installed.
        progress: called with the share done, 0 to 1.

    Raises:
        BadInputError: there is no such file, it holds no sound that can be read, it is longer than four hours, or
            PocketSphinx is missing.
    """
    recogniser()
    samples = read_sound(sound)
    heard = hear(samples, progress)
    if not heard:
        raise BadInputError("nothing was heard in it that sounds like words", sound.name, "check the recording's level")
    with sound.open("rb") as stream:
        sha256, _ = sha256_of(stream, name=sound.name)
    notes = (f"heard by a machine from {sound.name}, which may be wrong in every word", f"sound hash: {sha256}")
    return HeardSound(as_captions(heard, notes), len(heard), len(samples) / RATE_HZ, sha256)


def take_in_sound(store: Store, slug: str | None, sound: Path, heard: HeardSound, name: str) -> Arrival:
    """Keep a sound in the vault and take in what was heard as a caption file of the study.

    Raises:
        BadInputError: sound or captions are refused.
        NotFoundError: there is no such study.
    """
    with sound.open("rb") as stream:
        take_in_recording(store, slug, stream, sound.name, f"sound that {name} was heard from", make_run=False)
    note = f"heard from {sound.name}"
    return take_in_recording(store, slug, io.BytesIO(heard.captions.encode()), name, note, make_run=False)


def hear_recording(store: Store, slug: str | None, recording: str, progress: Progress | None = None) -> Arrival:
    """Hear what is said in a sound or clip of a study, and take it in as captions.

    Raises:
        BadInputError: it holds no sound that can be read, nothing was heard in it, or PocketSphinx is missing.
        NotFoundError: there is no such study or recording.
    """
    with store.reading() as view:
        item = find_recording(view, the_study(view, slug).id, recording)
    with laid_out(store, item) as sound:
        return take_in_sound(store, slug, sound, listen(sound, progress), f"{sound.stem}.heard.vtt")


def missing_recogniser() -> str:
    """Return the sentence that says what is missing to hear speech; "" where nothing is."""
    try:
        recogniser()
    except BadInputError as error:
        return str(error)
    return ""


def recogniser() -> Any:
    """Return the module ``pocketsphinx``.

    Raises:
        BadInputError: it is not installed.
    """
    try:
        return importlib.import_module("pocketsphinx")
    except ImportError:
        raise BadInputError(
            "hearing what was said needs PocketSphinx, which is not installed",
            "",
            "install the extra; in the folder of the project: .venv/bin/python -m pip install -e '.[speech]'",
        ) from None


def hear(samples: Samples, progress: Progress | None = None) -> tuple[tuple[HeardWord, ...], ...]:
    """Return the words heard in a sound, in groups said in one breath.

    Args:
        samples: one channel at ``RATE_HZ``, shape (n,), from -1 to 1.
        progress: called with the share done, 0 to 1.

    Raises:
        BadInputError: PocketSphinx is missing.
    """
    decoder = _prepared()
    steps = _as_steps(samples)
    spans = voice_spans(samples)
    found: list[tuple[HeardWord, ...]] = []
    for i, (start, end) in enumerate(spans):
        decoder.start_utt()
        decoder.process_raw(steps[int(start * RATE_HZ) : int(end * RATE_HZ)].tobytes(), full_utt=True)
        decoder.end_utt()
        found += _breaths(decoder.seg() or (), start)
        if progress is not None:
            progress((i + 1) / len(spans))
    return tuple(found)


def _as_steps(samples: Samples) -> np.ndarray[Any, np.dtype[np.int16]]:
    """Return samples as 16-bit steps, as loud as they fit, with a little noise (always the same)."""
    loudest = float(np.max(np.abs(samples), initial=0.0)) or 1.0
    noise = DITHER * np.random.default_rng(1).standard_normal(len(samples))
    return np.asarray(np.clip(0.8 * 32767.0 / loudest * samples + noise, -32768, 32767), dtype=np.int16)


def _breaths(segments: Any, start_s: float) -> list[tuple[HeardWord, ...]]:
    """Return the words of one stretch, cut at its pauses."""
    out: list[list[HeardWord]] = [[]]
    for one in segments:
        begin, end = start_s + one.start_frame / 100.0, start_s + (one.end_frame + 1) / 100.0
        if one.word[:1] in "<[+":
            if end - begin >= BREATH_S:
                out.append([])
            continue
        out[-1].append(HeardWord(one.word.split("(")[0], begin, end))
    return [tuple(words) for words in out if words]


def _prepared() -> Any:
    """Return a decoder that expects the phrases of a cockpit."""
    sphinx = recogniser()
    builder = importlib.import_module("pocketsphinx.lm").ArpaBoLM
    decoder = sphinx.Decoder(lm=None, loglevel="FATAL", samprate=RATE_HZ)
    model = builder(text="\n".join(phrases()), add_start=True, discount_mass=DISCOUNT)
    model.compute()
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "calls.lm"
        model.write_file(str(file))
        decoder.add_lm_file(CALLS, str(file))
    decoder.activate_search(CALLS)
    return decoder


def read_sound(sound: Path) -> Samples:
    """Return a sound file's first channel mixed to one, at ``RATE_HZ``, from -1 to 1, shape (n,).

    Raises:
        BadInputError: there is no such file, it cannot be read (other formats than WAV need FFmpeg), or it is too long.
    """
    if not sound.is_file():
        raise BadInputError("there is no such file", str(sound), "check its name and place")
    try:
        with wave.open(str(sound), "rb") as stream:
            return _samples(stream, sound.name)
    except (wave.Error, EOFError):
        return _converted(sound)
    except OSError as error:
        raise BadInputError(f"the file cannot be read ({error.strerror})", str(sound), "check its rights") from None


def _samples(stream: wave.Wave_read, name: str) -> Samples:
    rate, width, channels = stream.getframerate(), stream.getsampwidth(), stream.getnchannels()
    if not 8000 <= rate <= 192_000:
        raise BadInputError(f"{rate:,} samples a second cannot be used", name, "record with 16,000 or 44,100")
    if stream.getnframes() > LONGEST_S * rate:
        raise BadInputError("the sound is longer than four hours", name, "cut it in two")
    raw = stream.readframes(stream.getnframes())
    raw = raw[: len(raw) - len(raw) % (width * channels)]
    if width == 3:
        parts = np.frombuffer(raw, dtype=np.uint8).reshape(-1, 3)
        whole = np.zeros((len(parts), 4), dtype=np.uint8)
        whole[:, 1:] = parts
        values = whole.view("<i4").ravel() / 2.0**31
    elif width == 1:
        values = (np.frombuffer(raw, dtype=np.uint8).astype(float) - 128.0) / 128.0
    else:
        values = np.frombuffer(raw, dtype="<i2" if width == 2 else "<i4") / 2.0 ** (8 * width - 1)
    mono = values.reshape(-1, channels).mean(axis=1)
    if rate != RATE_HZ:
        shared = int(np.gcd(rate, RATE_HZ))
        mono = resample_poly(mono, RATE_HZ // shared, rate // shared)
    return np.asarray(mono, dtype=np.float64)


def _converted(sound: Path) -> Samples:
    """Return a sound that is no plain WAV, by way of FFmpeg."""
    program = shutil.which(FFMPEG)
    if program is None:
        raise BadInputError(
            "this is no plain WAV file, and FFmpeg, which reads other formats, is not installed",
            sound.name,
            f"install FFmpeg, or write WAV: ffmpeg -i {sound.name} -ac 1 -ar 16000 {sound.stem}.wav",
        )
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "sound.wav"
        command = [program, "-nostdin", "-v", "error", "-protocol_whitelist", "file", "-i", str(sound.resolve())]
        command += ["-vn", "-ac", "1", "-ar", str(RATE_HZ), "-t", str(LONGEST_S), "-c:a", "pcm_s16le", str(target)]
        try:
            done = subprocess.run(command, capture_output=True, timeout=FFMPEG_S, check=False)  # noqa: S603
        except subprocess.TimeoutExpired:
            raise BadInputError("FFmpeg did not come to an end", sound.name, "cut the file in two") from None
        if done.returncode or not target.is_file():
            raise BadInputError("there is no sound in it that FFmpeg can read", sound.name, "write it as WAV")
        with wave.open(str(target), "rb") as stream:
            return _samples(stream, sound.name)
