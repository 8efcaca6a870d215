"""Names and sentences that other rooms made, as a brief says them: in its units and in the language spoken now.

The core speaks English in knots, feet and pounds and knows of no catalogue. Here, in one place, what it hands on is
turned before anything is told: titles of techniques, names of findings and parameters, and what methods say of a run.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from wringout.airplane.beliefs import Beliefs
from wringout.briefs.catalogue import foreign
from wringout.briefs.content import BriefContent, KeyFigure, Units
from wringout.briefs.metric_words import in_metric, title_in_metric
from wringout.estimate.reduction import Reduction
from wringout.estimate.strengths import RunReport
from wringout.techniques.stated.types import Matchup

Tell = Callable[[str], str]


def teller(units: Units, settings: Sequence[str] = ()) -> Tell:
    """Return what turns a text of another room into the brief's units and language; ``settings``: names of flaps."""

    def tell(text: str) -> str:
        return foreign(in_metric(text) if units == "metric" else text, settings)

    return tell


def settings_of(beliefs: Beliefs) -> tuple[str, ...]:
    """Return the names of an airplane's flap settings, which are its owner's words; "up" is ours."""
    return tuple(setting.name for setting in beliefs.settings if setting.name != "up")


def told(content: BriefContent) -> BriefContent:
    """Return a brief's content with every text that the core made in the brief's units and language."""
    settings = settings_of(content.reduction.beliefs)
    tell = teller(content.units, settings)
    return replace(
        content,
        difference=tell(content.difference) if content.difference else "",
        key_figures=tuple(_figure(one, tell) for one in content.key_figures),
        conditions=tuple(_figure(one, tell) for one in content.conditions),
        reduction=_reduction(content.reduction, tell),
        matchups=tuple(_matchup(one, content.units, settings) for one in content.matchups),
    )


def _figure(one: KeyFigure, tell: Tell) -> KeyFigure:
    return replace(one, label=tell(one.label), source=tell(one.source))


def _reduction(reduction: Reduction, tell: Tell) -> Reduction:
    findings = tuple(
        replace(one, label=tell(one.label), shares={tell(name): share for name, share in one.shares.items()})
        for one in reduction.findings
    )
    return replace(
        reduction,
        findings=findings,
        learned=tuple(replace(one, label=tell(one.label)) for one in reduction.learned),
        curves=tuple(replace(one, label=tell(one.label)) for one in reduction.curves),
        reports=tuple(_report(one, tell) for one in reduction.reports),
    )


def _report(report: RunReport, tell: Tell) -> RunReport:
    results = tuple(replace(one, title=tell(one.title), sentence=tell(one.sentence)) for one in report.results)
    return replace(report, title=tell(report.title), results=results, why_they_differ=tell(report.why_they_differ))


def _matchup(matchup: Matchup, units: Units, settings: Sequence[str]) -> Matchup:
    named = (replace(one, title=title_told(one.title, units, settings)) for one in matchup.techniques)
    return replace(matchup, techniques=tuple(named))


def title_told(title: str, units: Units, settings: Sequence[str] = ()) -> str:
    """Return the title of a technique, movement by movement."""
    shown = title_in_metric(title) if units == "metric" else title
    halves = [", ".join(_movement(part, settings) for part in half.split(", ")) for half in shown.split("; ")]
    text = "; ".join(halves)
    return f"{text[:1].upper()}{text[1:]}"


def _movement(part: str, settings: Sequence[str]) -> str:
    return foreign(f"{part[:1].lower()}{part[1:]}", settings)
