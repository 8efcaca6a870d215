"""A study as one open bundle, out and back in."""

from __future__ import annotations

from pathlib import Path
from typing import BinaryIO

from wringout.services.opening import the_study
from wringout.store import BundleContents, ImportedBundle, Store, export_bundle, import_bundle


def export_study(store: Store, slug: str | None, destination: Path, replace: bool = False) -> BundleContents:
    """Write a study's bundle to a file, which appears only when it is complete.

    Raises:
        BadInputError: the file exists and ``replace`` is False.
        NotFoundError: there is no such study.
        StoreError: it cannot be written, or a recording is missing or damaged.
    """
    with store.reading() as view:
        study = the_study(view, slug)
    return export_bundle(store, study, destination, replace)


def import_study(store: Store, stream: BinaryIO, name: str) -> ImportedBundle:
    """Take a study back in from a bundle, checked as if an enemy had made it.

    Raises:
        BadInputError: the bundle is damaged, changed, too large, newer than this version, or a trap.
        StoreError: disk or database refuse; nothing of it is kept then.
    """
    return import_bundle(store, stream, name)
