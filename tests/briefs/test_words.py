"""Sentences made from numbers: held to their intervals over many made-up cases."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.briefs import study
from tests.briefs.made import evidence, finding
from wringout.briefs import words
from wringout.briefs.content import Units
from wringout.briefs.document import Line, text_of
from wringout.briefs.evidence import Evidence
from wringout.briefs.numbers import MINUS, NO_BREAK
from wringout.estimate.findings import Finding
from wringout.estimate.posterior import Learned

NEVER = re.compile(
    r"\b(safe|safely|safety|definitive\w*|prove[sn]?|proof|certain\w*|guarantee\w*|always|best|nan|inf)\b|!"
)
UNITS = st.sampled_from(["aviation", "metric"])
NUMBER = re.compile(rf"{MINUS}?\d[\d,]*(?:\.\d+)?")


def numbers_in(text: str) -> list[float]:
    return [float(found.replace(MINUS, "-").replace(",", "")) for found in NUMBER.findall(text)]


def well_said(text: str, units: Units) -> None:
    """Hold what every sentence must keep."""
    assert text[0].isupper()
    assert text.endswith(".")
    assert "  " not in text
    assert not NEVER.search(text), text
    assert f"95{NO_BREAK}%" in text
    if units == "metric":
        assert not re.search(r"\b(kt|ft|lb)\b", text.replace("1\N{NO-BREAK SPACE}kt/s", "")), text


@given(st.floats(0.01, 3.0), st.floats(0.003, 0.8), st.sampled_from(["gear", "flaps full", "flaps 20"]), UNITS)
def test_an_area_is_said_with_interval_unit_speed_and_mass(
    value: float, share: float, label: str, units: Units
) -> None:
    key = f"area.{label.replace(' ', '.')}.middle"
    made = finding(key, "ft2", value, share * value)
    text = text_of(words.area_sentence(made, label, evidence(units)))
    well_said(text, units)
    assert text.startswith("The gear adds" if label == "gear" else f"Flaps {label.split()[1]} add ")
    assert text.count("m²" if units == "metric" else "ft²") == 2
    told, _, low, high, *_ = numbers_in(text.removeprefix(f"Flaps {label.split()[-1]}"))
    assert low <= told <= high
    assert "calibrated" in text
    assert "two runs" in text


@pytest.mark.parametrize("say", [words.travel_sentence, lambda made, on: words.area_sentence(made, "gear", on)])
def test_a_finding_without_runs_is_called_a_belief(say: Callable[[Finding, Evidence], Line]) -> None:
    made = finding("area.gear.middle", "ft2", 0.4, 0.05)
    assert "belief" not in text_of(say(made, evidence()))
    text = text_of(say(replace(made, runs=()), evidence()))
    assert "; no run, so this is a belief)." in text or text.endswith("; no run, so this is a belief.")


@given(st.floats(0.2, 4.0), st.floats(0.01, 1.0), UNITS)
def test_a_ratio_is_a_claim_only_when_its_interval_leaves_one(value: float, spread: float, units: Units) -> None:
    made = finding("ratio.flaps_gear", "", value, spread)
    text = text_of(words.ratio_sentence(made, "flaps full", evidence(units)))
    well_said(text, units)
    low, high = made.most
    assert (words.TOO_CLOSE in text) == (low <= 1.0 <= high)
    assert ("times the drag of the gear" in text) == (low > 1.0 or high < 1.0)
    assert ("less than the gear" in text) == (high < 1.0)
    assert not re.search(r"between [\d.]+ to", text)


@given(st.floats(-0.5, 0.5), st.floats(0.005, 0.3), UNITS, st.booleans())
def test_what_does_not_add_is_said_only_when_nought_is_outside(v: float, sd: float, units: Units, flown: bool) -> None:
    made = finding("interaction.area", "ft2", v, sd, runs=("B1",) if flown else ())
    text = text_of(words.interaction_sentence(made, evidence(units)))
    well_said(text, units)
    low, high = made.most
    assert (words.TOO_CLOSE in text) == (low <= 0.0 <= high)
    if high < 0.0:
        assert " less than their sum" in text
        assert MINUS not in text
    if low > 0.0:
        assert " more than their sum" in text
    assert ("this is a belief" in text) == (not flown)
    assert not re.search(rf"{MINUS}[\d.]+[^ ]* (?:more|less)", text), "nothing is less than nothing more"


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.005, 0.2), st.floats(0.005, 0.2))
def test_what_the_flap_travel_buys_is_said_only_when_the_intervals_are_apart(
    lift: float, drag: float, lift_sd: float, drag_sd: float
) -> None:
    one, two = finding("share.lift", "", lift, lift_sd), finding("share.drag", "", drag, drag_sd)
    text = text_of(words.share_sentence(one, two, "half", "full", evidence()))
    well_said(text, "aviation")
    if one.most[0] > two.most[1]:
        assert "up to half buys mostly lift" in text
    elif one.most[1] < two.most[0]:
        assert "up to half buys mostly drag" in text
    else:
        assert words.TOO_CLOSE in text


@given(st.floats(20.0, 60.0), st.floats(0.1, 3.0), UNITS)
def test_a_stall_is_said_with_weight_and_entry_rate(value: float, spread: float, units: Units) -> None:
    text = text_of(words.stall_sentence(finding("stall.up", "kt", value, spread), "up", evidence(units)))
    well_said(text, units)
    assert "power off" in text
    rate = "1" if units == "aviation" else "0.51"
    assert f"entered at {rate}\N{NO-BREAK SPACE}" in text
    assert ("2,866" in text) == (units == "aviation")  # 1300 kg / 0.45359237 kg, exact factor


@given(st.floats(2.0, 20.0), st.floats(0.05, 2.0))
def test_a_travel_time_is_said_in_seconds(value: float, spread: float) -> None:
    text = text_of(
        words.travel_sentence(finding("gear_down_time", "s", value, spread, label="gear travel down"), evidence())
    )
    well_said(text, "aviation")
    assert text.startswith("Gear travel down: ")
    assert f"{NO_BREAK}s" in text


def test_what_holds_without_speed_or_mass_says_neither() -> None:
    made = finding("x", "ft2", 1.0, 0.1, at_speed_mps=None, at_mass_kg=None)
    assert words.where_words(made, evidence()) == ""


def test_doubt_names_the_largest_shares_first() -> None:
    made = finding("x", "ft2", 1.0, 0.1, shares={"a": 0.1, "b": 0.6, "c": 0.04, "d": 0.2, "e": 0.06})
    assert words.doubt_words(made) == f"b 60{NO_BREAK}%, d 20{NO_BREAK}% and a 10{NO_BREAK}%"
    assert words.prior_words(finding("x", "s", 1.0, 0.1, prior_most=None), evidence()) == ""


def learned(label: str, verdict: str) -> Learned:
    return Learned("k", label, "", (0.0, 1.0, 2.0), (0.0, 1.0, 2.0), 0.0, 0.0, verdict, "")


@pytest.mark.parametrize(
    ("verdicts", "expected"),
    [
        (
            ["measured", "still the prior"],
            "Of the airplane's two parameters these runs measured one and sharpened none. These runs say nothing of "
            "p1; what was believed before stands.",
        ),
        (["measured", "sharpened"], "Of the airplane's two parameters these runs measured one and sharpened one."),
        (
            ["still the prior"] * 3,
            "Of the airplane's three parameters these runs measured none and sharpened none. These runs say nothing "
            "of p0, p1 and p2; what was believed before stands.",
        ),
    ],
)
def test_what_was_not_learned_is_named(verdicts: list[str], expected: str) -> None:
    assert words.learned_sentence([learned(f"p{i}", verdict) for i, verdict in enumerate(verdicts)]) == expected


@pytest.mark.parametrize(
    ("parts", "said"), [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (list("abc"), "a, b and c")]
)
def test_lists_are_read_aloud(parts: list[str], said: str) -> None:
    assert words.listed(parts) == said


def test_numbers_in_sentences_are_the_findings_own() -> None:
    rng = np.random.default_rng(2)
    for value in rng.uniform(0.1, 2.0, 50):
        made = finding("area.gear.middle", "ft2", float(value), 0.02)
        told, _, low, high, *_ = numbers_in(text_of(words.area_sentence(made, "gear", evidence("metric"))))
        assert told == pytest.approx(value, abs=0.006)
        assert low == pytest.approx(made.most[0], abs=0.006)
        assert high == pytest.approx(made.most[1], abs=0.006)


def test_flaps_flown_without_a_gear_run_are_cautioned_and_only_they() -> None:
    caution = words.propeller_caution(study.flap_run_study().reduction)
    assert caution is not None
    assert "interval may be too narrow" in caution
    assert words.propeller_caution(study.full_study().reduction) is None
    assert words.propeller_caution(study.one_run_study().reduction) is None


def test_labels_with_commas_stay_apart_in_a_sentence() -> None:
    labels = ["flap travel, up to full", "gear travel up", "rated power", "CLmax clean"]
    assert words.listed_labels(labels[:2]) == "flap travel (up to full) and gear travel up"
    assert words.listed_labels(labels, 2) == "flap travel (up to full), gear travel up and two more"
    assert words.listed_labels(labels, 3) == "flap travel (up to full), gear travel up, rated power and one more"
    assert words.listed_labels(labels[:1], 4) == "flap travel (up to full)"
