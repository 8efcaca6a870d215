"""Signs that findings which were not wanted were not handed in: Egger's regression, in words that do not overreach."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import statsmodels.api as sm

from wringout.fleet.pooling import Range, checked

FEWEST_FOR_EGGER = 10
"""Fewer findings than this, and the test says next to nothing (Sterne and others 2011, BMJ 343, d4002)."""


@dataclass(frozen=True, slots=True)
class Egger:
    """Egger's test of a lopsided funnel (Egger and others 1997, BMJ 315, 629-634).

    Attributes:
        intercept: of the regression of value over uncertainty on one over uncertainty; 0 for an even funnel.
        interval_95: of it. t, p: of the test that it is 0; two-sided.
        degrees_of_freedom: of t.
        enough: whether there are ten findings or more.
        sentence: in words.
    """

    intercept: float
    interval_95: Range
    t: float
    p: float
    degrees_of_freedom: int
    enough: bool
    sentence: str


def egger(values: Sequence[float], uncertainties: Sequence[float], of: str = "findings") -> Egger | None:
    """Return Egger's test; None with fewer than three findings, or uncertainties that are all alike.

    ``of``: what each value is of, for the sentence; a value may stand for several findings of one airplane.

    Raises:
        BadInputError, FitError: as :func:`wringout.fleet.pooling.pool` says.
    """
    y, v = checked(values, uncertainties)
    s = np.sqrt(v)
    if y.size < 3 or float(np.ptp(s)) <= 1e-9 * float(s.max()):
        return None
    fitted = sm.OLS(y / s, np.column_stack([np.ones(y.size), 1.0 / s])).fit()
    low, high = (float(x) for x in fitted.conf_int(0.05)[0])
    t, p = float(fitted.tvalues[0]), float(fitted.pvalues[0])
    if not (math.isfinite(t) and math.isfinite(p)):
        return None
    enough = bool(y.size >= FEWEST_FOR_EGGER)
    return Egger(
        intercept=float(fitted.params[0]),
        interval_95=(low, high),
        t=t,
        p=p,
        degrees_of_freedom=int(fitted.df_resid),
        enough=enough,
        sentence=_words(f"{y.size} {of}", p, enough),
    )


def _words(count: str, p: float, enough: bool) -> str:
    said = f"p = {p:.3f}" if p >= 0.001 else "p under 0.001"
    if not enough:
        return (
            f"With {count} a lopsided funnel cannot be told from chance ({said}; at least {FEWEST_FOR_EGGER} "
            "are needed); ask whether every flight that was made was also handed in."
        )
    if p < 0.1:
        return (
            f"The funnel of {count} is lopsided ({said}): findings of one kind may not have been handed in, "
            "or the less certain findings differ for another reason."
        )
    return (
        f"The funnel of {count} shows no lopsidedness beyond chance ({said}); that does not prove that every "
        "finding was handed in."
    )
