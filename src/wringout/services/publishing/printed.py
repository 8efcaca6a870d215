"""What the register holds of the study's airplane, for the brief to cite."""

from __future__ import annotations

import re
from datetime import date

from wringout.briefs.content import PrintedOrder
from wringout.handbooks.entry import Entry
from wringout.handbooks.queries import supersessions
from wringout.handbooks.steps import steps_text
from wringout.services.register.entries import registered
from wringout.store import View


def printed_orders(view: View, airplane: str, on: date) -> tuple[PrintedOrder, ...]:
    """Return what the handbooks of an airplane print, dated no later than a day, those that hold before those replaced.

    The airplane's model is the longest one of the register whose name stands in the airplane's name as whole words.
    """
    known = [item.entry for item in registered(view) if item.entry.dated <= on]
    models = {entry.model for entry in known if _named(entry.model, airplane)}
    if not models:
        return ()
    longest = max(len(model) for model in models)
    own = [entry for entry in known if entry.model in models and len(entry.model) == longest]
    later = {id(item.before): item.after.name for item in supersessions(own)}
    own.sort(key=lambda entry: (id(entry) in later, entry.family, -entry.dated.toordinal()))
    return tuple(_order(entry, later.get(id(entry), "")) for entry in own)


def _named(model: str, airplane: str) -> bool:
    return re.search(rf"(?<!\w){re.escape(model)}(?!\w)", airplane, re.IGNORECASE) is not None


def _order(entry: Entry, superseded_by: str) -> PrintedOrder:
    return PrintedOrder(
        document=entry.document,
        part_number=entry.part_number,
        revision=entry.revision,
        date=entry.dated.isoformat(),
        section=entry.section,
        serials=str(entry.serials),
        order=steps_text(entry.steps),
        paraphrase=entry.paraphrase,
        note=entry.note,
        invented=entry.invented,
        superseded_by=superseded_by,
    )
