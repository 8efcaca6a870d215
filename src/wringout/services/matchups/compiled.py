"""Whether the compiled equations are at hand, so that a person can be told why the first time takes longer."""

from __future__ import annotations

from pathlib import Path

from numba import config

import wringout.airplane
import wringout.techniques


def is_compiled(matchup: bool = False) -> bool:
    """Return whether the equations were compiled and kept before; ``matchup`` asks for those of the trajectories too.

    False where that cannot be told.
    """
    wanted = [(wringout.airplane, "forces")] + ([(wringout.techniques, "kernel")] if matchup else [])
    for package, module in wanted:
        folders = [Path(place) / "__pycache__" for place in package.__path__]
        if elsewhere := str(getattr(config, "CACHE_DIR", "")):
            folders = list(Path(elsewhere).glob(f"{package.__name__.rpartition('.')[2]}_*"))
        if not any(any(folder.glob(f"{module}.*.nbi")) for folder in folders):
            return False
    return True
