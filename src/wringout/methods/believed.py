"""What the airplane believed before flight says of a number, with the doubt of every parameter in it."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.methods.types import FloatArray
from wringout.propagation import Measured

SMALL = 1e-3


def believed(function: Callable[[FloatArray], float], beliefs: Beliefs, unit: str) -> Measured:
    """Return a function of the parameter row at the prior medians, its standard uncertainty and the budget.

    Each parameter is moved one standard deviation of its prior either way (GUM, JCGM 100:2008, 5.1.3, finite
    differences). Parameters are independent before flight. Shares below a thousandth of the largest are left out.
    """
    z = np.zeros(len(beliefs.parameters))
    value = function(beliefs.row_from_latent(z))
    parts: dict[str, float] = {}
    for j, parameter in enumerate(beliefs.parameters):
        high, low = z.copy(), z.copy()
        high[j], low[j] = 1.0, -1.0
        change = function(beliefs.row_from_latent(high)) - function(beliefs.row_from_latent(low))
        if change != 0.0:
            parts[parameter.label] = abs(0.5 * change)
    largest = max(parts.values(), default=0.0)
    budget = {label: part for label, part in parts.items() if part > SMALL * largest}
    return Measured(value, math.sqrt(sum(part**2 for part in parts.values())), unit, budget)
