"""The plan of a matchup as its page shows it: sentences with fields, what was typed, and what was refused."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, replace

from wringout.errors import BadInputError
from wringout.services.matchups.compare import DRAWS, SEED, planned
from wringout.services.matchups.plan_sheet import RUNWAYS, Clause, Fields, plan_fields, plan_typed, sentences
from wringout.services.matchups.plan_situations import PROCEDURES
from wringout.services.matchups.plans import PlanDocument, parse_plan, plan_text, usual_plan
from wringout.web.ask import Ask
from wringout.web.map_forms import count_in

PREFIX = "f:"


@dataclass(frozen=True, slots=True)
class PlanForm:
    """What stands in the form.

    Attributes:
        procedure: what is flown.
        fields: a text for each field.
        text: the same plan as TOML, or what was typed there.
        draws, seed: as typed.
        opened: whether the sentences are shown at once, and ``as_text`` whether the text is.
        refused: why it was refused, "" where it was not; ``wrong`` the field that is named in it.
        draft: what belongs to this plan while it is typed.
    """

    procedure: str
    fields: Fields
    text: str
    draws: str = str(DRAWS)
    seed: str = str(SEED)
    opened: bool = False
    as_text: bool = False
    refused: str = ""
    wrong: str = ""
    draft: str = ""

    @property
    def sentences(self) -> list[list[Clause]]:
        """The sentences of the procedure."""
        return sentences(self.procedure)

    @property
    def procedures(self) -> tuple[str, ...]:
        """Every procedure that can be flown."""
        return PROCEDURES

    @property
    def runways(self) -> tuple[tuple[str, str], ...]:
        """What may be said of the runway."""
        return RUNWAYS

    @property
    def is_detailed(self) -> bool:
        """Whether anything is stated beyond the usual."""
        return any(text for name, text in self.fields.items() if not name.startswith(("situation.", "domain.")))


def shown_form(ask: Ask) -> PlanForm:
    """Return the plan the next matchup will use: the last one, or the usual one of a procedure asked for."""
    if procedure := ask.query("procedure"):
        return _form(usual_plan(procedure), opened=True)
    return _form(planned(ask.store, ask.slug)[1])


def _form(document: PlanDocument, opened: bool = False) -> PlanForm:
    text = plan_text(document)
    draft = hashlib.sha256(text.encode()).hexdigest()[:8]  # a draft belongs to the plan it was made from
    return PlanForm(document.situation.procedure, plan_fields(document), text, opened=opened, draft=draft)


def typed_plan(ask: Ask) -> tuple[PlanDocument | None, int, int]:
    """Return the plan that was sent, as sentences or as text, with draws and seed; None where none was.

    Raises:
        BadInputError: it cannot be read, naming the field.
    """
    draws, seed = (
        count_in(ask.text("draws", str(DRAWS)), "draws", DRAWS),
        count_in(ask.text("seed", str(SEED)), "seed", SEED),
    )
    if ask.text("plan").strip():
        return parse_plan(ask.text("plan"), "plan"), draws, seed
    fields = _sent(ask)
    return (plan_typed(ask.text("procedure"), fields), draws, seed) if fields else (None, draws, seed)


def _sent(ask: Ask) -> Fields:
    items = ask.form.multi_items() if ask.form is not None else []
    sent = {name.removeprefix(PREFIX): value for name, value in items if name.startswith(PREFIX)}
    return {name: value.replace("\r\n", "\n") for name, value in sent.items() if isinstance(value, str)}


def refused_form(ask: Ask, error: Exception) -> PlanForm:
    """Return the form as it was sent, with why it was refused."""
    base = replace(
        shown_form(ask), refused=str(error), draws=ask.text("draws", str(DRAWS)), seed=ask.text("seed", str(SEED))
    )
    if ask.text("plan").strip():
        return replace(base, text=ask.text("plan"), as_text=True)
    fields = _sent(ask)
    procedure = ask.text("procedure") if ask.text("procedure") in PROCEDURES else base.procedure
    named = re.search(r"\b(?:situation|domain|pilot|devices|ground)\.\w+|\borders\b", getattr(error, "where", ""))
    usual = dict.fromkeys(base.fields, "")
    wrong = named.group(0) if named and isinstance(error, BadInputError) else ""
    return replace(base, procedure=procedure, fields=usual | fields, opened=True, wrong=wrong)
