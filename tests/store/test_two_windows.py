"""Two windows open on one study: the second to save is told what the first one changed, and nothing is lost."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import pytest

from tests.store.samples import AIRPLANE, add_full, everything
from wringout import store as kept
from wringout.errors import BadInputError, ConflictError, NotFoundError

Edit = Callable[[kept.Work, kept.Study], object]


def first_run(work: kept.Work, study: kept.Study) -> kept.Run:
    return kept.get_run(work, study.id, "G1")


def first_recording(work: kept.Work, study: kept.Study) -> kept.StudyRecording:
    return kept.list_recordings(work, study.id)[0]


def airplane_edit(number: str) -> Edit:
    return lambda work, study: kept.put_airplane(work, study.id, AIRPLANE.replace("174.0", number), 2)


def study_edit(**fields: object) -> Edit:
    def edit(work: kept.Work, study: kept.Study) -> object:
        return kept.edit_study(work, dataclasses.replace(study, **fields), study)  # type: ignore[arg-type]

    return edit


def document_edit(number: int) -> Edit:
    return lambda work, study: kept.put_document(work, study.id, "test-plan", "flight-1", {"number": number}, 2)


@pytest.mark.parametrize(
    ("first", "second", "says"),
    [
        (airplane_edit("175"), airplane_edit("176"), r"made from version 2, the newest is 3 of 2026-"),
        (
            study_edit(title="First"),
            study_edit(title="Second"),
            r"'gear-or-flaps-first' was changed meanwhile in its title, which is now 'First'; look at it",
        ),
        (
            study_edit(title="First", question="Q", invented=False),
            study_edit(title="Second"),
            "changed meanwhile in its title, question and invented; look",
        ),
        (document_edit(1), document_edit(2), "made from revision 2, the newest is 3 of 2026-"),
    ],
)
def test_the_second_to_save_is_told(store: kept.Store, first: Edit, second: Edit, says: str) -> None:
    study = add_full(store)
    with store.writing() as work:
        first(work, study)
    before = everything(store, study)
    with pytest.raises(ConflictError, match=says) as caught, store.writing() as work:
        second(work, study)
    assert str(caught.value).endswith("nothing was changed.")
    assert everything(store, study) == before


def test_a_run_changed_meanwhile_is_told(store: kept.Store) -> None:
    study = add_full(store)
    with store.reading() as view:
        seen = kept.get_run(view, study.id, "G1")
    with store.writing() as work:
        kept.edit_run(work, dataclasses.replace(seen, state=kept.RunState.SET_ASIDE, reason="gusty"), seen)
    with (
        pytest.raises(ConflictError, match="run G1 was changed meanwhile in its state and reason"),
        store.writing() as w,
    ):
        kept.edit_run(w, dataclasses.replace(seen, key="G9"), seen)
    with store.writing() as work:  # made again from what is there, it is kept
        there = first_run(work, study)
        assert kept.edit_run(work, dataclasses.replace(there, key="G9"), there).reason == "gusty"


def test_a_recording_changed_meanwhile_is_told(store: kept.Store) -> None:
    study = add_full(store)
    with store.writing() as work:
        seen = first_recording(work, study)
        kept.edit_recording(work, dataclasses.replace(seen, note="first"), seen)
    with pytest.raises(ConflictError, match=r"'gear run\.csv' was .* note, which is now 'first'"), store.writing() as w:
        kept.edit_recording(w, dataclasses.replace(seen, note="second"), seen)
    with store.writing() as work:  # the same edit sent twice is no conflict
        kept.edit_recording(work, dataclasses.replace(seen, note="first"), seen)


def test_an_expected_nothing(store: kept.Store) -> None:
    study = add_full(store)
    with store.writing() as work:
        with pytest.raises(ConflictError, match="'flight-1' exists already, as revision 2"):
            kept.put_document(work, study.id, "test-plan", "flight-1", {}, 0)
        with pytest.raises(ConflictError, match="'flight-2' is not there"):
            kept.put_document(work, study.id, "test-plan", "flight-2", {}, 4)
        with pytest.raises(ConflictError, match="'stall' was removed meanwhile"):
            kept.put_document(work, study.id, "hazard", "stall", {"a": 1}, 1)
        assert kept.put_document(work, study.id, "hazard", "stall", {"a": 1}, 0).revision == 3


def test_documents_are_revisions(store: kept.Store) -> None:
    study = add_full(store)
    with store.writing() as work:
        bodies = [item.body for item in kept.document_revisions(work, study.id, "hazard", "stall")]
        assert bodies == [{"cautions": ["height"]}, None]
        assert kept.get_document(work, study.id, "hazard", "stall") is None
        assert kept.list_documents(work, study.id, "hazard") == ()
        edits = len(kept.list_history(work, study.id))
        same = kept.put_document(work, study.id, "test-plan", "flight-1", {"note": '=1+1 "<b>', "points": []})
        assert same.revision == 2
        assert len(kept.list_history(work, study.id)) == edits
        with pytest.raises(NotFoundError, match="no hazard 'stall'"):
            kept.remove_document(work, study.id, "hazard", "stall")
        with pytest.raises(NotFoundError, match="no study number 99"):
            kept.put_document(work, 99, "hazard", "stall", {})


@pytest.mark.parametrize("key", ["", "A", "a b", "../a", "a" * 81, "ä", "a\n"])
def test_a_key_is_a_short_slug(store: kept.Store, key: str) -> None:
    study = add_full(store)
    with store.writing() as work:
        for call in (
            lambda: kept.put_document(work, study.id, "plan", key, {}),
            lambda: kept.put_document(work, study.id, key, "plan", {}),
            lambda: kept.put_entry(work, "procedure", key, {}),
            lambda: kept.put_entries(work, "procedure", {"good": {}, key: {}}),
            lambda: kept.add_taps(work, study.id, key, "left", []),
            lambda: kept.add_taps(work, study.id, "flight-1", key, []),
        ):
            with pytest.raises(BadInputError, match="cannot be a key"):
                call()
        assert kept.list_entries(work, "procedure") == ()


def test_library_entries(store: kept.Store) -> None:
    with store.writing() as work:
        assert kept.put_entries(work, "procedure", {f"p-{n}": {"n": n} for n in range(3000)}) == 3000
        assert kept.put_entries(work, "procedure", {"p-1": {"n": 1}, "p-2": {"n": -2}, "new": {}}) == 2
        assert kept.remove_entry(work, "procedure", "p-0", 1).body is None
        assert kept.put_entry(work, "finding", "p-1", {"other": "kind"}).revision == 1
    with store.reading() as view:
        assert len(kept.list_entries(view, "procedure")) == 3000
        assert [item.body for item in kept.entry_revisions(view, "procedure", "p-2")] == [{"n": 2}, {"n": -2}]
        assert kept.get_entry(view, "procedure", "p-0") is None
    with store.writing() as work, pytest.raises(ConflictError, match="made from revision 1, the newest is 2"):
        kept.put_entry(work, "procedure", "p-2", {"n": 3}, 1)


def test_a_tap_is_kept_exactly_once(store: kept.Store) -> None:
    study = add_full(store)
    taps = [kept.Tap(number, {"t_s": number / 10}) for number in range(5)]
    with store.writing() as work:
        assert kept.add_taps(work, study.id, "flight-2", "left", taps[:3]) == 3
        assert kept.add_taps(work, study.id, "flight-2", "left", [*taps[4:], *taps, *taps]) == 2
        assert kept.add_taps(work, study.id, "flight-2", "right", taps) == 5
    with (
        pytest.raises(ConflictError, match="Tap 1 of the device 'left' in the flight 'flight-2'"),
        store.writing() as w,
    ):
        kept.add_taps(w, study.id, "flight-2", "left", [kept.Tap(9, {}), kept.Tap(1, {"t_s": 7})])
    with store.reading() as view:
        found = kept.list_taps(view, study.id, "flight-2")
        assert [(tap.device, tap.sequence) for tap in found] == [(d, n) for d in ("left", "right") for n in range(5)]
        assert found[1].body == {"t_s": 0.1}
