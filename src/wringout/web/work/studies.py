"""The long work of the workbench, as functions that a worker process calls; see :mod:`wringout.web.jobs`."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

from wringout.briefs.content import Units
from wringout.services.demonstration import take_in_demonstration
from wringout.services.findings.reduce import DRAWS as REDUCTION_DRAWS
from wringout.services.findings.reduce import Progress, reduce_study
from wringout.services.matchups.compare import DRAWS, SEED, compare_techniques
from wringout.services.matchups.plans import parse_plan
from wringout.services.opening import open_studies
from wringout.services.publishing.publish import Reader, publish
from wringout.services.publishing.video import VideoWish, write_video
from wringout.services.publishing.video_files import packed
from wringout.services.register.agreement_kept import keep_agreement


def clock() -> datetime:
    """Return the present moment."""
    return datetime.now(UTC)


def reduce_runs_of(
    database: Path,
    progress: Progress,
    slug: str,
    second_opinion: bool = False,
    draws: int = REDUCTION_DRAWS,
    seed: int = SEED,
) -> str:
    """Reduce a study and return its answer."""
    with open_studies(database, clock, create=False) as store:
        done = reduce_study(store, slug, draws, seed, progress=progress, second_opinion=second_opinion)
        return str(done.result.body["answer"])


def compare_orders_of(
    database: Path, progress: Progress, slug: str, plan: str = "", draws: int = DRAWS, seed: int = SEED
) -> str:
    """Compare a study's techniques with a plan, as TOML, or with its last one, and return the first verdict."""
    wanted = parse_plan(plan, "plan") if plan.strip() else None
    with open_studies(database, clock, create=False) as store:
        answer = compare_techniques(store, slug, wanted, draws, seed, progress).result.body["answer"]
        return str(answer[0]) if isinstance(answer, list) and answer else "The techniques are compared."


def publish_brief_of(
    database: Path,
    progress: Progress,
    slug: str,
    folder: str,
    readers: tuple[Reader, ...] = (),
    units: Units = "aviation",
) -> str:
    """Write a study's brief and bundle, and the briefs for other readers that were asked for."""
    with open_studies(database, clock, create=False) as store:
        done = publish(store, slug, Path(folder), clock(), units, progress, readers=readers)
        return "The brief is written." if done.reproduced else "The brief is written; its numbers came out anew."


def make_video_of(
    database: Path,
    progress: Progress,
    slug: str,
    folder: str,
    recording: str,
    begins_s: float,
    seconds: float | None,
    dark: bool,
    fps: int = 25,
    height: int = 1080,
    pictures: bool = False,
    figures: bool = True,
) -> str:
    """Make the figures, the strip chart and the captions that a video needs."""
    wish = VideoWish(recording, begins_s, seconds, fps, height, dark, pictures, figures)
    with open_studies(database, clock, create=False) as store:
        done = write_video(store, slug, Path(folder), wish, clock(), progress=progress)
    if done.pictures is not None:
        packed(done.pictures)
    return " ".join(["What the video needs is made.", *done.remarks])


def take_in_demonstration_study(database: Path, progress: Progress) -> str:
    """Put the bundled study on the shelf: airplane and recordings, ready to be reduced."""
    with open_studies(database, clock) as store:
        return f"{take_in_demonstration(store, progress).title} is on the shelf."


def agree_handbooks_of(database: Path, progress: Progress, slug: str, family: str, on: str) -> str:
    """Read and fly the printed orders of a family as they hold on a day, and keep how they agree."""
    with open_studies(database, clock, create=False) as store:
        return keep_agreement(store, slug, family, date.fromisoformat(on), progress)
