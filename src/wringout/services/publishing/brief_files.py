"""The briefs that were written for a study: where their files are, and whether they are still as they were written."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from wringout.errors import NotFoundError
from wringout.services.opening import the_study
from wringout.services.study.inputs import inputs_hash
from wringout.store import ResultKind, Store, latest_result, list_briefs

KINDS = {".html": "the page", ".pdf": "for paper", ".zip": "the bundle, to compute it again"}


@dataclass(frozen=True, slots=True)
class BriefFile:
    """One file of a brief: its name, what it is, its place, and its hash and size as it lies there now."""

    name: str
    what: str
    path: Path
    sha256: str
    size_bytes: int


@dataclass(frozen=True, slots=True)
class WrittenBrief:
    """The newest brief of a study.

    Attributes:
        at: when it was written, UTC.
        files: its page, its paper and its bundle; a file that is gone is left out.
        unchanged: whether the brief's own files are still those that were written.
        current: whether the study still stands as it did when the newest result was computed.
    """

    at: str
    files: tuple[BriefFile, ...]
    unchanged: bool
    current: bool


def newest_brief(store: Store, slug: str | None) -> WrittenBrief | None:
    """Return the newest brief of a study, in the folder it was last written to; None where none was written.

    Raises:
        NotFoundError: there is no such study.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        written = list_briefs(view, study.id)
        reduction = latest_result(view, study.id, ResultKind.REDUCTION)
        current = reduction is not None and reduction.inputs_hash == inputs_hash(view, study.id)
    if not written:
        return None
    newest = written[-1]
    folder = Path(newest.path).parent
    of_it = {
        Path(one.path): one.sha256
        for one in written
        if one.bundle_sha256 == newest.bundle_sha256 and Path(one.path).parent == folder
    }
    places = [*of_it, folder / f"{study.slug}.zip"]
    found = [_file(path) for path in places if path.is_file() and path.suffix in KINDS]
    found.sort(key=lambda one: list(KINDS).index(one.path.suffix))
    unchanged = all(one.sha256 == of_it.get(one.path, one.sha256) for one in found)
    return WrittenBrief(newest.created_at, tuple(found), unchanged, current)


def _file(path: Path) -> BriefFile:
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while chunk := stream.read(1 << 20):
            digest.update(chunk)
    return BriefFile(path.name, KINDS[path.suffix], path, digest.hexdigest(), path.stat().st_size)


def brief_file(store: Store, slug: str | None, name: str) -> BriefFile:
    """Return one file of the newest brief.

    Raises:
        NotFoundError: there is no such study, no brief, or no such file in it.
    """
    newest = newest_brief(store, slug)
    for one in newest.files if newest else ():
        if one.name == name:
            return one
    raise NotFoundError(f"the brief has no file '{name[:80]}'", advice="write the brief again")
