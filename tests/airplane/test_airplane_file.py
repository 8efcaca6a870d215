"""The airplane file: what it becomes, and one sentence for everything that cannot be right."""

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.airplane.own_words import DEG, FT2, KT, LB
from tests.airplane.quillback import QUILLBACK, quillback
from wringout.airplane import vector as v
from wringout.airplane.document import parse_airplane
from wringout.airplane.textbook import FLAT_RATED, lift_coefficient_at
from wringout.errors import BadInputError

MINIMAL = """\
format = "wringout airplane, version 1"
name = "Smallest file (invented)"
[geometry]
wing_area = "150 ft2"
span = "32 ft"
[propulsion]
propeller = "fixed pitch"
diameter = "1.8 m"
rated_power = "120 kW"
[drag]
clean_area = "5 ft2"
[[flaps]]
name = "full"
angle = "30 deg"
[limits]
max_weight = "1000 kg"
"""


def test_units_become_si() -> None:
    beliefs = quillback()
    row = beliefs.prior_row()
    assert row[v.WING_AREA] == pytest.approx(174 * FT2)
    assert row[v.SPAN] == pytest.approx(33.5 * 0.3048)
    assert row[v.DISK_AREA] == pytest.approx(math.pi * (76 * 0.0254) ** 2 / 4)
    assert row[v.F_CLEAN] == pytest.approx(3.9 * FT2)
    assert row[v.F_GEAR] == pytest.approx(4.2 * FT2)
    assert row[v.RATED_POWER] == pytest.approx(230 * 745.69987158227022)
    assert row[v.GEAR_DOWN_TIME] == 7.0
    assert row[v.MASS_FACTOR] == 1.0
    assert [s.name for s in beliefs.settings] == ["up", "half", "full"]
    assert row[v.F_FLAPS : v.F_FLAPS + 3] == pytest.approx([0.0, 2.4 * FT2, 6.2 * FT2])
    assert beliefs.limits.max_mass_kg == pytest.approx(3200 * LB)
    assert beliefs.retractable
    assert beliefs.setting("FULL").angle_rad == pytest.approx(40 * DEG)
    assert beliefs.parameters[beliefs.index("clean_area")].prior.sd == pytest.approx(0.6 * FT2)


def test_stall_speeds_become_lift_coefficients_at_maximum_weight() -> None:
    row = quillback().prior_row()
    lifts = row[v.CL_MAXES : v.CL_MAXES + 3]
    assert lifts[1] == pytest.approx(lift_coefficient_at(3200 * LB, 53 * KT, 174 * FT2))
    assert lifts[2] == pytest.approx(lift_coefficient_at(3200 * LB, 50 * KT, 174 * FT2))


def test_a_small_flap_may_move_the_polar_by_its_lift_at_equal_angle() -> None:
    """Textbook flap effectiveness of a hinge at 20 % of the chord: 0.55; Helmbold's lift slope; k = S / (pi e b2).

    At 15 degrees half of the wing then gains 0.33 in CL, where these stall speeds say 0.1; at 40 degrees, with stalls
    that say more, the gain in CLmax counts.
    """
    text = QUILLBACK.replace('"20 deg"', '"15 deg"').replace(
        'area_slope = "0 ± 2 ft2"\nstall_speed = "53', 'stall_speed = "60'
    )
    text = text.replace('area_slope = "0 ± 3 ft2"\n', "").replace('"2.4 ± 1.2 ft2"', '"1 ± 0.5 ft2"')
    aspect, wing = 33.5**2 / 174, 174 * FT2
    lift_slope = 2 * math.pi * aspect / (2 + math.sqrt(4 + aspect**2))
    per_cl = 2 * wing / (math.pi * 0.75 * aspect)
    beliefs = quillback(text)
    half, full = (beliefs.parameters[beliefs.index(f"flap_lift_slope.{i}")].prior for i in (1, 2))
    assert half.sd == pytest.approx(per_cl * lift_slope * 0.55 * 0.5 * 15 * DEG, rel=0.005)
    gain = beliefs.parameters[beliefs.index("cl_gain")].prior.value
    assert full.sd == pytest.approx(max(per_cl * gain, 2 * 6.2 * FT2))


def test_the_smallest_file_has_a_belief_for_everything() -> None:
    beliefs = quillback(MINIMAL)
    assert not beliefs.retractable
    assert beliefs.prior_row()[v.F_GEAR] == 0.0
    assert all(math.isfinite(x) for x in beliefs.prior_row())
    assert all(p.prior.sd > 0.0 and p.prior.source for p in beliefs.parameters)
    assert beliefs.loading is None
    assert beliefs.prior_row()[v.PROPELLER_LAW] == 1.0


def test_a_best_glide_in_place_of_the_polar() -> None:
    glide = 'best_glide = { ratio = "13.00889 ± 0.1", speed = "109.4921 ± 1 kt", weight = "3300 lb" }'
    row = quillback(MINIMAL.replace('clean_area = "5 ft2"', glide).replace('"32 ft"', '"33.5 ft"')).prior_row()
    # Synthetic, exact: f 3.125 ft2 and e 0.6 at sea level, 3,300 lb.
    assert row[v.F_CLEAN] / FT2 == pytest.approx(3.125, abs=0.0005)
    assert row[v.OSWALD] == pytest.approx(0.6, abs=1e-4)


def test_a_fixed_gear_may_be_written_as_down() -> None:
    table = POSITION_ERROR.replace('gear = "up"', 'gear = "down"')
    rows = quillback(MINIMAL + table).instrument.position_error.rows
    assert [row.gear for row in rows] == [0.0]


def test_thousands_are_read() -> None:
    assert quillback(change('"3200 lb"', '"3,200 lb"')).limits.max_mass_kg == pytest.approx(3200 * LB)


def test_flat_rated_engine() -> None:
    text = MINIMAL.replace('rated_power = "120 kW"', 'rated_power = "120 kW"\naspiration = "flat rated"')
    assert quillback(text).prior_row()[v.ALTITUDE_LAW] == FLAT_RATED


@given(seed=st.integers(0, 10_000))
def test_any_draw_is_an_airplane(seed: int) -> None:
    beliefs = quillback()
    row = beliefs.row_from_latent(np.random.default_rng(seed).uniform(-3.0, 3.0, len(beliefs.parameters)))
    assert row.shape == (v.SIZE,)
    assert np.isfinite(row).all()
    areas, lifts = (row[start : start + 3] for start in (v.F_FLAPS, v.CL_MAXES))
    assert (np.diff(areas) > 0.0).all()  # drag and lift grow with flap travel in every draw
    assert (np.diff(lifts) > 0.0).all()


POSITION_ERROR = """
[[instrument.position_error]]
flaps = "up"
gear = "up"
indicated = ["60 kt", "120 kt"]
calibrated = ["63 kt", "121 kt"]
"""

NO_FLAPS = re.sub(r"\[\[flaps\]\].*(?=\[gear\])", "", QUILLBACK, flags=re.DOTALL)
EMPTY_LISTS = re.sub(r'\["6\d kt", "12\d kt"\]', "[]", POSITION_ERROR)
FIRST_FLAP = '[[flaps]]\nname = "half"\nangle = "20 deg"'
LOADED = """
[loading]
empty_weight = "2000 lb"
empty_arm = "86 in"
fuel_arm = "95 in"
stations = [{ name = "front", arm = "85 in", weight = "340 lb" }]
envelope = [["84 in", "1800 lb"], ["84 in", "3200 lb"], ["95 in", "3200 lb"]]
"""


def change(old: str, new: str, text: str = QUILLBACK) -> str:
    assert text.count(old) >= 1, old
    return text.replace(old, new, 1)


SMALLEST = """
format = "wringout airplane, version 1"
name = "Smallest (invented)"
geometry = { wing_area = "150 ft2", span = "32 ft" }
propulsion = { propeller = "fixed pitch", diameter = "72 in", rated_power = "160 hp" }
drag = { clean_area = "5 ± 1 ft2" }
flaps = [{ name = "full", angle = "30 deg" }]
limits = { max_weight = "2300 lb" }
gear = { down_time = "7 ± 2 s" }
"""


def test_only_what_the_file_states_is_said_to_come_from_it() -> None:
    sources = {p.key: p.prior.source for p in quillback(SMALLEST).parameters}
    stated = {key for key, source in sources.items() if source == "airplane file"}
    assert stated == {"clean_area", "rated_power", "gear_down_time"}
    assert sources["gear_area"] == sources["gear_up_time"] == "not in the file; judged, wide, no source"
    with_bias = quillback(SMALLEST + 'instrument = { bias = "0 ± 1.5 kt" }\n')
    assert {p.key for p in with_bias.parameters if p.prior.source == "airplane file"} == stated | {"ias_bias"}


BAD: dict[str, tuple[str, str, str]] = {
    # what is wrong: (file, the field named, a word of the complaint)
    "not TOML": ("wing area = 174 square feet", "airplane.toml", "not TOML"),
    "empty": ("", "airplane.toml, format", "None"),
    "another format": (change("version 1", "version 2"), "airplane.toml, format", "version 2"),
    "no format": (change('format = "wringout airplane, version 1"\n', ""), "airplane.toml, format", "None"),
    "missing section": (change("[geometry]", "[geomtry]"), "airplane.toml, geometry", "a line [geometry];"),
    "missing flaps": (QUILLBACK.replace("[[flaps]]", "[[flap]]"), "airplane.toml, flaps", "a line [[flaps]];"),
    "missing field": (change('span = "33.5 ft"\n', ""), "geometry / span", "missing"),
    "missing name": (change('name = "Quillback 230 (invented)"\n', ""), "airplane.toml, name", "missing"),
    "empty name": (change('name = "Quillback 230 (invented)"', 'name = ""'), "airplane.toml, name", "''"),
    "unknown field": (change("[geometry]\n", '[geometry]\nchord = "5 ft"\n'), "geometry / chord", "not known"),
    "misspelt field": (change("wing_area", "wing_aera"), "geometry / wing_a", ""),
    "a list for a number": (change('"33.5 ft"', '["33.5 ft"]'), "geometry / span", "33.5 ft"),
    "a table for a number": (change('"33.5 ft"', "{ ft = 33.5 }"), "geometry / span", "ft"),
    "a word for a number": (change('"33.5 ft"', '"wide"'), "geometry.span", "'wide' is not a quantity"),
    "no unit": (change('"33.5 ft"', "33.5"), "geometry.span", "has no unit"),
    "true for a number": (change('"33.5 ft"', "true"), "geometry", ""),
    "wrong unit": (change('"33.5 ft"', '"33.5 kt"'), "geometry.span", "'kt' is not a unit of length"),
    "unknown unit": (change('"33.5 ft"', '"33.5 cubits"'), "geometry.span", "'cubits' is not a unit of length"),
    "two units": (change('"174 ft2"', '"174 ft2 m2"'), "geometry.wing_area", "not a unit of area"),
    "a unit on a ratio": (change('"0.75 ± 0.08"', '"0.75 ft"'), "drag.span_efficiency", "has a unit"),
    "negative": (change('"174 ft2"', '"-174 ft2"'), "geometry.wing_area", "not above zero"),
    "zero": (change('"76 in"', '"0 in"'), "propulsion.diameter", "not above zero"),
    "negative area": (change('"4.2 ± 2 ft2"', '"-4.2 ± 2 ft2"'), "drag.gear_area", "not above zero"),
    "negative spread": (change('"4.2 ± 2 ft2"', '"4.2 ± -2 ft2"'), "drag.gear_area", "negative"),
    "negative time": (change('"7 ± 2 s"', '"-7 ± 2 s"'), "gear down time", "not above zero"),
    "not a number": (change('"174 ft2"', "nan"), "geometry.wing_area", "not a quantity"),
    "not a number in words": (change('"174 ft2"', '"nan ft2"'), "geometry.wing_area", "not a quantity"),
    "infinite": (change('"174 ft2"', "inf"), "geometry.wing_area", "not a quantity"),
    "too large for a number": (change('"174 ft2"', '"1e999 ft2"'), "geometry.wing_area", "not finite"),
    "a decimal comma": (change('"33.5 ft"', '"33,5 ft"'), "geometry.span", 'write a point for the decimals, "33.5 ft"'),
    "nothing": (change('"33.5 ft"', '""'), "geometry.span", 'nothing is stated; write "33.5 ft"'),
    "a comma out of place": (change('"3200 lb"', '"32,00 lb"'), "limits.max_weight", "not a quantity"),
    "a comma in a spread": (change('"4.2 ± 2 ft2"', '"4.2 ± 0,5 ft2"'), "drag.gear_area", "not a quantity"),
    "an endless spread": (change('"4.2 ± 2 ft2"', '"4.2 ± 1e999 ft2"'), "drag.gear_area", "not finite"),
    "true for a ratio": (change('"0.75 ± 0.08"', "true"), "drag / span_efficiency", "True"),
    "brackets without end": (change('"33.5 ft"', "[" * 4000 + "]" * 4000), "airplane.toml", "nested too deeply"),
    "an efficiency above 1": (change('"0.75 ± 0.08"', '"7.5"'), "drag.span_efficiency", "more than 1"),
    "radians for degrees": (change('"40 deg"', '"40 rad"'), "flaps / number 2 / angle", "more than a flap travels"),
    "a negative weight error": (
        QUILLBACK + '[instrument]\nweight_error = "-0.01"\n', "instrument.weight_error", "negative"
    ),
    "nothing for the clean airplane": (
        QUILLBACK + POSITION_ERROR.replace('"up"', '"full"', 1), "instrument / position_error", "clean airplane"
    ),
    "a negative load": (QUILLBACK + LOADED.replace('"340 lb"', '"-340 lb"'), "loading / stations / front", "negative"),
    "a station twice": (
        QUILLBACK + LOADED.replace("stations = [", 'stations = [{ name = "front", arm = "85 in" }, '),
        "loading / stations",
        "stands twice",
    ),
    "an envelope of two corners": (
        QUILLBACK + LOADED.replace(', ["95 in", "3200 lb"]', ""), "loading / envelope", "2 corners"
    ),
    "wrong choice": (change('"constant speed"', '"cruise"'), "propulsion / propeller", "not one of the choices"),
    "no flaps": (NO_FLAPS, "airplane.toml, flaps", "missing"),
    "flaps out of order": (change('angle = "20 deg"', 'angle = "50 deg"'), "flaps / number 2 / angle", "not more than"),
    "the same angle twice": (change('angle = "40 deg"', 'angle = "20 deg"'), "flaps / number 2 / angle", "not more"),
    "a flap at zero": (change('angle = "20 deg"', 'angle = "0 deg"'), "flaps / number 1 / angle", "not above zero"),
    "the same name twice": (change('name = "full"', 'name = "Half"'), "flaps / number 2 / name", "stands twice"),
    "a setting called up": (change('name = "half"', 'name = "up"'), "flaps / number 1 / name", "stands twice"),
    "areas that do not grow": (change('"6.2 ± 2.5 ft2"', '"2.0 ± 1 ft2"'), "flaps / number 2 / area", "not more than"),
    "a flap limit that is no speed": (change('"115 kt"', '"115 lb"'), "flaps / number 1 / limit_speed", "of speed"),
    "a stall speed of zero": (change('"53 ± 2 kt"', '"0 kt"'), "flaps / number 1 / stall_speed", "not above zero"),
    "a fixed flap field": (change(FIRST_FLAP, FIRST_FLAP + "\ndrag = 3"), "flaps / number 1 / drag", "not known"),
    "flap limit above VNE": (change('"190 kt"', '"100 kt"'), "limits.never_exceed", "above the never-exceed speed"),
    "no weight limit": (change('max_weight = "3200 lb"\n', ""), "limits / max_weight", "missing"),
    "weight as a force": (change('"3200 lb"', '"3200 lbf"'), "limits.max_weight", "not a unit of mass"),
    "clean drag twice": (
        change(
            'gear_area = "4.2', 'best_glide = { ratio = "10", speed = "90 kt", weight = "3000 lb" }\ngear_area = "4.2'
        ),
        "airplane.toml, drag",
        "given twice",
    ),
    "no clean drag": (
        change('clean_area = "3.9 ± 0.6 ft2"\nspan_efficiency = "0.75 ± 0.08"\n', ""),
        "airplane.toml, drag",
        "missing",
    ),
    "half a best glide": (
        change('clean_area = "5 ft2"', 'best_glide = { ratio = "10" }', MINIMAL), "drag / best_glide / speed", "missing"
    ),
    "all of the flaps' drag left at high lift": (
        change("[[flaps]]", '[[flaps]]\nleast_share = "1"'), "flaps / number 1 / least_share", "not below 1"
    ),
    "lists of unequal length": (
        QUILLBACK + POSITION_ERROR.replace(', "121 kt"', ""), "position_error / number 1", "not equally long"
    ),
    "empty lists": (
        QUILLBACK + EMPTY_LISTS, "position_error / number 1", "equally long"
    ),
    "a flap setting nobody has": (
        QUILLBACK + POSITION_ERROR.replace('"up"', '"third"', 1), "position_error / number 1 / flaps", "'third'"
    ),
    "indicated speeds that fall": (
        QUILLBACK + POSITION_ERROR.replace('"60 kt"', '"130 kt"'), "position_error / number 1", ""
    ),
    "a speed without a unit": (
        QUILLBACK + POSITION_ERROR.replace('"60 kt"', "60"), "position_error / number 1 / indicated", "has no unit"
    ),
    "an arm in pounds": (QUILLBACK + LOADED.replace('"86 in"', '"86 lb"'), "loading.empty_arm", "not a unit of length"),
    "an envelope corner of three": (
        QUILLBACK + LOADED.replace('["84 in", "1800 lb"]', '["84 in", "1800 lb", "x"]'), "envelope / number 1", ""
    ),
    "an envelope corner without a unit": (
        QUILLBACK + LOADED.replace('"1800 lb"', "1800"), "loading / envelope / number 1", "has no unit"
    ),
    "a station without an arm": (
        QUILLBACK + LOADED.replace('arm = "85 in", ', ""), "loading / stations / number 1 / arm", "missing"
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_one_sentence_names_file_and_field(case: str) -> None:
    text, field, word = BAD[case]
    with pytest.raises(BadInputError) as caught:
        quillback(text)
    sentence = str(caught.value)
    assert sentence.startswith("airplane.toml")
    assert field in sentence
    assert word in sentence
    assert caught.value.expected  # says what would be right
    assert "\n" not in sentence
    assert sentence.endswith(".")
    assert ";" in sentence
    assert not re.search(r"[.!?] [A-Z]", sentence)  # one sentence


def test_the_name_of_the_file_is_named() -> None:
    with pytest.raises(BadInputError, match=r"^mine\.toml, geometry / span"):
        parse_airplane(change('span = "33.5 ft"\n', ""), "mine.toml")


@given(text=st.text(max_size=300))
def test_any_text_is_read_or_refused(text: str) -> None:
    with pytest.raises(BadInputError):
        quillback(text)


@given(line=st.integers(0, QUILLBACK.count("\n") - 1), junk=st.text("0123456789±-+.,eE\"' ftkms[]{}=", max_size=12))
def test_a_damaged_line_is_read_or_refused(line: int, junk: str) -> None:
    lines = QUILLBACK.splitlines()
    lines[line] = lines[line].split("=")[0] + "=" + junk
    refused = ""
    row = np.zeros(1)
    try:
        row = quillback("\n".join(lines)).prior_row()
    except BadInputError as error:
        refused = str(error)
    assert np.isfinite(row).all()
    assert not refused or refused.startswith("airplane.toml")
