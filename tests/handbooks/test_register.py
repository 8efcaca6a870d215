"""Entries, what holds when, gaps and overlaps, tables with errors by row."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.handbooks.made import entry
from wringout.errors import BadInputError
from wringout.handbooks.entry import FIELDS, Entry, entry_from, table_of
from wringout.handbooks.queries import holding, irregularities, supersessions
from wringout.handbooks.serials import parse_serial
from wringout.handbooks.steps import Item, When, order_words, parse_steps, steps_text
from wringout.handbooks.tables import csv_text, json_text, key_of, read_csv, read_json

DAY = date(1999, 1, 1)


def test_steps_are_read_with_their_conditions() -> None:
    steps = parse_steps(
        "throttle full; wing flaps 20°; landing gear up when positive rate of climb; flaps up slowly at 75 mph; "
        "climb 80 kt; cowl flaps open; gear up once clear of obstacles; flaps up at a safe speed"
    )
    assert [s.item for s in steps[:4]] == [Item.POWER, Item.FLAPS, Item.GEAR, Item.FLAPS]
    assert [s.target for s in steps[:4]] == ["full", "20", "up", "up slowly"]
    assert [s.when for s in steps[:4]] == [When.IN_TURN, When.IN_TURN, When.CLIMBING, When.SPEED]
    assert steps[3].speed_kt == pytest.approx(75 * 0.868976, abs=1e-4)  # statute to nautical mile, NIST SP 811
    assert [s.item for s in steps[4:6]] == [Item.SPEED, Item.COWL_FLAPS]
    assert [s.when for s in steps[6:]] == [When.OBSTACLES, When.SAFE_SPEED]
    assert parse_steps(steps_text(steps)) == steps
    assert order_words(steps) == "flaps 20, gear up, flaps up slowly, gear up, flaps up"


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("steps", "wobble the wings", "names nothing that is moved"),
        ("steps", "power full; gear", "does not say where to"),
        ("steps", "", "no steps are written"),
        ("date", "15/6/98", "is no date"),
        ("date", "19980615", "is no date"),
        ("model", " ", "is missing"),
        ("prints", "some", "is not known"),
        ("prints", "none", "prints none, but steps are written"),
        ("attachments", "abc", "no hash"),
        ("invented", "perhaps", "neither yes nor no"),
        ("paraphrase", "x" * 2001, "not the printed page"),
        ("colour", "red", "is not known"),
    ],
)
def test_a_wrong_field_is_named(field: str, value: str, said: str) -> None:
    table = {**table_of(entry()), field: value}
    with pytest.raises(BadInputError) as caught:
        entry_from(table, "r.csv, row 7")
    assert said in str(caught.value)
    assert str(caught.value).startswith("r.csv, row 7")


def test_what_holds_follows_revision_serial_and_day() -> None:
    a = entry(revision="A", date="1966-05-01", serials="1-100")
    b = entry(revision="B", date="1974-11-20", serials="51 and on", steps="power full; gear up; flaps up")
    other = entry(document="Supplement", part_number="S-7", date="1976-01-01", serials="60-62")
    register = [b, other, a]

    def held(serial: str, day: date) -> list[str]:
        return [e.name for e in holding(register, parse_serial(serial), day).entries]

    assert held("10", date(1965, 1, 1)) == []
    assert held("60", date(1970, 1, 1)) == [a.name]
    assert held("60", date(1975, 1, 1)) == [b.name]
    assert held("60", date(1976, 1, 1)) == [other.name, b.name]
    assert held("200", DAY) == [b.name]
    old = holding(register, parse_serial("10"), DAY)
    assert old.entries == (a,)
    assert "ask the holder of the manual which one holds" in old.notices[0]
    assert holding(register, parse_serial("70"), DAY).superseded == (a,)
    (followed,) = supersessions(register)
    assert (followed.before, followed.after, followed.order_changed) == (a, b, True)


def test_gaps_and_overlaps_are_found_and_the_ends_are_no_gaps() -> None:
    register = [
        entry(serials="1-10, except 5"),
        entry(part_number="H-2", document="Other", serials="9-12"),
        entry(part_number="H-3", document="Third", serials="20 and on"),
    ]
    found = irregularities(register, DAY)
    assert [(item.kind, str(item.span)) for item in found] == [("gap", "5"), ("overlap", "9-10"), ("gap", "13-19")]
    assert irregularities(register[:1], date(1960, 1, 1)) == ()


@st.composite
def _entries(draw: st.DrawFn) -> Entry:
    words = st.text("abcäß ,;\"'-", min_size=1, max_size=12).filter(lambda t: t.strip())
    steps = draw(st.sampled_from(["", "power full; gear up", "flaps 20; flaps up at 75 kt; gear up when climbing"]))
    return entry(
        model=draw(words),
        document=draw(words),
        serials=draw(st.sampled_from(["all", "1-9", "QB-3 and on, except QB-7"])),
        revision=draw(st.sampled_from(["", "A", "B"])),
        date=draw(st.dates(date(1940, 1, 1), date(2030, 1, 1))).isoformat(),
        steps=steps,
        prints="steps" if steps else "none",
        paraphrase=draw(st.text('xyz, \n"', max_size=20)),
        attachments=draw(st.sampled_from([[], ["0" * 64, "f" * 64]])),
    )


@given(st.lists(_entries(), max_size=6, unique_by=key_of))
def test_a_register_survives_both_kinds_of_table(entries: list[Entry]) -> None:
    assert read_csv(csv_text(entries), "r.csv").entries == tuple(entries)
    assert read_json(json_text(entries), "r.json").entries == tuple(entries)
    assert read_csv(csv_text(entries), "r.csv").errors == ()


def test_every_bad_row_is_named_with_its_row_and_field() -> None:
    text = csv_text([entry(), entry(revision="B"), entry(revision="C"), entry(revision="D")])
    lines = text.splitlines()
    lines[2] = lines[2].replace("1970-01-01", "yesterday")
    lines[3] = lines[3].replace("1-100", "100-1")
    lines[4] = lines[4] + ",one too many"
    found = read_csv("\n".join(lines), "r.csv")
    assert len(found.entries) == 1
    assert [str(e).split(":")[0] for e in found.errors] == [
        "r.csv, row 3, date",
        "r.csv, row 4, serials",
        "r.csv, row 5",
    ]


def test_rows_that_contradict_each_other_are_said_and_equal_ones_are_one() -> None:
    twice = read_csv(csv_text([entry(), entry(), entry(section="other")]), "r.csv")
    assert len(twice.entries) == 1
    assert len(twice.errors) == 1
    assert "differ" in str(twice.errors[0])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no first row"),
        ("family,model,colour\n", "'colour' is not known"),
        ("model,model\n", "stands twice"),
    ],
)
def test_a_table_without_a_head_is_refused(text: str, said: str) -> None:
    with pytest.raises(BadInputError, match=said):
        read_csv(text, "r.csv")


@pytest.mark.parametrize(
    "text", ["{", "3", '{"format": "other", "entries": []}', '{"format": "wringout register, version 1"}']
)
def test_json_that_is_no_register_is_refused(text: str) -> None:
    with pytest.raises(BadInputError):
        read_json(text, "r.json")
    assert read_json("[3]", "r.json").errors[0].where == "r.json, entry 1"
    assert set(table_of(entry())) == set(FIELDS)


def test_no_cell_of_the_table_is_a_formula() -> None:
    one = entry(note='=HYPERLINK("x")', section="@SUM(1)")
    text = csv_text([one])
    assert '"\'=HYPERLINK(""x"")"' in text
    assert "'@SUM(1)" in text
    assert read_csv(text, "r.csv").entries == (one,)
