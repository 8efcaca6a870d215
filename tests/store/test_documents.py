from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wringout.errors import BadInputError
from wringout.store.documents import (
    MAX_TEXT,
    check_line,
    check_slug,
    check_text,
    check_time,
    hash_of_document,
    json_document,
    json_text,
    json_value,
    slug_of,
    utc_text,
)

TEXTS = st.text(st.characters(exclude_characters="\x00", exclude_categories=["Cs"]), max_size=20)
VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**63) + 1, 2**63 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=12,
)


def test_times_are_utc_to_the_millisecond() -> None:
    there = timezone(timedelta(hours=-5, minutes=-30))
    assert utc_text(datetime(2026, 5, 1, 4, 0, 0, 123999, tzinfo=there)) == "2026-05-01T09:30:00.123Z"
    assert check_time("2026-05-01T09:30:00.123Z", "row") == "2026-05-01T09:30:00.123Z"
    with pytest.raises(ValueError, match="time zone"):
        utc_text(datetime(2026, 5, 1))


@pytest.mark.parametrize(
    "text", ["", "yesterday", "2026-05-01", "2026-05-01T09:30:00.123", "2026-05-01T09:30:00+00:00"]
)
def test_other_spellings_of_a_time_are_refused(text: str) -> None:
    with pytest.raises(BadInputError, match="is not a UTC time"):
        check_time(text, "row")


@given(st.datetimes(timezones=st.just(UTC)))
def test_every_time_written_is_read(moment: datetime) -> None:
    assert check_time(utc_text(moment), "row") == utc_text(moment)


@pytest.mark.parametrize(
    ("title", "slug"),
    [
        ("Gear or flaps first?", "gear-or-flaps-first"),
        ("Überziehen  (2026)", "uberziehen-2026"),
        ("先に", "study"),
        ("x" * 200, "x" * 52),
    ],
)
def test_a_title_becomes_a_short_name(title: str, slug: str) -> None:
    assert slug_of(title) == slug


@given(st.text(max_size=200))
def test_every_title_gives_a_sound_short_name(title: str) -> None:
    check_slug(slug_of(title))


@pytest.mark.parametrize("slug", ["", "-a", "a--b", "A", "a b", "../a", "ä", "a" * 61, "a\n"])
def test_unsound_short_names_are_refused(slug: str) -> None:
    with pytest.raises(BadInputError, match="cannot name a study"):
        check_slug(slug)


@pytest.mark.parametrize("text", ["a\x00", "\ud800", "x" * (MAX_TEXT + 1)])
def test_texts_that_cannot_be_kept_are_refused(text: str) -> None:
    with pytest.raises(BadInputError):
        check_text(text, "note")


@pytest.mark.parametrize("text", ["", " ", "a\nb", "a\x1b[31m", "a\u2028b", "x" * 301])
def test_lines_that_are_no_lines_are_refused(text: str) -> None:
    with pytest.raises(BadInputError):
        check_line(text, "title")


@given(VALUES)
def test_a_value_reads_back_equal_and_is_spelled_once(value: object) -> None:
    text = json_text(value, "value")  # type: ignore[arg-type]
    assert json.loads(text) == value  # the standard library's own reader
    assert json_text(json_value(text, "value"), "value") == text


def test_equal_documents_hash_equally_and_others_do_not() -> None:
    assert hash_of_document({"a": 1, "b": [1.5]}) == hash_of_document({"b": (1.5,), "a": 1})
    assert hash_of_document({"a": 1}) != hash_of_document({"a": 1.0})


@pytest.mark.parametrize(
    ("value", "where"),
    [
        ({"a": [1.0, float("nan")]}, r"body\.a\[1\]: nan is not a finite number"),
        ({"a": {"b": float("inf")}}, r"body\.a\.b: inf is not a finite number"),
        ({"a": {1, 2}}, r"body\.a: a set cannot be kept"),
        ({1: 2}, r"body: the key 1 is not text"),
        ({"a": 2**63}, r"body\.a: a whole number is too large"),
        ({"a": "\ud800"}, r"body\.a: the text holds a NUL or a broken character"),
    ],
)
def test_what_is_not_json_is_refused_naming_the_field(value: object, where: str) -> None:
    with pytest.raises(BadInputError, match=where):
        json_text(value, "body")  # type: ignore[arg-type]


def test_endless_nesting_is_refused() -> None:
    value: list[object] = []
    for _ in range(100):
        value = [value]
    with pytest.raises(BadInputError, match="nested deeper than 64 levels"):
        json_text(value, "body")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text",
    ["", "{", "NaN", "[Infinity]", "1e999", '{"a":1,"a":2}', "[" * 100_000, '"\\ud800"', "9" * 5000, "{}x", "[1,]"],
)
def test_unsound_json_is_refused_in_one_sentence(text: str) -> None:
    with pytest.raises(BadInputError) as caught:
        json_value(text, "runs.json")
    assert str(caught.value).startswith("runs.json")
    assert "\n" not in str(caught.value)


def test_a_document_is_an_object() -> None:
    with pytest.raises(BadInputError, match="a JSON object was expected"):
        json_document("[]", "x.json")
