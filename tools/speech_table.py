"""Measure how well speech is heard through cockpit noise, and write the table into docs/speech.md (half an hour).

Usage: ``python tools/speech_table.py``. Needs espeak-ng (a speech synthesizer) beside the extra ``speech``.

The caption files of the tests are spoken by espeak-ng at the times of their captions, engine and air noise drawn here
is added, and what is heard is scored against what was said, by the same rule as for captions. Nothing heard is kept.
"""

from __future__ import annotations

import csv
import io
import subprocess
import sys
import wave
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.recordings.caption_score import FOLDER, said
from wringout.recordings.spoken.captions import read_cues
from wringout.recordings.spoken.said import find_candidates
from wringout.recordings.spoken.spans import RATE_HZ, as_captions
from wringout.services.flights.speech import hear

Samples = NDArray[np.float64]
DOCUMENT = Path(__file__).resolve().parents[1] / "docs" / "speech.md"
BEGIN, END = "<!-- measured -->\n", "<!-- /measured -->"
VOICES = ("en-us", "en-us+m3", "en-gb", "en-us+f3", "en-gb+m7", "en-gb-scotland", "en-us+f2", "en-us+m5", "en-us+m1")
RATIOS_DB = (20.0, 15.0, 10.0, 5.0, 0.0)
RPM = 2300.0
EARLIEST_S, LATEST_S = -1.0, 5.0
"""How far a candidate may lie from the start of its caption and still be the one that was said."""


@dataclass
class Score:
    """How many readings and marks were said, proposed as likely, and right of these; and so for the calls alone."""

    true: int = 0
    found: int = 0
    right: int = 0


def spoken(words: str, voice: str) -> Samples:
    """Return words spoken by espeak-ng at ``RATE_HZ``."""
    done = subprocess.run(
        ["espeak-ng", "-v", voice, "-s", "165", "--stdout", words],  # noqa: S607
        capture_output=True,
        check=True,
    )
    with wave.open(io.BytesIO(done.stdout)) as stream:
        rate = stream.getframerate()
        raw = np.frombuffer(stream.readframes(stream.getnframes()), dtype="<i2") / 32768.0
    shared = int(np.gcd(rate, RATE_HZ))
    return np.asarray(resample_poly(raw, RATE_HZ // shared, rate // shared))


def cockpit_noise(count: int, rng: np.random.Generator) -> Samples:
    """Return drawn noise of a piston airplane, standard deviation 1: harmonics of the engine, and air (invented)."""
    times = np.arange(count) / RATE_HZ
    turns = np.cumsum(1.0 + 0.003 * np.sin(2.0 * np.pi * 0.3 * times)) / RATE_HZ * RPM / 60.0
    engine = np.zeros(count)
    for k in range(1, 40):
        engine += (1.5 if k % 2 == 0 else 0.6) / k * np.sin(2.0 * np.pi * k * turns + rng.uniform(0.0, 6.3))
    spectrum = np.fft.rfft(rng.standard_normal(count))
    air = np.fft.irfft(spectrum / np.sqrt(np.maximum(np.fft.rfftfreq(count, 1.0 / RATE_HZ), 60.0)), count)
    both = engine / engine.std() + air / air.std()
    return np.asarray(both / both.std())


def rendered(stem: str, voice: str, seed: int) -> tuple[Samples, Samples]:
    """Return the voice of a caption file and unit noise for it, the voice's power over its own stretches being 1."""
    cues, _ = read_cues((FOLDER / f"{stem}.vtt").read_text(encoding="utf-8"), stem)
    count = int((cues[-1].end_s + 6.0) * RATE_HZ)
    voice_alone, speaking = np.zeros(count), np.zeros(count, dtype=bool)
    for cue in cues:
        part = spoken(cue.words, "en-gb+m2" if cue.speaker else voice)
        first = int(cue.start_s * RATE_HZ)
        part = part[: count - first]
        voice_alone[first : first + len(part)] += part
        speaking[first : first + len(part)] = True
    power = float(np.mean(voice_alone[speaking] ** 2))
    return voice_alone / np.sqrt(power), cockpit_noise(count, np.random.default_rng(seed))


def add(score: Score, stem: str, sound: Samples) -> None:
    """Hear a sound and add what came out to a score."""
    heard = hear(sound)
    cues, _ = read_cues(as_captions(heard), stem) if heard else ((), ())
    found = [one for one in find_candidates(cues) if one.is_likely]
    with (FOLDER / f"{stem}.truth.csv").open(encoding="utf-8") as stream:
        truth = [(float(row["time_s"]), row["said"]) for row in csv.DictReader(stream)]
    left = list(found)
    for time_s, words in truth:
        match = next((o for o in left if said(o) == words and EARLIEST_S <= o.time_s - time_s <= LATEST_S), None)
        if match is not None:
            left.remove(match)
    score.true += len(truth)
    score.found += len(found)
    score.right += len(found) - len(left)


def measured(stems: Sequence[str], ratios: Sequence[float]) -> list[str]:
    """Return the rows of the table for some caption files."""
    scores = [Score() for _ in ratios]
    for i, stem in enumerate(stems):
        voice, noise = rendered(stem, VOICES[i % len(VOICES)], i)
        for ratio, score in zip(ratios, scores, strict=True):
            add(score, stem, voice + noise * 10.0 ** (-ratio / 20.0))
    return [
        f"| {ratio:.0f} dB | {s.true} | {s.found} | {s.right} | {s.right / max(s.found, 1):.2f} | "
        f"{s.right / max(s.true, 1):.2f} |"
        for ratio, s in zip(ratios, scores, strict=True)
    ]


def main() -> int:
    """Write the table; return the exit code."""
    stems = sorted(path.stem for path in FOLDER.glob("*.vtt"))
    kept_back = [stem for stem in stems if stem.startswith("kept-back")]
    head = "| voice over noise | said | proposed as likely | right | precision | recall |\n" + "| --- " * 6 + "|"
    parts = []
    for title, some in (
        ("Six files, chosen settings on them", [s for s in stems if s not in kept_back]),
        ("Three files kept back until the end", kept_back),
    ):
        rows = measured(some, RATIOS_DB)
        parts.append(f"{title}:\n\n{head}\n" + "\n".join(rows) + "\n")
        print(parts[-1], flush=True)
    text = DOCUMENT.read_text(encoding="utf-8")
    before, after = text.split(BEGIN)[0], text.split(END)[1]
    DOCUMENT.write_text(f"{before}{BEGIN}{chr(10).join(parts)}{END}{after}", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
