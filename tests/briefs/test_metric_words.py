"""Sentences kept in the units of the trade, said in metric ones."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wringout.briefs.metric_words import in_metric, title_in_metric
from wringout.numerals import metric
from wringout.units import from_si, to_si

SAID = {
    "a median difference of -1 ft (95 %: -5 to 1 ft)": "a median difference of -0.3 m (95 %: -1.5 to 0.3 m)",
    "for 2,700 to 3,200 lb at 0 to 4,000 ft, ISA +0 °C": "for 1,225 to 1,451 kg at 0 to 1,219 m, ISA +0 °C",
    "12.0 gal left against 10 gal at 11.5 gal/h": "45.4 L left against 38 L at 43.5 L/h",
    "82.3 in at 2,900 lb: 1.2 in inside the envelope": "209.0 cm at 1,315 kg: 3.0 cm inside the envelope",
    "kept in 8 in the mean and 2,600 to 3,200 lb in 8": "kept in 8 in the mean and 1,179 to 1,451 kg in 8",
    "not below 0 ft in 90 % of the draws": "not below 0 m in 90 % of the draws",
    "fell at 0.81 kt/s, entered at 1\u00a0kt/s": "fell at 0.417 m/s², entered at 0.51\u00a0m/s²",
    "at 95 ± 3 kt, sinking 500 ft/min": "at 176 ± 6 km/h, sinking 2.54 m/s",
    "3.5 ft² of drag area (95 %: 3.1 to 3.9 ft²)": "0.33 m² of drag area (95 %: 0.29 to 0.36 m²)",
    "between \u22121.5 and 12 kt": "between \u22122.8 and 22.2 km/h",
    "prints “flaps up at 75 kt”; “Flaps up at 75 kt”": "prints “flaps up at 75 kt”; “Flaps up at 138 km/h”",
    "row 4 kts, 12 ftx, G1 ft, 30 s": "row 4 kts, 12 ftx, G1 ft, 30 s",
}


@pytest.mark.parametrize("text", SAID)
def test_quantities_are_converted_and_words_as_typed_are_not(text: str) -> None:
    assert in_metric(text) == SAID[text]
    assert in_metric(in_metric(text)) == in_metric(text)


def test_a_number_that_was_rounded_is_converted_from_what_it_was() -> None:
    assert in_metric("at 89 kt and 90 kt", [(88.72, "kt")]) == "at 164 km/h and 167 km/h"
    assert title_in_metric("Gear down below 115 kt") == "Gear down below 212 km/h"  # 212.98, a limit


@given(
    st.floats(0.1, 9999.0),
    st.integers(0, 2),
    st.sampled_from(["kt", "ft", "lb", "ft2", "ft/min", "kt/s", "hp"]),
)
def test_rounding_loses_no_more_than_the_sentence_had_lost(value: float, places: int, unit: str) -> None:
    text = f"{value:,.{places}f}"
    number, _, symbol = in_metric(f"{text} {unit}").partition(" ")
    exact = float(from_si(to_si(float(text.replace(",", "")), unit), metric(unit)))
    last = float(from_si(to_si(10.0**-places, unit), metric(unit))) * (10.0 if unit == "ft/min" and not places else 1.0)
    assert symbol.replace("²", "2") == metric(unit)
    assert abs(float(number.replace(",", "")) - exact) <= max(0.56 * last, 0.5 if exact >= 50.0 else 0.0) + 1e-9
    assert not re.search(r"\d{4}", number.partition(".")[0])
