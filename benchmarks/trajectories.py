"""Times the trajectory kernel against scipy's solve_ivp at equal accuracy, and a full map.

Run: ``python benchmarks/trajectories.py [quick]``. A population of random techniques on random airplanes (invented) is
flown by the kernel in float32 and float64 and held against the kernel in float64 at steps of 0.025 s, which the
tests hold against solve_ivp at tight tolerance. The plain solver is tuned first: the fastest method and tolerance that
meets the same bars on the same population. Speeds are processor time, interleaved, best of six. Nothing passes or fails
here.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks.plain_solve_ivp import PlainGoAround
from tests.techniques.invented import DETENTS, DOMAIN, FULL, MASS_KG, airplane_draws, situation
from tests.techniques.test_against_scipy import random_conditions, random_row, random_situation, random_technique
from wringout.airplane.vector import SIZE
from wringout.techniques.flying.batch import Batch, Precision, fly_cases, fly_pieces
from wringout.techniques.flying.conditions import conditions_row, sample_conditions
from wringout.techniques.flying.layout import C_REACTIONS
from wringout.techniques.flying.scores import (
    CLIMB_TIME,
    ENERGY_HEIGHT,
    HEIGHT,
    LOWEST_HEIGHT,
    SCORE_TIMES_S,
    STALL_RATIO,
)
from wringout.techniques.stated.go_arounds import go_around
from wringout.techniques.stated.orders import orders
from wringout.techniques.stated.types import Conditions, GoAround, Law, Technique
from wringout.units import FOOT

Scores = np.ndarray
Case = tuple[np.ndarray, GoAround, Conditions, Technique, Law]


def population(count: int, seed: int = 20) -> list[Case]:
    """Return random cases: airplane, approach, conditions, technique, law."""
    rng = np.random.default_rng(seed)
    laws = list(Law)
    return [
        (random_row(rng), random_situation(rng), random_conditions(rng), random_technique(rng), laws[i % 3])
        for i in range(count)
    ]


def batches(cases: Sequence[Case]) -> list[Batch]:
    """Return one batch for each case; their situations all differ."""
    return [
        Batch.paired(row[np.newaxis], [go_around(s, law)], conditions_row(s, at)[np.newaxis], [technique])
        for row, s, at, technique, law in cases
    ]


def flown(
    every: Sequence[Batch], precision: Precision, step: float | None = None, quiet: float | None = None
) -> Scores:
    """Return the scores of all batches."""
    options = {} if step is None else {"longest_step_s": step, "quiet": quiet}
    return np.array([fly_cases(b, 0, len(b), precision=precision, **options)[0][0] for b in every], dtype=np.float64)


def report_accuracy(count: int) -> None:
    """Print the largest errors over a population."""
    every = batches(population(count))
    exact = flown(every, Precision.FLOAT64, 0.025, 1.0)
    for precision in (Precision.FLOAT64, Precision.FLOAT32):
        found = flown(every, precision)
        heights = np.abs(found - exact)[:, [LOWEST_HEIGHT, *range(HEIGHT, CLIMB_TIME)]] / FOOT
        both = np.isfinite(found[:, CLIMB_TIME]) & np.isfinite(exact[:, CLIMB_TIME])
        same = np.isfinite(found[:, CLIMB_TIME]) == np.isfinite(exact[:, CLIMB_TIME])
        climb = np.abs(found - exact)[both, CLIMB_TIME]
        print(
            f"{precision} over {count:,} random techniques, largest errors: height at 30 s "
            f"{heights[:, 1 + SCORE_TIMES_S.index(30.0)].max():.3f} ft (bar 0.1), any height {heights.max():.3f} ft "
            f"(bar 0.2), V/Vs {np.abs(found - exact)[:, STALL_RATIO].max():.4f} (bar 0.005), time to climb "
            f"{climb.max():.3f} s (bar 0.05; {np.mean(climb <= 0.05):.2%} within; {int((~same).sum())} disagree)"
        )


LADDER = ((1e-3, 1e-4), (3e-4, 3e-4), (1e-4, 1e-4), (3e-5, 3e-5), (1e-5, 1e-5), (3e-6, 3e-6), (1e-6, 1e-6))
"""Relative and absolute tolerances tried, from loose to tight."""


def failing(cases: Sequence[Case], exact: Scores, method: str, rtol: float, atol: float) -> int | None:
    """Return the number of cases up to the first whose heights solve_ivp misses; nothing when it meets all bars."""
    at_30 = SCORE_TIMES_S.index(30.0)
    for k, (row, s, at, technique, law) in enumerate(cases):
        states = PlainGoAround(row, s, at, law).fly(technique.actions, SCORE_TIMES_S, method, rtol, atol)
        errors = np.abs(states[:, 2] - exact[k]) / FOOT
        if not (errors.max() <= 0.2 and errors[at_30] <= 0.1):
            return k + 1
    return None


def tuned_solver(cases: Sequence[Case]) -> tuple[str, float, float]:
    """Return the fastest method, rtol and atol of solve_ivp that meets the bars of heights on all the cases.

    The same cases and the same bars as for the kernel; a setting is left at the first case it misses.
    """
    exact = flown(batches(cases), Precision.FLOAT64, 0.025, 1.0)[:, HEIGHT:ENERGY_HEIGHT]
    fine: list[tuple[float, str, float, float]] = []
    for method in ("LSODA", "RK23", "RK45", "DOP853"):
        for rtol, atol in LADDER:
            spent = time.process_time()
            missed = failing(cases, exact, method, rtol, atol)
            spent = (time.process_time() - spent) / (missed or len(cases))
            verdict = f"misses case {missed:,}" if missed else f"meets the bars on all {len(cases):,}"
            print(f"  solve_ivp {method} rtol {rtol:g} atol {atol:g}: {1e3 * spent:.2f} ms, {verdict}")
            if not missed:
                fine.append((spent, method, rtol, atol))
                break
    return min(fine)[1:]


def study_batch(draws: int) -> Batch:
    """Return the matchup that is timed: every order of an invented airplane, three pilot laws."""
    s = situation()
    conditions = sample_conditions(s, DOMAIN, draws, 1)
    return Batch.paired(airplane_draws(draws), [go_around(s, law) for law in Law], conditions, orders(DETENTS, FULL))


def best_of_six(works: dict[str, Callable[[], int]]) -> dict[str, float]:
    """Return processor seconds per trajectory of each work, best of six, interleaved."""
    best = dict.fromkeys(works, np.inf)
    for _ in range(6):
        for name, work in works.items():
            begun = time.process_time()
            count = work()
            best[name] = min(best[name], (time.process_time() - begun) / count)
    return best


def report_speed(solver: tuple[str, float, float], cases: Sequence[Case]) -> None:
    """Print trajectories a second of the kernel and of the tuned solver, and their ratio."""
    batch = study_batch(400)

    def plain() -> int:
        for row, s, at, technique, law in cases:
            PlainGoAround(row, s, at, law).fly(technique.actions, SCORE_TIMES_S, *solver)
        return len(cases)

    def kernel(precision: Precision) -> Callable[[], int]:
        return lambda: len(fly_cases(batch, 0, len(batch), precision=precision)[0])

    best = best_of_six({"solve_ivp": plain, "float64": kernel(Precision.FLOAT64), "float32": kernel(Precision.FLOAT32)})
    for name, seconds in best.items():
        one = best["solve_ivp"] / seconds
        print(
            f"{name}: {1e6 * seconds:.2f} microseconds of one core each, {1 / seconds:,.0f} a second; ratio {one:,.0f}"
        )
    print(f"two cores against one solve_ivp: float32 {2 * best['solve_ivp'] / best['float32']:,.0f} times")


def report_linear() -> None:
    """Print the cost per trajectory from a thousand to a million."""
    batch = study_batch(20_000)
    for count in (1_000, 10_000, 100_000, 1_000_000):
        begun = time.process_time()
        for _ in fly_pieces(batch, 8_160, threads=2, stop=count):
            pass
        print(f"{count:>9,} trajectories: {1e6 * (time.process_time() - begun) / count:.2f} microseconds each")


def report_map() -> None:
    """Print how long a map of 12 weights x 12 density altitudes x 12 orders x 500 draws takes on two threads."""
    s = situation()
    reactions = sample_conditions(s, DOMAIN, 500, 2)[:, C_REACTIONS:]
    cells = np.array(
        [
            conditions_row(s, Conditions(mass, altitude, 10.0, 1.3))
            for mass in np.linspace(0.85, 1.05, 12) * MASS_KG
            for altitude in np.linspace(0.0, 2000.0, 12)
        ]
    )
    rows = airplane_draws(500)
    assert rows.shape == (500, SIZE)
    law = Law.LEVEL_THEN_CLIMB
    batch = Batch.crossed(rows, [go_around(s, law)], cells, reactions, orders(DETENTS, FULL)[:12])
    wall, cpu, done = time.perf_counter(), time.process_time(), 0
    for _, scores in fly_pieces(batch, 6_000, threads=2):
        done += len(scores)
    print(
        f"map of {done:,} trajectories of 60 s: {time.perf_counter() - wall:.2f} s on two threads "
        f"({time.process_time() - cpu:.2f} s of processor)"
    )


def main() -> None:
    quick = "quick" in sys.argv[1:]
    begun = time.perf_counter()
    fly_cases(study_batch(1), 0, 1, precision=Precision.FLOAT32)
    print(f"first result (compiling, or reading compiled code): {time.perf_counter() - begun:.2f} s")
    count = 400 if quick else 4_000
    report_accuracy(count)
    cases = population(count)
    solver = tuned_solver(cases)
    print(f"best-tuned: {solver}")
    report_speed(solver, cases[: 9 if quick else 18])
    report_map()
    if not quick:
        report_linear()


if __name__ == "__main__":
    main()
