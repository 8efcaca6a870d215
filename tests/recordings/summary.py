"""A recording, or the refusal of one, in the few lines in which docs/recordings.md shows it."""

from __future__ import annotations

import math

from wringout.errors import BadInputError
from wringout.recordings.columns.mapping import Mapping
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Channel, Mark, Recording
from wringout.units import from_si


def number(value: float) -> str:
    return "-" if math.isnan(value) else f"{value:.10g}"


def channel_line(channel: Channel) -> str:
    values = from_si(channel.values, channel.unit)
    return f"{channel.quantity} ({channel.unit}): {' '.join(number(value) for value in values)}"


def mark_line(mark: Mark) -> str:
    event = mark.event
    meaning = ", ".join(word for word in (event.kind, event.device or "", event.target) if word)
    return f"mark: {mark.time_s:g} s, {mark.label} ({meaning})"


def summary(recording: Recording) -> list[str]:
    lines = [f"kind: {recording.kind}"]
    if recording.header:
        lines.append("header: " + ", ".join(f"{key} = {value}" for key, value in recording.header.items()))
    if recording.time_s is not None:
        lines.append("time_s: " + " ".join(number(value) for value in recording.time_s))
    lines += [channel_line(channel) for channel in recording.channels.values()]
    lines += [f"{key}: {' | '.join(word or '-' for word in words)}" for key, words in recording.texts.items()]
    lines += [mark_line(mark) for mark in recording.marks]
    lines += [f"{notice.severity}: {notice.sentence}" for notice in recording.notices]
    return lines


def reads_as(data: bytes, name: str, mapping: Mapping | None = None) -> list[str]:
    try:
        return summary(read_recording(data, name, mapping))
    except BadInputError as refusal:
        return [f"refused: {refusal}"]
