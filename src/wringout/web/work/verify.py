"""The long work of verifying, as a function that a worker process calls; see :mod:`wringout.web.jobs`."""

from __future__ import annotations

from pathlib import Path

from wringout.errors import BadInputError
from wringout.services.publishing.verified import verify_kept
from wringout.web.jobs import Progress
from wringout.web.work.keeping import clock


def verify_of(database: Path, progress: Progress, key: str) -> str:
    """Compute every number of a bundle again, keep what it came to, and say it."""
    done = verify_kept(database, key, clock, progress)
    if done.refused:
        raise BadInputError(done.refused.rstrip("."))
    return done.said
