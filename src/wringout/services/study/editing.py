"""Editing a study in place: one field at a time, saved at once, and never over what another window has changed."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from wringout.errors import BadInputError, ConflictError
from wringout.services.opening import the_study
from wringout.services.study.thresholds import thresholds_of
from wringout.store import Store, Study, Work, edit_study, list_recordings
from wringout.store.records import Plain
from wringout.techniques.flying.scores import SCORES

TEXT_FIELDS = {"title": "The title", "question": "The question"}


def score_choices() -> tuple[tuple[str, str, str], ...]:
    """Return every score by which techniques can be judged: key, title, unit."""
    return tuple((score.key, score.title, "" if score.shown_unit == "1" else score.shown_unit) for score in SCORES)


def edit_text(store: Store, slug: str | None, field: str, text: str, was: str) -> Study:
    """Change the title or the question of a study.

    Args:
        store: where it is kept.
        slug: the study; None for the only one.
        field: a key of :data:`TEXT_FIELDS`.
        text: as it shall be.
        was: as it stood when the edit was begun.

    Raises:
        ConflictError: it was changed meanwhile; nothing is changed then.
        BadInputError: the text cannot be kept.
        NotFoundError: there is no such study.
    """
    if field not in TEXT_FIELDS:
        raise BadInputError(f"{field!r} cannot be edited", "study", f"edit {' or '.join(TEXT_FIELDS)}")
    with store.writing() as work:
        known = the_study(work, slug)
        changes: dict[str, Any] = {field: text.strip()}
        if getattr(known, field) not in {was, changes[field]}:
            raise ConflictError(f"{TEXT_FIELDS[field]} was changed in another window meanwhile", advice="choose one")
        return edit_study(work, dataclasses.replace(known, **changes), known)


def edit_difference(
    store: Store, slug: str | None, table: Mapping[str, Plain], was: Mapping[str, Plain]
) -> tuple[Study, bool]:
    """Change the difference that matters; fields left blank fall back to the usual.

    Returns:
        the study, and whether recordings had been taken in already, so that it was not stated before flying.

    Raises:
        ConflictError: it was changed meanwhile; nothing is changed then.
        BadInputError: a field cannot be read.
        NotFoundError: there is no such study.
    """
    wanted: dict[str, Plain] = {key: value for key, value in table.items() if str(value).strip()}
    thresholds_of(wanted)
    with store.writing() as work:
        known = the_study(work, slug)
        there = dict(known.difference_that_matters)
        if there not in (dict(was), wanted):
            raise ConflictError("The difference that matters was changed in another window meanwhile", advice="choose")
        changed = edit_study(work, dataclasses.replace(known, difference_that_matters=wanted), known)
        return changed, there != wanted and _has_flown(work, known)


def _has_flown(work: Work, study: Study) -> bool:
    return bool(list_recordings(work, study.id))
