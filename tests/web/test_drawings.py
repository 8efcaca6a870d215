"""Drawings of the findings: round scales, ends that run off, readings that did not belong, knots beside drags."""

from __future__ import annotations

import re
from typing import Any

import pytest

from wringout.services.findings.knots import knots_beside_drag
from wringout.web.drawn.forest import forests, knots_forest
from wringout.web.drawn.residuals import residuals
from wringout.web.drawn.runs import run_drawings

BODY: dict[str, Any] = {
    "knots_lost": [
        {"label": "gear", "value": 25.8333333, "standard_uncertainty": 3.10167219, "unit": "kt", "runs": ["G1"]},
        {"label": "flaps full", "value": 37.3076389, "standard_uncertainty": 1.01309163, "unit": "kt", "runs": ["F1"]},
    ],
    "findings": [
        {
            "key": "ratio.flaps_gear", "label": "drag of flaps full over drag of gear", "unit": "", "value": 1.35,
            "interval_50": [1.31, 1.39], "interval_95": [1.25, 1.46], "prior_interval_95": [0.1, 7.7],
            "at_speed": {"value": 89.4, "unit": "kt"}, "at_weight": {"value": 2947.8, "unit": "lb"},
            "runs": ["G1", "F1"], "share_of_variance": {},
        }
    ],
    "runs": [],
}  # fmt: skip


def test_knots_lost_stand_beside_the_drag_with_their_own_interval() -> None:
    beside = knots_beside_drag(BODY)
    assert beside is not None
    # by hand: 37.31 / 25.83, relative uncertainties 2.72 % and 12.0 % in quadrature (JCGM 100:2008, 5.1.6)
    assert beside.knots == pytest.approx(1.444, abs=0.001)
    assert beside.knots_most == pytest.approx((1.095, 1.793), abs=0.002)
    assert beside.runs == ("G1", "F1")
    lines = knots_forest(beside).lines
    assert [line.kind for line in lines] == ["run", "joint"]
    assert knots_beside_drag({**BODY, "knots_lost": BODY["knots_lost"][:1]}) is None


def test_a_scale_has_a_few_round_numbers_and_a_wider_belief_runs_off_both_ends() -> None:
    (forest,) = forests(BODY)
    assert forest.at == "at 89 kt and 2,948 lb"
    assert re.findall(r">([\d.,]+)</text>", forest.axis) == ["1.2", "1.3", "1.4", "1.5"]
    before, joint = forest.lines
    assert ("‹" in before.drawn, "›" in before.drawn) == (True, True)
    assert "‹" not in joint.drawn
    assert 'class="band"' in before.drawn


def test_a_line_keeps_the_letters_of_a_symbol_it_begins_with() -> None:
    hands = [
        {"title": title, "key": "CLmax, up", "value": 1.4, "interval_50": [1.3, 1.5], "interval_95": [1.2, 1.6]}
        for title in ("CLmax, flaps up", "Start slope")
    ]
    finding = {**BODY["findings"][0], "key": "cl_max.up", "runs": ["S1"]}
    (forest,) = forests({**BODY, "findings": [finding], "runs": [{"key": "S1", "results": hands}]})
    assert [line.label for line in forest.lines if line.kind == "run"] == ["S1, CLmax, flaps up", "S1, start slope"]


def test_a_reading_that_did_not_belong_is_a_cross_and_out_of_the_scatter() -> None:
    run = {
        "key": "<F2>", "title": "flaps full", "method": "level deceleration", "observed_unit": "kt",
        "observed": [100.0, 91.0, 95.0, 79.0], "fitted": [101.0, 90.0, 84.0, 80.0], "reading_sd": [1.0] * 4,
        "flagged_rows": [12], "rows": [10, 11, 12, 13], "time_s": [0.0, 6.0, 12.0, 18.0],
    }  # fmt: skip
    found = residuals(run)
    assert found.words == "four readings, 1.0 kt rms off the fit; one reading did not belong"
    assert found.drawn.count('class="ink"') == 3
    assert found.drawn.count("<path") == 1
    assert "<F2>" not in found.drawn


def test_every_reading_of_a_run_is_a_way_to_its_row() -> None:
    run = {
        "key": "F2", "observed_unit": "kt", "observed": [106.0, 93.0, 70.0], "fitted": [106.5, 82.5, 69.7],
        "reading_sd": [1.1, 1.3, 1.1], "flagged_rows": [17], "rows": [10, 17, 26], "time_s": [0.0, 42.0, 102.0],
    }  # fmt: skip
    drawn = run_drawings(run, "/studies/a/recordings/b/rows")
    assert re.findall(r'href="([^"]+)"', drawn) == [
        f"/studies/a/recordings/b/rows?row={row}&amp;run=F2#r{row}" for row in (10, 17, 26)
    ] * 2  # fmt: skip
    assert "row 17, 42.0 s: read 93.0 kt, fitted 82.5 kt" in drawn
    assert drawn.count('class="beyond"') == 2 * 2
    one_by_one = run_drawings({**run, "time_s": None}, "/rows")
    assert "<polyline" in drawn
    assert "<polyline" not in one_by_one
    assert run_drawings({**run, "observed": [1.0], "fitted": [1.0], "reading_sd": [1.0], "rows": [10]}, "/rows") == ""
    assert run_drawings({**run, "rows": [10]}, "/rows") == ""  # no row to walk to
