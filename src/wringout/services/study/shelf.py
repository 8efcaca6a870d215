"""The shelf: every study with its answer in one line, what is missing, and the next thing to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wringout.services.kept_numbers import exact_numbers
from wringout.services.opening import the_study
from wringout.services.study.studies import StudySummary, summaries, summary
from wringout.store import ChangeMark, ResultKind, Store, View, change_mark, latest_result


@dataclass(frozen=True, slots=True)
class NextStep:
    """What is missing in one sentence, the chapter where it is mended, and what that takes, as an order."""

    missing: str
    chapter: str
    action: str


@dataclass(frozen=True, slots=True)
class ShelfEntry:
    """A study on the shelf.

    ``answer`` is "" until it was reduced, ``exact`` the numbers it may have rounded, with their units; ``verdict`` is
    empty until techniques were compared.
    """

    summary: StudySummary
    answer: str
    exact: tuple[tuple[float, str], ...]
    verdict: tuple[str, ...]
    next_step: NextStep


def shelf(store: Store) -> tuple[ShelfEntry, ...]:
    """Return every study, the newest first."""
    found = summaries(store)
    place = str(store.place.database)
    with store.reading() as view:
        return tuple(_entry(view, item, place) for item in reversed(found))


def shelf_entry(store: Store, slug: str | None) -> ShelfEntry:
    """Return one study as it stands on the shelf.

    Raises:
        NotFoundError: there is no such study.
    """
    found = summary(store, slug)
    with store.reading() as view:
        return _entry(view, found, str(store.place.database))


_Said = tuple[str, tuple[tuple[float, str], ...], tuple[str, ...]]
_SAID: dict[tuple[str, int], tuple[ChangeMark, _Said]] = {}
"""Answer and verdict of studies asked for before: a result holds thousands of numbers, the shelf wants two lines."""
_MOST_SAID = 1000


def _entry(view: View, item: StudySummary, place: str) -> ShelfEntry:
    study = the_study(view, item.study.slug)
    mark = change_mark(view, study.id)
    known = _SAID.get((place, study.id))
    if known is not None and known[0] == mark:
        return ShelfEntry(item, *known[1], next_step(item))
    reduced = latest_result(view, study.id, ResultKind.REDUCTION)
    flown = latest_result(view, study.id, ResultKind.MATCHUP)
    answer = "" if reduced is None else str(reduced.body["answer"])
    exact = () if reduced is None else exact_numbers(reduced.body)
    verdict = () if flown is None else _lines(flown.body["answer"])
    if len(_SAID) >= _MOST_SAID:
        _SAID.clear()
    _SAID[place, study.id] = (mark, (answer, exact, verdict))
    return ShelfEntry(item, answer, exact, verdict, next_step(item))


def _lines(value: object) -> tuple[str, ...]:
    return tuple(map(str, value)) if isinstance(value, Sequence) and not isinstance(value, str) else (str(value),)


def next_step(item: StudySummary) -> NextStep:
    """Return what a study lacks and what to do about it, in the order of the work."""
    if item.airplane_version is None:
        return NextStep("Nothing is known of the airplane yet.", "airplane", "Describe the airplane")
    if not item.recordings:
        return NextStep("Nothing was flown yet, or no recording was taken in.", "flights", "Take in recordings")
    if not item.runs_in_use:
        return NextStep("There are recordings, but no run is in use.", "flights", "Make a run")
    if not item.reduction.computed_at:
        return NextStep("The runs were not reduced yet.", "findings", "Reduce the runs")
    if not item.reduction.current:
        return NextStep("The study has changed since it was reduced.", "findings", "Reduce the runs again")
    if not item.matchup.computed_at:
        return NextStep("The techniques were not compared yet.", "techniques", "Compare the techniques")
    if not item.matchup.current:
        return NextStep("The study has changed since its techniques were compared.", "techniques", "Compare again")
    if not item.brief_path:
        return NextStep("The brief was not written yet.", "brief", "Write the brief")
    return NextStep("The study is written up.", "brief", "Read the brief")
