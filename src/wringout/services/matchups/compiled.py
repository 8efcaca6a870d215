"""Whether the compiled equations are at hand, so that a person can be told why the first time takes longer."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path

from numba import config

import wringout.airplane
import wringout.techniques.flying


class Work(StrEnum):
    """What is about to be done, by the equations it needs."""

    REDUCTION = "a reduction"
    MATCHUP = "a matchup"
    MAP = "a map or a search"


_MODULES = {
    Work.REDUCTION: ((wringout.airplane, "forces"),),
    Work.MATCHUP: ((wringout.airplane, "forces"), (wringout.techniques.flying, "kernel")),
    Work.MAP: ((wringout.airplane, "forces"), (wringout.techniques.flying, "kernel")),
}
COMPILING = "compiling the equations, once"
"""What progress says meanwhile."""
_OF_MAPS = b"float32"
"""Stands in the index of a function that was compiled for the numbers maps are flown in."""


def is_compiled(work: Work) -> bool:
    """Return whether the equations some work needs were compiled and kept before, from the files as they are now.

    False where that cannot be told.
    """
    for package, module in _MODULES[work]:
        folders = [Path(place) / "__pycache__" for place in package.__path__]
        if elsewhere := str(getattr(config, "CACHE_DIR", "")):
            folders = list(Path(elsewhere).glob(f"{package.__name__.rpartition('.')[2]}_*"))
        written = max((Path(place) / f"{module}.py").stat().st_mtime for place in package.__path__)
        kept = [index for folder in folders for index in folder.glob(f"{module}.*.nbi")]
        fresh = [index for index in kept if index.stat().st_mtime >= written]
        if work is Work.MAP and module == "kernel":
            fresh = [index for index in fresh if _OF_MAPS in index.read_bytes()]
        if not fresh:
            return False
    return True
