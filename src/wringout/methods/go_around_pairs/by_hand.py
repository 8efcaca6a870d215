"""What pairs of go-arounds say: the difference of each score with its interval, exact p, and what it would take."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.methods.go_around_pairs.entry import EntryModel, corrections, energy_model
from wringout.methods.go_around_pairs.pair_tests import (
    LEVEL,
    PairedT,
    fewest_pairs,
    paired_t,
    pairs_needed,
    sign_flip_interval,
    sign_flip_p,
    smallest_p,
    two_sample_p,
)
from wringout.methods.go_around_pairs.run import GoAroundRun, Score, differences
from wringout.methods.types import FloatArray, HandResult
from wringout.propagation import Measured, welch_satterthwaite
from wringout.units import from_si

UNEVEN_ORDER = 0.75
"""Share of pairs begun with the same technique from which the order is called uneven."""
_SEED = 1
"""Of the random splits of groups too large to count."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two techniques on one score, SI, first less second technique.

    Attributes:
        score: what was read.
        difference: mean over pairs at equal entry, with Student's interval; the entry correction has its own share.
        exact_low, exact_high: 95 % interval of the sign-flip test; infinite from fewer than six pairs.
        p: exact two-sided p of the sign-flip test.
        t: Student's paired test, beside it.
        by_pair: the differences, shape (n,).
        correction: mean correction that was taken off, 0 without one.
        spread: standard deviation of the differences from pair to pair.
    """

    score: Score
    difference: Measured
    exact_low: float
    exact_high: float
    p: float
    t: PairedT
    by_pair: FloatArray
    correction: float
    spread: float

    @property
    def pairs(self) -> int:
        """Number of complete pairs."""
        return int(self.by_pair.size)

    @property
    def ahead(self) -> int:
        """Index of the technique that did better on the mean: 0 first, 1 second."""
        return 0 if (self.difference.value > 0.0) == self.score.more_is_better else 1


def compare(run: GoAroundRun, place: int, model: EntryModel | None = None) -> Comparison | None:
    """Return the comparison on the score at ``place``; None with fewer than two pairs in which it was read.

    With a model, each go-around is first brought to the mean entry speed and descent of all (rows without a written
    entry leave their pair out).
    """
    score = run.score_list[place]
    values = run.scores[:, place]
    raw, _ = differences(run, values)
    shift = corrections(run, model)[:, place] if model is not None else np.zeros(values.size)
    by_pair, pairs = differences(run, values - shift)
    if by_pair.size < 2 or (model is not None and by_pair.size < raw.size):
        return None
    taken = float(np.mean([_pair_shift(run, shift, int(k)) for k in pairs]))
    t = paired_t(by_pair)
    parts = {"pair to pair": t.standard_error}
    if model is not None:
        parts["entry correction"] = model.share_sd * abs(taken)
    dof = welch_satterthwaite(list(parts.values()), [float(t.dof)] + [math.inf] * (len(parts) - 1))
    low, high = sign_flip_interval(by_pair)
    return Comparison(
        score=score,
        difference=Measured(
            t.mean, math.hypot(*parts.values()), "m" if score.dimension == "length" else "s", parts, dof
        ),
        exact_low=low,
        exact_high=high,
        p=sign_flip_p(by_pair),
        t=t,
        by_pair=by_pair,
        correction=taken,
        spread=float(by_pair.std(ddof=1)),
    )


def _pair_shift(run: GoAroundRun, shift: FloatArray, pair: int) -> float:
    first, second = run.members(pair)
    return 0.0 if first is None or second is None else float(shift[first] - shift[second])


def hand_results(run: GoAroundRun, beliefs: Beliefs, model: EntryModel | None = None) -> list[HandResult]:
    """Return each score's difference at equal entry, then as flown, then with the pairing ignored.

    ``model`` says what the entry does; without one, energy arguments with the believed airplane do.
    """
    entry_known = np.isfinite(run.entry_speed_mps).all() and np.isfinite(run.entry_descent_mps).all()
    if model is None and entry_known:
        model = energy_model(run, beliefs.prior_row())
    order = sorted(range(len(run.score_list)), key=lambda i: run.score_list[i].key != run.chosen)
    equal: list[HandResult] = []
    flown: list[HandResult] = []
    loose: list[HandResult] = []
    for place in order:
        first_of_all = not equal and not flown
        fair = compare(run, place, model) if model is not None else None
        if fair is not None and model is not None:
            equal.append(_result(run, fair, model, lead=first_of_all))
        if (plain := compare(run, place)) is not None:
            flown.append(_result(run, plain, None, lead=first_of_all and fair is None))
        if (unpaired := _unpaired(run, place)) is not None:
            loose.append(unpaired)
    return [*equal, *flown, *loose]


def _shown(value: float, score: Score) -> str:
    """Return a number in the score's display unit, with one decimal for times."""
    if math.isinf(value):
        return "no bound"
    return f"{from_si(value, score.unit):.{0 if score.dimension == 'length' else 1}f}"


def _p(value: float) -> str:
    return f"{value:.3f}" if value >= 0.001 else "below 0.001"


def _first(words: str) -> str:
    """Return words with a capital at the front and nothing else changed."""
    return words[:1].upper() + words[1:]


def _in_display(value: Measured, score: Score) -> Measured:
    factor = from_si(1.0, score.unit)
    budget = {name: factor * part for name, part in value.budget.items()}
    return Measured(factor * value.value, factor * value.standard_uncertainty, score.unit, budget, value.dof)


def _result(run: GoAroundRun, found: Comparison, model: EntryModel | None, *, lead: bool) -> HandResult:
    first, second = run.techniques
    score = found.score
    how = "at equal entry" if model is not None else "as flown"
    said = [_verdict(run, found), _exact_words(found)]
    if model is not None:
        said.append(
            f"Brought to one entry speed and descent by {model.words}, which takes {_shown(found.correction, score)} "
            f"{score.unit} off the mean difference, good to {100 * model.share_sd:.0f} % of it."
        )
    if lead:
        said += _notes(run)
    return HandResult(
        f"{score.key}, {how}",
        f"{score.title}: {first} less {second}, {how}",
        1 if model is not None else 2,
        False,
        _in_display(found.difference, score),
        float(np.nanmean(run.entry_speed_mps)) if np.isfinite(run.entry_speed_mps).any() else math.nan,
        " ".join(said),
    )


def _verdict(run: GoAroundRun, found: Comparison) -> str:
    """Say what the difference amounts to, against what matters if that was stated."""
    score, value = found.score, found.difference
    matters = run.matters.get(score.dimension)
    low, high = value.interval()
    better = run.techniques[found.ahead]
    size = f"{_shown(abs(value.value), score)} {score.unit}"
    beyond_chance = found.p <= LEVEL and (low > 0.0 or high < 0.0)
    if matters is not None and max(abs(low), abs(high)) < matters:
        return f"Too small to matter: the whole interval is within the {_shown(matters, score)} {score.unit} stated."
    if not beyond_chance:
        return f"Too close to call: {better} is ahead by {size} on the mean, which chance alone could do."
    if matters is None:
        return (
            f"{_first(better)} is ahead by {size}, more than chance would do; no difference that matters was "
            "stated before flying, so it is not called a win."
        )
    if abs(value.value) < matters:
        least = f"{_shown(matters, score)} {score.unit}"
        return f"{_first(better)} is ahead by {size}: more than chance would do, less than the {least} that matter."
    return f"{_first(better)} is ahead by {size}, more than chance would do and more than what matters."


def _exact_words(found: Comparison) -> str:
    score, n = found.score, found.pairs
    said = [f"Exact sign-flip p {_p(found.p)} from {n} pairs (Student's paired t gives {_p(found.t.p)})"]
    if n < fewest_pairs():
        said.append(f"no result of {n} pairs can be below p {smallest_p(n):.3g}, so fly at least {fewest_pairs()}")
    else:
        said.append(
            f"exact 95 % interval {_shown(found.exact_low, score)} to {_shown(found.exact_high, score)} {score.unit}"
        )
    return "; ".join(said) + "."


def _notes(run: GoAroundRun) -> list[str]:
    said = [note for note in (_order_note(run), _incomplete_note(run), _entry_note(run)) if note]
    if len(run.score_list) > 1:
        said.append(
            f"{len(run.score_list)} scores were read and each p stands by itself: {run.chosen} is the one to judge by."
        )
    return [*said, *_effort(run)]


def _order_note(run: GoAroundRun) -> str:
    """Say if one technique was nearly always flown first."""
    both = (run.members(k) for k in range(len(run.pairs)))
    begun = [first < second for first, second in both if first is not None and second is not None]
    share = sum(begun) / max(len(begun), 1)
    if len(begun) < 3 or max(share, 1.0 - share) < UNEVEN_ORDER:
        return ""
    which = run.techniques[0 if share > 0.5 else 1]
    return (
        f"{_first(which)} was flown first in {max(sum(begun), len(begun) - sum(begun))} of {len(begun)} pairs: "
        "practice, fuel and air count as technique; alternate the order."
    )


def _incomplete_note(run: GoAroundRun) -> str:
    left = [run.pairs[k] for k in range(len(run.pairs)) if None in run.members(k)]
    if not left:
        return ""
    many = len(left) > 1
    return f"Pair{'s' if many else ''} {', '.join(left)} {'are' if many else 'is'} not complete and not counted."


def _entry_note(run: GoAroundRun) -> str:
    if np.isfinite(run.entry_speed_mps).all() and np.isfinite(run.entry_descent_mps).all():
        return ""
    return "Entry speed or descent is not written for every go-around, so nothing is corrected for it."


def _effort(run: GoAroundRun) -> list[str]:
    """Say how many pairs the stated difference takes on the chosen score, with the scatter seen."""
    place = [score.key for score in run.score_list].index(run.chosen)
    found, score = compare(run, place), run.score_list[place]
    matters = run.matters.get(score.dimension)
    if found is None or matters is None:
        return []
    needed = pairs_needed(matters, found.spread)
    return [
        f"With the scatter seen ({_shown(found.spread, score)} {score.unit} from pair to pair), a true difference of "
        f"{_shown(matters, score)} {score.unit} shows in four of five trials of {needed} pairs."
    ]


def _unpaired(run: GoAroundRun, place: int) -> HandResult | None:
    """Return the comparison of all go-arounds with the pairing ignored, where some pair is not complete."""
    score, values = run.score_list[place], run.scores[:, place]
    groups = [values[(run.technique == which) & np.isfinite(values)] for which in (0, 1)]
    complete = all(None not in run.members(k) for k in range(len(run.pairs)))
    if complete or min(group.size for group in groups) < 2:
        return None
    variances = [float(group.var(ddof=1)) / group.size for group in groups]
    dof = welch_satterthwaite([math.sqrt(x) for x in variances], [float(group.size - 1) for group in groups])
    value = Measured(
        float(groups[0].mean() - groups[1].mean()),
        math.sqrt(sum(variances)),
        "",
        dict(zip(run.techniques, map(math.sqrt, variances), strict=True)),
        dof,
    )
    p = two_sample_p(groups[0], groups[1], np.random.default_rng(_SEED))
    return HandResult(
        f"{score.key}, pairing ignored",
        f"{score.title}: {run.techniques[0]} less {run.techniques[1]}, pairing ignored",
        3,
        False,
        _in_display(value, score),
        math.nan,
        f"All go-arounds, {groups[0].size} against {groups[1].size}; permutation p {_p(p)}. Weaker: it takes weight, "
        "air and pilot as alike throughout.",
    )
