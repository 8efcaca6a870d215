"""Studies: a question, and the difference that matters, stated before anything is flown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from wringout.services.opening import the_study
from wringout.services.study.inputs import inputs_hash
from wringout.services.study.thresholds import difference_words, thresholds_of
from wringout.store import (
    HistoryEntry,
    ResultKind,
    RunState,
    Store,
    Study,
    View,
    add_study,
    latest_airplane,
    latest_standing,
    list_briefs,
    list_history,
    list_recordings,
    list_runs,
    list_studies,
)
from wringout.store.records import Plain


@dataclass(frozen=True, slots=True)
class Standing:
    """Whether a result exists and still belongs to what the study holds now. ``computed_at`` is "" without one."""

    computed_at: str
    current: bool


@dataclass(frozen=True, slots=True)
class StudySummary:
    """A study and how far it has come. ``airplane_version`` is None before an airplane was put."""

    study: Study
    difference_words: str
    airplane_version: int | None
    recordings: int
    runs_in_use: int
    runs_set_aside: int
    reduction: Standing
    matchup: Standing
    brief_path: str


def make_study(
    store: Store,
    title: str,
    question: str,
    difference: Mapping[str, Plain],
    invented: bool = False,
    slug: str | None = None,
) -> Study:
    """Make a study.

    Args:
        store: where it is kept.
        title: one line.
        question: what is asked, in words.
        difference: the difference that matters, a table that :func:`thresholds_of` reads; empty for the defaults.
        invented: the airplane and the numbers were made up.
        slug: its short name; made from the title unless given.

    Raises:
        BadInputError: a field cannot be kept or read, or the given name is taken.
    """
    thresholds_of(difference)
    with store.writing() as work:
        return add_study(work, title, question, difference, invented, slug)


def summaries(store: Store) -> tuple[StudySummary, ...]:
    """Return every study with how far it has come, in the order they were made."""
    with store.reading() as view:
        return tuple(_summary(view, study) for study in list_studies(view))


def summary(store: Store, slug: str | None) -> StudySummary:
    """Return one study with how far it has come.

    Raises:
        NotFoundError: there is no such study.
    """
    with store.reading() as view:
        return _summary(view, the_study(view, slug))


def history(store: Store, slug: str | None) -> tuple[HistoryEntry, ...]:
    """Return every edit of a study, oldest first.

    Raises:
        NotFoundError: there is no such study.
    """
    with store.reading() as view:
        return list_history(view, the_study(view, slug).id)


def _summary(view: View, study: Study) -> StudySummary:
    airplane = latest_airplane(view, study.id)
    runs = list_runs(view, study.id)
    used = sum(run.state is RunState.IN_USE for run in runs)
    briefs = list_briefs(view, study.id)
    return StudySummary(
        study=study,
        difference_words=difference_words(thresholds_of(study.difference_that_matters)),
        airplane_version=None if airplane is None else airplane.version,
        recordings=len(list_recordings(view, study.id)),
        runs_in_use=used,
        runs_set_aside=len(runs) - used,
        reduction=_standing(view, study, ResultKind.REDUCTION),
        matchup=_standing(view, study, ResultKind.MATCHUP),
        brief_path=briefs[-1].path if briefs else "",
    )


def _standing(view: View, study: Study, kind: ResultKind) -> Standing:
    found = latest_standing(view, study.id, kind)
    if found is None:
        return Standing("", False)
    computed_at, settings = found
    current = settings.get("study_inputs") == inputs_hash(view, study.id)
    if kind is ResultKind.MATCHUP:
        current = current and settings.get("difference") == dict(study.difference_that_matters)
    return Standing(computed_at, current)
