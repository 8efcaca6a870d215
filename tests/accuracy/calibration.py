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

from tests.accuracy.outside_airplane import taken_in
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.estimate.diagnostics import main_quantities
from wringout.estimate.fit import fit
from wringout.estimate.posterior import draw
from wringout.estimate.problem import Problem, StudyRun, pose
from wringout.estimate.unsteady import SMOOTH_MPS, kernel
from wringout.estimate.widths import SCATTER_PRIOR_RUNS
from wringout.units import POUND

Array = NDArray[np.float64]

DRAWS = 399
BINS = 10
MASS_KG = 3000.0 * POUND
LEAST_P = 0.01
"""All quantities together are called uniform when the least of their p values, times their number, is above this."""

# Invented, and narrower than a user would write, so that drawn airplanes fly and settle.
AIRPLANE = """\
format = "wringout airplane, version 1"
name = "Quillback 230 (invented)"
invented = true
stall_speed_clean = "60 ± 1.5 kt"

[geometry]
wing_area = "174 ft2"
span = "33.5 ft"

[propulsion]
propeller = "constant speed"
diameter = "76 in"
rated_power = "230 ± 5 hp"
efficiency_slope = "0.1 ± 0.1"

[drag]
best_glide = { ratio = "11.0 ± 0.4", speed = "93 ± 2 kt", weight = "3200 lb" }
clean_slope = "0 ± 0.5 ft2"
gear_area = "4.5 ± 0.9 ft2"
interaction = "0.3 ± 0.1"

[[flaps]]
name = "half"
angle = "20 deg"
area = "2.2 ± 0.4 ft2"
area_slope = "-1 ± 0.7 ft2"
stall_speed = "55 ± 1.5 kt"

[[flaps]]
name = "full"
angle = "40 deg"
area = "6 ± 1.2 ft2"
area_slope = "-3 ± 1.5 ft2"
stall_speed = "52 ± 1.5 kt"

[flap_travel]
down_time = "6 ± 1 s"
up_time = "6 ± 1 s"

[gear]
down_time = "7 ± 1 s"
up_time = "7 ± 1 s"

[limits]
max_weight = "3200 lb"

[instrument]
bias = "0 ± 0.7 kt"
"""

DECELERATION = """\
# method: level deceleration
# altitude: 6000 ft
# weight: 3000 lb
# altitude held: 40 ft
time, speed, mark
"""
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


def known_airplane() -> Beliefs:
    """Return the belief that truths are drawn from, and that the fit starts from."""
    return airplane_from_document(parse_airplane(AIRPLANE))


def planned(beliefs: Beliefs) -> list[StudyRun]:
    """Return the runs as planned: two of each device, stalls of every setting, timings."""
    runs = []
    for key, said, entry in FLOWN:
        rows = [f"{t}, {entry}{f', {said}' if t == 12 else ''}" for t in range(0, 97, 6)]
        runs.append(taken_in(key, DECELERATION + "\n".join(rows) + "\n", beliefs))
    return [*runs, taken_in("S1", STALLS, beliefs), taken_in("T1", TIMINGS, beliefs)]


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
