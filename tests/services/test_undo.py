from __future__ import annotations

import dataclasses
import io
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.store.samples import AIRPLANE, add_full, everything, open_at
from wringout import store as kept
from wringout.errors import BadInputError, ConflictError, NotFoundError
from wringout.services import undo as undoing


@pytest.fixture
def store(tmp_path: Path) -> Iterator[kept.Store]:
    with open_at(tmp_path / "study.db") as opened:
        add_full(opened)
        yield opened


def state(store: kept.Store) -> tuple[object, ...]:
    """Return what a study is now, without how it came about."""
    with store.reading() as view:
        (study,) = kept.list_studies(view)
        newest = kept.latest_airplane(view, study.id)
        documents = [kept.get_document(view, study.id, *name) for name in kept.document_names(view, study.id)]
        return (
            study,
            None if newest is None else newest.toml,
            [(item.name, item.note, item.mapping) for item in kept.list_recordings(view, study.id)],
            kept.list_runs(view, study.id),
            [None if item is None else item.body for item in documents],
        )


def airplane(work: kept.Work, study: kept.Study) -> None:
    kept.put_airplane(work, study.id, AIRPLANE.replace("174.0", "180"))


def title(work: kept.Work, study: kept.Study) -> None:
    matters = {"energy_height_m": 4.0}
    kept.edit_study(work, dataclasses.replace(study, title="New", slug="new", difference_that_matters=matters))


def set_aside(work: kept.Work, study: kept.Study) -> None:
    run = kept.get_run(work, study.id, "G1")
    kept.edit_run(work, dataclasses.replace(run, state=kept.RunState.SET_ASIDE, reason="gusty", key="G7"))


def note(work: kept.Work, study: kept.Study) -> None:
    recording = kept.list_recordings(work, study.id)[0]
    kept.edit_recording(work, dataclasses.replace(recording, note="x", name="y.csv", mapping={"a": "b"}))


def plan(work: kept.Work, study: kept.Study) -> None:
    kept.put_document(work, study.id, "test-plan", "flight-1", {"new": True})


def unplan(work: kept.Work, study: kept.Study) -> None:
    kept.remove_document(work, study.id, "test-plan", "flight-1")


def new_plan(work: kept.Work, study: kept.Study) -> None:
    kept.put_document(work, study.id, "hazard", "stall", {"new": True})


EDITS = [airplane, title, set_aside, note, plan, unplan, new_plan]


def edited(store: kept.Store, edit: Callable[[kept.Work, kept.Study], None]) -> None:
    with store.writing() as work:
        edit(work, kept.list_studies(work)[0])


def rows(store: kept.Store) -> tuple[kept.HistoryEntry, ...]:
    with store.reading() as view:
        return kept.list_history(view, kept.list_studies(view)[0].id)


@pytest.mark.parametrize("edit", EDITS)
def test_an_edit_is_undone_and_redone_as_new_edits(
    store: kept.Store, edit: Callable[[kept.Work, kept.Study], None]
) -> None:
    before = state(store)
    edited(store, edit)
    after, history = state(store), rows(store)
    assert after != before
    for _ in range(3):
        assert undoing.undo(store, None).undone
        assert state(store) == before
        assert not undoing.redo(store, None).undone
        assert state(store) == after
    assert rows(store)[: len(history)] == history
    assert len(rows(store)) == len(history) + 12


def test_everything_is_undone_step_by_step_and_redone(store: kept.Store) -> None:
    seen = [state(store)]
    for edit in (airplane, note, plan, unplan, new_plan, set_aside, title):
        edited(store, edit)
        seen.append(state(store))
    for expected in seen[-2::-1]:
        undoing.undo(store, None)
        assert state(store) == expected
    for expected in seen[1:]:
        undoing.redo(store, None)
        assert state(store) == expected
    with pytest.raises(NotFoundError, match="There is nothing to redo"):
        undoing.redo(store, None)


def test_undoing_all_there_is_never_destroys(store: kept.Store) -> None:
    with store.reading() as view:
        study = kept.list_studies(view)[0]
    held = everything(store, study)
    count = 0
    while [edit for edit in undoing.list_edits(store, None, 100) if not edit.undone]:
        undoing.undo(store, None)
        count += 1
    with pytest.raises(NotFoundError, match="There is nothing to undo"):
        undoing.undo(store, None)
    assert count == 9
    with store.reading() as view:
        assert [run.state for run in kept.list_runs(view, study.id)] == [kept.RunState.SET_ASIDE] * 2
        assert kept.latest_airplane(view, study.id).toml == AIRPLANE  # type: ignore[union-attr]
        assert len(kept.list_recordings(view, study.id)) == 2
    now = everything(store, study)
    assert now[1][:2] == held[1]  # type: ignore[index]
    assert now[5][: len(held[5])] == held[5]  # type: ignore[index, arg-type]
    assert now[-2] == held[-2]  # recordings' bytes or taps
    for _ in range(count):
        undoing.redo(store, None)
    assert [run.state for run in state(store)[3]] == [kept.RunState.IN_USE, kept.RunState.SET_ASIDE]  # type: ignore[attr-defined]


def test_an_edit_that_was_edited_since_is_a_conflict(store: kept.Store) -> None:
    edited(store, plan)
    number = len(rows(store))
    edited(store, lambda work, study: kept.put_document(work, study.id, "test-plan", "flight-1", {"newer": 1}) and None)
    before = state(store)
    with pytest.raises(
        ConflictError, match="The test-plan 'flight-1' was changed again since that edit; undo the later"
    ):
        undoing.undo(store, None, number)
    assert state(store) == before
    undoing.undo(store, None)
    undoing.undo(store, None, number)
    with pytest.raises(BadInputError, match=f"edit {number} is undone already"):
        undoing.undo(store, None, number)
    with pytest.raises(BadInputError, match="is not undone"):
        undoing.redo(store, None, number - 5 if number > 5 else 1)
    with pytest.raises(NotFoundError, match="dit 1 cannot be undone"):
        undoing.undo(store, None, 1)


def test_a_run_does_not_come_back_onto_readings_in_use(store: kept.Store) -> None:
    edited(store, set_aside)
    number = len(rows(store))
    with store.writing() as work:
        study = kept.list_studies(work)[0]
        sha256 = kept.get_run(work, study.id, "G7").recording_sha256
        kept.add_run(work, study.id, "G8", "level-deceleration", sha256, (3.0, 9.0), {})
    before = state(store)
    with pytest.raises(BadInputError, match="G8"):
        undoing.undo(store, None, number)
    assert state(store) == before


def test_what_was_undone_travels_in_a_bundle(store: kept.Store, tmp_path: Path) -> None:
    edited(store, plan)
    undoing.undo(store, None)
    with store.reading() as view:
        study, stream = kept.list_studies(view)[0], io.BytesIO()
        kept.write_bundle(view, study, stream)
    before = undoing.list_edits(store, None, 100)
    with open_at(tmp_path / "other.db") as other:
        kept.import_bundle(other, stream, "study.zip")
        assert undoing.list_edits(other, None, 100) == before
        undoing.redo(other, None)
        with other.reading() as view:
            assert kept.get_document(view, kept.list_studies(view)[0].id, "test-plan", "flight-1").body == {"new": True}  # type: ignore[union-attr]
