"""Times the joint fit of a forty-run study with posterior draws, and says where the time goes.

Run: ``python benchmarks/joint_fit.py``. Airplane and runs are invented. Prints seconds; nothing passes or fails.
"""

from __future__ import annotations

import cProfile
import pstats
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.estimate.invented import beliefs, small_study
from wringout.estimate.fit import fit
from wringout.estimate.posterior import draw

STUDIES = 10
DRAWS = 4000


def main() -> None:
    known = beliefs()
    runs = [run for i in range(STUDIES) for run in small_study(known.prior_row(), 1000 + 10 * i)]
    fit(known, runs[:4])
    wall, cpu = time.perf_counter(), time.process_time()
    joint = fit(known, runs)
    fitted = time.perf_counter()
    draw(joint, DRAWS, 1)
    print(
        f"{len(runs)} runs, {joint.problem.size} unknowns: fit {fitted - wall:.2f} s, {DRAWS} draws "
        f"{time.perf_counter() - fitted:.2f} s, processor {time.process_time() - cpu:.2f} s, rounds {joint.rounds}"
    )
    profile = cProfile.Profile()
    profile.runcall(fit, known, runs)
    pstats.Stats(profile).sort_stats("tottime").print_stats(12)


if __name__ == "__main__":
    main()
