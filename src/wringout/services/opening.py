"""Opening the place where studies are kept, and choosing the study that is meant."""

from __future__ import annotations

from pathlib import Path

from wringout.errors import NotFoundError
from wringout.store import Clock, Store, Study, View, get_study, list_studies, open_store, place_at

__all__ = ["Clock", "Store", "open_studies", "the_study"]


def open_studies(database: Path | None, clock: Clock, create: bool = True) -> Store:
    """Open the database of studies; close it, or use it as a context manager.

    Args:
        database: the database file; None means the one in the user's data folder.
        clock: returns the present moment with its time zone.
        create: False refuses to make a new database.

    Raises:
        BadInputError: the path cannot be a database.
        NotFoundError: there is no database and ``create`` is False.
        StoreError: it is damaged, newer than this version, or cannot be written.
    """
    return open_store(place_at(database), clock, create)


def the_study(view: View, slug: str | None) -> Study:
    """Return the study of a short name, or the only one there is when no name is given.

    Raises:
        NotFoundError: there is no such study, there is none at all, or no name was given and there are several.
    """
    if slug is not None:
        return get_study(view, slug)
    known = list_studies(view)
    if not known:
        raise NotFoundError("there is no study yet", advice="make one first")
    if len(known) > 1:
        names = ", ".join(study.slug for study in known[:8])
        raise NotFoundError("there is more than one study", advice=f"name the one you mean: {names}")
    return known[0]
