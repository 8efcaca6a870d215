"""Times a full map: 12 weights x 12 density altitudes x 12 orders x 500 draws, 864,000 trajectories of 60 s.

Run: ``python benchmarks/map.py [times]``. The airplane is invented. Flown, judged and bordered on two threads, as the
command ``wringout map`` does it, best of several; the bar is 4 s on two cores once compiled. Elapsed time depends on
what else the machine does, so processor time stands beside it: half of it is what two idle cores would take. Also
printed: how soon a map that is told to stop has stopped, and whether one thread gives the same bits. Nothing passes
or fails here.
"""

from __future__ import annotations

import os
import resource
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.techniques.invented import DETENTS, DOMAIN, FULL, MASS_KG, airplane_draws, situation
from wringout.techniques.judging.borders import borders
from wringout.techniques.judging.maps import Axis, Condition, MapStudy, TechniqueMap, fly_cell, fly_map, map_study
from wringout.techniques.stated.orders import orders
from wringout.techniques.stated.types import Law, Thresholds
from wringout.units import FOOT

BAR_S = 4.0


def study() -> MapStudy:
    """Return the map of the bar: every order that ends clean, and two that do not, to make twelve."""
    return map_study(
        airplane_draws(500),
        situation(),
        DOMAIN,
        orders(DETENTS, FULL)[:12],
        Law.LEVEL_THEN_CLIMB,
        Thresholds(),
        3,
        (
            Axis(Condition.WEIGHT, tuple(np.linspace(0.85, 1.05, 12) * MASS_KG)),
            Axis(Condition.DENSITY_ALTITUDE, tuple(np.linspace(0.0, 8000.0, 12) * FOOT)),
        ),
    )


def timed(made: MapStudy, threads: int = 2) -> tuple[TechniqueMap, float, float]:
    """Return a map, and elapsed and processor seconds it took."""
    wall, cpu = time.perf_counter(), time.process_time()
    found = fly_map(made, threads=threads)
    borders(found)
    return found, time.perf_counter() - wall, time.process_time() - cpu


def stopped_after(made: MapStudy, cells: int) -> float:
    """Return how long after it was told to stop a map has stopped, s."""
    told = 0.0

    def stop(done: int, _total: int) -> None:
        nonlocal told
        if done == cells:
            told = time.perf_counter()
            raise InterruptedError

    try:
        fly_map(made, stop)
    except InterruptedError:
        return time.perf_counter() - told
    return float("nan")


def same(one: TechniqueMap, other: TechniqueMap) -> bool:
    """Return whether two maps are the same to the bit."""
    return all(
        np.array_equal(a.median, b.median) and np.array_equal(a.gap, b.gap) and np.array_equal(a.ahead, b.ahead)
        for a, b in zip(one.cells, other.cells, strict=True)
    )


def main() -> None:
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    made = study()
    begun = time.perf_counter()
    fly_cell(made, 0)
    print(f"first cell (compiling, or reading compiled code): {time.perf_counter() - begun:.2f} s")
    count = made.cells * len(made.techniques) * len(made.rows)
    flown = [timed(made) for _ in range(times)]
    wall, cpu = min(f[1] for f in flown), min(f[2] for f in flown)
    load = os.getloadavg()[0]
    print(
        f"map of {made.cells} cells, {count:,} trajectories: {wall:.2f} s on two threads, best of {times} "
        f"(bar {BAR_S:g} s; load of the machine {load:.1f}); {cpu:.2f} s of processor, {cpu / 2:.2f} s on two idle "
        f"cores, {1e6 * cpu / count:.2f} microseconds each"
    )
    print(f"stopped {1e3 * stopped_after(made, 5):.0f} ms after it was told to")
    print(f"one thread gives the same bits: {same(flown[0][0], timed(made, 1)[0])}")
    print(f"largest memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
