"""Taps on their way into a study: exactly once, whichever way and however often they come."""

from __future__ import annotations

import json
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wringout.errors import BadInputError, ConflictError, NotFoundError
from wringout.services.flights.capture import capture_card, close_flight, receive_taps, take_log, tap_flights
from wringout.services.opening import open_studies
from wringout.store import Store, add_study


def tap(place: int, kind: str = "mark", **words: Any) -> dict[str, Any]:
    at = {"wall_ms": 1.78e12 + 1000.0 * place, "mono_ms": 1000.0 * place, "epoch": "e"}
    return {"sequence": place, "kind": kind, "label": "stable", **at, **words}


def text(device: str, *taps: dict[str, Any]) -> bytes:
    head = {"format": "wringout taps, version 1", "flight": "f1", "device": device}
    return "\n".join(json.dumps(line) for line in (head, *taps)).encode() + b"\n"


@pytest.fixture
def store(tmp_path: Path) -> Store:
    opened = open_studies(tmp_path / "s.db", lambda: datetime(2027, 5, 1, tzinfo=UTC))
    with opened.writing() as work:
        add_study(work, "Invented", "Which first?", {"height": "30 ft"})
    return opened


def test_what_was_delivered_and_handed_over_counts_once(store: Store) -> None:
    sent = [tap(i) for i in range(1, 6)]
    assert receive_taps(store, None, "f1", "a1", sent[:3]).have == 3
    again = receive_taps(store, None, "f1", "a1", sent[1:4])
    assert (again.new, again.have) == (1, 4)
    (handed,) = take_log(store, None, text("a1", *sent), "f1-a1.taps")
    assert (handed.new, handed.have) == (1, 5)
    (handed,) = take_log(store, None, text("a1", *sent), "f1-a1.taps")
    assert (handed.new, handed.have) == (0, 5)
    assert [(one.flight, dict(one.taps)) for one in tap_flights(store, None)] == [("f1", {"a1": 5})]


def test_a_gap_is_not_called_received(store: Store) -> None:
    assert receive_taps(store, None, "f1", "a1", [tap(1), tap(3)]).have == 1
    assert receive_taps(store, None, "f1", "a1", [tap(2)]).have == 3


def test_a_tap_that_changed_is_refused_and_the_first_one_kept(store: Store) -> None:
    receive_taps(store, None, "f1", "a1", [tap(1)])
    with pytest.raises(ConflictError, match=r"(?i)tap 1 of the device 'a1'"):
        receive_taps(store, None, "f1", "a1", [tap(1, label="gear down"), tap(2)])
    assert receive_taps(store, None, "f1", "a1", []).have == 1


def test_closing_a_flight_twice_makes_one_recording(store: Store) -> None:
    receive_taps(store, None, "f1", "a1", [tap(1, "reading", value=118, unit="kt"), tap(2)])
    first, second = close_flight(store, None, "f1"), close_flight(store, None, "f1")
    assert first.recording is not None
    assert first.item.recording.sha256 == second.item.recording.sha256
    assert second.already_in_study
    assert len(first.recording) == 2


def test_a_flight_without_a_plan_gets_a_card_for_any_point(store: Store) -> None:
    card = capture_card(store, None, "unplanned", deliver="taps", key="k")
    assert (card["deliver"], card["key"], len(card["points"])) == ("taps", "k", 1)
    assert "gear down and locked" in card["points"][0]["marks"]


def test_bad_taps_say_which(store: Store) -> None:
    with pytest.raises(BadInputError, match="f1, a1, tap 2: this is no tap"):
        receive_taps(store, None, "f1", "a1", [tap(1), {"sequence": 0}])
    with pytest.raises(BadInputError, match=r"notes\.txt: this is no log of taps"):
        take_log(store, None, b"0:00, 120\n", "notes.txt")
    with pytest.raises(NotFoundError, match=r"(?i)the flight .f9. has no taps"):
        close_flight(store, None, "f9")


@settings(max_examples=25, deadline=None)
@given(st.lists(st.lists(st.integers(1, 12), max_size=8), max_size=6))
def test_any_order_of_deliveries_ends_with_each_tap_once(batches: list[list[int]]) -> None:
    with (
        tempfile.TemporaryDirectory() as folder,
        open_studies(Path(folder) / "s.db", lambda: datetime(2027, 5, 1, tzinfo=UTC)) as store,
    ):
        with store.writing() as work:
            add_study(work, "Invented", "Which first?", {"height": "30 ft"})
        seen: set[int] = set()
        for batch in batches:
            new = set(batch) - seen
            seen |= new
            handed = receive_taps(store, None, "f1", "a1", [tap(i) for i in batch])
            assert handed.new == len(new)
            assert handed.have == next(i for i in range(13) if i + 1 not in seen)
