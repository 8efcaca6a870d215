"""What the register prints for a study's airplane, held beside the best technique that can be found for it."""

from __future__ import annotations

import re
from datetime import date

from wringout.airplane.beliefs import Beliefs
from wringout.briefs.procedure_words import is_go_around
from wringout.errors import BadInputError
from wringout.handbooks.entry import Entry
from wringout.handbooks.flown import technique_of_reading
from wringout.handbooks.reading import read_order
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.findings.reduce import Progress, no_progress
from wringout.services.matchups.compare import last_plan
from wringout.services.matchups.kept import Kept
from wringout.services.matchups.plans import plan_of
from wringout.services.matchups.search_documents import PrintedOrder
from wringout.services.matchups.searches import SearchAsked, search_technique
from wringout.services.opening import the_study
from wringout.services.register.printed_orders import list_variants, standing_entries
from wringout.store import Store, View


def search_beside_printed(
    store: Store, slug: str | None, asked: SearchAsked, on: date, progress: Progress = no_progress
) -> Kept:
    """Search the best reachable technique, with the orders printed for the study's airplane beside it.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        asked: what is searched for.
        on: the day on which a printed order must hold.
        progress: see :data:`wringout.services.findings.reduce.Progress`.

    Raises:
        BadInputError, NotFoundError: as :func:`wringout.services.matchups.searches.search_technique`.
    """
    printed, notes = printed_for(store, slug, asked, on)
    return search_technique(store, slug, asked, printed, notes, progress)


def printed_for(
    store: Store, slug: str | None, asked: SearchAsked, on: date
) -> tuple[tuple[PrintedOrder, ...], tuple[str, ...]]:
    """Return every way of reading the orders printed for a study's airplane, and a sentence for each not read.

    The register holds what is printed for a go-around, so beside another procedure there is nothing.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        beliefs = study_airplane(view, study.id).beliefs
        plan = plan_of(asked.plan if asked.plan is not None else last_plan(view, study), beliefs)
        if not is_go_around(plan.situation):
            return (), ()
        entries = _entries_for(view, study.slug, beliefs, on)
    found: list[PrintedOrder] = []
    notes: list[str] = []
    for entry in entries:
        if entry.prints_none:
            notes.append(f"{entry.name} prints no order.")
            continue
        try:
            readings = read_order(entry.steps, beliefs, plan.situation.start_flap_rad, entry.model).readings
        except BadInputError as error:
            notes.append(f"What {entry.name} prints could not be flown: {error}")
            continue
        gear_down = plan.situation.start_gear > 0.0 and beliefs.retractable
        found += [PrintedOrder(technique_of_reading(reading, gear_down), entry.name) for reading in readings]
    return tuple(found), tuple(notes)


def _entries_for(view: View, slug: str, beliefs: Beliefs, on: date) -> list[Entry]:
    """Return what holds for the models that are this study's airplane: because it was said so, or by its name.

    By name it is the longest model of the register that stands in the airplane's name as whole words.
    """
    entries = standing_entries(view, on)
    said = {variant.model for variant in list_variants(view) if variant.study == slug}
    named = {e.model for e in entries if re.search(rf"(?<!\w){re.escape(e.model)}(?!\w)", beliefs.name, re.IGNORECASE)}
    longest = max((len(model) for model in named), default=0)
    return [e for e in entries if e.model in said or (e.model in named and len(e.model) == longest)]
