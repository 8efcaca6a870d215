"""Reducing a study: every run in use against one airplane, kept with its inputs' hash, seed and version."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.vector import SIZE
from wringout.errors import BadInputError, FitError, NotFoundError
from wringout.estimate.problem import StudyRun
from wringout.estimate.reduction import Reduction, reduce_runs
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.findings.documents import reduction_document
from wringout.services.findings.flown_entries import with_flown_entries
from wringout.services.flights.runs import built_runs
from wringout.services.opening import the_study
from wringout.services.study.inputs import inputs_hash
from wringout.store import Result, ResultKind, RunState, Store, Study, View, latest_result, put_result

PACKAGE_VERSION = version("wringout")
DRAWS = 4000
SEED = 1
FEWEST_DRAWS = 400
MOST_DRAWS = 100_000

Progress = Callable[[float, str], None]
"""Called with the share done, 0 to 1, and what is being done."""


def no_progress(share: float, words: str) -> None:
    """Say nothing."""


@dataclass(frozen=True, slots=True)
class Gathered:
    """A study's inputs at one moment: beliefs, runs in use, and the hash of what they came from."""

    study: Study
    beliefs: Beliefs
    runs: tuple[StudyRun, ...]
    inputs_hash: str


@dataclass(frozen=True, slots=True)
class Reduced:
    """A reduction that is kept. ``result.body`` is described in docs/json.md."""

    study: Study
    reduction: Reduction
    runs: tuple[StudyRun, ...]
    result: Result


def gather(view: View, slug: str | None) -> Gathered:
    """Return a study's inputs, every run in use built.

    Raises:
        NotFoundError: there is no such study, or it has no airplane.
        BadInputError: a run in use cannot be built; the sentence names it.
        FitError: no run is in use.
    """
    study = the_study(view, slug)
    beliefs = study_airplane(view, study.id).beliefs
    runs: list[StudyRun] = []
    for item in built_runs(view, study.id):
        if item.stored.state is not RunState.IN_USE:
            continue
        if item.problem:
            raise BadInputError(
                item.problem.rstrip("."), f"run {item.stored.key}", "correct it, or set the run aside with the reason"
            )
        runs += item.built
    if not runs:
        raise FitError("no run is in use", "reduction", "take in a recording and add its run first")
    return Gathered(study, beliefs, tuple(runs), inputs_hash(view, study.id))


def reduce_study(
    store: Store,
    slug: str | None,
    draws: int = DRAWS,
    seed: int = SEED,
    progress: Progress = no_progress,
    second_opinion: bool = False,
) -> Reduced:
    """Reduce every run in use and keep the result with its posterior draws.

    The same inputs, draws and seed give the same document to the last digit; it is then kept only once.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        draws: posterior draws to take and keep.
        seed: of the draws.
        progress: see :data:`Progress`.
        second_opinion: sample the posterior by a Markov chain too, which takes minutes, and use it where it differs.

    Raises:
        BadInputError: a run cannot be built, or the number of draws or the seed is out of range.
        FitError: no run is in use, or the fit fails.
        NotFoundError: there is no such study, or it has no airplane.
    """
    check_draws(draws, FEWEST_DRAWS)
    check_seed(seed)
    with store.reading() as view:
        gathered = gather(view, slug)
    reduction = reduce_runs(gathered.beliefs, gathered.runs, draws, seed, progress, second_opinion)
    reduction = with_flown_entries(reduction, gathered.runs)
    body = reduction_document(reduction, gathered.runs)
    settings: dict[str, Any] = {"draws": draws, "study_inputs": gathered.inputs_hash}
    if second_opinion:
        settings["second_opinion"] = True
    with store.writing() as work:
        result = put_result(
            work,
            gathered.study.id,
            ResultKind.REDUCTION,
            gathered.inputs_hash,
            seed,
            PACKAGE_VERSION,
            settings,
            body,
            npy_bytes(reduction.posterior.rows),
        )
    return Reduced(gathered.study, reduction, gathered.runs, result)


def check_draws(draws: int, fewest: int) -> None:
    """Refuse a number of draws that is out of range.

    Raises:
        BadInputError: it is.
    """
    if not fewest <= draws <= MOST_DRAWS:
        raise BadInputError(f"{draws:,} draws cannot be used", "draws", f"take {fewest:,} to {MOST_DRAWS:,}")


def check_seed(seed: int) -> None:
    """Refuse a seed that is out of range.

    Raises:
        BadInputError: it is.
    """
    if not 0 <= seed < 2**63:
        raise BadInputError(f"the seed {seed} cannot be used", "seed", "a whole number from 0 to 2^63 - 1")


def npy_bytes(rows: NDArray[np.float64]) -> bytes:
    """Return an array as the bytes of a NumPy ``.npy`` file."""
    stream = io.BytesIO()
    np.save(stream, rows, allow_pickle=False)
    return stream.getvalue()


def npy_rows(data: bytes) -> NDArray[np.float64]:
    """Return the array of a NumPy ``.npy`` file.

    Raises:
        BadInputError: the bytes are no such file.
    """
    try:
        return np.asarray(np.load(io.BytesIO(data), allow_pickle=False), dtype=np.float64)
    except (ValueError, EOFError, OSError):
        raise BadInputError("the kept draws cannot be read", "reduction, draws", "reduce the study again") from None


def airplane_rows(data: bytes) -> NDArray[np.float64]:
    """Return the kept draws as airplanes, shape (draws, SIZE): what every compiled routine reads without looking.

    Raises:
        BadInputError: the bytes are no such file, or an earlier version drew other numbers of an airplane.
    """
    rows = npy_rows(data)
    if rows.ndim != 2 or rows.shape[1] != SIZE:
        raise BadInputError(
            f"the kept draws have shape {rows.shape} and an airplane has {SIZE} numbers now",
            "reduction, draws",
            "reduce the study again",
        )
    return rows


def kept_reduction(view: View, study: Study) -> Result:
    """Return a study's newest reduction that belongs to what the study holds now.

    Raises:
        NotFoundError: it was never reduced, or it has changed since.
    """
    now = inputs_hash(view, study.id)
    found = latest_result(view, study.id, ResultKind.REDUCTION, now)
    if found is not None:
        return found
    if latest_result(view, study.id, ResultKind.REDUCTION) is None:
        raise NotFoundError("the study has not been reduced", advice="reduce it first")
    raise NotFoundError("the study has changed since it was reduced", advice="reduce it again")


def findings(store: Store, slug: str | None) -> tuple[Study, Result, bool]:
    """Return the study, its newest reduction, and whether that still belongs to what the study holds now.

    Raises:
        NotFoundError: there is no such study, or it was never reduced.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        found = latest_result(view, study.id, ResultKind.REDUCTION)
        if found is None:
            raise NotFoundError("the study has not been reduced", advice="reduce it first")
        return study, found, found.inputs_hash == inputs_hash(view, study.id)
