"""The same numbers to the bit, in another process and on one thread or two, of whatever counts threads."""

from __future__ import annotations

import os
import subprocess
import sys

from tests.house.tree import ROOT

COUNTERS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
PROGRAM = """
import hashlib, sys
import numpy as np
from tests.estimate.invented import beliefs, small_study
from tests.techniques.invented import DETENTS, DOMAIN, FULL, airplane_draws, situation
from wringout.estimate.reduction import reduce_runs
from wringout.techniques.flying.matchup import fly_matchup
from wringout.techniques.stated.orders import orders
from wringout.techniques.stated.types import Law, Thresholds

runs = small_study(beliefs().prior_row())
found, other = (reduce_runs(beliefs(), runs, draws=400, seed=seed) for seed in (5, 6))
values = np.array([(f.value, *f.half, *f.most) for f in found.findings])
flown = fly_matchup(
    airplane_draws(40), situation(), DOMAIN, orders(DETENTS, FULL), Law.HOLD_SPEED, Thresholds(), 3,
    threads=int(sys.argv[1]),
)
for array in (found.posterior.rows, values, flown.scores, other.posterior.rows):
    print(hashlib.sha256(np.ascontiguousarray(array).tobytes()).hexdigest())
"""


def hashes(threads: int) -> list[str]:
    """Return hashes of draws, findings, scores, and draws of another seed, computed in a process of its own."""
    environment = {**os.environ, **dict.fromkeys(COUNTERS, str(threads))}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(threads)],
        cwd=ROOT, env=environment, capture_output=True, text=True, timeout=300, check=True,
    )  # fmt: skip
    found = done.stdout.split()
    assert len(found) == len(set(found)) == 4
    return found


def test_one_thread_and_two_give_the_same_bits() -> None:
    assert hashes(1) == hashes(2)
