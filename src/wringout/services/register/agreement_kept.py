"""The agreement of a family's handbooks, kept with a study so that it is computed once for the same inputs."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from wringout.errors import NotFoundError
from wringout.handbooks.entry import table_of
from wringout.services.findings.reduce import PACKAGE_VERSION, Progress, kept_reduction, no_progress
from wringout.services.opening import the_study
from wringout.services.register.documents import agreement_document
from wringout.services.register.entries import registered
from wringout.services.register.printed_orders import (
    USUAL,
    USUAL_PLAN,
    KnownVariant,
    family_agreement,
    list_variants,
    standing_entries,
)
from wringout.store import Store, View, get_document, get_study, put_document, slug_of

KIND = "agreement"


@dataclass(frozen=True, slots=True)
class KeptAgreement:
    """An agreement as kept: its document, when it was computed, and whether its inputs are still the same."""

    body: Mapping[str, Any]
    at: str
    current: bool


def _inputs_hash(view: View, family: str, on: date) -> str:
    """Return the hash of everything an agreement is computed from; the day counts only by what holds on it."""
    kin = family.casefold()
    holds = [table_of(entry) for entry in standing_entries(view, on) if entry.family.casefold() == kin]
    every = [table_of(item.entry) for item in registered(view, family=family) if item.entry.dated <= on]
    variants = [(asdict(v), _draws_of(view, v)) for v in list_variants(view)]
    named = [holds, every, variants, USUAL.draws, USUAL.seed, repr(USUAL_PLAN), PACKAGE_VERSION]
    return hashlib.sha256(json.dumps(named, sort_keys=True).encode()).hexdigest()


def _draws_of(view: View, variant: KnownVariant) -> str:
    """Return which reduction a variant is flown on; "" where it is flown on beliefs or cannot be flown."""
    try:
        return kept_reduction(view, get_study(view, variant.study)).inputs_hash if variant.study else ""
    except NotFoundError:
        return ""


def keep_agreement(store: Store, slug: str, family: str, on: date, progress: Progress = no_progress) -> str:
    """Compute the agreement of a family and keep it with a study; nothing is computed where the inputs are the same.

    Raises:
        NotFoundError: there is no such study or family.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        inputs = _inputs_hash(view, family, on)
        known = get_document(view, study.id, KIND, slug_of(family))
    if known is None or (known.body or {}).get("inputs_hash") != inputs:
        found, variants = family_agreement(store, family, on, progress=progress)
        body = {"family": family, "inputs_hash": inputs, **agreement_document(found, variants)}
        with store.writing() as work:
            put_document(work, study.id, KIND, slug_of(family), body)
    return f"The handbooks of {family} are read and flown."


def kept_agreement(store: Store, slug: str, family: str, on: date) -> KeptAgreement | None:
    """Return the agreement kept with a study, and whether it would come out of the same inputs today."""
    with store.reading() as view:
        study = the_study(view, slug)
        known = get_document(view, study.id, KIND, slug_of(family))
        if known is None or known.body is None:
            return None
        return KeptAgreement(known.body, known.at, known.body.get("inputs_hash") == _inputs_hash(view, family, on))


def families_for(store: Store, airplane: str) -> tuple[str, ...]:
    """Return the families of the register, that of an airplane's name first where one of its models is in it."""
    with store.reading() as view:
        pairs = {(item.entry.family, item.entry.model) for item in registered(view)}
    own = {family for family, model in pairs if model.casefold() in airplane.casefold()}
    return tuple(sorted({family for family, _ in pairs}, key=lambda family: (family not in own, family)))
