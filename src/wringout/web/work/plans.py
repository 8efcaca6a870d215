"""The long work of a plan, as functions that a worker process calls; see :mod:`wringout.web.jobs`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from wringout.services.findings.reduce import Progress
from wringout.services.opening import open_studies
from wringout.services.planning.chances import work_out
from wringout.services.planning.plans import Asked, kept_or_none, propose_plan, wishes_of
from wringout.web.work.studies import clock


def propose_points_of(
    database: Path, progress: Progress, slug: str, key: str, repeats: int, altitude: str, ground: str, recording: str
) -> str:
    """Propose the points of a flight and keep them."""
    with open_studies(database, clock, create=False) as store:
        progress(0.1, "what each kind of point would teach")
        flight, wishes = wishes_of(kept_or_none(store, slug, key), repeats, altitude or None, ground, recording)
        found = propose_plan(store, slug, flight, wishes, key)
        left = f" Left out, for they would teach less than 1 %: {', '.join(found.left_out)}." if found.left_out else ""
        return f"{len(found.kept.document.points)} points are proposed.{left}"


def chance_of(database: Path, progress: Progress, slug: str, key: str, trials: int, wanted: Sequence[str]) -> str:
    """Compute what teaches most next and the chance of each wanted variant; finished variants are kept if stopped."""
    with open_studies(database, clock, create=False) as store:
        work_out(store, slug, key, Asked(trials=trials), tuple(wanted), progress)
        return f"Every one of {len(wanted)} ways was flown {trials} times."
