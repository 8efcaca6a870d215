"""Hazards and their matrix; proposals, their order and speeds; the plan as a document."""

from __future__ import annotations

import numpy as np
import pytest

from wringout.airplane.beliefs import Beliefs
from wringout.errors import BadInputError
from wringout.methods.register import METHODS
from wringout.planning.document import parse_test_plan, plan_from_table
from wringout.planning.hazard_list import STARTERS
from wringout.planning.hazards import (
    LIKELIHOODS,
    MATRIX,
    SEVERITIES,
    Risk,
    initial_risk,
    needs_more,
    residual_risk,
    starter_hazards,
    worst_first,
)
from wringout.planning.propose import Wishes, kinds, propose
from wringout.services.planning.plans import plan_toml
from wringout.units import KNOT

_ORDER = [Risk.LOW, Risk.MEDIUM, Risk.SERIOUS, Risk.HIGH]


def test_the_matrix_is_the_standards() -> None:
    """MIL-STD-882E, table III, catastrophic to negligible (from memory, not re-read)."""
    letters = {name: "".join(risk.value[0].upper() for risk in row) for name, row in MATRIX.items()}
    assert letters == {
        "frequent": "HHSM", "probable": "HHSM", "occasional": "HSML", "remote": "SMML", "improbable": "MMML",
    }  # fmt: skip


def test_risk_never_falls_with_likelihood_or_severity() -> None:
    grid = np.array([[_ORDER.index(risk) for risk in MATRIX[name]] for name in LIKELIHOODS])
    assert grid.shape == (len(LIKELIHOODS), len(SEVERITIES))
    assert (np.diff(grid, axis=0) <= 0).all()
    assert (np.diff(grid, axis=1) <= 0).all()


def test_every_method_has_hazards_of_its_own_and_every_hazard_is_whole() -> None:
    for key in METHODS:
        assert [h for h in starter_hazards([key]) if key in h.methods], key
    for hazard in STARTERS:
        assert not needs_more(hazard), hazard.key
        assert hazard.mitigation
        assert hazard.stop
        assert hazard.cause
        assert hazard.effect
        assert hazard.source
        assert _ORDER.index(residual_risk(hazard)) <= _ORDER.index(initial_risk(hazard))
    assert len({h.key for h in STARTERS}) == len(STARTERS)


def test_a_residual_risk_that_is_high_or_grew_is_complained_of() -> None:
    hazard = STARTERS[0]
    worse = hazard.model_copy(update={"residual_likelihood": "frequent"})
    assert "above" in needs_more(worse)
    high = worse.model_copy(update={"likelihood": "frequent"})
    assert "high" in needs_more(high)
    assert worst_first([hazard, high])[0] is high


@pytest.mark.parametrize("repeats", [1, 2, 3, 4])
def test_the_first_point_is_flown_again_last(beliefs: Beliefs, repeats: int) -> None:
    points = propose(beliefs, Wishes(repeats=repeats))
    first, last = points[0], points[-1]
    assert (first.method, first.words) == (last.method, last.words)
    assert first.key != last.key
    assert len({p.key for p in points}) == len(points)


def test_passes_alternate_so_that_drift_falls_on_all_alike(beliefs: Beliefs) -> None:
    """A drift linear in the place in the flight has the same mean for every repeated kind, so it cancels."""
    points = propose(beliefs, Wishes(repeats=2))
    places: dict[str, list[int]] = {}
    for i, point in enumerate(points):
        places.setdefault(point.key[0], []).append(i)
    means = {letter: float(np.mean(at)) for letter, at in places.items() if len(at) > 1}
    assert set(means) == {"G", "F", "H", "B"}
    assert len(set(means.values())) == 1


def test_entries_stay_below_every_limit_of_their_device(beliefs: Beliefs) -> None:
    for kind in kinds(beliefs, Wishes()):
        words, limits = kind.point.words, beliefs.limits
        if "entry speed" not in words:
            continue
        entry = float(words["entry speed"].removesuffix(" kt"))
        named = [limits.never_exceed_mps, limits.maneuvering_mps]
        if words.get("device") == "gear":
            named += [limits.gear_operate_mps, limits.gear_extended_mps]
        elif words.get("device") == "flaps":
            named.append(limits.flap_limit(words["to"]))
        assert all(entry <= x / KNOT - 10.0 + 1e-9 for x in named if x is not None), kind.name


def test_what_teaches_nothing_is_left_out(beliefs: Beliefs) -> None:
    points = propose(beliefs, Wishes(worth={"stalls": 0.0, "glides": 0.5}))
    methods = {p.method for p in points}
    assert "stall series" not in methods
    assert "glide" in methods


def test_a_plan_reads_back_from_its_own_text(beliefs: Beliefs) -> None:
    table = {
        "title": "A plan", "points": [p.model_dump() for p in propose(beliefs, Wishes())],
        "hazards": [h.model_dump() for h in STARTERS], "flight": {"fuel": "50 gal", "load": {"baggage": "20 lb"}},
    }  # fmt: skip
    document = plan_from_table(table, "plan")
    assert parse_test_plan(plan_toml(document), "plan.toml") == document


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('format = "something else"', "format"),
        ('format = "wringout test plan, version 1"\nflite = 1', "not known"),
        ('format = "wringout test plan, version 1"\n[[points]]\nkey = "P1"', "missing"),
        ("[", "TOML"),
    ],
)
def test_a_text_that_is_no_plan_is_refused_in_one_sentence(text: str, said: str) -> None:
    with pytest.raises(BadInputError, match=said) as caught:
        parse_test_plan(text, "plan.toml")
    assert "plan.toml" in str(caught.value)
