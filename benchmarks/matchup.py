"""Times the go-around matchup: 2,000 draws, every order of an airplane with three flap settings, three pilot laws.

Run: ``python benchmarks/matchup.py``. The airplane is invented. Prints seconds; nothing passes or fails here.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.techniques.invented import DETENTS, DOMAIN, FULL, airplane_draws, situation
from wringout.techniques.flying.matchup import fly_matchups
from wringout.techniques.stated.orders import orders
from wringout.techniques.stated.types import Law, Thresholds


def run(draws: int, threads: int) -> tuple[int, float, float]:
    """Return trajectories, wall seconds and processor seconds of one matchup under all laws."""
    techniques = orders(DETENTS, FULL)
    rows = airplane_draws(draws)
    wall, cpu = time.perf_counter(), time.process_time()
    fly_matchups(rows, situation(), DOMAIN, techniques, tuple(Law), Thresholds(), 1, threads=threads)
    count = draws * len(techniques) * len(Law)
    return count, time.perf_counter() - wall, time.process_time() - cpu


def main() -> None:
    _, compiling, _ = run(1, 1)
    print(f"first call (compiling, or reading compiled code): {compiling:.2f} s")
    for threads in (1, 2):
        count, wall, cpu = run(2000, threads)
        print(
            f"{threads} thread(s): {count:,} trajectories of 60 s in {wall:.2f} s ({cpu:.2f} s of processor): "
            f"{count / wall:,.0f} a second, {1e6 * cpu / count:.0f} microseconds each"
        )


if __name__ == "__main__":
    main()
