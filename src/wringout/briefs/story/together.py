"""Does it hang together: do the methods agree, what rests on one run, how much do repeats scatter."""

from __future__ import annotations

from wringout.briefs import together_words as words
from wringout.briefs.catalogue import marked, said, tr
from wringout.briefs.document import Block, Column, Drawing, Note, Paragraph, Row, Section, Table, line
from wringout.briefs.evidence import Evidence
from wringout.briefs.figures.together import LeftOutRow, Without, left_out_figure
from wringout.briefs.numbers import MINUS
from wringout.briefs.story.notes import note_of_runs
from wringout.briefs.words import capital
from wringout.estimate.diagnostics import TENSION_SIGMA
from wringout.estimate.influence import LeftOut, MethodCheck, Tension

DOUBLES = 2.0


def together(evidence: Evidence) -> Section | None:
    """Return whether the runs and methods of the study agree; None for a single run, which cannot disagree."""
    if len(evidence.fitted) < 2:
        return None
    told = words.disagreement_sentences(evidence) or (words.agreement_sentence(evidence),)
    note = _note(evidence)
    blocks: list[Block] = [Paragraph(line(sentence), note=note if i == 0 else None) for i, sentence in enumerate(told)]
    more = (words.scatter_sentence(evidence), words.pull_sentence(evidence), words.chain_sentence(evidence))
    blocks += [Paragraph(line(sentence)) for sentence in more if sentence]
    rows = left_out_rows(evidence)
    if rows:
        spoken = tr(
            "How far each answer moves when one run is left out; the sentences above name the runs that matter."
        )
        blocks.append(Drawing("left-out", left_out_figure(rows), spoken, said(_CAPTION), anchor="figure-left-out"))
    limits = {"tension_sigma": f"{TENSION_SIGMA:g}", "check_p": f"{words.CHECK_P:g}"}
    blocks += [_methods(evidence), Paragraph(said(_REMARK, **limits), "small")]
    return Section("together", tr("Does it hang together"), tuple(blocks))


def _note(evidence: Evidence) -> Note | None:
    """Return the runs of the method that stands furthest apart."""
    found = evidence.content.reduction.diagnostics.tensions
    return note_of_runs(evidence.by_method(found[0].method)) if found else None


_CAPTION = marked(
    "A mark for each run: where the answer would be without it. The band is one standard "
    "deviation of the answer with all runs. A hollow mark: without this run the doubt is "
    "more than twice as large. A mark at the edge may lie beyond it. Drag areas hold at a "
    "lift coefficient of 0.7."
)
_REMARK = marked(
    "Sigma: how far the runs of a method move an answer from where all else, beliefs "
    "included, puts it, over what chance would have. Chance: the share of studies in which "
    "the readings of the method would lie further from what all else predicts; near nought "
    "is a misfit. A method is called out beyond {tension_sigma} sigma or below {check_p}."
)


def left_out_rows(evidence: Evidence) -> list[LeftOutRow]:
    """Return the main answers that any run bears on, each with its shift without each run that bears on it."""
    found = evidence.content.reduction.diagnostics.left_out
    with_all = words.values_together(evidence)
    fitted = {run.key for run in evidence.fitted}
    out = []
    for name, left in found.items():
        own = [one for one in left if one.run in fitted]
        sd = min((one.sd for one in own), default=0.0)
        if sd <= 0.0:
            continue
        out.append(LeftOutRow(capital(_short(evidence, name)), _device(name), _without(own, with_all[name], sd)))
    return out


def _without(left: list[LeftOut], value: float, sd: float) -> tuple[Without, ...]:
    return tuple(Without(one.run, (one.value - value) / sd, one.sd > DOUBLES * sd) for one in left)


def _short(evidence: Evidence, quantity: str) -> str:
    return evidence.told(quantity.replace("drag area of ", "drag of ").replace("clean drag area", "clean drag"))


def _device(quantity: str) -> str:
    return "gear" if "gear" in quantity else "flaps" if quantity.startswith("drag area of flaps") else ""


def _methods(evidence: Evidence) -> Table:
    """Return each method against everything else: its largest tension and the predictive check of its readings."""
    found = evidence.content.reduction.diagnostics
    worst: dict[str, Tension] = {}
    for tension in found.tensions:
        worst.setdefault(tension.method, tension)
    columns = (
        Column(tr("Method")),
        Column(tr("Readings"), number=True),
        Column(tr("Chance"), number=True),
        Column(tr("Furthest apart on")),
        Column(tr("Sigma"), number=True),
    )
    return Table(columns, tuple(_method(evidence, check, worst.get(check.method)) for check in found.checks))


def _method(evidence: Evidence, check: MethodCheck, tension: Tension | None) -> Row:
    cells = (
        line(capital(words.several(check.method))),
        line(str(check.degrees_of_freedom)),
        line(_chance(check.p_value)),
        line("" if tension is None else evidence.told(tension.quantity)),
        line("" if tension is None else _signed(tension.sigma)),
    )
    apart = check.p_value < words.CHECK_P or (tension is not None and abs(tension.sigma) > TENSION_SIGMA)
    return Row(cells, stands_out=apart)


def _chance(p: float) -> str:
    return (
        tr("over 0.99") if p > 0.99 else f"{p:.2f}" if p >= 0.005 else f"{p:.4f}" if p >= 0.0001 else tr("below 0.0001")
    )


def _signed(sigma: float) -> str:
    sign = "+" if sigma >= 0.05 else MINUS if sigma <= -0.05 else ""
    return f"{sign}{abs(sigma):.1f}"
