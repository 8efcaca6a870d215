"""Where in a sound somebody speaks, and what was heard there as timed captions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import percentile_filter, uniform_filter1d
from scipy.signal import butter, sosfilt

Samples = NDArray[np.float64]
RATE_HZ = 16_000
"""Samples a second that everything here works with."""
FRAME_S = 0.02
VOICE_BAND_HZ = (300.0, 3400.0)
"""The band of a telephone (ITU-T G.712, from memory), in which voices are louder than engines."""

ABOVE_NOISE_DB = 3.0
NOISE_SHARE, NOISE_WINDOW_S = 20.0, 15.0
"""Noise is what one frame in five of a quarter of a minute stays below; speech is 3 dB above it (judged)."""
JOIN_S, SHORTEST_S, LONGEST_S, MARGIN_S = 0.45, 0.2, 20.0, 0.25


@dataclass(frozen=True, slots=True)
class HeardWord:
    """A word with when it was said, seconds from the beginning of the sound."""

    text: str
    start_s: float
    end_s: float


def voice_spans(samples: Samples) -> tuple[tuple[float, float], ...]:
    """Return the stretches (start, end) [s] in which somebody may be speaking.

    Args:
        samples: one channel at ``RATE_HZ``, shape (n,), any scale.
    """
    frame = round(FRAME_S * RATE_HZ)
    count = len(samples) // frame
    if count < 3:
        return ()
    band = sosfilt(butter(4, VOICE_BAND_HZ, "band", fs=RATE_HZ, output="sos"), samples[: count * frame])
    power = np.mean(band.reshape(count, frame) ** 2, axis=1)
    scale = float(np.max(power))
    if not scale > 0.0:
        return ()
    level_db = uniform_filter1d(10.0 * np.log10(power / scale + 1e-9), 5)
    noise_db = percentile_filter(level_db, NOISE_SHARE, size=round(NOISE_WINDOW_S / FRAME_S))
    loud = np.concatenate([[False], level_db > noise_db + ABOVE_NOISE_DB, [False]])
    edges = np.flatnonzero(loud[1:] != loud[:-1]) * FRAME_S
    return _joined(list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)), count * FRAME_S)


def _joined(parts: Sequence[tuple[float, float]], end_s: float) -> tuple[tuple[float, float], ...]:
    """Return stretches with short pauses closed and a margin around, without those too short for a word."""
    joined: list[tuple[float, float]] = []
    for start, end in parts:
        if joined and start - joined[-1][1] < JOIN_S and end - joined[-1][0] < LONGEST_S:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return tuple(
        (max(0.0, start - MARGIN_S), min(end_s, end + MARGIN_S)) for start, end in joined if end - start >= SHORTEST_S
    )


def as_captions(heard: Sequence[Sequence[HeardWord]], notes: Sequence[str] = ()) -> str:
    """Return what was heard as WebVTT: one caption for each group of words, its times those of its words.

    Args:
        heard: groups of words said in one breath, in order of time; empty ones are left out.
        notes: lines that say where it comes from.
    """
    lines = ["WEBVTT", ""]
    for note in notes:
        lines += [f"NOTE {' '.join(note.replace('-->', '').split())}", ""]
    for words in heard:
        if words:
            lines += [f"{_clock(words[0].start_s)} --> {_clock(words[-1].end_s)}"]
            lines += [" ".join(word.text for word in words), ""]
    return "\n".join(lines)


def _clock(time_s: float) -> str:
    milliseconds = round(1000.0 * max(time_s, 0.0))
    seconds, milliseconds = divmod(milliseconds, 1000)
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}.{milliseconds:03d}"
