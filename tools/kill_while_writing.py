"""Kill a scripted session of edits, imports and taps 300 times and count what was lost or doubled.

Usage: ``python tools/kill_while_writing.py [KILLS] [SEED]``; the figures stand in docs/promises.md.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))  # the session lives beside the tests

from tests.store.killing import kill_many, new_session


def main() -> int:
    """Kill, compare, print; return 1 when a promise was broken."""
    kills, seed = (int(text) for text in [*sys.argv[1:3], *("300", "1")[len(sys.argv[1:3]) :]])
    with tempfile.TemporaryDirectory() as folder:
        begin = time.monotonic()
        found = kill_many(new_session(Path(folder)), kills, seed, longest_s=0.6)
    print(f"{found.kills} kills, {found.acknowledged} things acknowledged, {time.monotonic() - begin:.0f} s")
    print(", ".join(f"{count} {name}" for name, count in found.by_kind.items()))
    print("\n".join(found.faults) or "nothing lost, nothing doubled, every integrity check passed")
    return 1 if found.faults else 0


if __name__ == "__main__":
    sys.exit(main())
