"""What a plan would decide and what teaches most next, kept with what it was computed from."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

from wringout.planning.deciding import Contest
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.findings.reduce import Progress, no_progress
from wringout.services.opening import the_study
from wringout.services.planning.chance_words import chance_sentences, question_sentence
from wringout.services.planning.documents import lessons_document, variants_document
from wringout.services.planning.plans import (
    KIND,
    SEED,
    VARIANTS,
    Asked,
    Cancelled,
    KeptPlan,
    Variant,
    next_runs,
    plan_variants,
)
from wringout.store import Document, Store, View, get_document, get_entry, list_runs, put_entry

CHANCE_KIND = "plan-chance"


@dataclass(frozen=True, slots=True)
class KeptChance:
    """The kept answer; ``current`` is False where plan, airplane, runs or the difference that matters changed since."""

    body: dict[str, Any]
    current: bool

    @property
    def variants(self) -> list[dict[str, Any]]:
        """The variants computed so far."""
        return list(self.body.get("variants", []))

    @property
    def question(self) -> str:
        """What is to be decided, in a sentence."""
        return question_sentence(self.body["question"]) if "question" in self.body else ""

    @property
    def sentences(self) -> list[str]:
        """What the variants say together."""
        return chance_sentences(self.variants, bool(self.body.get("question", {}).get("law", "")))

    @property
    def knowing_nothing(self) -> bool:
        """Whether it was worked out as if no run had been flown."""
        return self.body.get("knowing") == "beliefs only"

    @property
    def lessons(self) -> list[dict[str, Any]]:
        """What each kind of point teaches next, most first."""
        return list(self.body.get("lessons", []))


def _basis(view: View, slug: str | None, key: str) -> str:
    study = the_study(view, slug)
    plan = get_document(view, study.id, KIND, key)
    runs = [[run.key, str(run.state), run.setup] for run in list_runs(view, study.id)]
    parts = [
        None if plan is None else plan.body,
        study_airplane(view, study.id).version.version,
        runs,
        dict(study.difference_that_matters),
    ]
    return hashlib.sha256(json.dumps(parts, sort_keys=True, default=str).encode()).hexdigest()


def kept_chance(store: Store, slug: str | None, key: str) -> KeptChance | None:
    """Return what is kept of a plan's chance; None where nothing was computed."""
    with store.reading() as view:
        found = get_entry(view, CHANCE_KIND, f"{the_study(view, slug).id}-{key}")
        if found is None or found.body is None:
            return None
        return KeptChance(dict(found.body), found.body.get("basis") == _basis(view, slug, key))


def work_out(
    store: Store,
    slug: str | None,
    key: str,
    asked: Asked,
    wanted: Sequence[str] = VARIANTS,
    progress: Progress = no_progress,
    cancelled: Cancelled | None = None,
) -> KeptChance:
    """Compute lessons and the chance of each wanted variant, and keep each as soon as it is found.

    Whoever stops the work keeps the variants that were finished; before the first is, the answer kept earlier stays as
    it was. Variants kept from the same plan, airplane, runs and numbers asked for stay.

    Raises:
        BadInputError: a point cannot be simulated, or the numbers asked for are out of range.
        NotFoundError: there is no such plan.
    """
    with store.reading() as view:
        basis = _basis(view, slug, key)
    progress(0.0, "what teaches most next")
    kept, contest, lessons = next_runs(store, slug, key, SEED)
    how = {"trials": asked.trials, "draws": asked.draws, "seed": asked.seed}
    before = kept_chance(store, slug, key)
    same = before is not None and before.body.get("basis") == basis and before.body.get("asked") == how
    body: dict[str, Any] = {**lessons_document(kept, contest, lessons), "basis": basis, "asked": how}
    body["knowing"] = kept.document.question.knowing
    body["variants"] = [v for v in before.variants if v["title"] not in wanted] if same and before else []
    if before is None or not before.variants or not wanted:
        _keep(store, slug, key, body)

    def found(kept: KeptPlan, contest: Contest, variant: Variant) -> None:
        body["variants"] = _in_order([*body["variants"], *variants_document(kept, contest, [variant])["variants"]])
        _keep(store, slug, key, body)

    plan_variants(store, slug, key, asked, wanted, progress, cancelled, found)
    return KeptChance(body, current=True)


def _in_order(variants: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return sorted(variants, key=lambda one: VARIANTS.index(one["title"]))


def _keep(store: Store, slug: str | None, key: str, body: dict[str, Any]) -> None:
    with store.writing() as work:
        put_entry(work, CHANCE_KIND, f"{the_study(work, slug).id}-{key}", cast(Document, body))
