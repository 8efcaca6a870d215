"""Knots lost over several runs: quoted beside the drag because people quote them, and never a drag."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from wringout.propagation import Measured


def mean_over_runs(values: Sequence[Measured]) -> Measured:
    """Return the mean of what each run lost, in its unit.

    Its standard uncertainty is that of the readings or that of the scatter from run to run, whichever is larger: a run
    that was cut short lost less, and no closer reading of it makes it agree with the others.
    """
    n = len(values)
    lost = np.array([value.value for value in values])
    reading = math.sqrt(sum(value.standard_uncertainty**2 for value in values)) / n
    scatter = float(np.std(lost, ddof=1)) / math.sqrt(n) if n > 1 else 0.0
    return Measured(float(np.mean(lost)), max(reading, scatter), values[0].unit)


def ratio_of_losses(over: Measured, under: Measured) -> Measured | None:
    """Return one mean over another, with the relative uncertainties of both; None where nothing was lost below."""
    if under.value <= 0.0:
        return None
    ratio = over.value / under.value
    relative = math.hypot(over.standard_uncertainty / max(over.value, 1e-9), under.standard_uncertainty / under.value)
    return Measured(ratio, abs(ratio) * relative, "")
