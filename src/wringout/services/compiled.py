"""Whether the compiled equations are at hand, so that a person can be told why the first time takes longer."""

from __future__ import annotations

from pathlib import Path

import wringout.airplane
import wringout.techniques


def is_compiled(matchup: bool = False) -> bool:
    """Return whether the equations were compiled and kept before; ``matchup`` asks for those of the trajectories too.

    False where that cannot be told.
    """
    wanted = [(wringout.airplane, "forces")] + ([(wringout.techniques, "kernel")] if matchup else [])
    for package, module in wanted:
        folders = [Path(place) / "__pycache__" for place in package.__path__]
        if not any(any(folder.glob(f"{module}.*.nbi")) for folder in folders):
            return False
    return True
