"""Timed captions: WebVTT (W3C) and SubRip text taken apart into cues, each with its line, its times and its words.

What the words mean is left to `spoken`: a caption holds talk and radio as well as readings, so nothing in it counts
until somebody has said yes to it.
"""

from __future__ import annotations

import html
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wringout.errors import BadInputError
from wringout.recordings.types import Notice, Recording, Severity

KIND = "captions"
"""`Recording.kind` of captions: a time and a line of talk in each row, no channel."""

MOST_CUES = 100_000
LONGEST_CUE = 5_000
"""Longest text of one cue that is looked at [characters]."""

_TIME = r"(?:(\d{1,4}):)?(\d{1,2}):(\d{1,2})[.,](\d{1,3})"
_TIMING = re.compile(rf"\s*{_TIME}\s*-->\s*{_TIME}(?:\s.*)?")
_TAG = re.compile(r"<[^<>]{0,200}>")
_VOICE = re.compile(r"<v(?:\.[\w.-]{0,60})?\s+([^<>]{1,80})>")
_SPEAKER = re.compile(r"(?:>>\s*)?([A-Z][\w .'-]{0,30}):\s+(.*)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Cue:
    """One caption: 1-based line of its timing, start and end [s] on the video's clock, who speaks, and the words."""

    row: int
    start_s: float
    end_s: float
    speaker: str
    words: str


def looks_captioned(text: str) -> bool:
    """Return whether a text begins as WebVTT or SubRip does."""
    lines = [line for line in text.lstrip("\ufeff").splitlines()[:20] if line.strip()]
    if lines and re.match(r"WEBVTT(\s|$)", lines[0]):
        return True
    return any(_TIMING.fullmatch(line) for line in lines[:2])


def read_cues(text: str, file: str) -> tuple[tuple[Cue, ...], tuple[Notice, ...]]:
    """Return the cues of a caption file in order of time.

    Raises:
        BadInputError: no cue can be read, or there are more than `MOST_CUES`.
    """
    lines = re.split(r"\r\n|\n|\r", text.lstrip("\ufeff"))
    starts = [i for i, line in enumerate(lines) if "-->" in line]
    cues: list[Cue] = []
    notices: list[Notice] = []
    if len(starts) > MOST_CUES:
        raise BadInputError(
            f"there are more than {MOST_CUES:,} captions", f"{file}, row {starts[MOST_CUES] + 1}", "cut the file in two"
        )
    for i in starts:
        times = _times(lines[i])
        if times is None:
            words = f"row {i + 1}: {lines[i].strip()[:60]!r} is no pair of times, so its caption is not used"
            notices.append(Notice(Severity.CAUTION, words, i + 1))
            continue
        speaker, words = _said(lines, i + 1)
        if words:
            cues.append(Cue(i + 1, *times, speaker, words))
    if not cues:
        raise BadInputError(
            "there is no caption in this file",
            file,
            "write times such as 00:01:02.000 --> 00:01:04.000, then the words",
        )
    ordered = sorted(cues, key=lambda cue: cue.start_s)
    if ordered != cues:
        notices.append(Notice(Severity.NOTE, "captions out of order are sorted by time"))
    return tuple(ordered), tuple(notices)


def read_captions(text: str, file: str, sha256: str) -> Recording:
    """Return captions as a recording: a row for each, its words in ``texts["said"]``, its speaker in ``speaker``.

    Raises:
        BadInputError: as `read_cues`.
    """
    cues, notices = read_cues(text, file)
    zero = cues[0].start_s
    words = (
        f"{len(cues)} {'caption' if len(cues) == 1 else 'captions'}; what was said counts as a reading or a mark only "
        "after somebody has said yes to it"
    )
    return Recording(
        file,
        sha256,
        KIND,
        np.array([cue.row for cue in cues], dtype=np.int64),
        np.array([cue.start_s - zero for cue in cues]),
        {},
        {"said": tuple(cue.words for cue in cues), "speaker": tuple(cue.speaker for cue in cues)},
        (),
        {},
        (*notices, Notice(Severity.NOTE, words)),
        zero,
    )


def _times(line: str) -> tuple[float, float] | None:
    match = _TIMING.fullmatch(line)
    if match is None:
        return None
    start, end = _seconds(match.groups()[:4]), _seconds(match.groups()[4:8])
    return (start, max(start, end))


def _seconds(parts: Sequence[str | None]) -> float:
    hours, minutes, seconds, fraction = parts
    return 3600.0 * int(hours or 0) + 60.0 * int(minutes or 0) + int(seconds or 0) + float(f"0.{fraction}")


def _said(lines: Sequence[str], at: int) -> tuple[str, str]:
    """Return (speaker, words) of the cue whose payload begins at a position; it ends at a blank line."""
    payload = []
    length = 0
    for line in lines[at : at + LONGEST_CUE]:
        if not line.strip() or "-->" in line or length > LONGEST_CUE:
            break
        payload.append(line.strip())
        length += len(line)
    text = " ".join(payload)[:LONGEST_CUE]
    voice = _VOICE.search(text)
    plain = " ".join(html.unescape(_TAG.sub(" ", text)).split())
    if voice:
        return voice.group(1).strip(), plain
    named = _SPEAKER.fullmatch(plain)
    if named:
        return named.group(1).strip(), named.group(2).strip()
    return "", re.sub(r"^(>>|[-–—])\s*", "", plain)
