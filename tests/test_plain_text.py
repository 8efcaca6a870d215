"""What anybody may have typed is printed, and steers nothing."""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from wringout.plain_text import as_cell, from_cell, visible


@given(st.text(st.characters(codec=None)))
def test_nothing_that_steers_the_printing_is_left(text: str) -> None:
    out = visible(text)
    out.encode("utf-8")
    for character in out:
        kind = unicodedata.category(character)
        assert kind not in ("Cc", "Cs")
        assert unicodedata.bidirectional(character) not in (
            "LRE",
            "RLE",
            "LRO",
            "RLO",
            "PDF",
            "LRI",
            "RLI",
            "FSI",
            "PDI",
        )


@given(st.text(st.characters(categories=["L", "M", "N", "P", "S", "Zs"])))
def test_ordinary_text_is_left_as_it_is(text: str) -> None:
    assert visible(text) == text


def test_what_is_written_out_can_be_read() -> None:
    assert visible("a\u202eb\x00c\ud800") == "a[U+202E]b[U+0000]c[U+D800]"
    assert visible("two\nlines\tand a tab") == "two lines and a tab"
    assert visible("क\u200dष") == "क\u200dष"


@given(st.text(st.sampled_from("'=+-@\t\ra1 ")))
def test_no_cell_is_a_formula_and_every_cell_is_read_back(text: str) -> None:
    assert not as_cell(text).startswith(("=", "+", "-", "@", "\t", "\r"))
    assert from_cell(as_cell(text)) == text
