"""Exact tests of paired differences: sign flips, their interval, and how many pairs a difference takes.

If two techniques do the same, the sign of each pair's difference is the toss of a coin: which technique of the pair got
which label. The sign-flip (permutation) test counts among all ``2^n`` ways the coins could have fallen those whose mean
is as far from zero as the one seen (R. A. Fisher, The Design of Experiments, 1935). It needs no bell curve.
Turning the test round gives an interval: the shifts it would not reject. Its ends are order statistics of the means of
all subsets of the differences (J. A. Hartigan, "Using subsample values as typical values", J. Am. Stat. Assoc. 64,
1969; from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from wringout.errors import BadInputError

FloatArray = NDArray[np.float64]

MOST_PAIRS = 40
"""With more pairs the flips cannot be counted in a moment."""
LEVEL = 0.05
POWER = 0.8
_MOST_SPLITS = 200_000
_MOST_LISTED = 16


def sign_flip_p(differences: FloatArray) -> float:
    """Return the exact two-sided p of the sign-flip test of a mean of zero.

    Args:
        differences: one for each pair, shape (n,), n from 1 to `MOST_PAIRS`.

    Raises:
        BadInputError: no differences, too many, or one that is not finite.
    """
    d = _checked(differences)
    d = d if float(d.sum()) >= 0.0 else -d
    # Flipping the pairs of a set F leaves a mean at least as large when the sum over F is not above zero.
    return min(1.0, 2.0 * _subsets_at_or_below(d, 0.0) / 2.0**d.size)


def smallest_p(pairs: int) -> float:
    """Return the smallest two-sided p that ``pairs`` differences can give, ``2 / 2^n``."""
    return 2.0 / 2.0**pairs


def fewest_pairs(level: float = LEVEL) -> int:
    """Return the fewest pairs whose sign-flip test can reach ``level`` at all."""
    return math.ceil(math.log2(2.0 / level) - 1e-12)


def sign_flip_interval(differences: FloatArray, coverage: float = 0.95) -> tuple[float, float]:
    """Return the interval of mean differences that the sign-flip test does not reject; infinite from too few pairs.

    Raises:
        BadInputError: as `sign_flip_p`.
    """
    d = _checked(differences)
    rank = math.floor((1.0 - coverage) / 2.0 * 2.0**d.size + 1e-9)
    if rank < 1:
        return -math.inf, math.inf
    return _subset_mean(d, rank), -_subset_mean(-d, rank)


def _subset_mean(d: FloatArray, rank: int) -> float:
    """Return the rank-th smallest mean (1 is the smallest) over all subsets that are not empty.

    Few pairs are listed; with more the rank is closed in on by counting.
    """
    if d.size <= _MOST_LISTED:
        means = _sums(d)[1:] / _sums(np.ones(d.size))[1:]
        return float(np.partition(means, rank - 1)[rank - 1])
    low, high = float(d.min()), float(d.max())
    if _subsets_at_or_below(d, low) - 1 >= rank:
        return low
    for _ in range(50):
        middle = 0.5 * (low + high)
        if _subsets_at_or_below(d, middle) - 1 >= rank:
            high = middle
        else:
            low = middle
    return high


def _subsets_at_or_below(d: FloatArray, shift: float) -> int:
    """Return how many subsets (the empty one too) have a sum of ``d - shift`` not above zero.

    Both halves are enumerated and their sums matched in order, so that n pairs cost some 2^(n/2) steps. Sums nearer to
    zero than rounding are taken as zero.
    """
    moved = d - shift
    slack = 1e-9 * max(float(np.sum(np.abs(moved))), 1e-300)
    half = d.size // 2
    left, right = np.sort(_sums(moved[:half])), _sums(moved[half:])
    return int(np.searchsorted(left, slack - right, side="right").sum())


def _sums(values: FloatArray) -> FloatArray:
    """Return the sums over all subsets, shape (2^n,)."""
    sums = np.zeros(1)
    for value in values:
        sums = np.concatenate([sums, sums + value])
    return sums


def two_sample_p(first: FloatArray, second: FloatArray, rng: np.random.Generator) -> float:
    """Return the two-sided permutation p of equal means of two groups that were not paired.

    Exact where the splits can be counted (`scipy.stats.permutation_test`), else from random ones drawn with ``rng``.
    """
    splits = math.comb(first.size + second.size, first.size)
    result = stats.permutation_test(
        (first, second),
        lambda x, y, axis: np.mean(x, axis=axis) - np.mean(y, axis=axis),
        vectorized=True,
        n_resamples=np.inf if splits <= _MOST_SPLITS else 99_999,
        rng=rng,
    )
    return float(result.pvalue)


@dataclass(frozen=True, slots=True)
class PairedT:
    """Student's paired test: mean difference, its standard error, t, two-sided p and degrees of freedom."""

    mean: float
    standard_error: float
    t: float
    p: float
    dof: int


def paired_t(differences: FloatArray) -> PairedT:
    """Return Student's paired test of the differences; t is NaN and p 1 where they do not differ at all from zero.

    Raises:
        BadInputError: fewer than two differences, or one that is not finite.
    """
    d = _checked(differences)
    if d.size < 2:
        raise BadInputError("one pair has no scatter", "", "fly at least two pairs")
    mean, error = float(d.mean()), float(d.std(ddof=1)) / math.sqrt(d.size)
    if error == 0.0:
        return PairedT(
            mean, 0.0, math.nan if mean == 0.0 else math.copysign(math.inf, mean), float(mean == 0.0), d.size - 1
        )
    t = mean / error
    return PairedT(mean, error, t, float(2.0 * stats.t.sf(abs(t), d.size - 1)), d.size - 1)


def pairs_needed(difference: float, sd: float, level: float = LEVEL, power: float = POWER) -> int:
    """Return how many pairs show a true mean ``difference`` with probability ``power`` at two-sided ``level``.

    Power of the paired t test from the noncentral t distribution (J. Cohen, Statistical Power Analysis, 1988), and
    never fewer than the sign-flip test needs to reach ``level`` at all.

    Args:
        difference: in any unit, not zero.
        sd: standard deviation of the differences from pair to pair, same unit.

    Raises:
        BadInputError: the difference is zero, or more than 10,000 pairs would be needed.
    """
    if not difference or not math.isfinite(difference):
        raise BadInputError("a difference of zero takes no number of pairs", "", "state a difference that matters")
    n = max(fewest_pairs(level), 2)
    while n <= 10_000:
        if sd == 0.0 or _power(abs(difference) / sd, n, level) >= power:
            return n
        n += 1 if n < 200 else n // 50
    raise BadInputError("more than 10,000 pairs would be needed", "", "the difference drowns in the scatter")


def _power(effect: float, pairs: int, level: float) -> float:
    bound = float(stats.t.ppf(1.0 - level / 2.0, pairs - 1))
    shift = effect * math.sqrt(pairs)
    return float(stats.nct.sf(bound, pairs - 1, shift) + stats.nct.cdf(-bound, pairs - 1, shift))


def _checked(differences: FloatArray) -> FloatArray:
    d = np.asarray(differences, dtype=np.float64)
    if d.size == 0 or not np.all(np.isfinite(d)):
        raise BadInputError("a pair has no difference", "", "use only pairs in which both were read")
    if d.size > MOST_PAIRS:
        raise BadInputError(
            f"{d.size} pairs are more than can be counted exactly", "", f"test at most {MOST_PAIRS} at a time"
        )
    return d
