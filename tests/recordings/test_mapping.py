from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wringout.errors import BadInputError
from wringout.recordings.columns.mapping import (
    QUANTITIES,
    MappedColumn,
    Mapping,
    example_unit,
    make_mapping,
    mapping_from_json,
    mapping_to_json,
)
from wringout.recordings.columns.quantities import ROLES, plain_name
from wringout.recordings.reader import propose_mapping, read_recording
from wringout.recordings.types import Recording, Severity
from wringout.units import SI_UNIT, UNITS, find_unit

GOOD = MappedColumn("IAS", "ias", "kt")


def document(**changes: object) -> str:
    base: dict[str, object] = {
        "format": "wringout column mapping",
        "version": 1,
        "name": "Bramble Box (invented)",
        "columns": [{"column": "IAS", "quantity": "ias", "unit": "kt", "confirmed": False}],
    }
    return json.dumps({key: value for key, value in {**base, **changes}.items() if value is not None})


def test_every_quantity_has_a_known_dimension_and_unit() -> None:
    for quantity in QUANTITIES.values():
        assert quantity.dimension in SI_UNIT
        assert quantity.low < quantity.high
        assert find_unit(example_unit(quantity.dimension)) is not None
        if quantity.called_unit:
            unit = find_unit(quantity.called_unit)
            assert unit is not None
            assert unit.dimension == quantity.dimension
        for dimension, kin in quantity.kin.items():
            assert QUANTITIES[kin].dimension == dimension


def test_no_name_stands_for_two_things() -> None:
    names = [name for quantity in QUANTITIES.values() for name in quantity.names]
    names += [name for role in ROLES.values() for name in role]
    assert sorted(names) == sorted(set(names))
    assert names == [plain_name(name) for name in names]


def columns() -> st.SearchStrategy[MappedColumn]:
    name = st.text(min_size=1, max_size=20).filter(lambda text: text.strip())

    def with_unit(quantity: str) -> st.SearchStrategy[MappedColumn]:
        units = [u.symbol for u in UNITS.values() if u.dimension == QUANTITIES[quantity].dimension]
        return st.builds(MappedColumn, name, st.just(quantity), st.sampled_from(units), st.booleans())

    roles = st.builds(MappedColumn, name, st.sampled_from(sorted(set(ROLES) - {"time"})), st.just(""), st.booleans())
    return st.one_of(st.sampled_from(sorted(QUANTITIES)).flatmap(with_unit), roles)


@given(
    st.text(max_size=30),
    st.lists(
        columns(),
        max_size=8,
        unique_by=(
            lambda line: plain_name(line.column) or line.column.strip(),
            lambda line: line.quantity,
        ),
    ),
)
def test_a_mapping_survives_json(name: str, lines: list[MappedColumn]) -> None:
    mapping = make_mapping(name, tuple(lines))
    assert mapping_from_json(mapping_to_json(mapping)) == mapping
    assert mapping_from_json(mapping_to_json(mapping).encode()) == mapping


WRONG = {
    "not json": ("{", "m.json, line 1: the mapping is not JSON"),
    "empty": ("", "m.json, line 1: the mapping is not JSON"),
    "a list": ("[]", "m.json: this is not an object in braces; it needs the fields format, version, name, columns"),
    "a number": ("5", "m.json: this is not an object in braces"),
    "a key twice": ('{"name": "a", "name": "b"}', "m.json: the key 'name' is written twice"),
    "another format": (document(format="x"), "m.json: this is 'x' version 1; a mapping says"),
    "a later version": (document(version=2), "m.json: this is 'wringout column mapping' version 2"),
    "version as text": (document(version="1"), "m.json, version: '1' is not a whole number"),
    "version as truth": (document(version=True), "m.json, version: True is not a whole number"),
    "no name": (document(name=None), "m.json: the field 'name' is missing; write text in quotes"),
    "a field too many": (document(colour="red"), "m.json: the field 'colour' is not known"),
    "columns as text": (document(columns="IAS"), "m.json, columns: 'IAS' is not a list"),
    "a column as text": (document(columns=["IAS"]), "m.json, line 1: this is not an object in braces"),
    "confirmed as text": (
        document(columns=[{"column": "IAS", "quantity": "ias", "unit": "kt", "confirmed": "yes"}]),
        "m.json, line 1, confirmed: 'yes' is not true or false",
    ),
    "no unit field": (
        document(columns=[{"column": "IAS", "quantity": "ias", "confirmed": True}]),
        "m.json, line 1: the field 'unit' is missing",
    ),
    "an unknown quantity": (
        document(columns=[{"column": "IAS", "quantity": "airspeed", "unit": "kt", "confirmed": False}]),
        "m.json, line 1, quantity: 'airspeed' is not a quantity; use one of ias, cas",
    ),
    "an unknown unit": (
        document(columns=[{"column": "IAS", "quantity": "ias", "unit": "furlong", "confirmed": False}]),
        "m.json, line 1, unit: the unit 'furlong' is not known; write for example kt",
    ),
    "a unit of something else": (
        document(columns=[{"column": "IAS", "quantity": "ias", "unit": "ft", "confirmed": True}]),
        "m.json, line 1, unit: 'ft' measures length, but ias is a speed; write for example kt",
    ),
    "no unit": (
        document(columns=[{"column": "IAS", "quantity": "ias", "unit": "", "confirmed": False}]),
        "m.json, line 1, unit: the unit '' is not known",
    ),
    "no column": (
        document(columns=[{"column": " ", "quantity": "ias", "unit": "kt", "confirmed": False}]),
        "m.json, line 1, column: the column has no name",
    ),
}


@pytest.mark.parametrize("case", WRONG)
def test_a_wrong_document_is_refused_in_one_sentence(case: str) -> None:
    text, beginning = WRONG[case]
    with pytest.raises(BadInputError) as refusal:
        mapping_from_json(text, where="m.json")
    assert str(refusal.value).startswith(beginning)
    assert str(refusal.value).endswith(".")
    assert "\n" not in str(refusal.value)


@given(st.one_of(st.text(max_size=80), st.binary(max_size=80)))
def test_any_document_is_a_mapping_or_one_sentence(text: str | bytes) -> None:
    with pytest.raises(BadInputError, match=r"\.$"):
        mapping_from_json(text)


def test_deeply_nested_json_is_refused() -> None:
    with pytest.raises(BadInputError, match="not JSON"):
        mapping_from_json("[" * 100_000)


@pytest.mark.parametrize(
    ("second", "words"),
    [
        (MappedColumn("ias", "tas", "kt"), "the column ias is mapped twice"),
        (MappedColumn("Airspeed", "ias", "kt"), "the quantity ias is mapped twice"),
    ],
)
def test_nothing_is_mapped_twice(second: MappedColumn, words: str) -> None:
    with pytest.raises(BadInputError, match=words):
        make_mapping("m", (GOOD, second))


def test_several_columns_may_be_ignored_or_hold_marks() -> None:
    lines = tuple(MappedColumn(f"#{i}", role) for i, role in enumerate(("ignore", "ignore", "mark", "mark"), start=1))
    assert make_mapping("m", lines).columns == lines


# What a mapping does to a table.

TABLE = "time,V1,V2,Gear\ns,,,\n0,120,240,UP\n1,119,239,UP\n2,118,238,DOWN\n"


def read(text: str, *lines: MappedColumn) -> Recording:
    return read_recording(text.encode(), "log.csv", make_mapping("mine", lines) if lines else None)


def questions(recording: Recording) -> list[str]:
    return [notice.sentence for notice in recording.notices if notice.severity is Severity.QUESTION]


def test_a_mapping_names_what_names_do_not() -> None:
    recording = read(TABLE, MappedColumn("v1", "ias", "kt"), MappedColumn("#3", "tas", "km/h"))
    assert recording.channels["ias"].values[0] == pytest.approx(120 * 1852 / 3600)
    assert recording.channels["tas"].values[0] == pytest.approx(240 / 3.6)
    assert questions(recording) == []


def test_a_unit_that_contradicts_the_values_is_questioned_not_guessed() -> None:
    recording = read(TABLE, MappedColumn("V2", "ias", "m/s"))
    assert "ias" not in recording.channels
    (question,) = questions(recording)
    assert "said to be in m/s, but values from 238 to 240 m/s are not plausible" in question
    assert "kt, mph or km/h would fit" in question


def test_a_confirmed_unit_goes_through() -> None:
    recording = read(TABLE, MappedColumn("V2", "ias", "m/s", confirmed=True))
    assert recording.channels["ias"].values.tolist() == [240.0, 239.0, 238.0]
    assert questions(recording) == []


def test_a_mapping_that_contradicts_the_units_row_is_questioned() -> None:
    text = TABLE.replace("s,,,", "s,kt,kt,")
    recording = read(text, MappedColumn("V1", "ias", "mph"))
    assert "ias" not in recording.channels
    assert "is written in kt but the mapping says mph" in questions(recording)[0]
    confirmed = read(text, MappedColumn("V1", "ias", "mph", confirmed=True))
    assert confirmed.channels["ias"].unit == "mph"


def test_an_ignored_column_is_not_read_and_not_counted_as_unknown() -> None:
    recording = read("time,IAS,Box\ns,kt,\n0,120,1\n1,120,1\n", MappedColumn("Box", "ignore"))
    assert recording.notices == ()
    assert list(recording.channels) == ["ias"]


def test_a_mapped_column_the_file_lacks_is_named() -> None:
    recording = read(TABLE, MappedColumn("V1", "ias", "kt"), MappedColumn("V9", "tas", "kt"))
    assert any(
        notice.sentence == "the mapping 'mine' names columns this file does not have: 'V9'"
        for notice in recording.notices
    )


@pytest.mark.parametrize(
    ("name", "unit", "values", "fits"),
    [
        ("IAS", "m/s", (200, 240), "kt"),
        ("IAS", "km/h", (40, 54), "kt"),
        ("IAS", "", (100, 120), "kt"),
        ("Altitude", "m", (9000, 9500), "ft"),
        ("OAT", "degC", (281, 282), "K"),
        ("OAT", "degC", (70, 75), "°F"),
        ("OAT", "K", (8, 9), "°C"),
        ("MAP", "hPa", (22, 23), "inHg"),
        ("RPM", "rps", (2400, 2500), "rpm"),
        ("Heading", "rad", (90, 350), "deg"),
        ("Flaps", "rad", (10, 30), "deg"),
        ("Vertical Speed", "m/s", (-700, 600), "ft/min"),
        ("Gear", "", (0, 55, 100), "%"),
    ],
)
def test_odd_units_are_questioned_with_one_that_would_fit(
    name: str, unit: str, values: tuple[int, ...], fits: str
) -> None:
    rows = "".join(f"{i},{value},2400\n" for i, value in enumerate(values))
    other = "Gear Box" if name == "RPM" else "RPM"
    recording = read(f"Time,{name},{other}\ns,{unit},rpm\n{rows}")
    (question,) = questions(recording)
    offered = question.split("would fit")[0].rpartition("; ")[2]
    assert fits in offered.replace(",", "").split()
    assert all(channel.column != name for channel in recording.channels.values())


@pytest.mark.parametrize(
    ("name", "unit", "values", "words"),
    [
        ("IAS", "m/s", (110, 120), "reaches 119.5 m/s (232 kt)"),
        ("Altitude", "m", (7000, 7000), "reaches 7000 m (22,966 ft)"),
    ],
)
def test_an_unusual_value_casts_doubt_on_its_unit(name: str, unit: str, values: tuple[int, int], words: str) -> None:
    rows = "".join(f"{i},{value},2400\n" for i, value in enumerate(values))
    recording = read(f"Time,{name},RPM\ns,{unit},rpm\n{rows}")
    (notice,) = recording.notices
    assert notice.severity is Severity.CAUTION
    assert words in notice.sentence
    assert len(recording.channels) == 2


def test_a_fast_or_high_flight_in_the_usual_unit_is_not_doubted() -> None:
    recording = read("Time,IAS,Altitude\ns,kt,ft\n0,190,17500\n1,195,17500\n")
    assert recording.notices == ()


def test_a_spike_is_named_and_kept_but_does_not_condemn_the_column() -> None:
    rows = "".join(f"{i},{999 if i == 7 else 120},2400\n" for i in range(30))
    recording = read("Time,IAS,RPM\ns,kt,rpm\n" + rows)
    assert recording.channels["ias"].values[7] == pytest.approx(999 * 1852 / 3600)
    assert [notice.sentence for notice in recording.notices] == [
        "row 10, IAS: '999' is not plausible as ias; it is kept"
    ]


def test_the_proposed_mapping_reads_the_file_as_it_is_read_without_one() -> None:
    text = "Date,Time,IAS,OAT,Speed,Gear,EGT,EGT,Marker\n,,kt,degC,kt,,,,\n" + "".join(
        f"2026-05-04,10:00:0{i},120,8,130,UP,1,2,\n" for i in range(5)
    )
    mapping = propose_mapping(text.encode(), "log.csv")
    assert mapping_from_json(mapping_to_json(mapping)) == mapping
    assert [line.quantity for line in mapping.columns] == [
        "date",
        "time",
        "ias",
        "oat",
        "ignore",
        "gear",
        "ignore",
        "ignore",
        "mark",
    ]
    plain, mapped = read_recording(text.encode(), "log.csv"), read_recording(text.encode(), "log.csv", mapping)
    assert list(mapped.channels) == list(plain.channels)
    assert mapped.texts == plain.texts
    assert mapped.time_s is not None
    assert mapped.time_s.tolist() == [0.0, 1.0, 2.0, 3.0, 4.0]
    assert questions(mapped) == []


def test_a_mapping_is_found_by_name_before_position() -> None:
    mapping = Mapping("m", (MappedColumn("#1", "ias", "kt"), MappedColumn("V1", "tas", "kt")))
    assert mapping.find("V1", 0) is not None
    assert mapping.find("", 7) is None
