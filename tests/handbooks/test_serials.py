"""Effectivity: what is written is read, and holds for the serials it names and no others."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wringout.errors import BadInputError
from wringout.handbooks.serials import Effectivity, Serial, Span, corners, parse_effectivity, parse_serial


@pytest.mark.parametrize(
    ("text", "inside", "outside"),
    [
        ("1001-1250, 1300 and on, except 1310", ["1001", "1250", "1300", "99999"], ["1000", "1251", "1310"]),
        ("1-9, except 3, 5-7", ["1", "4", "8"], ["3", "5", "6", "7", "10"]),
        ("QB-101 thru QB-250", ["QB-101", "qb-250", "QB-200"], ["101", "QA-101", "QB-100"]),
        ("up to 900; 1000+", ["1", "900", "1000"], ["901", "999"]),
        ("before 12", ["11"], ["12"]),
        ("12 and prior", ["12", "1"], ["13"]),
        ("all except QB-3", ["QB-2", "77"], ["QB-3"]),
        ("all", ["1", "ZZ-9"], []),
        ("28R-1 to 28R-9", ["28R-9"], ["28R-10", "9"]),
        ("QB 7", ["QB-7"], ["7"]),
    ],
)  # fmt: skip
def test_what_is_written_holds_for_what_it_names(text: str, inside: list[str], outside: list[str]) -> None:
    found = parse_effectivity(text)
    assert [s for s in inside if not found.holds(parse_serial(s))] == []
    assert [s for s in outside if found.holds(parse_serial(s))] == []
    assert parse_effectivity(str(found)) == found


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no serial numbers"),
        ("1250-1001", "runs backwards"),
        ("QA-1 thru QB-9", "from one prefix to another"),
        ("1001, except", "nothing follows"),
        ("1-9, except all", "all serials are excepted"),
        ("some", "no serial number"),
        ("1234567890", "no serial number"),
    ],
)
def test_what_cannot_be_read_is_said(text: str, said: str) -> None:
    with pytest.raises(BadInputError) as caught:
        parse_effectivity(text, "r.csv, row 3, serials")
    assert said in str(caught.value)
    assert str(caught.value).startswith("r.csv, row 3, serials: ")


_SPAN = st.tuples(st.integers(0, 60), st.integers(0, 30)).map(lambda p: Span("", p[0], p[0] + p[1]))
_OPEN = st.one_of(
    _SPAN, st.integers(0, 60).map(lambda n: Span("", n, None)), st.integers(0, 60).map(lambda n: Span("", None, n))
)
_EFFECTIVITY = st.builds(
    Effectivity, st.lists(_OPEN, min_size=1, max_size=4).map(tuple), st.lists(_SPAN, max_size=3).map(tuple)
)


@given(_EFFECTIVITY)
def test_written_and_read_again_it_is_the_same(found: Effectivity) -> None:
    assert parse_effectivity(str(found)) == found


@given(st.lists(_EFFECTIVITY, min_size=1, max_size=3))
def test_between_the_corners_nothing_changes(found: list[Effectivity]) -> None:
    places = [serial.number for serial in corners(found)]
    for number in range(130):
        below = max(place for place in places if place <= number) if any(p <= number for p in places) else None
        for item in found:
            if below is None:
                assert not item.holds(Serial("", number))
            else:
                assert item.holds(Serial("", number)) == item.holds(Serial("", below))
