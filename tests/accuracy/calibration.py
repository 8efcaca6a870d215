"""Simulation-based calibration of the estimator on its own model.

Source: S. Talts, M. Betancourt, D. Simpson, A. Vehtari and A. Gelman, "Validating Bayesian Inference Algorithms with
Simulation-Based Calibration" (2018), arXiv:1804.06788: when the truth is drawn from the prior and the data from the
truth, the rank of the truth among posterior draws is uniform, for every quantity, if the posterior is right.

Everything is drawn: the airplane, how much repeats scatter from run to run (from the scaled inverse chi square prior of
``estimate/widths.py``), how strongly the air moves (from the exponential belief of ``estimate/unsteady.py``), every
run's own nuisances, and the readings, which are then rounded as a dial is read. Entry speeds are kept as planned, since
the fit takes them from the readings.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chisquare, kstest

from tests.accuracy.known_airplane import MASS_KG, decelerations, known_airplane
from tests.accuracy.outside_airplane import taken_in
from wringout.airplane.beliefs import Beliefs
from wringout.estimate.diagnostics import main_quantities
from wringout.estimate.fit import fit
from wringout.estimate.posterior import draw
from wringout.estimate.problem import Problem, StudyRun, pose
from wringout.estimate.unsteady import SMOOTH_MPS, kernel
from wringout.estimate.widths import SCATTER_PRIOR_RUNS

Array = NDArray[np.float64]

DRAWS = 399
BINS = 10
LEAST_P = 0.01
"""All quantities together are called uniform when the least of their p values, times their number, is above this."""

FLOWN = (("G1", "gear down", 122), ("G2", "gear down", 118), ("F1", "flaps full", 107), ("F2", "flaps full", 104))
STALLS = (
    "# method: stall series\n# altitude: 6000 ft\n# weight: 3000 lb\nflap, speed\n" + "up, 58\nhalf, 53\nfull, 50\n" * 2
)
TIMINGS = "# method: transit timing\ndevice, from, to, seconds\n" + "gear, up, down, 7.1\nflaps, up, full, 6.1\n" * 2


@dataclass(frozen=True, slots=True)
class Uniformity:
    """One quantity's ranks, shares of draws below the truth (n,), and how likely so uneven ones are by chance.

    ``chi_square_p`` is of the counts in BINS equal bins, ``kolmogorov_p`` of the greatest distance of the ranks from
    the uniform distribution. ``inside_half`` and ``inside_most`` are the shares of truths inside 50 and 95 % intervals.
    """

    quantity: str
    ranks: Array
    counts: NDArray[np.int64]
    chi_square_p: float
    kolmogorov_p: float
    inside_half: float
    inside_most: float


def planned(beliefs: Beliefs) -> list[StudyRun]:
    """Return the runs as planned: two of each device, stalls of every setting, timings."""
    return [*decelerations(beliefs, FLOWN, 96), taken_in("S1", STALLS, beliefs), taken_in("T1", TIMINGS, beliefs)]


def _drawn_problem(beliefs: Beliefs, plan: list[StudyRun], rng: np.random.Generator) -> Problem:
    """Return the planned runs with a scatter of repeats drawn for each group."""
    problem = pose(beliefs, plan)
    stated = {n.group: n.sd for group in problem.nuisances for n in group if n.group}
    widths = {
        name: sd * float(np.sqrt(SCATTER_PRIOR_RUNS / rng.chisquare(SCATTER_PRIOR_RUNS))) for name, sd in stated.items()
    }
    return replace(problem, widths=widths)


def _read(run: StudyRun, readings: Array) -> StudyRun:
    """Return the run with these readings, rounded as its dial or watch is."""
    if hasattr(run.run, "seconds"):
        return replace(run, run=replace(run.run, seconds=np.round(readings, 1)))
    step = run.run.whole_units_mps
    return replace(run, run=replace(run.run, ias_mps=np.round(readings / step) * step))


def flown(beliefs: Beliefs, plan: list[StudyRun], rng: np.random.Generator) -> tuple[Array, list[StudyRun]]:
    """Return the latents of a true airplane drawn from the belief, and the runs it gives."""
    problem = _drawn_problem(beliefs, plan, rng)
    z = rng.standard_normal(problem.size)
    for group, start in zip(problem.nuisances, problem.offsets, strict=True):
        for k, nuisance in enumerate(group):
            if nuisance.key == "entry speed":
                z[start + k] = 0.0
    row, sds = problem.row(z), problem.reading_sds(z)
    readings = [problem.predict(z, row, i) + sds[i] * rng.standard_normal(sds[i].size) for i in range(len(plan))]
    strength = rng.exponential(SMOOTH_MPS)
    for run, seen in zip(plan, readings, strict=True):
        if hasattr(run.run, "time_s"):
            seen += rng.multivariate_normal(np.zeros(seen.size), strength**2 * kernel(run.run.time_s, seen))
    return z[: len(beliefs.parameters)], [_read(run, seen) for run, seen in zip(plan, readings, strict=True)]


def ranks(repeats: int, seed: int = 0) -> dict[str, Array]:
    """Return, for every quantity and parameter, the place of the truth among the posterior draws, 0 to 1, (repeats,).

    A truth between two draws is put evenly at random between their places, so that places are continuous.
    """
    beliefs = known_airplane()
    plan, quantities = planned(beliefs), main_quantities(beliefs, MASS_KG)
    found: dict[str, list[float]] = {}
    for repeat in range(repeats):
        rng = np.random.default_rng((seed, repeat))
        z, runs = flown(beliefs, plan, rng)
        posterior = draw(fit(beliefs, runs), DRAWS, repeat)
        truth = beliefs.row_from_latent(z)
        for name, quantity in quantities.items():
            below = sum(quantity(row) < quantity(truth) for row in posterior.rows)
            found.setdefault(name, []).append((below + rng.random()) / (DRAWS + 1))
        for j, parameter in enumerate(beliefs.parameters):
            below = int(np.sum(posterior.z[:, j] < z[j]))
            found.setdefault(parameter.label, []).append((below + rng.random()) / (DRAWS + 1))
    return {name: np.array(values) for name, values in found.items()}


def uniformity(found: dict[str, Array]) -> list[Uniformity]:
    """Return how uniform each quantity's ranks are."""
    out = []
    for name, values in found.items():
        counts = np.histogram(values, bins=BINS, range=(0.0, 1.0))[0]
        out.append(
            Uniformity(
                name,
                values,
                counts,
                float(chisquare(counts).pvalue),
                float(kstest(values, "uniform").pvalue),
                float(np.mean(np.abs(values - 0.5) < 0.25)),
                float(np.mean(np.abs(values - 0.5) < 0.475)),
            )
        )
    return out


def together(found: list[Uniformity]) -> float:
    """Return the p value of all quantities and both tests together, by Bonferroni: the least, times their number."""
    every = [p for one in found for p in (one.chi_square_p, one.kolmogorov_p)]
    return min(1.0, min(every) * len(every))
