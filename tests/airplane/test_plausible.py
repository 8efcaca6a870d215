"""Numbers that cannot be right together are refused in one sentence; real light airplanes are not."""

import pytest

from tests.airplane.quillback import QUILLBACK
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.airplane.plausible import refuse_impossible
from wringout.errors import BadInputError


def check(text: str) -> None:
    document = parse_airplane(text, "airplane.toml")
    refuse_impossible(document, airplane_from_document(document, "airplane.toml"), "airplane.toml")


def changed(old: str, new: str) -> str:
    assert QUILLBACK.count(old) == 1, old
    return QUILLBACK.replace(old, new)


def test_the_invented_single_passes() -> None:
    check(QUILLBACK)


@pytest.mark.parametrize(
    ("wing", "span", "weight", "power", "diameter"),
    [
        # Sizes as they occur, none of one type: motor glider, two-seat trainer, large six-seat single.
        ("17 m2", "17 m", "850 kg", "80 hp", "1.6 m"),
        ("120 ft2", "30 ft", "1320 lb", "100 hp", "68 in"),
        ("181 ft2", "33.5 ft", "3650 lb", "300 hp", "82 in"),
    ],
)
def test_sizes_of_other_light_airplanes_pass(wing: str, span: str, weight: str, power: str, diameter: str) -> None:
    text = (
        f'format = "wringout airplane, version 1"\nname = "sizes (invented)"\n[geometry]\nwing_area = "{wing}"\n'
        f'span = "{span}"\n[propulsion]\npropeller = "fixed pitch"\ndiameter = "{diameter}"\nrated_power = "{power}"\n'
        f'[drag]\nclean_area = "5 ft2"\n[[flaps]]\nname = "full"\nangle = "30 deg"\n[limits]\nmax_weight = "{weight}"\n'
    )
    check(text)


WRONG = {
    "span in metres": ("33.5 ft", "33.5 m", "geometry.span: with the wing area it makes an aspect ratio of 69"),
    "wing in square metres": (
        "174 ft2",
        "174 m2",
        "geometry.span: with the wing area it makes an aspect ratio",
    ),
    "weight of a person": ('max_weight = "3200 lb"', 'max_weight = "90 kg"', "limits.max_weight"),
    "weight in kilograms": (
        'max_weight = "3200 lb"',
        'max_weight = "3200 kg"',
        "flaps / number 2 / stall_speed: it makes a CLmax of",
    ),
    "diameter in feet": ("76 in", "76 ft", "propulsion.diameter: the propeller's diameter"),
    "power in watts": ('rated_power = "230', 'rated_power = "0.230', "propulsion.rated_power"),
}


@pytest.mark.parametrize("case", WRONG)
def test_a_unit_that_cannot_be_meant_is_named_with_its_field(case: str) -> None:
    old, new, said = WRONG[case]
    with pytest.raises(BadInputError) as caught:
        check(changed(old, new))
    assert str(caught.value).startswith(f"airplane.toml, {said}")
    assert caught.value.expected


ADDED = {
    "travel in minutes": ('[flap_travel]\ndown_time = "6 min"\n', "flap_travel.down_time: the travel time"),
    "weight error in per cent": ('[instrument]\nweight_error = "1"\n', "instrument.weight_error"),
    "a clock in minutes": ('[instrument]\nclock = "0.5 min"\n', "instrument.clock"),
    "a reading of one m/s too many": ('[instrument]\nreading = "10 m/s"\n', "instrument.reading"),
    "empty weight in kilograms": (
        '[loading]\nempty_weight = "2100 kg"\nempty_arm = "38 in"\nfuel_arm = "47 in"\n',
        "loading.empty_weight",
    ),
    "fuel by the litre": (
        '[loading]\nempty_weight = "2100 lb"\nempty_arm = "38 in"\nfuel_arm = "47 in"\n'
        'fuel_weight_per_gallon = "0.72 kg"\n',
        "loading.fuel_weight_per_gallon",
    ),
}


@pytest.mark.parametrize("case", ADDED)
def test_a_section_that_cannot_be_meant_is_named_with_its_field(case: str) -> None:
    section, said = ADDED[case]
    head = section.splitlines()[0]
    kept = "\n\n".join(part for part in QUILLBACK.split("\n\n") if not part.strip().startswith(head))
    with pytest.raises(BadInputError) as caught:
        check(f"{kept}\n{section}")
    assert str(caught.value).startswith(f"airplane.toml, {said}")


@pytest.mark.parametrize(
    ("speed", "said"),
    [
        (
            "56 kt",
            "flaps / number 2 / stall_speed: the stall speed of 56 kt is above that of the setting before, 53 kt",
        ),
        ("50 m/s", "flaps / number 2 / stall_speed: it makes a CLmax of 0.57"),
        ("25 kt", "flaps / number 2 / stall_speed: it makes a CLmax of 8.69"),
    ],
)
def test_a_stall_speed_that_no_flap_gives_is_refused(speed: str, said: str) -> None:
    with pytest.raises(BadInputError) as caught:
        check(changed('stall_speed = "50 ± 2 kt"', f'stall_speed = "{speed}"'))
    assert str(caught.value).startswith(f"airplane.toml, {said}")
