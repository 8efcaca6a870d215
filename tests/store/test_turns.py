"""Turns at writing, and small edits of many threads in one transaction."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from sqlalchemy import event

from tests.store.samples import add_invented, open_at
from wringout import store as kept
from wringout.errors import BadInputError, ConflictError, StoreError
from wringout.store import study_store
from wringout.store.turns import Turns


def test_who_asked_first_goes_first() -> None:
    turns, order, threads = Turns(), [], []

    def go(number: int) -> None:
        with turns.turn(60.0) as mine:
            assert mine
            order.append(number)

    with turns.turn(60.0):
        for number in range(20):
            threads.append(threading.Thread(target=go, args=(number,)))
            threads[-1].start()
            while len(turns._waiting) <= number:
                pass
    for thread in threads:
        thread.join()
    assert order == list(range(20))


def test_who_waits_too_long_goes_without_and_hinders_nobody() -> None:
    turns = Turns()
    with turns.turn(0.0) as first:
        assert first
        with turns.turn(0.001) as second:
            assert not second
    with turns.turn(0.0) as third:
        assert third


def test_a_writer_who_waits_too_long_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(study_store, "BUSY_TIMEOUT_MS", 5)
    with open_at(tmp_path / "a.db") as store:
        study = add_invented(store)
        with store.writing():
            for write in (lambda: store.writing().__enter__(), lambda: store.written(lambda _: None)):
                with pytest.raises(StoreError, match="is being written by another"):
                    write()
        with store.writing() as work:
            kept.add_taps(work, study.id, "one", "left", [kept.Tap(1, {})])


def test_edits_of_many_threads_share_a_transaction_and_fail_alone(tmp_path: Path) -> None:
    with open_at(tmp_path / "a.db") as store:
        study = add_invented(store)
        commits: list[int] = []
        event.listen(store.engine, "commit", lambda _: commits.append(1))
        told: dict[int, object] = {}

        def send(number: int) -> None:
            flight = "one" if number % 5 else "NOT A NAME"
            try:
                told[number] = store.written(
                    lambda work: kept.add_taps(work, study.id, flight, f"d{number}", [kept.Tap(1, {"n": number})])
                )
            except BadInputError as error:
                told[number] = error

        threads = [threading.Thread(target=send, args=(number,)) for number in range(40)]
        with store.writing():
            for number, thread in enumerate(threads, 1):
                thread.start()
                while len(store.errands._waiting) < number:
                    pass
        for thread in threads:
            thread.join()
        assert len(commits) == 2  # the one they waited for, and one for all of them
        assert [number for number, what in sorted(told.items()) if what != 1] == [*range(0, 40, 5)]
        with store.reading() as view:
            found = {tap.device for tap in kept.list_taps(view, study.id, "one")}
        assert found == {f"d{number}" for number in range(40) if number % 5}


def test_an_edit_that_fails_leaves_nothing_of_itself(tmp_path: Path) -> None:
    with open_at(tmp_path / "a.db") as store:
        study = add_invented(store)

        def twice(work: kept.Work) -> None:
            kept.add_taps(work, study.id, "one", "left", [kept.Tap(1, {"a": 1})])
            kept.add_taps(work, study.id, "one", "left", [kept.Tap(1, {"a": 2})])

        with pytest.raises(ConflictError):
            store.written(twice)
        with store.reading() as view:
            assert kept.list_taps(view, study.id, "one") == ()


def test_nothing_is_acknowledged_when_the_transaction_fails(tmp_path: Path) -> None:
    with open_at(tmp_path / "a.db") as store:
        study = add_invented(store)

        def fail(connection: object) -> None:
            raise StoreError("the disk is full")

        event.listen(store.engine, "commit", fail)
        with pytest.raises(StoreError, match="disk is full"):
            store.written(lambda work: kept.add_taps(work, study.id, "one", "left", [kept.Tap(1, {})]))
        event.remove(store.engine, "commit", fail)
        with store.reading() as view:
            assert kept.list_taps(view, study.id, "one") == ()
