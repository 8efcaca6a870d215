"""Sentences on whether a study hangs together: do methods agree, what rests on one run, how much repeats scatter."""

from __future__ import annotations

from collections.abc import Sequence

from wringout.briefs.catalogue import marked, tr
from wringout.briefs.evidence import Evidence
from wringout.briefs.numbers import NO_BREAK, Scale, count, number
from wringout.briefs.words import capital, listed, listed_labels
from wringout.estimate.diagnostics import Diagnostics, main_quantities
from wringout.estimate.influence import MethodCheck, Pull, Tension

_SEVERAL = {
    "airspeed calibration": marked("airspeed calibrations"),
    "climb": marked("climbs"),
    "glide": marked("glides"),
    "level acceleration": marked("level accelerations"),
    "level deceleration": marked("level decelerations"),
    "level power": marked("level power points"),
    "out and back": marked("out-and-back pairs"),
    "slow down": marked("slow-downs"),
    "stall series": marked("stalls"),
    "transit timing": marked("transit timings"),
}
CHECK_P = 0.005
"""A method's readings further off than this share of chance are called a disagreement."""
STRONG_PULL_SDS = 1.0
WIDER = 2.0
"""A run is named where an answer would move by a standard deviation, or its doubt double, without it."""
_MOST = 4


def several(method: str) -> str:
    """Return the runs of a method in words, such as "glides"."""
    return tr(_SEVERAL[method]) if method in _SEVERAL else tr("runs of {method}", method=method)


def quantity_unit(quantity: str) -> str:
    """Return the unit in which one of the main quantities is printed."""
    return "kt" if quantity.startswith("stall speed") else "ft2"


def the_quantity(evidence: Evidence, quantity: str) -> str:
    """Return a main quantity as it stands in a sentence."""
    return tr("the {replace}", replace=evidence.told(quantity.replace("of gear", "of the gear")))


def values_together(evidence: Evidence) -> dict[str, float]:
    """Return each main quantity of the fitted airplane, SI."""
    reduction = evidence.content.reduction
    quantities = main_quantities(reduction.beliefs, reduction.mass_kg)
    return {name: quantity(reduction.joint.row) for name, quantity in quantities.items()}


def agreement_sentence(evidence: Evidence) -> str:
    """Say in one sentence whether the methods agree."""
    found = evidence.content.reduction.diagnostics
    apart = disagreement_sentences(evidence)
    if apart:
        return apart[0]
    if not found.tensions:
        return tr("All runs are of one method, so no method can be held against another.")
    worst = found.tensions[0]
    return tr(
        "Methods agree: the largest difference between one of them and all else is {abs}\N{NO-BREAK SPACE}sigma "
        "({several}, {the_quantity}).",
        abs=f"{abs(worst.sigma):.1f}",
        several=several(worst.method),
        the_quantity=the_quantity(evidence, worst.quantity),
    )


def disagreement_sentences(evidence: Evidence) -> tuple[str, ...]:
    """Return a sentence for each quantity the methods disagree on, and each method that nothing else predicts."""
    found = evidence.content.reduction.diagnostics
    by_quantity: dict[str, list[Tension]] = {}
    for tension in found.disagreements:
        by_quantity.setdefault(tension.quantity, []).append(tension)
    out = [_apart(evidence, quantity, tensions) for quantity, tensions in by_quantity.items()]
    return (*out, *(_unforeseen(check) for check in found.checks if check.p_value < CHECK_P))


def _apart(evidence: Evidence, quantity: str, tensions: Sequence[Tension]) -> str:
    up = [several(t.method) for t in tensions if t.sigma > 0.0]
    down = [several(t.method) for t in tensions if t.sigma < 0.0]
    worst = max(tensions, key=lambda t: abs(t.sigma))
    size = f"{abs(worst.sigma):.1f}{NO_BREAK}sigma"
    about = tr("on {the_quantity} by {size}", the_quantity=the_quantity(evidence, quantity), size=size)
    if up and down:
        first, second = sorted((up, down), key=lambda names: names[0])
        return tr(
            "{listed} and {second} disagree {about}.", listed=capital(listed(first)), second=listed(second), about=about
        )
    scale = evidence.scale(quantity_unit(quantity))
    without, together = (_value(value, scale) for value in (worst.without, worst.together))
    return tr(
        "{listed} and everything else, beliefs included, disagree {about}: {without} without the "
        "{several}, {together} with them.",
        listed=capital(listed([*up, *down])),
        about=about,
        without=without,
        several=several(worst.method),
        together=together,
    )


def _value(si: float, scale: Scale) -> str:
    return f"{number(si / scale.size, 1 if scale.symbol != 'm²' else 2)}{NO_BREAK}{scale.symbol}"


def _unforeseen(check: MethodCheck) -> str:
    chance = f"{check.p_value:.4f}" if check.p_value >= 0.0001 else tr("below 0.0001")
    return tr(
        "What was read in {several} lies further from what everything else predicts than chance "
        "would have (chi square {chi_square} for {degrees_of_freedom}, p {chance}).",
        several=several(check.method),
        chi_square=f"{check.chi_square:.0f}",
        degrees_of_freedom=count(check.degrees_of_freedom, "reading"),
        chance=chance,
    )


def strong_pulls(found: Diagnostics) -> tuple[Pull, ...]:
    """Return the pulls worth naming, strongest first, each parameter once."""
    out: dict[str, Pull] = {}
    for pull in found.pulls:
        if abs(pull.shift_sds) > STRONG_PULL_SDS or pull.wider > WIDER:
            out.setdefault(pull.parameter, pull)
    return tuple(out.values())


def pull_sentence(evidence: Evidence) -> str:
    """Say which answers rest on one run, by run."""
    reduction = evidence.content.reduction
    labels = {parameter.key: parameter.label for parameter in reduction.beliefs.parameters}
    by_run: dict[str, list[str]] = {}
    for pull in strong_pulls(reduction.diagnostics):
        by_run.setdefault(pull.run, []).append(evidence.told(labels[pull.parameter]))
    if not by_run:
        return tr("No answer rests on one run: without any one of them none would move by a standard deviation.")
    said = "; ".join(f"{run}: {listed_labels(names, _MOST)}" for run, names in by_run.items())
    return tr(
        "Without this one run, these would move by more than a standard deviation, or their doubt double: {said}.",
        said=said,
    )


def scatter_rows(evidence: Evidence) -> tuple[tuple[str, float, float, int], ...]:
    """Return each group of repeats: its words, the scatter found and the one believed before (shares), and its runs."""
    problem = evidence.content.reduction.joint.problem
    runs: dict[str, int] = {}
    before: dict[str, float] = {}
    for group in problem.nuisances:
        for nuisance in group:
            if nuisance.group:
                runs[nuisance.group] = runs.get(nuisance.group, 0) + 1
                before[nuisance.group] = nuisance.sd
    found = evidence.content.reduction.diagnostics.run_to_run
    return tuple((_group_words(evidence, name), found[name], before[name], runs[name]) for name in found)


def _group_words(evidence: Evidence, group: str) -> str:
    method, _, device = group.partition(", ")
    return (
        tr("{device} in {several}", device=evidence.told(device), several=several(method))
        if device
        else several(method)
    )


def scatter_sentence(evidence: Evidence) -> str:
    """Say how much the drag of a device scatters from run to run; nothing without repeats."""
    said = [
        tr(
            "{found}\N{NO-BREAK SPACE}% for {words} ({runs}; {before}\N{NO-BREAK SPACE}% believed before)",
            found=number(100.0 * found, 1),
            words=words,
            runs=count(runs, "run"),
            before=number(100.0 * before),
        )
        for words, found, before, runs in scatter_rows(evidence)
    ]
    return tr("From run to run a device's drag scatters by {said}.", said=listed(said)) if said else ""


def chain_sentence(evidence: Evidence) -> str:
    """Say what the second opinion by Markov chain came to; nothing where none was asked for."""
    reduction = evidence.content.reduction
    chain = reduction.diagnostics.chain
    if chain is None:
        return ""
    if not chain.usable or not chain.differs:
        return evidence.told(chain.sentence())
    labels = {parameter.key: parameter.label for parameter in reduction.beliefs.parameters}
    apart = listed([evidence.told(labels[opinion.parameter]) for opinion in chain.opinions if opinion.differs])
    return tr(
        "A Markov chain differs from the Gaussian approximation for {apart}; intervals come from the chain.",
        apart=apart,
    )
