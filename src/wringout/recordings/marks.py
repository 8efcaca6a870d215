"""What the words of a mark mean: which device, where it was sent, whether it had arrived.

The words are those pilots use (common practice, no source). A label that is not understood, or that denies something
("gear not locked"), is kept as a note and never interpreted.
"""

from __future__ import annotations

import re
from functools import lru_cache

from wringout.recordings.types import Device, Event, EventKind, Notice, Severity

_NOTE = Event(EventKind.NOTE)

_LOCKED_DOWN = re.compile(r"\b(down (and |& ?)?locked|(three|3) greens?|(gear )?down (three|3) green|dn locked)\b")
_LOCKED_UP = re.compile(r"\b(up (and |& ?)?locked|gear lights? out)\b")
_DENIED = re.compile(
    r"\b(not|no|never|without|unstable|unlocked|unsafe|forgot|failed|before|after|if|when|until|"
    r"isn t|wasn t)\b"
)
_GEAR = re.compile(r"\b(gear|landing gear|undercarriage|u c|l g|wheels)\b")
_FLAPS = re.compile(r"\b(flaps?|notch(es)?)\b")
_ARRIVED = re.compile(
    r"\b(stopped|stop|stops|arrived|there|is down|is up|are up|are down|are full|fully (down|up|out)|"
    r"locked|greens?|at (full|half|up|down|\d+)|reached|in place|finished|complete)\b"
)
_STABLE = re.compile(r"\b(stable|stabili[sz]ed|settled|steady)\b")
_POWER = re.compile(r"\b(power|throttle|manifold|mp|rpm|idle)\b")

_GEAR_DOWN = re.compile(r"\b(down|dn|out|extend(ed|ing)?|drop(ped)?|lower(ed|ing)?)\b")
_GEAR_UP = re.compile(r"\b(up|retract(ed|ing)?|rais(e|ed|ing)|in)\b")

_FLAP_TARGETS: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"\b(full|landing)\b"), "full"),
    (re.compile(r"\b(half|1 2|mid|middle)\b"), "half"),
    (re.compile(r"\b(approach)\b"), "approach"),
    (re.compile(r"\b(takeoff|take off)\b"), "takeoff"),
    (re.compile(r"\b(first|one|1st) notch\b|\bnotch (one|1)\b|\b1 notch\b"), "notch 1"),
    (re.compile(r"\b(second|two|2nd) notch(es)?\b|\bnotch (two|2)\b|\b2 notch(es)?\b"), "notch 2"),
    (re.compile(r"\b(third|three|3rd) notch(es)?\b|\bnotch (three|3)\b|\b3 notch(es)?\b"), "notch 3"),
    (re.compile(r"\b(up|retract(ed|ing)?|clean|in)\b"), "up"),
    (re.compile(r"\b(zero)\b"), "0"),
)
_FLAP_NUMBER = re.compile(r"\b(\d{1,2})\b")
_FLAP_DOWN = re.compile(r"\b(down|dn|extend(ed|ing)?|out)\b")

_SPLIT = re.compile(r"\s*(?:[,;+&|/]|\band\b|\bthen\b|\bwith\b)\s*", re.IGNORECASE)


def read_mark(label: str) -> Event:
    """Return what the words of a mark mean; anything not understood is a note.

    >>> read_mark("three green")
    Event(kind=<EventKind.ARRIVED: 'arrived'>, device=<Device.GEAR: 'gear'>, target='down')
    >>> read_mark("flaps 20").target
    '20'

    A device that is only "moving" counts as selected with an empty target: somebody saw it start. A label naming both
    devices is a note; `split_mark` takes such labels apart first.
    """
    words = _plain(label)
    if not words or _DENIED.search(words):
        return _NOTE
    gear, flaps = bool(_GEAR.search(words)), bool(_FLAPS.search(words))
    if gear and flaps:
        return _NOTE
    if flaps:
        return _flap_event(words)
    if gear or _LOCKED_DOWN.search(words) or _LOCKED_UP.search(words):
        return _gear_event(words)
    if _POWER.search(words):
        return Event(EventKind.POWER, None, _power_target(words))
    if _STABLE.search(words):
        return Event(EventKind.STABLE)
    return _NOTE


@lru_cache(maxsize=4096)
def split_mark(label: str) -> tuple[tuple[str, Event], ...]:
    """Return the events a label holds, each with its own words: "gear down, flaps full" is two.

    A label is taken apart only where every part has a meaning of its own; otherwise it stays whole.
    """
    label = " ".join(label.split())
    if not label:
        return ()
    whole = read_mark(label)
    guarded = re.sub(r"(?i)\b(down|up|dn)\s*(?:and|&|,|/)\s*locked\b", r"\1 locked", label)
    guarded = re.sub(r"\b1/2\b", "half", guarded)
    parts = [part for part in _SPLIT.split(guarded) if part]
    if len(parts) < 2:
        return ((label, whole),)
    events = [read_mark(part) for part in parts]
    if any(event.kind is EventKind.NOTE for event in events):
        return ((label, whole),)
    return tuple(zip(parts, events, strict=True))


def uninterpreted(words: str, event: Event, row: int) -> list[Notice]:
    """Return a caution for a mark that speaks of gear or flaps but is kept only as a note."""
    plain = _plain(words)
    if event.kind is not EventKind.NOTE or not (_GEAR.search(plain) or _FLAPS.search(plain)):
        return []
    return [
        Notice(
            Severity.CAUTION,
            f"row {row}, mark: {words!r} is kept as a note because its meaning is not clear; write for "
            "example gear down, gear locked down, flaps full or flaps stopped",
            row,
            "mark",
        )
    ]


def read_device(text: str) -> Device | None:
    """Return the device a cell names ("landing gear", "Flaps"), or None."""
    plain = _plain(text)
    gear, flaps = bool(_GEAR.search(plain)), bool(_FLAPS.search(plain))
    if gear == flaps:
        return None
    return Device.GEAR if gear else Device.FLAPS


def _plain(label: str) -> str:
    """Reduce a label to lower-case words and numbers."""
    text = label.casefold().replace("°", " deg ").replace("½", " half ").replace("degrees", "deg")
    return re.sub(r"[\W_]+", " ", text).strip().replace("in transit", "moving")


def _gear_event(words: str) -> Event:
    if _LOCKED_DOWN.search(words):
        return Event(EventKind.ARRIVED, Device.GEAR, "down")
    if _LOCKED_UP.search(words):
        return Event(EventKind.ARRIVED, Device.GEAR, "up")
    down, up = bool(_GEAR_DOWN.search(words)), bool(_GEAR_UP.search(words))
    target = "down" if down and not up else "up" if up and not down else ""
    if _ARRIVED.search(words):
        return Event(EventKind.ARRIVED, Device.GEAR, target)
    if target or _moving(words):
        return Event(EventKind.SELECTED, Device.GEAR, target)
    return _NOTE


def _flap_event(words: str) -> Event:
    target = _flap_target(words)
    if _ARRIVED.search(words):
        return Event(EventKind.ARRIVED, Device.FLAPS, target)
    if target or _moving(words):
        return Event(EventKind.SELECTED, Device.FLAPS, target)
    return _NOTE


def _flap_target(words: str) -> str:
    """Return the words for the new flap position; what follows "to" counts before what precedes it."""
    wanted = words.rpartition(" to ")[2]
    for pattern, target in _FLAP_TARGETS:
        if pattern.search(wanted):
            return target
    if number := _FLAP_NUMBER.search(wanted):
        return str(int(number.group(1)))
    return "down" if _FLAP_DOWN.search(wanted) else ""


def _moving(words: str) -> bool:
    return bool(re.search(r"\b(moving|moves?|travel(l)?ing|running|coming|going|selected|start(s|ed)?)\b", words))


def _power_target(words: str) -> str:
    """Return what power was set to, as the words that are left: "22 2400", "idle"; "" for a bare "power set"."""
    left = re.sub(r"\b(power|throttle|set|to|at|is|the|on|changed?|selected)\b", " ", words)
    return " ".join(left.split())
