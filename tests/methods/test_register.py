"""Methods are found by looking, and each offers all that the contract lists."""

import inspect
from types import SimpleNamespace

import pytest

from tests.airplane.quillback import quillback
from wringout.errors import BadInputError
from wringout.methods.register import MEMBERS, METHODS, found_methods, method
from wringout.methods.types import Card, Method


def test_the_methods_there_are() -> None:
    assert {"level deceleration", "stall series", "transit timing"} <= set(METHODS)
    assert list(METHODS) == sorted(METHODS)
    assert all(found.key == key for key, found in METHODS.items())


def test_members_are_those_of_the_contract() -> None:
    assert {"key", "title", "observed_unit", "predict", "residuals", "by_hand", "simulate", "card", "guard"} <= set(
        MEMBERS
    )
    assert all(hasattr(Method, name) or name in Method.__annotations__ for name in MEMBERS)


@pytest.mark.parametrize("key", METHODS)
def test_signatures_are_those_of_the_contract(key: str) -> None:
    for name, function in vars(Method).items():
        if name.startswith("_") or not inspect.isfunction(function):
            continue
        offered = getattr(type(METHODS[key]), name)
        assert list(inspect.signature(offered).parameters) == list(inspect.signature(function).parameters), name
        assert offered.__doc__, name


@pytest.mark.parametrize("key", METHODS)
def test_cards_carry_the_cautions(key: str) -> None:
    card = METHODS[key].card(quillback(), {})
    assert isinstance(card, Card)
    assert card.setup
    assert card.steps
    assert card.readings
    assert card.stop_conditions
    assert any("qualified instructor" in caution for caution in card.cautions)
    assert any("approved manual" in caution for caution in card.cautions)
    words = " ".join([card.title, card.purpose, *card.setup, *card.steps, *card.stop_conditions]).lower()
    assert " safe" not in words


@pytest.mark.parametrize("spelling", ["stall series", "Stall-Series", " stall_series ", "STALL  SERIES"])
def test_any_spelling_of_a_key(spelling: str) -> None:
    assert method(spelling) is METHODS["stall series"]


def test_an_unknown_key_lists_the_keys() -> None:
    with pytest.raises(BadInputError) as caught:
        method("handstand")
    assert str(caught.value) == f"method: 'handstand' is not a method; use one of: {', '.join(METHODS)}."


def whole(key: str) -> SimpleNamespace:
    return SimpleNamespace(METHOD=SimpleNamespace(**{**dict.fromkeys(MEMBERS), "key": key}))


def test_one_more_file_is_one_more_method() -> None:
    found = found_methods([("m.helper", SimpleNamespace()), ("m.z", whole("zoom climb")), ("m.a", whole("glide"))])
    assert list(found) == ["glide", "zoom climb"]


def test_half_a_method_and_a_taken_key_are_noticed() -> None:
    half = whole("glide")
    del half.METHOD.card
    with pytest.raises(TypeError, match=r"the method in m\.a does not offer card"):
        found_methods([("m.a", half)])
    with pytest.raises(TypeError, match=r"'glide' of the method in m\.b is taken"):
        found_methods([("m.a", whole("glide")), ("m.b", whole("glide"))])
