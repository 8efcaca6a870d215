from __future__ import annotations

import pytest
from sqlalchemy import text

from tests.store.samples import INPUTS, add_invented
from wringout import store as kept
from wringout.errors import BadInputError, StoreError
from wringout.store.results import DRAWS_BYTES

REDUCTION, MATCHUP = kept.ResultKind.REDUCTION, kept.ResultKind.MATCHUP


def test_the_latest_result_of_a_kind_and_of_given_inputs(store: kept.Store) -> None:
    study = add_invented(store)
    body = {"values": [0.1, 1e-300, -0.0, 2**53, None], "words": "ä"}
    with store.writing() as work:
        one = kept.put_result(work, study.id, REDUCTION, INPUTS, 1, "0.1.0", {"draws": 4}, body, b"\x00draws")
        two = kept.put_result(work, study.id, REDUCTION, "0" * 64, 1, "0.1.0", {}, body)
    with store.reading() as view:
        assert kept.latest_result(view, study.id, REDUCTION) == two
        assert kept.latest_result(view, study.id, REDUCTION, INPUTS) == one
        assert kept.latest_result(view, study.id, MATCHUP) is None
        assert kept.list_results(view, study.id) == (one, two)
    assert one.draws == b"\x00draws"


def test_the_same_result_again_is_kept_once(store: kept.Store) -> None:
    study = add_invented(store)
    same = (study.id, REDUCTION, INPUTS, 1, "0.1.0", {"a": 1}, {"b": [1.0]}, b"d")
    with store.writing() as work:
        one = kept.put_result(work, *same)
    with store.writing() as work:
        assert kept.put_result(work, *same) == one
        for other in ({"b": [1]}, {"b": [1.0000000000000002]}):
            assert kept.put_result(work, *same[:6], other, b"d").id != one.id
        assert kept.put_result(work, *same[:7], b"e").id != one.id
        assert kept.put_result(work, *same[:3], 2, *same[4:]).id != one.id


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"seed": -1}, "the seed -1 is out of range"),
        ({"seed": 2**63}, "out of range"),
        ({"inputs_hash": "abc"}, "'abc' is not a SHA-256"),
        ({"body": {"a": [float("inf")]}}, r"result, body\.a\[0\]: inf is not a finite number; write null"),
        ({"settings": {"a": object()}}, "a object cannot be kept"),
        ({"package_version": ""}, "it is blank"),
        ({"body": {"a": ["x" * 2**20] * 9}}, "it is larger than 8 MB as JSON"),
        ({"draws": bytes(DRAWS_BYTES + 1)}, "the draws have 268 MB"),
    ],
)
def test_results_that_cannot_be_kept_are_refused(store: kept.Store, change: dict[str, object], says: str) -> None:
    study = add_invented(store)
    fields = {
        "kind": REDUCTION,
        "inputs_hash": INPUTS,
        "seed": 1,
        "package_version": "0.1.0",
        "settings": {},
        "body": {},
        **change,
    }
    with pytest.raises(BadInputError, match=says), store.writing() as work:
        kept.put_result(work, study.id, **fields)  # type: ignore[arg-type]
    with store.reading() as view:
        assert kept.list_results(view, study.id) == ()


def test_a_damaged_result_is_told(store: kept.Store) -> None:
    study = add_invented(store)
    with store.writing() as work:
        kept.put_result(work, study.id, REDUCTION, INPUTS, 1, "0.1.0", {}, {})
        work.connection.execute(text("UPDATE result SET body = x'00ff'"))
    with (
        pytest.raises(StoreError, match=r"stored result number 1 is damaged .*; compute it again"),
        store.reading() as view,
    ):
        kept.latest_result(view, study.id, REDUCTION)


def test_briefs_are_noted_and_are_no_edit(store: kept.Store) -> None:
    study = add_invented(store)
    with store.writing() as work:
        brief = kept.put_brief(work, study.id, "briefs/gear.pdf", "1" * 64, "2" * 64)
    with store.reading() as view:
        assert kept.list_briefs(view, study.id) == (brief,)
        assert len(kept.list_history(view, study.id)) == 1
    with pytest.raises(BadInputError, match="is not a SHA-256"), store.writing() as work:
        kept.put_brief(work, study.id, "gear.pdf", "1", "2" * 64)
