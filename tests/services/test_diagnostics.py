"""Does it hang together: the document, the sentences and the page, on a study that agrees and one that does not."""

from __future__ import annotations

import dataclasses
import io
import json
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from tests.services.texts import AIRPLANE, FLAP_RUN, GEAR_RUN, MOMENT, STALLS
from wringout.briefs import together_words as words
from wringout.briefs.content import BriefContent
from wringout.briefs.document import Drawing, Items, Paragraph, Table, text_of
from wringout.briefs.evidence import Evidence, gather
from wringout.briefs.story.closing import limits
from wringout.briefs.story.together import left_out_rows, together
from wringout.estimate.chain import ChainCheck, Opinion
from wringout.estimate.fit import JointFit
from wringout.estimate.influence import MethodCheck, Tension
from wringout.estimate.reduction import Reduction
from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.findings.answers import plain_text
from wringout.services.findings.diagnostics import diagnostics_document
from wringout.services.findings.reduce import Reduced, reduce_study
from wringout.services.flights.recordings import take_in_recording
from wringout.services.opening import open_studies
from wringout.services.publishing.publish import commands
from wringout.services.study.studies import make_study
from wringout.store import Store

GLIDES = (
    "# method: glide\n# altitude: 6000 ft\n# weight: 2900 lb\n# power: zero thrust\n# temperature: 5 C\n"
    "flap, gear, speed, vertical speed\nup, up, 75, -1300\nup, up, 90, -1500\nup, up, 105, -1900\nup, up, 120, -2500\n"
)
"""Glides that sink nearly twice as fast as the believed airplane would: by hand 0.5 V q f / W at 105 kt is 700 ft/min
for 4.5 ft2, and as much again for the lift, so 1,900 ft/min speaks of twice the area."""


def reduced_from(path: Any, *texts: str) -> Iterator[tuple[Store, Reduced]]:
    with open_studies(path / "study.db", lambda: MOMENT) as opened:
        make_study(opened, "Study", "", {}, invented=True)
        put_airplane_file(opened, None, AIRPLANE.encode(), "airplane.toml")
        for number, text in enumerate(texts):
            take_in_recording(opened, None, io.BytesIO(text.encode()), f"file-{number}.csv")
        yield opened, reduce_study(opened, None, draws=400, seed=2)


@pytest.fixture(scope="module")
def agreeing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, Reduced]]:
    yield from reduced_from(tmp_path_factory.mktemp("agree"), GEAR_RUN, FLAP_RUN, STALLS)


@pytest.fixture(scope="module")
def apart(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, Reduced]]:
    yield from reduced_from(tmp_path_factory.mktemp("apart"), GEAR_RUN, FLAP_RUN, GLIDES)


def evidence_of(reduction: Reduction) -> Evidence:
    return gather(BriefContent("", "", "", True, "Quillback 230 (invented)", reduction))


def diagnostics(found: tuple[Store, Reduced]) -> dict[str, Any]:
    body: dict[str, Any] = json.loads(json.dumps(found[1].result.body))["diagnostics"]
    return body


def test_methods_that_agree_are_said_to(agreeing: tuple[Store, Reduced]) -> None:
    found = diagnostics(agreeing)
    assert found["disagreements"] == []
    assert found["sentences"][0].startswith("Methods agree: the largest difference between one of them and all else is")
    worst = max(abs(t["sigma"]) for t in found["tensions"])
    assert f"{worst:.1f} sigma" in found["sentences"][0]


def test_methods_that_disagree_are_named_with_the_quantity_and_its_size(apart: tuple[Store, Reduced]) -> None:
    found = diagnostics(apart)
    assert found["disagreements"]
    tension = next(t for t in found["tensions"] if t["method"] == "glide" and t["quantity"] == "clean drag area")
    assert tension["sigma"] > 2.5
    assert tension["unit"] == "ft2"
    assert tension["together"] > tension["without"]
    sentence = next(s for s in found["disagreements"] if "clean drag area" in s)
    assert "lides" in sentence
    assert "disagree" in sentence
    assert "sigma" in sentence


def test_every_run_is_left_out_in_turn_with_units(agreeing: tuple[Store, Reduced]) -> None:
    found = diagnostics(agreeing)
    units = {item["quantity"]: item["unit"] for item in found["left_out"]}
    assert units["drag area of gear"] == "ft2"
    assert units["stall speed, flaps full"] == "kt"
    assert found["weight"]["unit"] == "lb"
    assert 0.4535924 * found["weight"]["value"] == pytest.approx(agreeing[1].reduction.mass_kg, rel=1e-4)
    for item in found["left_out"]:
        assert [one["run"] for one in item["without"]] == ["G1", "F1", "S1"]
    full = next(item for item in found["left_out"] if item["quantity"] == "drag area of flaps full")
    doubt = {one["run"]: one["standard_uncertainty"] for one in full["without"]}
    assert doubt["F1"] > 2.0 * doubt["S1"]


def test_pulls_scatter_and_correlations_carry_labels(agreeing: tuple[Store, Reduced]) -> None:
    found = diagnostics(agreeing)
    assert {"gear_area", "flap_area.2"} & {pull["parameter"] for pull in found["pulls"]}
    assert all(pull["label"] for pull in found["pulls"])
    assert {group["unit"] for group in found["run_to_run"]} == {"%"}
    assert all(group["scatter"] > 0.0 and group["runs"] == 1 for group in found["run_to_run"])
    assert any("scatters by" in sentence for sentence in found["sentences"])
    assert all(-1.0 <= pair["value"] <= 1.0 for pair in found["correlations"])
    assert found["second_opinion"] is None


def test_the_second_opinion_is_kept_and_asked_for_again(
    agreeing: tuple[Store, Reduced], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The chain itself is tested in tests/estimate; one that did not mix stands in for it here, so as to be quick."""
    asked: list[int] = []

    def not_mixed(joint: JointFit, seed: int, progress: object) -> ChainCheck:
        asked.append(seed)
        return ChainCheck(np.zeros((1, 1)), (Opinion(joint.problem.beliefs.parameters[0].key, 0.1, 1.1),), 3.0, 2.0)

    monkeypatch.setattr("wringout.estimate.reduction.ask_again", not_mixed)
    store = agreeing[0]
    done = reduce_study(store, None, draws=400, seed=2, second_opinion=True)
    body = json.loads(json.dumps(done.result.body))["diagnostics"]["second_opinion"]
    assert done.result.settings["second_opinion"] is True
    assert "second_opinion" not in agreeing[1].result.settings
    assert asked == [2]
    assert body["usable"] is False
    assert body["used"] is False
    assert "too unsure to judge" in body["sentence"]
    assert {"parameter", "label", "shift", "width", "differs"} == set(body["parameters"][0])
    told = commands(done.study, done, None, "study.zip")
    assert any("--seed 2 --second-opinion" in command for command in told)


def test_two_methods_that_pull_apart_are_named_as_two(agreeing: tuple[Store, Reduced]) -> None:
    reduction = agreeing[1].reduction
    tensions = (
        Tension("glide", "clean drag area", 0.36, 0.40, 2.94, 0.5),
        Tension("level deceleration", "clean drag area", 0.45, 0.40, -2.8, 0.4),
    )
    found = dataclasses.replace(
        reduction,
        diagnostics=dataclasses.replace(
            reduction.diagnostics, tensions=tensions, checks=(MethodCheck("climb", 40.0, 10, 2e-5, 4.1),)
        ),
    )
    said = [plain_text(sentence) for sentence in words.disagreement_sentences(evidence_of(found))]
    assert said == [
        "Glides and level decelerations disagree on the clean drag area by 2.9 sigma.",
        "What was read in climbs lies further from what everything else predicts than chance would have (chi square 40 "
        "for ten readings, p below 0.0001).",
    ]


def test_one_method_against_all_else_says_both_values(agreeing: tuple[Store, Reduced]) -> None:
    reduction = agreeing[1].reduction
    # 1 ft2 = 0.09290304 m2 (NIST SP 811): 4.0 and 4.5 ft2
    tensions = (Tension("glide", "drag area of gear", 4.0 * 0.09290304, 4.5 * 0.09290304, 3.2, 0.5),)
    found = dataclasses.replace(reduction, diagnostics=dataclasses.replace(reduction.diagnostics, tensions=tensions))
    assert [plain_text(s) for s in words.disagreement_sentences(evidence_of(found))] == [
        "Glides and everything else, beliefs included, disagree on the drag area of the gear by 3.2 sigma: 4.0 ft² "
        "without the glides, 4.5 ft² with them."
    ]


def test_a_chain_that_differs_names_the_beliefs_in_words(agreeing: tuple[Store, Reduced]) -> None:
    reduction = agreeing[1].reduction
    key = reduction.beliefs.parameters[0].key
    label = reduction.beliefs.parameters[0].label
    chain = ChainCheck(np.zeros((1, 1)), (Opinion(key, 0.5, 1.0),), 500.0, 30.0)
    found = dataclasses.replace(reduction, diagnostics=dataclasses.replace(reduction.diagnostics, chain=chain))
    said = words.chain_sentence(evidence_of(found))
    assert said == f"A Markov chain differs from the Gaussian approximation for {label}; intervals come from the chain."
    assert diagnostics_document(found)["second_opinion"]["used"] is True


def test_the_page_says_it_first_and_draws_it(apart: tuple[Store, Reduced]) -> None:
    evidence = evidence_of(apart[1].reduction)
    section = together(evidence)
    assert section is not None
    first = section.blocks[0]
    assert isinstance(first, Paragraph)
    assert "disagree" in text_of(first.line)
    drawing = next(block for block in section.blocks if isinstance(block, Drawing))
    assert "Clean drag" in drawing.svg
    table = next(block for block in section.blocks if isinstance(block, Table))
    assert [text_of(row.cells[0]) for row in table.rows if row.stands_out] != []
    remarks = next(block for block in limits(evidence).blocks if isinstance(block, Items))
    assert text_of(first.line) in {text_of(one) for one in remarks.lines}


def test_rows_of_the_figure_are_in_standard_deviations(agreeing: tuple[Store, Reduced]) -> None:
    reduction = agreeing[1].reduction
    rows = {row.label: row for row in left_out_rows(evidence_of(reduction))}
    gear = {one.run: one for one in rows["Drag of gear"].runs}
    left = {one.run: one for one in reduction.diagnostics.left_out["drag area of gear"]}
    least = min(one.sd for one in left.values())
    with_all = words.values_together(evidence_of(reduction))["drag area of gear"]
    assert gear["G1"].shift == pytest.approx((left["G1"].value - with_all) / least)
    assert gear["G1"].doubles
    assert not gear["S1"].doubles


def test_one_run_cannot_disagree(tmp_path: Any) -> None:
    for _, reduced in reduced_from(tmp_path, GEAR_RUN):
        evidence = evidence_of(reduced.reduction)
        assert together(evidence) is None
        assert words.agreement_sentence(evidence) == (
            "All runs are of one method, so no method can be held against another."
        )
