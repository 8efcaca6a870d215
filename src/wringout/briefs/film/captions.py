"""Marks as captions (WebVTT, W3C) on the clock of the footage."""

from __future__ import annotations

import html
from collections.abc import Sequence

from wringout.briefs.film.content import FilmMark
from wringout.plain_text import visible

STAYS_S = 4.0
"""How long a caption stays unless the next one comes sooner."""
SHORTEST_S = 0.5


def webvtt(marks: Sequence[FilmMark], begins_s: float, seconds: float) -> str:
    """Return the marks within the footage as WebVTT; marks of one moment share a caption."""
    shown: dict[float, list[str]] = {}
    for mark in sorted(marks, key=lambda one: one.time_s):
        at = round(mark.time_s - begins_s, 3)
        if 0.0 <= at < seconds:
            shown.setdefault(at, []).append(mark.words)
    starts = list(shown)
    parts = ["WEBVTT"]
    for number, at in enumerate(starts, 1):
        after = starts[number] if number < len(starts) else seconds
        until = min(at + STAYS_S, max(after, at + SHORTEST_S))
        words = "\n".join(html.escape(" ".join(visible(one).split()), quote=False) or "mark" for one in shown[at])
        parts.append(f"{number}\n{stamp(at)} --> {stamp(until)}\n{words}")
    return "\n\n".join(parts) + "\n"


def stamp(time_s: float) -> str:
    """Return a time as WebVTT writes it, such as ``00:01:02.500``."""
    thousandths = round(1000.0 * time_s)
    minutes, rest = divmod(thousandths, 60_000)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d}.{rest % 1000:03d}"
