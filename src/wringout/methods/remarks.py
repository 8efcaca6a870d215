"""What a user should know of a run as taken in: words nobody reads, what was taken for granted, what is thin."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from wringout.methods.setup_words import words_of
from wringout.recordings.types import Recording

_COMPUTED_WITH = (
    "altimeter setting, altitude, altitude held, call above deck, cg, clock uncertainty, device, device speed, "
    "entry descent, entry flaps, entry gear, entry rate, entry speed, flap, flaps, from, from speed, gear, hard deck, "
    "hard deck above ground, height above ground, indicated airspeed, isa deviation, matters, pair, pairs, power, "
    "power chart, rate reading, reference cg, score, scores, settled speed, speed, speeds, tail arm, technique, "
    "techniques, temperature, to, to speed, weight, weight on the way back"
)
_DESCRIBING = (
    "method, run, marks, kind, note, notes, pilot, crew, date, place, flight, taps, recorder, airplane, weather, "
    "source, question, name, comment, author, start, end, time, units"
)
KNOWN_WORDS = frozenset(f"{_COMPUTED_WITH}, {_DESCRIBING}".split(", "))
"""Words of a header or set-up that are read by some method, or that only describe."""
FEW_READINGS, SHORT_S = 6, 30.0


def remarks_on(
    runs: Sequence[Any], recording: Recording, setup: Mapping[str, str], more_words: frozenset[str] = frozenset()
) -> tuple[str, ...]:
    """Return what to say of runs just made from a recording, in sentences; ``more_words`` are read elsewhere."""
    words = words_of(recording, setup)
    out = [
        f"The word {word!r} is not known and nothing is done with it; check its spelling."
        for word in words
        if recording.kind != "logger" and word not in KNOWN_WORDS | more_words
    ]
    told = {"temperature", "isa deviation"} & set(words) or "oat" in recording.channels
    if not told and any(hasattr(run, "conditions") for run in runs):
        out.append("No temperature is stated, so the standard one is taken; 10 C warmer is about 3.5 % less density.")
    for run in runs:
        out += _too_short(run)
    return tuple(dict.fromkeys(out))


def _too_short(run: Any) -> list[str]:
    """Say when a run in time is too short or too sparse to show much."""
    times = getattr(run, "time_s", None)
    if times is None or np.size(times) == 0:
        return []
    seconds = float(np.ptp(times))
    if np.size(times) >= FEW_READINGS and seconds >= SHORT_S:
        return []
    return [
        f"The run has {np.size(times)} readings over {seconds:.0f} s: so short a run says little, and mostly gives "
        "back what was believed."
    ]
