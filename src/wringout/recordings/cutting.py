"""Cutting one run out of a recording."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wringout.errors import BadInputError
from wringout.recordings.types import Recording


def cut(recording: Recording, from_s: float, to_s: float, name: str) -> Recording:
    """Return the part of a recording between two times, both included, under a new name.

    Times stay on the recording's own clock, rows keep their line numbers, and the hash stays that of the file, so
    every number of the run can be found in it. Notices about rows outside the run are left behind; those about the
    whole file come along.

    Args:
        recording: one with times.
        from_s: start [s] on the recording's clock.
        to_s: end [s], later than the start.
        name: the run's name.

    Raises:
        BadInputError: the recording has no times, the times are no interval, or no row lies between them.
    """
    if recording.time_s is None:
        raise BadInputError("a list without times cannot be cut", recording.name, "use it as a whole")
    if not (np.isfinite(from_s) and np.isfinite(to_s) and from_s < to_s):
        raise BadInputError(
            f"{from_s:g} s to {to_s:g} s is no stretch of time",
            f"{recording.name}, {name}",
            "give a start and a later end in seconds",
        )
    inside = (recording.time_s >= from_s) & (recording.time_s <= to_s)
    if not np.any(inside):
        raise BadInputError(
            f"no row lies between {from_s:g} s and {to_s:g} s",
            f"{recording.name}, {name}",
            f"choose times from {recording.time_s[0]:g} s to {recording.time_s[-1]:g} s",
        )
    rows = recording.rows[inside]
    known = set(rows.tolist())
    outside = set(recording.rows.tolist()) - known
    return replace(
        recording,
        name=name,
        rows=rows,
        time_s=recording.time_s[inside],
        channels={key: replace(channel, values=channel.values[inside]) for key, channel in recording.channels.items()},
        texts={
            key: tuple(word for word, here in zip(words, inside.tolist(), strict=True) if here)
            for key, words in recording.texts.items()
        },
        marks=tuple(mark for mark in recording.marks if from_s <= mark.time_s <= to_s),
        notices=tuple(notice for notice in recording.notices if notice.row not in outside),
    )
