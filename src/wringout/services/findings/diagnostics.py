"""What a careful reader asks of a joint fit, as a document: pulls, leave-one-out, tension, checks, scatter, chain."""

from __future__ import annotations

from typing import Any

from wringout.briefs import together_words as words
from wringout.briefs.content import BriefContent
from wringout.briefs.evidence import Evidence, gather
from wringout.estimate.chain import ChainCheck
from wringout.estimate.influence import Tension
from wringout.estimate.reduction import Reduction
from wringout.services.findings.answers import plain_text
from wringout.services.kept_numbers import number, shown

Json = dict[str, Any]


def diagnostics_document(reduction: Reduction) -> Json:
    """Return the diagnostics of a reduction. Shifts are in posterior standard deviations, sigma in those expected."""
    beliefs = reduction.beliefs
    evidence = gather(BriefContent("", "", "", beliefs.invented, beliefs.name, reduction))
    found = reduction.diagnostics
    labels = {parameter.key: parameter.label for parameter in beliefs.parameters}
    fitted = {run.method.key for run in evidence.fitted}
    return {
        "sentences": [plain_text(sentence) for sentence in sentences(evidence)],
        "disagreements": [plain_text(sentence) for sentence in words.disagreement_sentences(evidence)],
        "pulls": [
            {
                "run": pull.run,
                "parameter": pull.parameter,
                "label": labels[pull.parameter],
                "shift": number(pull.shift_sds),
                "wider": number(pull.wider),
            }
            for pull in found.pulls
        ],
        "left_out": _left_out(evidence),
        "weight": {"value": shown(reduction.mass_kg, "lb"), "unit": "lb"},
        "tensions": [_tension(tension) for tension in found.tensions if tension.method in fitted],
        "checks": [
            {
                "method": check.method,
                "chi_square": number(check.chi_square),
                "degrees_of_freedom": check.degrees_of_freedom,
                "p_value": number(check.p_value),
            }
            for check in found.checks
        ],
        "correlations": [
            {"parameters": [pair.one, pair.other], "labels": [labels[pair.one], labels[pair.other]], "value": value}
            for pair, value in ((pair, number(pair.value)) for pair in found.correlations)
        ],
        "run_to_run": [
            {
                "of": group,
                "unit": "%",
                "scatter": number(100.0 * scatter),
                "believed_before": number(100.0 * before),
                "runs": runs,
            }
            for group, scatter, before, runs in words.scatter_rows(evidence)
        ],
        "second_opinion": None if found.chain is None else _chain(found.chain, labels),
    }


def sentences(evidence: Evidence) -> tuple[str, ...]:
    """Return whether the methods agree, how repeats scatter, what rests on one run, and the second opinion."""
    said = (
        words.agreement_sentence(evidence),
        words.scatter_sentence(evidence),
        words.pull_sentence(evidence),
        words.chain_sentence(evidence),
    )
    return tuple(sentence for sentence in said if sentence)


def _left_out(evidence: Evidence) -> list[Json]:
    together = words.values_together(evidence)
    fitted = {run.key for run in evidence.fitted}
    return [
        {
            "quantity": quantity,
            "unit": words.quantity_unit(quantity),
            "together": shown(together[quantity], words.quantity_unit(quantity)),
            "without": [
                {
                    "run": one.run,
                    "value": shown(one.value, words.quantity_unit(quantity)),
                    "standard_uncertainty": shown(one.sd, words.quantity_unit(quantity)),
                }
                for one in left
                if one.run in fitted
            ],
        }
        for quantity, left in evidence.content.reduction.diagnostics.left_out.items()
    ]


def _tension(tension: Tension) -> Json:
    unit = words.quantity_unit(tension.quantity)
    return {
        "method": tension.method,
        "quantity": tension.quantity,
        "unit": unit,
        "without": shown(tension.without, unit),
        "together": shown(tension.together, unit),
        "sigma": number(tension.sigma),
        "share_of_variance_removed": number(tension.adds),
    }


def _chain(chain: ChainCheck, labels: dict[str, str]) -> Json:
    return {
        "sentence": chain.sentence(),
        "independent_draws": number(chain.independent),
        "usable": chain.usable,
        "used": chain.usable and chain.differs,
        "parameters": [
            {
                "parameter": opinion.parameter,
                "label": labels[opinion.parameter],
                "shift": number(opinion.shift_sds),
                "width": number(opinion.width),
                "differs": opinion.differs,
            }
            for opinion in chain.opinions
        ],
    }
