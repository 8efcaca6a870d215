"""Two documents held against each other."""

from __future__ import annotations

import copy
import io
import math
from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from wringout.services.publishing.document_compare import compare_documents
from wringout.services.publishing.verify import draws_apart

DOCUMENT: dict[str, Any] = {
    "answer": ["Flaps cost more."],
    "findings": [
        {"key": "a", "value": 1.0, "interval_95": [0.5, 1.5], "label": "drag"},
        {"key": "b", "value": 0.0, "interval_95": [-1.0, None], "label": "lift"},
    ],
    "runs": [[1, 2], [3, True]],
}


def test_equal_documents_have_no_difference_and_every_number_is_counted() -> None:
    found = compare_documents(DOCUMENT, copy.deepcopy(DOCUMENT))
    assert found.differences == ()
    assert found.numbers == 8  # True and null are no numbers


@given(st.floats(-1e9, 1e9), st.floats(1e-12, 0.5))
def test_a_number_moved_by_a_share_is_found_and_measured(value: float, share: float) -> None:
    moved = value * (1.0 + share)
    found = compare_documents({"x": value}, {"x": moved})
    if value == moved:
        assert found.differences == ()
        return
    [difference] = found.differences
    assert difference.apart is not None
    expected = abs(moved - value) / max(abs(moved), abs(value), 1e-3)
    assert math.isclose(difference.apart, expected)
    assert bool(found.beyond(1e-6, same_version=False)) == (difference.apart > 1e-6)
    assert len(found.within(1e-6)) == (difference.apart <= 1e-6)


def test_lengths_flown_are_held_to_what_steps_can_say_and_nothing_else_is() -> None:
    """Of two processors one may fly a step longer; 0.009 ft was seen, 0.02 ft are allowed."""

    def document(unit: str, median: float, share: float = 0.5) -> dict[str, Any]:
        return {"unit": unit, "median": median, "interval_50": [median, 9.0], "share_alike": share}

    def counted(kept: dict[str, Any], again: dict[str, Any], home: str = "laws") -> int:
        return len(compare_documents({home: [kept]}, {home: [again]}).beyond(1e-6, same_version=True))

    here = document("ft", 100.0)
    assert counted(here, document("ft", 100.015)) == 0
    assert counted(here, document("ft", 100.025)) == 2
    assert counted(here, document("ft", 100.0, 0.501)) == 1
    assert counted(here, document("ft", 100.015), "findings") == 2
    assert counted(document("kt", 100.0), document("kt", 100.015)) == 2
    assert counted(document("kt", 2e-13), document("kt", 5e-13)) == 0


def changed(path: tuple[Any, ...], value: Any) -> Any:
    document = copy.deepcopy(DOCUMENT)
    place = document
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    return document


def test_every_leaf_is_looked_at_and_named() -> None:
    cases: list[tuple[tuple[Any, ...], Any, str]] = [
        (("findings", 0, "value"), 2.0, "findings / a / value"),
        (("findings", 1, "interval_95", 1), 2.0, "findings / b / interval_95 / 1"),
        (("findings", 1, "value"), None, "findings / b / value"),
        (("runs", 1, 1), 1, "runs / 1 / 1"),
        (("runs", 1), [3], "runs / 1 / 1"),
        (("answer", 0), "Gear costs more.", "answer / 0"),
    ]
    for path, value, name in cases:
        [difference] = compare_documents(DOCUMENT, changed(path, value)).differences
        assert difference.path == name
        assert name in difference.sentence()


def test_wording_counts_only_within_one_version_and_decisions_always() -> None:
    words = compare_documents(DOCUMENT, changed(("answer", 0), "Gear costs more."))
    assert words.beyond(1e-6, same_version=True)
    assert not words.beyond(1e-6, same_version=False)
    decision = compare_documents({"outcome": "favoured"}, {"outcome": "too close to call"})
    assert decision.beyond(1e-6, same_version=False)
    gone = compare_documents({"value": 1.0}, {})
    assert gone.beyond(1e-6, same_version=False)
    new_field = compare_documents({}, {"value": 1.0})
    assert new_field.beyond(1e-6, same_version=True)
    assert not new_field.beyond(1e-6, same_version=False)


def npy(rows: np.ndarray) -> bytes:
    stream = io.BytesIO()
    np.save(stream, rows)
    return stream.getvalue()


def test_draws_are_measured_in_standard_deviations_of_their_parameter() -> None:
    rows = np.random.default_rng(1).normal([10.0, 0.001], [2.0, 1e-5], (500, 2))
    assert draws_apart(npy(rows), npy(rows)) == 0.0
    moved = rows.copy()
    moved[7, 1] += 1e-6
    assert math.isclose(draws_apart(npy(moved), npy(rows)), 1e-6 / float(np.std(rows[:, 1])), rel_tol=1e-6)
    assert draws_apart(None, npy(rows)) == math.inf
    assert draws_apart(npy(rows[:-1]), npy(rows)) == math.inf
    moved[7, 1] = math.nan
    assert draws_apart(npy(moved), npy(rows)) == math.inf
