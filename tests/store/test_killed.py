"""A short version of ``tools/kill_while_writing.py``; docs/promises.md has the figures of the long one."""

from __future__ import annotations

import dataclasses
import io
from pathlib import Path

import pytest

from tests.store import killing
from tests.store.samples import open_at
from wringout import store as kept


def test_what_was_acknowledged_survives_kills_at_random_moments(tmp_path: Path) -> None:
    found = killing.kill_many(killing.new_session(tmp_path), 30, seed=11, longest_s=0.3, every=10)
    assert found.faults == ()
    assert found.acknowledged >= 30  # the kills fell into work, not before it


@pytest.fixture
def done(tmp_path: Path) -> tuple[killing.Session, int]:
    session = killing.new_session(tmp_path)
    number = 0
    while number < killing.ROUND + 4:
        number = killing.kill_once(session, number, None)
    assert killing.compare(session, number) == []
    return session, number


def test_a_loss_and_a_double_are_seen(done: tuple[killing.Session, int]) -> None:
    """The comparison must be able to fail."""
    session, number = done
    with open_at(session.database) as store:
        with store.reading() as view:
            study = kept.get_study(view, "killed")
            item = kept.list_recordings(view, study.id)[0]
        with store.writing() as work:
            kept.put_airplane(work, study.id, "number = 2\n")
        assert any("airplane versions: too many [2]" in fault for fault in killing.compare(session, number))
        with store.writing() as work:
            kept.edit_recording(work, dataclasses.replace(item, note=""))
        assert any("notes: lost [6]" in fault for fault in killing.compare(session, number))
        kept.take_in(store, study.id, io.BytesIO(b"other"), "0.csv")
        assert any("the bytes of recording 0 are others" in fault for fault in killing.compare(session, number))
