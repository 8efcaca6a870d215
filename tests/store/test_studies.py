from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.store.samples import add_invented
from tests.store.test_documents import TEXTS
from wringout import store as kept
from wringout.errors import BadInputError, NotFoundError
from wringout.store.studies import check_plain


def test_a_study_is_found_by_its_short_name(store: kept.Store) -> None:
    study = add_invented(store)
    with store.reading() as view:
        assert kept.get_study(view, "gear-or-flaps-first") == study
        assert kept.list_studies(view) == (study,)
    assert (study.title, study.invented, dict(study.difference_that_matters)) == (
        "Gear or flaps first?",
        True,
        {"energy_height_m": 3.0},
    )


def test_the_same_title_gets_another_short_name(store: kept.Store) -> None:
    assert [add_invented(store).slug for _ in range(3)] == [
        "gear-or-flaps-first",
        "gear-or-flaps-first-2",
        "gear-or-flaps-first-3",
    ]


def test_long_titles_leave_room_for_a_number(store: kept.Store) -> None:
    slugs = [add_invented(store, "x" * 300).slug for _ in range(12)]
    assert len(set(slugs)) == 12
    assert max(map(len, slugs)) <= 60


def test_a_short_name_given_twice_is_refused(store: kept.Store) -> None:
    with store.writing() as work:
        kept.add_study(work, "One", "", {}, slug="one")
    with pytest.raises(BadInputError, match=r"a study called 'one' exists already"), store.writing() as work:
        kept.add_study(work, "Two", "", {}, slug="one")


def test_an_unknown_study_is_told_with_those_there_are(store: kept.Store) -> None:
    with pytest.raises(NotFoundError, match=r"called 'x'; make one first"), store.reading() as view:
        kept.get_study(view, "x")
    add_invented(store)
    with pytest.raises(NotFoundError, match=r"called 'x'; there is gear-or-flaps-first"), store.reading() as view:
        kept.get_study(view, "x")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("title", ""),
        ("title", "two\nlines"),
        ("title", "x" * 301),
        ("question", "\x00"),
        ("question", "\udcff"),
        ("question", "x" * 100_001),
        ("difference_that_matters", {"a": "x" * 1001}),
        ("difference_that_matters", {str(number): 1 for number in range(101)}),
        ("difference_that_matters", {"a": float("nan")}),
        ("difference_that_matters", {"a": float("-inf")}),
        ("difference_that_matters", {"a": [1]}),
        ("difference_that_matters", {"a": None}),
        ("difference_that_matters", {"": 1}),
        ("difference_that_matters", {"a": 2**64}),
        ("slug", "../up"),
    ],
)
def test_bad_fields_are_refused_and_nothing_is_kept(store: kept.Store, field: str, value: object) -> None:
    fields = {"title": "T", "question": "Q", "difference_that_matters": {}, field: value}
    with pytest.raises(BadInputError) as caught, store.writing() as work:
        kept.add_study(work, **fields)  # type: ignore[arg-type]
    assert str(caught.value).endswith(".")
    with store.reading() as view:
        assert kept.list_studies(view) == ()


def test_an_edit_is_kept_with_what_was_before(store: kept.Store) -> None:
    study = add_invented(store)
    with store.writing() as work:
        edited = kept.edit_study(work, dataclasses.replace(study, question="Which keeps more height?", slug="which"))
        kept.edit_study(work, edited)  # changes nothing, so it is no edit
    with store.reading() as view:
        made, changed = kept.list_history(view, study.id)
        assert kept.get_study(view, "which") == edited
    assert made.before is None
    assert changed.what == "study edited"
    assert changed.before == made.after
    assert changed.before is not None
    assert changed.after == {**changed.before, "question": "Which keeps more height?", "slug": "which"}
    assert (made.at, changed.at) == ("2026-05-01T09:30:01.000Z", "2026-05-01T09:30:02.000Z")


def test_a_study_cannot_take_anothers_short_name(store: kept.Store) -> None:
    first, second = add_invented(store), add_invented(store)
    with pytest.raises(BadInputError, match="exists already"), store.writing() as work:
        kept.edit_study(work, dataclasses.replace(second, slug=first.slug))
    with pytest.raises(NotFoundError, match="no study number 77"), store.writing() as work:
        kept.edit_study(work, dataclasses.replace(second, id=77))


def test_every_version_of_an_airplane_is_kept_exactly(store: kept.Store) -> None:
    study = add_invented(store)
    texts = ['name = "Ä"\r\n', "a = 1", "a = 1", '\ufeffname = "=1+1"\n', "a = 1"]
    for text in texts:
        with store.writing() as work:
            kept.put_airplane(work, study.id, text)
    with store.reading() as view:
        versions = kept.list_airplanes(view, study.id)
        assert kept.latest_airplane(view, study.id) == versions[-1]
        edits = [entry.after for entry in kept.list_history(view, study.id) if entry.what == "airplane put"]
    kept_texts = [(item.version, item.toml) for item in versions]
    assert kept_texts == [(1, texts[0]), (2, texts[1]), (3, texts[3]), (4, texts[4])]
    assert edits == [{"version": number} for number in (1, 2, 3, 4)]


def test_a_study_without_an_airplane_has_none(store: kept.Store) -> None:
    study = add_invented(store)
    with store.reading() as view:
        assert kept.latest_airplane(view, study.id) is None


@given(st.dictionaries(TEXTS, TEXTS | st.booleans() | st.floats() | st.integers() | st.none(), max_size=3))
def test_a_flat_table_is_kept_or_refused(table: dict[str, object]) -> None:
    try:
        assert check_plain(table, "table") == table  # type: ignore[arg-type]
    except BadInputError as error:
        assert str(error).endswith(".")  # noqa: PT017
