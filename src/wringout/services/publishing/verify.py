"""Verifying a bundle: every number in it computed again from its recordings, and said which differ."""

from __future__ import annotations

import dataclasses
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any, BinaryIO, cast

import numpy as np

from wringout.errors import BadInputError, NotFoundError, StoreError, WringoutError
from wringout.estimate.reduction import reduce_runs
from wringout.services.findings.documents import reduction_document
from wringout.services.findings.flown_entries import with_flown_entries
from wringout.services.findings.reduce import PACKAGE_VERSION, Progress, gather, no_progress, npy_bytes, npy_rows
from wringout.services.matchups.compare import fly, prepare
from wringout.services.matchups.documents import matchup_document
from wringout.services.matchups.plans import checked_plan
from wringout.services.opening import Clock, open_studies
from wringout.services.publishing.document_compare import TOLERANCE, Comparison, Difference, compare_documents
from wringout.services.study.inputs import inputs_hash
from wringout.store import Result, ResultKind, Store, Study, View, import_bundle, list_results

DATABASE_NAME = "verify.sqlite3"


class Outcome(StrEnum):
    """What computing a result again came to."""

    SAME = "the same to the last digit"
    CLOSE = "the same within the tolerance"
    DIFFERS = "different"
    NOT_DONE = "not computed again"


@dataclass(frozen=True, slots=True)
class Checked:
    """One kept result held against the same computed again.

    Attributes:
        number: its place among the bundle's results, from 1.
        result: as the bundle holds it.
        outcome: what came out.
        comparison: number by number; None where it was not computed again.
        counted: the differences that count, first of all the numbers.
        draws_apart: the largest difference of a posterior draw, in standard deviations of its parameter; None for a
            result without draws.
        reason: why it was not computed again, or "".
    """

    number: int
    result: Result
    outcome: Outcome
    comparison: Comparison | None
    counted: tuple[Difference, ...]
    draws_apart: float | None
    reason: str = ""

    @property
    def other_version(self) -> bool:
        """Whether another version of the package computed it."""
        return self.result.package_version != PACKAGE_VERSION


@dataclass(frozen=True, slots=True)
class Verified:
    """A bundle that was verified.

    Attributes:
        study: the study in it.
        sha256: its hash.
        tolerance: the share by which a number may differ.
        checked: its results, oldest first.
        outcome: the worst that came out among the newest result of each kind and all that were computed again.
    """

    study: Study
    sha256: str
    tolerance: float
    checked: tuple[Checked, ...]
    outcome: Outcome

    @property
    def numbers(self) -> int:
        """How many numbers were computed again."""
        return sum(item.comparison.numbers for item in self.checked if item.comparison is not None)


def verify_bundle(
    stream: BinaryIO,
    name: str,
    clock: Clock,
    tolerance: float = TOLERANCE,
    progress: Progress = no_progress,
    named_sha256: str = "",
) -> Verified:
    """Compute every number of a bundle again, with the seeds and settings it holds, and say which differ.

    The bundle is read as if an enemy had made it, and taken into a place of its own that is thrown away; studies kept
    on this machine are neither read nor changed. A result of an earlier state of the study, whose inputs the bundle no
    longer holds as they were, cannot be computed again and is said to be so.

    Args:
        stream: the zip; must be seekable.
        name: what to call it in an error.
        clock: returns the present moment with its time zone.
        tolerance: the share by which a number may differ, see ``TOLERANCE`` of ``document_compare``.
        progress: see :data:`wringout.services.findings.reduce.Progress`.
        named_sha256: the hash it must have; "" for any.

    Raises:
        BadInputError: the bundle is damaged or was changed: a file does not have the hash its list gives it, or the
            whole not the hash that was named.
        NotFoundError: it holds no result.
        StoreError: there is no room to unpack it.
    """
    try:
        with (
            tempfile.TemporaryDirectory(prefix="wringout-") as folder,
            open_studies(Path(folder) / DATABASE_NAME, clock) as store,
        ):
            found = import_bundle(store, stream, name)
            if named_sha256 not in ("", found.sha256):
                raise BadInputError(
                    f"its hash is {found.sha256}, not {named_sha256[:64]}", name, "ask for the bundle the brief names"
                )
            return _verify(store, found.study, found.sha256, tolerance, progress)
    except OSError as error:
        raise StoreError(f"the bundle could not be unpacked ({error.strerror or error})", name, "make room") from error


def _verify(store: Store, study: Study, sha256: str, tolerance: float, progress: Progress) -> Verified:
    with store.reading() as view:
        results = list_results(view, study.id)
        if not results:
            raise NotFoundError("the bundle holds no result", advice="reduce the study, then export it again")
        checked: list[Checked] = []
        again = _Again(view, study, results, {})
        for i, result in enumerate(results):
            step = _part(progress, i / len(results), (i + 1) / len(results))
            checked.append(_check(again, i + 1, result, tolerance, step))
    newest = {item.result.kind: item for item in checked}
    weighed = {item.number: item for item in checked if item.outcome is not Outcome.NOT_DONE}
    weighed |= {item.number: item for item in newest.values()}
    worst = max((item.outcome for item in weighed.values()), key=_GRAVITY.index)
    return Verified(study, sha256, tolerance, tuple(checked), worst)


_GRAVITY = (Outcome.SAME, Outcome.CLOSE, Outcome.NOT_DONE, Outcome.DIFFERS)


def _part(progress: Progress, low: float, high: float) -> Progress:
    return lambda share, words: progress(low + (high - low) * share, words)


@dataclass(frozen=True, slots=True)
class _Again:
    """What a bundle is computed again from; ``draws`` are those computed again, by the number of their reduction."""

    view: View
    study: Study
    results: Sequence[Result]
    draws: dict[int, bytes]

    def why_not(self, result: Result) -> str:
        """Return why a result cannot be computed again from this bundle, or ""."""
        matchup = result.kind is ResultKind.MATCHUP
        of = result.settings.get("study_inputs") if matchup else result.inputs_hash
        if of != inputs_hash(self.view, self.study.id):
            return "the airplane, the recordings or the runs of the bundle are not those it was computed from"
        if matchup and self.reduction_of(result) is None:
            return "the reduction it was flown on is not in the bundle"
        return ""

    def reduction_of(self, result: Result) -> Result | None:
        """Return the reduction a matchup was flown on, with its draws computed again."""
        wanted = tuple(result.settings.get(name) for name in ("study_inputs", "reduction_seed", "reduction_draws"))
        for one in reversed(self.results):
            said = (one.inputs_hash, one.seed, one.settings.get("draws"))
            if one.kind is ResultKind.REDUCTION and said == wanted and one.id < result.id:
                return dataclasses.replace(one, draws=self.draws.get(one.id, one.draws))
        return None

    def reduced(self, result: Result, progress: Progress) -> Mapping[str, Any]:
        """Return a reduction computed again, and remember its draws."""
        gathered = gather(self.view, self.study.slug)
        opinion = result.settings.get("second_opinion") is True
        runs, draws = gathered.runs, _whole(result, "draws")
        reduction = reduce_runs(gathered.beliefs, runs, draws, result.seed, progress, opinion)
        reduction = with_flown_entries(reduction, runs)
        self.draws[result.id] = npy_bytes(reduction.posterior.rows)
        return reduction_document(reduction, runs)

    def compared(self, result: Result, progress: Progress) -> Mapping[str, Any]:
        """Return a matchup flown again, with the difference that was stated for it."""
        stated = result.settings.get("difference")
        if not isinstance(stated, Mapping):
            raise StoreError("the matchup does not say which difference matters", advice="compare again")
        study = dataclasses.replace(self.study, difference_that_matters=cast("Mapping[str, str | int | float]", stated))
        plan = checked_plan(result.settings["plan"], "kept plan")  # type: ignore[arg-type]
        contest = prepare(self.view, study, plan, _whole(result, "draws"), self.reduction_of(result))
        return matchup_document(contest.plan, contest.thresholds, fly(contest, result.seed, progress), contest.learned)


def _check(again: _Again, number: int, result: Result, tolerance: float, progress: Progress) -> Checked:
    """Return one result held against the same computed again."""
    reason, apart = again.why_not(result), None
    if reason:
        return Checked(number, result, Outcome.NOT_DONE, None, (), None, reason)
    try:
        if result.kind is ResultKind.REDUCTION:
            body = again.reduced(result, progress)
            apart = draws_apart(result.draws, again.draws[result.id])
        else:
            body = again.compared(result, progress)
    except WringoutError as error:
        return Checked(number, result, Outcome.NOT_DONE, None, (), None, str(error).rstrip("."))
    comparison = compare_documents(_plain(result.body), _plain(body))
    counted = comparison.beyond(tolerance, result.package_version == PACKAGE_VERSION)
    if counted or (apart is not None and apart > tolerance):
        outcome = Outcome.DIFFERS
    else:
        outcome = Outcome.CLOSE if comparison.differences or apart else Outcome.SAME
    return Checked(number, result, outcome, comparison, counted, apart)


def _whole(result: Result, name: str) -> int:
    found = result.settings.get(name)
    if not isinstance(found, int):
        raise StoreError(f"the result does not say its {name}", advice="compute it again")
    return found


def _plain(value: Any) -> Any:
    """Return a document with plain tables and lists."""
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value


def draws_apart(kept: bytes | None, again: bytes) -> float:
    """Return the largest difference of a posterior draw, in standard deviations of its parameter; 0 when all are equal.

    Draws that are missing, or of another number or width, are infinitely far apart.
    """
    if kept == again:
        return 0.0
    if kept is None:
        return float("inf")
    one, other = npy_rows(kept), npy_rows(again)
    if one.shape != other.shape:
        return float("inf")
    spread = np.std(other, axis=0)
    scale = np.where(spread > 0.0, spread, np.maximum(np.abs(other).max(axis=0), 1.0))
    return float(np.nan_to_num(np.max(np.abs(one - other) / scale), nan=np.inf))
