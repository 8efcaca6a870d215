"""What a careful reader asks of a joint fit: what pulls what, what would change, do the methods agree."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wringout.airplane import forces
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.vector import FloatArray
from wringout.estimate.chain import ChainCheck
from wringout.estimate.fit import JointFit
from wringout.estimate.influence import (
    LeftOut,
    MethodCheck,
    Pull,
    Quantity,
    Tension,
    leave_one_out,
    method_checks,
    pulls,
    tensions,
)
from wringout.estimate.linear import Linearised
from wringout.units import STANDARD_GRAVITY

TENSION_SIGMA = 2.5
STRONG_CORRELATION = 0.6


@dataclass(frozen=True, slots=True)
class Correlation:
    """Two airplane parameters that trade off against each other, by their posterior correlation."""

    one: str
    other: str
    value: float


@dataclass(frozen=True, slots=True)
class Diagnostics:
    """The joint fit looked at from all sides.

    ``left_out`` maps a quantity's name to what it would be without each run. ``run_to_run`` is the estimated scatter
    between repeats by group. ``chain`` is the second opinion by Markov chain, where it was asked for.
    """

    pulls: tuple[Pull, ...]
    left_out: dict[str, tuple[LeftOut, ...]]
    tensions: tuple[Tension, ...]
    checks: tuple[MethodCheck, ...]
    correlations: tuple[Correlation, ...]
    run_to_run: dict[str, float]
    chain: ChainCheck | None

    @property
    def disagreements(self) -> tuple[Tension, ...]:
        """Tensions too large to be chance."""
        return tuple(tension for tension in self.tensions if abs(tension.sigma) > TENSION_SIGMA)


def diagnose(joint: JointFit, line: Linearised, mass_kg: float, chain: ChainCheck | None = None) -> Diagnostics:
    """Return the diagnostics of a fit; quantities are taken in level flight at ``mass_kg``."""
    quantities = main_quantities(joint.problem.beliefs, mass_kg)
    return Diagnostics(
        pulls=tuple(pulls(joint, line)),
        left_out={name: tuple(leave_one_out(joint, line, quantity)) for name, quantity in quantities.items()},
        tensions=tuple(tensions(joint, line, quantities)),
        checks=tuple(method_checks(joint, line)),
        correlations=tuple(correlations(joint)),
        run_to_run=joint.run_to_run,
        chain=chain,
    )


def main_quantities(beliefs: Beliefs, mass_kg: float) -> dict[str, Quantity]:
    """Return the quantities whose stability is asked about, SI: drag areas at lift coefficient 0.7, stall speeds."""
    out: dict[str, Quantity] = {"clean drag area": lambda a: float(forces.parasite_area(a, 0.0, 0.0, 0.7))}
    if beliefs.retractable:
        out["drag area of gear"] = lambda a: float(forces.gear_area(a, 1.0, 0.0))
    for setting in beliefs.settings[1:]:
        out[f"drag area of flaps {setting.name}"] = _flap_area(setting.angle_rad)
    for setting in beliefs.settings:
        out[f"stall speed, flaps {setting.name}"] = _stall_speed(setting.angle_rad, mass_kg)
    return out


def _flap_area(angle_rad: float) -> Quantity:
    return lambda a: float(forces.flap_area(a, angle_rad, 0.7))


def _stall_speed(angle_rad: float, mass_kg: float) -> Callable[[FloatArray], float]:
    return lambda a: float(forces.stall_speed(a, mass_kg * STANDARD_GRAVITY, 1.225, angle_rad))


def correlations(joint: JointFit) -> list[Correlation]:
    """Return pairs of airplane parameters correlated by more than STRONG_CORRELATION, strongest first."""
    n = joint.problem.airplane_size
    sd = np.sqrt(np.diag(joint.covariance))[:n]
    matrix = joint.covariance[:n, :n] / np.outer(sd, sd)
    keys = [parameter.key for parameter in joint.problem.beliefs.parameters]
    found = [
        Correlation(keys[i], keys[j], float(matrix[i, j]))
        for i in range(n)
        for j in range(i + 1, n)
        if abs(matrix[i, j]) > STRONG_CORRELATION
    ]
    return sorted(found, key=lambda correlation: -abs(correlation.value))
