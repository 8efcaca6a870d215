"""The library: a few fields of many entries, read without their bodies."""

from __future__ import annotations

from wringout.store import Store, list_fields, put_entries, put_entry, remove_entry


def fields_of(store: Store, *names: str) -> dict[str, dict[str, object]]:
    with store.reading() as view:
        return {key: dict(fields) for key, fields in list_fields(view, "procedure", names)}


def test_fields_are_those_of_the_newest_revision_of_what_still_stands(store: Store) -> None:
    with store.writing() as work:
        put_entries(work, "procedure", {f"p{n}": {"model": f"Tern {n}", "note": "x"} for n in range(3)})
        put_entry(work, "procedure", "p1", {"model": "Tern 1b", "nested": {"deep": 1}, "list": ["a", "b"]})
        put_entry(work, "other", "p9", {"model": "Perdix"})
        remove_entry(work, "procedure", "p2")
    assert fields_of(store, "model", "note") == {
        "p0": {"model": "Tern 0", "note": "x"},
        "p1": {"model": "Tern 1b", "note": None},
    }
    assert list(fields_of(store, "model")["p0"]) == ["model"]
    with store.writing() as work:
        put_entry(work, "procedure", "p2", {"model": "back again"})
    assert fields_of(store, "model")["p2"] == {"model": "back again"}


def test_a_field_keeps_its_words_whatever_they_are(store: Store) -> None:
    odd = ["", " ", "'; DROP TABLE study; --", "Łódź \N{RIGHT-TO-LEFT OVERRIDE}x", '"$.a"', "1e3", "null", "x" * 2000]
    with store.writing() as work:
        put_entries(work, "procedure", {f"p{n}": {"model": words} for n, words in enumerate(odd)})
    found = fields_of(store, "model")
    assert [found[f"p{n}"]["model"] for n in range(len(odd))] == odd


def test_an_empty_library_has_no_fields(store: Store) -> None:
    assert fields_of(store, "model") == {}
