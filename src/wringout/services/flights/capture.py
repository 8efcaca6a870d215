"""Capture in the cockpit: the card for the page of taps, taking its taps in exactly once, and closing a flight.

Taps come by two ways, again and again if need be: delivered by the page, or in a file it handed over. Closing a flight
makes one recording of them, which then is like any other.
"""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.quantity import parse_measured
from wringout.cockpit.page import folder_files, page_file, page_with_card, single_file
from wringout.errors import BadInputError, NotFoundError
from wringout.planning.document import TestPlanDocument, plan_from_table
from wringout.planning.plan import Point, plan_in_si
from wringout.recordings.taps.captured import FORMAT as LOG_FORMAT
from wringout.recordings.taps.captured import looks_captured, read_captured
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.flights.recordings import Arrival, take_in_recording
from wringout.services.opening import the_study
from wringout.store import Store, Study, Tap, View, Work, add_taps, get_document, list_tap_flights, list_taps, tap_head
from wringout.store.documents import check_key
from wringout.units import KNOT

__all__ = [
    "Allow",
    "Handed",
    "TapFlight",
    "capture_card",
    "close_flight",
    "folder_files",
    "page_file",
    "page_with_card",
    "receive_taps",
    "single_file",
    "take_log",
    "tap_flights",
]

CARD_FORMAT = "wringout capture card, version 1"
PLAN_KIND = "test-plan"
CALL_EVERY_S = 6.0
MOST_TAPS_AT_ONCE = 5_000
LONGEST_LOG_BYTES = 32 << 20
ALWAYS = ("power set", "stable")
TOUCHED = {
    "gear": ("power set", "gear down", "gear down and locked", "gear up", "stable"),
    "flaps": ("power set", "flaps full", "flaps half", "flaps stopped", "flaps up", "stable"),
}
BY_METHOD = {
    "stall series": ("power set", "warning", "buffet", "stall"),
    "go-around pairs": ("power set", "flaps half", "gear up", "flaps up", "positive climb", "end"),
}
USUAL_FIRST_KT = 100.0

Allow = Callable[[View], None]
"""Raises where somebody may not do what is asked."""


@dataclass(frozen=True, slots=True)
class Handed:
    """What became of taps that were handed over: how many were new, and the last place of an unbroken row."""

    flight: str
    device: str
    new: int
    have: int


@dataclass(frozen=True, slots=True)
class TapFlight:
    """A flight that has taps: how many from each device."""

    flight: str
    taps: Mapping[str, int]


def capture_card(store: Store, slug: str | None, flight: str, deliver: str = "", key: str = "") -> dict[str, Any]:
    """Return the card that the page of taps shows for a flight.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        flight: a short name; if a test plan has it as its key, the plan's points are shown.
        deliver: the address that takes the taps, seen from the page; "" where there is none.
        key: what lets a device deliver there.

    Raises:
        NotFoundError: there is no such study.
        BadInputError: the flight's name is no short name, or the plan cannot be read.
    """
    check_key(flight, "flight")
    with store.reading() as view:
        study = the_study(view, slug)
        points = _planned_points(view, study, flight)
    return {
        "format": CARD_FORMAT,
        "flight": flight,
        "title": study.title,
        "unit": "kt",
        "deliver": deliver,
        "key": key,
        "points": points or [_open_point()],
    }


def _open_point() -> dict[str, Any]:
    marks = ["power set", "gear down", "gear down and locked", "flaps moving", "flaps full", "stable"]
    return _point_words("open", "No plan for this flight", marks, ["flaps", "gear"], USUAL_FIRST_KT, CALL_EVERY_S, [])


def _point_words(
    key: str,
    title: str,
    marks: Sequence[str],
    timers: Sequence[str],
    first_kt: float,
    every_s: float,
    stop: Sequence[str],
) -> dict[str, Any]:
    return {
        "key": key,
        "title": title,
        "marks": list(marks),
        "timers": list(timers),
        "first_kt": round(first_kt),
        "step_kt": 1,
        "every_s": every_s,
        "stop": list(stop),
    }


def _planned_points(view: View, study: Study, flight: str) -> list[dict[str, Any]]:
    kept = get_document(view, study.id, PLAN_KIND, flight)
    if kept is None or kept.body is None:
        return []
    document = plan_from_table(dict(kept.body), f"test plan {flight}")
    beliefs = study_airplane(view, study.id).beliefs
    return [_of_plan(point, document, beliefs) for point in plan_in_si(document, beliefs, flight).points]


def _of_plan(point: Point, plan: TestPlanDocument, beliefs: Beliefs) -> dict[str, Any]:
    card = point.method.card(beliefs, dict(point.words))
    device = point.words.get("device", "")
    marks = BY_METHOD.get(point.method.key, TOUCHED.get(device, ALWAYS))
    entry = point.words.get("entry speed", "")
    first = parse_measured(entry, "speed", f"point {point.key}, entry speed", "110 kt")[0] / KNOT if entry else None
    return _point_words(
        point.key,
        f"{card.title}{f', from {entry}' if entry else ''}",
        marks,
        [device] if device in TOUCHED else ["gear", "flaps"] if beliefs.retractable else ["flaps"],
        USUAL_FIRST_KT if first is None else first,
        CALL_EVERY_S if plan.flight.recording == "called" else 0.0,
        card.stop_conditions,
    )


def receive_taps(
    store: Store, slug: str | None, flight: str, device: str, taps: Iterable[Any], allow: Allow = lambda _: None
) -> Handed:
    """Keep taps a device delivered, each once.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        flight: a short name.
        device: the device's own name.
        taps: events as the page writes them, each with its ``sequence``.
        allow: raises where the device may not; asked in the same transaction, which costs a tap half as much as two.

    Raises:
        BadInputError: an event is none, or there are too many at once; nothing is then kept.
        ConflictError: an event differs from the one that is kept at its place; nothing is then kept.
        NotFoundError: there is no such study.
    """
    events = [_tap(tap, f"{flight}, {device}, tap {i}") for i, tap in enumerate(taps, 1)]
    if len(events) > MOST_TAPS_AT_ONCE:
        raise BadInputError(
            f"{len(events):,} taps came at once", f"{flight}, {device}", f"send at most {MOST_TAPS_AT_ONCE:,}"
        )

    def keep(work: Work) -> Handed:
        allow(work)
        study = the_study(work, slug)
        new = add_taps(work, study.id, flight, device, events)
        return Handed(flight, device, new, tap_head(work, study.id, flight, device))

    return store.written(keep)


def _tap(words: Any, where: str) -> Tap:
    sequence = words.get("sequence") if isinstance(words, dict) else None
    if not isinstance(sequence, int) or isinstance(sequence, bool) or sequence < 1:
        raise BadInputError("this is no tap", where, "an object with its place in the log, sequence, from 1")
    return Tap(sequence, {name: value for name, value in words.items() if name not in {"flight", "device"}})


def take_log(store: Store, slug: str | None, data: bytes, name: str) -> tuple[Handed, ...]:
    """Take in a log that a device handed over as a file; taps that are there already are passed over.

    Returns:
        What became of each device's taps.

    Raises:
        BadInputError: the file is no log of taps, is damaged, or is too large.
        ConflictError: an event differs from the one that is kept at its place; nothing is then kept.
        NotFoundError: there is no such study.
    """
    if len(data) > LONGEST_LOG_BYTES:
        raise BadInputError("the log is larger than 32 MB", name, "hand over one flight at a time")
    text = data.decode("utf-8-sig", errors="replace")
    if not looks_captured(text):
        raise BadInputError("this is no log of taps", name, "hand it over from the page of taps, it ends in .taps")
    read_captured(text, name, "")
    lines = list(_objects(text))
    flight = str(lines[0].get("flight") or "unplanned")
    by_device: dict[str, list[Tap]] = {}
    for line in lines[1:]:
        device = str(line.get("device") or lines[0].get("device", ""))
        by_device.setdefault(device, []).append(_tap(line, name))
    with store.writing() as work:
        study = the_study(work, slug)
        return tuple(
            Handed(
                flight,
                device,
                add_taps(work, study.id, flight, device, taps),
                tap_head(work, study.id, flight, device),
            )
            for device, taps in by_device.items()
        )


def _objects(text: str) -> Iterator[dict[str, Any]]:
    """Yield the lines that are JSON objects; a last line may be torn."""
    for line in text.splitlines():
        if line.lstrip().startswith("{"):
            with contextlib.suppress(ValueError, RecursionError):
                yield json.loads(line)


def tap_flights(store: Store, slug: str | None) -> tuple[TapFlight, ...]:
    """Return the flights of a study that have taps; raises NotFoundError where there is no such study."""
    with store.reading() as view:
        study = the_study(view, slug)
        found = []
        for flight in list_tap_flights(view, study.id):
            counts: dict[str, int] = {}
            for tap in list_taps(view, study.id, flight):
                counts[tap.device] = counts.get(tap.device, 0) + 1
            found.append(TapFlight(flight, counts))
        return tuple(found)


def close_flight(store: Store, slug: str | None, flight: str) -> Arrival:
    """Make one recording of all taps of a flight and take it into the study; the same taps make the same recording.

    Raises:
        NotFoundError: there is no such study, or the flight has no taps.
        BadInputError: no tap of the flight stands.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        taps = list_taps(view, study.id, flight)
    if not taps:
        raise NotFoundError(f"the flight '{flight}' has no taps", advice="let the page deliver, or take its log in")
    head = {"format": LOG_FORMAT, "flight": flight, "events": len(taps)}
    lines = [json.dumps(head), *(json.dumps({"device": tap.device, **tap.body}, sort_keys=True) for tap in taps)]
    data = ("\n".join(lines) + "\n").encode()
    return take_in_recording(store, study.slug, io.BytesIO(data), f"{flight}.taps", make_run=False)
