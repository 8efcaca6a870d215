"""A map's cells flown on Dask distributed: the same function on the same cells, so the same numbers to the bit.

Needs the extra ``cluster``. Workers must run the same version of this package on the same kind of processor.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

from wringout.errors import BadInputError, StoreError
from wringout.techniques.judging.cells import Cell
from wringout.techniques.judging.maps import MapStudy, Progress, TechniqueMap, fly_cell

TRIES = 5
"""Times a cell is given out again after the worker that had it has gone."""
_LONGEST_WAIT_S = 20


def fly_map_on(
    study: MapStudy, address: str, progress: Progress | None = None, patience_s: float = 3600.0
) -> TechniqueMap:
    """Fly a map on the workers of a Dask scheduler and return it; a worker that dies loses nothing.

    Args:
        study: of the map. address: of the scheduler, such as ``tcp://127.0.0.1:8786``.
        progress: called with cells flown and cells to fly; raising stops the work.
        patience_s: how long the whole map may take, s.

    Raises:
        BadInputError: the extra is not installed, or no scheduler answers at the address.
        StoreError: the work was given out too often without an answer, or took longer than ``patience_s``.
    """
    distributed = _distributed()
    try:
        client = distributed.Client(address, timeout=_LONGEST_WAIT_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise BadInputError(
            f"no Dask scheduler answers ({type(error).__name__})", f"cluster {address}", "such as tcp://127.0.0.1:8786"
        ) from error
    with client, client.as_current():
        # the study goes with each cell (a quarter of a megabyte), so a worker that dies takes nothing along
        waiting = {client.submit(fly_cell, study, n, pure=False, retries=TRIES): n for n in range(study.cells)}
        answers = functools.partial(distributed.as_completed, timeout=patience_s)
        done = _gathered(answers, waiting, study.cells, progress)
    return TechniqueMap(study, tuple(done[n] for n in range(study.cells)))


def _gathered(
    as_completed: Callable[[Any], Any], waiting: dict[Any, int], total: int, progress: Progress | None
) -> dict[int, Cell]:
    done: dict[int, Cell] = {}
    try:
        for future in as_completed(waiting):
            done[waiting[future]] = future.result()
            if progress is not None:
                progress(len(done), total)
    except BadInputError:
        raise
    except TimeoutError:
        raise StoreError(
            f"the cluster flew {len(done)} of {total} cells in the time it had", advice="look after its workers"
        ) from None
    except RuntimeError as error:
        raise StoreError(
            f"the cluster gave a cell up ({error})", advice="look after its workers, then map again"
        ) from error
    finally:
        for future in waiting:
            future.cancel()
    return done


def _distributed() -> Any:
    try:
        import distributed
    except ImportError:
        raise BadInputError(
            "the extra for clusters is not installed",
            "cluster",
            "install it; in the folder of the project: .venv/bin/python -m pip install -e '.[cluster]'",
        ) from None
    return distributed
