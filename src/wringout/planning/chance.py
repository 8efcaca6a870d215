"""The probability that a plan will decide its question: the plan flown many times by airplanes as believed.

Each trial draws one airplane from what is believed now, gives its planned runs with reading noise
(``Method.simulate``), fits them together with the runs already flown (the joint fit and its posterior draws, as every
reduction does), flies both techniques on the draws and takes the verdict. Seeds are arguments: the same seed gives the
same answer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import binomtest

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.vector import FloatArray
from wringout.errors import BadInputError, WringoutError
from wringout.estimate.fit import fit
from wringout.estimate.posterior import draw
from wringout.estimate.problem import StudyRun
from wringout.planning.deciding import Call, Contest, call
from wringout.planning.readings import Planned

Progress = Callable[[float, str], None]
"""Called with the share done, 0 to 1, and what is being done; raising stops the work."""
Cancelled = Callable[[], bool]
"""Asked between trials; True ends the work, and what was found so far is returned."""

FEWEST_TRIALS, MOST_TRIALS = 4, 5000
FEWEST_DRAWS = 50
COVERAGE = 0.95
MOST_REDRAWS = 50
"""Airplanes that could not fly the approach at all are drawn again: whoever flies it knows that theirs can."""


@dataclass(frozen=True, slots=True)
class Share:
    """A share seen in trials, with its exact 95 % interval (Clopper and Pearson 1934)."""

    count: int
    trials: int
    low: float
    high: float

    @property
    def value(self) -> float:
        """The share itself."""
        return self.count / self.trials


@dataclass(frozen=True, slots=True)
class Trial:
    """One flown plan: what the verdict said, and what it says of the airplane that flew it, known exactly."""

    said: Call
    truth: Call


@dataclass(frozen=True, slots=True)
class Chance:
    """How often a plan decided its question.

    ``decided`` counts trials that :func:`is_decided`; ``wrong`` those that favour one technique where the exact
    airplane favours the other, or calls them alike where it favours one; ``ceiling`` how often the question is decided
    when the airplane is known exactly: no number of runs comes above it. ``unusable`` trials could not be fitted or
    flown, and count as undecided.
    """

    trials: tuple[Trial, ...]
    decided: Share
    wrong: Share
    ceiling: Share
    unusable: int
    stopped: bool
    seed: int
    draws: int

    def count(self, which: Call) -> int:
        """Return how many trials said that."""
        return sum(trial.said is which for trial in self.trials)

    def truly(self, which: Call) -> int:
        """Return how many of the airplanes, known exactly, say that."""
        return sum(trial.truth is which for trial in self.trials)


def share_of(count: int, trials: int) -> Share:
    """Return a share with its exact binomial interval; raises ValueError without trials."""
    found = binomtest(count, trials).proportion_ci(COVERAGE, method="exact")
    return Share(count, trials, float(found.low), float(found.high))


@dataclass(frozen=True, slots=True)
class Believed:
    """What is known before the plan: beliefs, runs already flown, and parameter rows (n, SIZE) drawn from it all."""

    beliefs: Beliefs
    flown: tuple[StudyRun, ...]
    rows: FloatArray


def believed_before_flying(beliefs: Beliefs, seed: int, draws: int = 1000) -> Believed:
    """Return what is believed where nothing was flown yet: rows drawn from the priors."""
    rng = np.random.default_rng(seed)
    z = rng.standard_normal((draws, len(beliefs.parameters)))
    return Believed(beliefs, (), np.array([beliefs.row_from_latent(one) for one in z]))


def chance_to_decide(
    believed: Believed,
    planned: Sequence[Planned],
    contest: Contest,
    trials: int = 60,
    draws: int = 200,
    seed: int = 1,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Chance:
    """Return the probability that the planned runs decide the question.

    Args:
        believed: what is known before the flight.
        planned: the runs of the plan; none asks what is decided without it. Runs that no fit takes are left out.
        contest: the question.
        trials: how often the plan is flown.
        draws: posterior draws of each trial.
        seed: of airplanes, noise and draws.
        progress: see :data:`Progress`.
        cancelled: see :data:`Cancelled`.

    Raises:
        BadInputError: too few or too many trials or draws, or no trial was flown before it was cancelled.
    """
    _check(trials, draws)
    planned = [one for one in planned if one.is_fitted]
    found: list[Trial] = []
    unusable, stopped = 0, False
    for i, one in enumerate(np.random.SeedSequence(seed).spawn(trials)):
        if cancelled is not None and cancelled():
            stopped = True
            break
        trial = _trial(believed, planned, contest, draws, np.random.default_rng(one))
        unusable += trial is None
        found.append(trial or Trial(Call.UNDECIDED, Call.UNDECIDED))
        if progress is not None:
            progress((i + 1) / trials, f"{i + 1} of {trials} flights of the plan")
    if not found:
        raise BadInputError("the work was stopped before anything was found", "chance", "let it run a little longer")
    n = len(found)
    return Chance(
        trials=tuple(found),
        decided=share_of(sum(is_decided(t) for t in found), n),
        wrong=share_of(sum(is_wrong(t) for t in found), n),
        ceiling=share_of(sum(t.truth is not Call.UNDECIDED for t in found), n),
        unusable=unusable,
        stopped=stopped,
        seed=seed,
        draws=draws,
    )


def is_decided(trial: Trial) -> bool:
    """Return whether a trial answered its question: a favourite, alike, or a margin that the exact airplane breaks too.

    A margin that only doubt breaks has not been decided: more runs could still show that it holds.
    """
    if trial.said is Call.NOT_ACCEPTABLE:
        return trial.truth is Call.NOT_ACCEPTABLE
    return trial.said is not Call.UNDECIDED


def is_wrong(trial: Trial) -> bool:
    """Return whether a verdict contradicts what the exact airplane says, not counting what either leaves undecided."""
    both = {trial.said, trial.truth}
    return (
        both == {Call.FIRST, Call.SECOND}
        or (trial.said is Call.ALIKE and trial.truth in (Call.FIRST, Call.SECOND))
        or (trial.truth is Call.ALIKE and trial.said in (Call.FIRST, Call.SECOND))
    )


def _check(trials: int, draws: int) -> None:
    if not FEWEST_TRIALS <= trials <= MOST_TRIALS:
        raise BadInputError(f"{trials:,} trials cannot be used", "trials", f"take {FEWEST_TRIALS} to {MOST_TRIALS:,}")
    if draws < FEWEST_DRAWS:
        raise BadInputError(f"{draws:,} draws cannot be used", "draws", f"take {FEWEST_DRAWS} or more")


def _trial(
    believed: Believed, planned: Sequence[Planned], contest: Contest, draws: int, rng: np.random.Generator
) -> Trial | None:
    for _ in range(MOST_REDRAWS):
        row = believed.rows[int(rng.integers(len(believed.rows)))]
        try:
            truth = call(np.tile(row, (draws, 1)), contest)
        except WringoutError:
            continue
        break
    else:
        return None
    try:
        if not planned:
            return Trial(call(believed.rows[rng.integers(len(believed.rows), size=draws)], contest), truth)
        runs = [*believed.flown, *(one.simulated(row, believed.beliefs, rng) for one in planned)]
        posterior = draw(fit(believed.beliefs, runs), draws, int(rng.integers(2**31)))
        return Trial(call(posterior.rows, contest), truth)
    except (WringoutError, np.linalg.LinAlgError):
        return None
