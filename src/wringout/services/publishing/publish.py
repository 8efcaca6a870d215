"""Publishing: the brief as HTML and PDF, and the bundle it names by its hash, side by side in one folder."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from wringout.briefs.airplane_figures import airplane_figures
from wringout.briefs.content import BriefContent, RecordingUsed, RunAside, Units
from wringout.briefs.write import Reader, write_brief, write_for
from wringout.errors import StoreError
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.findings.reduce import (
    PACKAGE_VERSION,
    Progress,
    Reduced,
    no_progress,
)
from wringout.services.flights.runs import built_runs, read_study_recording
from wringout.services.matchups.compare import Compared
from wringout.services.publishing.again import computed_again, draws_of, has_second_opinion, part
from wringout.services.publishing.printed import printed_orders
from wringout.services.study.thresholds import difference_words, thresholds_of
from wringout.store import (
    RunState,
    Store,
    Study,
    View,
    export_bundle,
    list_recordings,
    list_runs,
    put_brief,
)

__all__ = ["Published", "Reader", "brief_content", "commands", "date_words", "publish"]


@dataclass(frozen=True, slots=True)
class Published:
    """A brief that was written.

    Attributes:
        study: its study.
        html: the page, self-contained.
        pdf: the same for paper.
        bundle: the study as one open file, from which everything can be computed again.
        bundle_sha256: the bundle's hash, which the brief names.
        reproduced: whether the kept results came out again to the last digit; if not, the new ones are kept beside
            them and are what the brief prints.
        with_matchup: whether the brief compares techniques.
        others: the files for other readers that were asked for.
    """

    study: Study
    html: Path
    pdf: Path
    bundle: Path
    bundle_sha256: str
    reproduced: bool
    with_matchup: bool
    others: tuple[Path, ...] = ()


def publish(
    store: Store,
    slug: str | None,
    folder: Path,
    now: datetime,
    units: Units = "aviation",
    progress: Progress = no_progress,
    reduced: Reduced | None = None,
    compared: Compared | None = None,
    readers: Sequence[Reader] = (),
) -> Published:
    """Compute the kept results again, then write brief and bundle into a folder, each whole or not at all.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        folder: made if it is not there; files of an earlier brief are replaced.
        now: the present moment; its date stands on the brief.
        units: what the brief prints.
        progress: see :data:`wringout.services.findings.reduce.Progress`.
        reduced: the reduction just made in this process, so that it need not be computed again.
        compared: the matchup just flown in this process, likewise.
        readers: other readers than peers to write for beside the full brief, which is always written.

    Raises:
        NotFoundError: there is no such study, or its reduction or matchup is missing or out of date.
        StoreError: a file cannot be written.
    """
    again = computed_again(store, slug, part(progress, 0.0, 0.7), reduced, compared)
    study = again.study
    bundle, sha256 = _export(store, study, folder)
    progress(0.7, "writing the brief")
    with store.reading() as view:
        content = brief_content(view, study, again.reduced, again.compared, bundle.name, sha256, now, units)
    try:
        files = write_brief(content, folder)
        others = tuple(path for one in readers if one != "peers" for path in write_for(content, one, folder))
    except OSError as error:
        raise _unwritable(folder, error) from error
    with store.writing() as work:
        for path in (files.html, files.pdf, *others):
            put_brief(work, study.id, str(path.absolute()), hashlib.sha256(path.read_bytes()).hexdigest(), sha256)
    return Published(study, files.html, files.pdf, bundle, sha256, again.same, again.compared is not None, others)


def _unwritable(folder: Path, error: OSError) -> StoreError:
    return StoreError(
        f"the brief could not be written to '{folder}' ({error.strerror or error})", advice="choose another folder"
    )


def _export(store: Store, study: Study, folder: Path) -> tuple[Path, str]:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _unwritable(folder, error) from error
    path = folder / f"{study.slug}.zip"
    return path, export_bundle(store, study, path, replace=True).sha256


def brief_content(
    view: View,
    study: Study,
    reduced: Reduced,
    compared: Compared | None,
    bundle_name: str,
    bundle_sha256: str,
    now: datetime,
    units: Units,
) -> BriefContent:
    """Return everything a brief prints.

    Raises:
        StoreError: a recording is missing or damaged.
    """
    airplane = study_airplane(view, study.id)
    return BriefContent(
        title=study.title,
        question=study.question,
        difference=difference_words(thresholds_of(study.difference_that_matters)),
        invented=study.invented or airplane.beliefs.invented,
        airplane=airplane.beliefs.name,
        reduction=reduced.reduction,
        key_figures=airplane_figures(airplane.document),
        recordings=_recordings(view, study),
        matchups=() if compared is None else compared.matchups,
        asides=tuple(
            RunAside(item.stored.key, item.title or item.stored.method, item.stored.reason)
            for item in built_runs(view, study.id)
            if item.stored.state is RunState.SET_ASIDE
        ),
        printed=printed_orders(view, airplane.beliefs.name, now.date()),
        version=PACKAGE_VERSION,
        bundle_sha256=bundle_sha256,
        date=date_words(now),
        reproduce=(verify_command(bundle_name, bundle_sha256), *commands(study, reduced, compared, bundle_name)),
        units=units,
    )


def date_words(now: datetime) -> str:
    """Return a date as it stands on a brief, such as "5 May 2026"."""
    day = now.astimezone(UTC)
    return f"{day.day} {day:%B %Y}"


def verify_command(bundle_name: str, bundle_sha256: str) -> str:
    """Return the command that computes every number of a bundle again and says which differ."""
    return f"wringout verify {bundle_name} --sha256 {bundle_sha256}"


def commands(study: Study, reduced: Reduced, compared: Compared | None, bundle_name: str) -> tuple[str, ...]:
    """Return the commands that compute a brief again from its bundle."""
    result, there = reduced.result, "wringout --database again.sqlite3"
    opinion = " --second-opinion" if has_second_opinion(result) else ""
    found = [
        f"{there} import {bundle_name}",
        f"{there} reduce --study {study.slug} --draws {draws_of(result)} --seed {result.seed}{opinion}",
    ]
    if compared is not None:
        flown = compared.result
        found.append(f"{there} compare --study {study.slug} --draws {draws_of(flown)} --seed {flown.seed}")
    found.append(f"{there} brief --study {study.slug} --folder brief")
    return tuple(found)


def _recordings(view: View, study: Study) -> tuple[RecordingUsed, ...]:
    used = {run.recording_sha256 for run in list_runs(view, study.id) if run.state is RunState.IN_USE}
    found = []
    for item in list_recordings(view, study.id):
        if item.recording.sha256 in used:
            rows = len(read_study_recording(view, item))
            found.append(RecordingUsed(item.name, item.recording.sha256, item.recording.size_bytes, rows))
    return tuple(found)
