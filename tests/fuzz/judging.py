"""What a reader may do with any bytes: an answer, or one sentence; within two seconds, and in little memory."""

from __future__ import annotations

import resource
import sys
import time
import traceback
import warnings
from dataclasses import dataclass

from tests.fuzz.targets import Target
from wringout.errors import WringoutError

LONGEST_S = 2.0
MOST_MB = 500
"""More than this beyond what the process held before it read anything."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What was wrong, in a line, and where, so that the same fault is told once."""

    kind: str
    place: str
    words: str


def peak_mb() -> float:
    """Return the most memory this process has held [MB]."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1 << 20 if sys.platform == "darwin" else 1 << 10)


def judge(target: Target, data: bytes, longest_s: float = LONGEST_S) -> Fault | None:
    """Let a target read bytes, and return what was wrong with that; a warning counts as a crash."""
    before_mb, begin_s = peak_mb(), time.process_time()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        fault = _outcome(target, data)
    took_s = time.process_time() - begin_s
    grown_mb = peak_mb() - before_mb
    if fault is not None:
        return fault
    if took_s > longest_s:
        return Fault("slow", target.name, f"{took_s:.1f} s for {len(data):,} bytes")
    if grown_mb > MOST_MB:
        return Fault("memory", target.name, f"{grown_mb:.0f} MB for {len(data):,} bytes")
    return None


def _outcome(target: Target, data: bytes) -> Fault | None:
    try:
        target.read(data)
    except WringoutError as error:
        sentence = str(error)
        odd = [sign for sign in sentence if ord(sign) < 32 or 0x7F <= ord(sign) < 0xA0 or sign in "\u2028\u2029"]
        if odd or not sentence.endswith(".") or len(sentence) > 6000:
            place = f"{type(error).__name__} {''.join(c for c in error.what if c.isascii() and c.isalpha())[:24]}"
            return Fault("sentence", place, repr(sentence[:300]))
    except Exception as error:
        last = traceback.extract_tb(error.__traceback__)
        own = next((f for f in reversed(last) if "wringout" in f.filename), last[-1])
        place = f"{type(error).__name__} {own.filename.rpartition('wringout/')[2]}:{own.lineno}"
        return Fault("crash", place, repr(error)[:300])
    return None
