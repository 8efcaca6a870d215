"""The page on the airplane file: its examples are read, and its tables are held against the program."""

import re
from pathlib import Path

import numpy as np
import pytest
from pydantic import BaseModel

from tests.airplane.own_words import FT2, KT
from tests.airplane.quillback import QUILLBACK, quillback
from wringout.airplane import document as d
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.distribution import Prior
from wringout.errors import BadInputError

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "airplane.md").read_text(encoding="utf-8")
BLOCKS = {
    name: text for _, name, text in re.findall(r"^```(toml|text) (\S+)\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)
}
MODELS: dict[str, type[BaseModel]] = {
    "Top": d.AirplaneDocument,
    "`[geometry]`": d.GeometrySection,
    "`[propulsion]`": d.PropulsionSection,
    "`[drag]`": d.DragSection,
    "`[[flaps]]`": d.FlapSection,
    "`[gear]`": d.GearSection,
    "`[flap_travel]`": d.FlapTravelSection,
    "`[limits]`": d.LimitsSection,
    "`[instrument]`": d.InstrumentSection,
    "`[[instrument.position_error]]`": d.PositionErrorSection,
    "`[loading]`": d.LoadingSection,
}
SECTIONS = set(MODELS) - {"Top"}


def tables() -> dict[str, dict[str, list[str]]]:
    """Cells of each table of the page by heading and field."""
    found = {}
    for heading, body in re.findall(r"^### (.*?)\n(.*?)(?=^##|\Z)", PAGE, re.DOTALL | re.MULTILINE):
        rows = [line.strip("| ").split("|") for line in body.splitlines() if line.startswith("| `")]
        found[heading] = {row[0].strip().strip("`"): [cell.strip() for cell in row[1:]] for row in rows}
    return found


TABLES = tables()


def prior(beliefs: Beliefs, key: str) -> Prior:
    return beliefs.parameters[beliefs.index(key)].prior


def test_the_examples_are_airplanes() -> None:
    whole, smallest = quillback(BLOCKS["quillback.toml"]), quillback(BLOCKS["smallest.toml"])
    assert [setting.name for setting in whole.settings] == ["up", "half", "full"]
    assert whole.loading is not None
    assert len(whole.instrument.position_error.rows) == 1
    assert whole.retractable
    assert not smallest.retractable
    assert whole.invented  # only invented airplanes on a public page


def test_the_refusal_is_as_shown() -> None:
    with pytest.raises(BadInputError) as caught:
        quillback(BLOCKS["quillback.toml"].replace('span = "33.5 ft"', 'span = "33.5"'))
    assert str(caught.value) == BLOCKS["refused"].strip()


@pytest.mark.parametrize("heading", MODELS)
def test_every_field_is_on_the_page_and_no_other(heading: str) -> None:
    fields = set(MODELS[heading].model_fields)
    if heading == "Top":
        fields -= {"geometry", "propulsion", "drag", "flaps", "flap_travel", "gear", "limits", "instrument", "loading"}
    assert set(TABLES[heading]) == fields


def test_the_fields_inside_a_field_are_on_the_page() -> None:
    for heading, field, model in (
        ("`[drag]`", "best_glide", d.BestGlideSection),
        ("`[loading]`", "stations", d.StationSection),
    ):
        assert all(f"`{name}`" in TABLES[heading][field][0] for name in model.model_fields)


@pytest.mark.parametrize("heading", MODELS)
def test_what_is_needed_and_what_is_taken_instead(heading: str) -> None:
    for name, (_, _, left_out, *_) in TABLES[heading].items():
        field = MODELS[heading].model_fields[name]
        needed = field.is_required() or name == "clean_area"
        assert left_out.startswith("**needed**") == needed, name
        if isinstance(field.default, str) and field.default:
            assert left_out == f"`{field.default}`", name
        elif not needed and left_out.startswith("`"):
            assert left_out.strip("`") == str(field.default).lower(), name


SPREADS = [
    # heading, field, a value without a spread, key of its belief, where it stands in the file
    ("`[propulsion]`", "rated_power", "200 hp", "rated_power", '"230 hp"'),
    ("`[drag]`", "clean_area", "4 ft2", "clean_area", '"3.9 ± 0.6 ft2"'),
    ("`[drag]`", "span_efficiency", "0.7", "span_efficiency", '"0.75 ± 0.08"'),
    ("`[drag]`", "gear_area", "4 ft2", "gear_area", '"4.2 ± 2 ft2"'),
    ("`[gear]`", "down_time", "7 s", "gear_down_time", '"7 ± 2 s"'),
    ("`[gear]`", "up_time", "6 s", "gear_up_time", '"6 ± 2 s"'),
    ("`[[flaps]]`", "area", "6.2 ft2", "flap_area", '"6.2 ± 2.5 ft2"'),
    ("`[[flaps]]`", "area_slope", "-2 ft2", "flap_lift_slope.1", '"0 ± 2 ft2"'),
]
ADDED = [
    ("`[propulsion]`", "disk_efficiency", "0.8", "disk_efficiency", "[propulsion]"),
    ("`[propulsion]`", "efficiency_slope", "0.1", "efficiency_slope", "[propulsion]"),
    ("`[propulsion]`", "thrust_bend", "0.2", "thrust_bend", "[propulsion]"),
    ("`[drag]`", "clean_slope", "2 ft2", "clean_slope", "[drag]"),
    ("`[drag]`", "interaction", "0.4", "interaction", "[drag]"),
    ("`[drag]`", "door_bump", "0.2", "door_bump", "[drag]"),
    ("`[instrument]`", "bias", "2 kt", "ias_bias", "[instrument]"),
    ("`[[flaps]]`", "least_share", "0.3", "flap_floor.1", "[[flaps]]"),
    ("`[flap_travel]`", "down_time", "6 s", "flap_down_time", "[flap_travel]"),
    ("`[flap_travel]`", "up_time", "6 s", "flap_up_time", "[flap_travel]"),
]


def share(cell: str) -> float:
    return float(cell.removesuffix(" %")) / 100.0


@pytest.mark.parametrize(("heading", "field", "value", "key", "old"), SPREADS)
def test_the_spread_of_a_value_without_one(heading: str, field: str, value: str, key: str, old: str) -> None:
    belief = prior(quillback(QUILLBACK.replace(old, f'"{value}"', 1)), key)
    assert belief.sd / abs(belief.value) == pytest.approx(share(TABLES[heading][field][3]))


@pytest.mark.parametrize(("heading", "field", "value", "key", "section"), ADDED)
def test_the_spread_of_an_added_value_without_one(heading: str, field: str, value: str, key: str, section: str) -> None:
    text = QUILLBACK if section in QUILLBACK else f"{QUILLBACK}\n{section}\n"
    belief = prior(quillback(text.replace(section, f'{section}\n{field} = "{value}"', 1)), key)
    assert belief.sd / abs(belief.value) == pytest.approx(share(TABLES[heading][field][3]))


def test_the_spread_of_a_stall_speed_and_a_best_glide() -> None:
    stall = prior(quillback(QUILLBACK.replace("[geometry]", 'stall_speed_clean = "60 kt"\n[geometry]')), "cl_max")
    assert stall.sd / stall.value == pytest.approx(
        2 * share(TABLES["Top"]["stall_speed_clean"][3])
    )  # CL goes with V^-2
    glide = 'best_glide = { ratio = "10", speed = "90 kt", weight = "3000 lb" }'
    text = QUILLBACK.replace('clean_area = "3.9 ± 0.6 ft2"\nspan_efficiency = "0.75 ± 0.08"', glide)
    shares = [
        prior(quillback(text), key).sd / prior(quillback(text), key).value for key in ("glide_ratio", "glide_speed")
    ]
    assert TABLES["`[drag]`"]["best_glide"][3] == f"ratio {shares[0]:.0%}, speed {shares[1]:.0%}".replace("%", " %")


def test_beliefs_that_stand_when_nothing_is_written() -> None:
    """The defaults that are not in the document itself, as the page states them."""
    constant = quillback(QUILLBACK)
    smallest = quillback(BLOCKS["smallest.toml"])
    cells = TABLES["`[propulsion]`"]["efficiency_slope"][2]
    for beliefs, said in ((constant, "0.10 ± 0.15"), (smallest, "0.040 ± 0.020")):
        value, sd = (float(part) for part in said.split(" ± "))
        assert said in cells
        assert (prior(beliefs, "efficiency_slope").value, prior(beliefs, "efficiency_slope").sd) == (value, sd)
    bend = prior(smallest, "thrust_bend")
    assert TABLES["`[propulsion]`"]["thrust_bend"][2] == f"{bend.value:g} ± {bend.sd:g}"
    span = prior(smallest, "span_efficiency")
    assert TABLES["`[drag]`"]["span_efficiency"][2] == f"{span.value:g} ± {span.sd:g}"
    lift = prior(smallest, "cl_max")
    assert TABLES["Top"]["stall_speed_clean"][2] == f"CLmax {lift.value:g} ± {lift.sd:g}"
    assert prior(smallest, "cl_gain").value == pytest.approx(0.55)
    lean = prior(smallest, "clean_slope")
    assert (lean.value, lean.sd) == (0.0, pytest.approx(0.6 * 5 * FT2))
    area, slope = prior(smallest, "flap_area"), prior(smallest, "flap_lift_slope.1")
    assert area.value == pytest.approx(1.3 * 0.2**1.38 * 0.5 * 0.25 * 150 * FT2)  # sin^2(30 deg) is 1/4
    assert area.sd == pytest.approx(0.6 * area.value)
    floor = prior(smallest, "flap_floor.1")
    assert TABLES["`[[flaps]]`"]["least_share"][2] == f"{floor.value:g} ± {floor.sd:g}"
    gain, wing, span = prior(smallest, "cl_gain").value, smallest.base[v.WING_AREA], smallest.base[v.SPAN]
    shift = 2.0 * wing**2 / (np.pi * 0.75 * span**2) * gain  # 2 k dCLmax S, k = S / (pi e b2), e 0.75
    assert shift > 2 * area.value
    assert (slope.value, slope.sd) == pytest.approx((-0.5 * area.value, shift))


def test_zero_without_a_spread_is_exact() -> None:
    text = QUILLBACK + '\n[instrument]\nbias = "0 kt"\n'
    assert prior(quillback(text), "ias_bias").sd < 1e-6 * KT


def test_units_named_on_the_page_are_those_the_program_wants() -> None:
    for heading in SECTIONS:
        for field, (_, unit, *_) in TABLES[heading].items():
            if unit not in {"area", "length", "power", "speed", "time", "mass", "angle"}:
                continue
            wrong = '"5 kg"' if unit != "mass" else '"5 s"'
            pattern = rf'^{field} = ".*"$'
            if not re.search(pattern, BLOCKS["quillback.toml"], re.MULTILINE):
                continue
            text = re.sub(pattern, f"{field} = {wrong}", BLOCKS["quillback.toml"], flags=re.MULTILINE)
            with pytest.raises(BadInputError, match=f"is not a unit of {unit}"):
                quillback(text)
