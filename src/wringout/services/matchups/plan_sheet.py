"""The plan of a matchup as sentences with fields: from a document to texts, and from typed texts back."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from wringout.errors import BadInputError
from wringout.services.matchups.plan_situations import PROCEDURES, fields_of
from wringout.services.matchups.plans import PlanDocument, checked_plan

Fields = dict[str, str]
PAIRS: Final = ("domain.weight", "domain.pressure_altitude", "domain.isa_deviation", "domain.entry_speed")
"""Fields of a lowest and a highest, each with a text of its own under ``.low`` and ``.high``."""
_LOADS: Final = "pilot.load_factor"
_DETAILS: Final[Mapping[str, tuple[str, ...]]] = {
    "pilot": ("pitch_rate", "path_rate", "hand"),
    "devices": ("gear", "flaps", "engine_drag"),
    "ground": ("wing_height", "friction"),
}
RUNWAYS: Final = (("", "as it usually is"), ("yes", "with a runway"), ("no", "without a runway"))
_USUAL_DEVICE: Final = "moves"


@dataclass(frozen=True, slots=True)
class Clause:
    """A few words with one field in them.

    Attributes:
        before, after: the words around it.
        field: its name, such as "situation.descent".
        says: what it is, for whoever cannot see the sentence.
        hint: what stands in it while it is empty.
        choices: what it is chosen from; empty for one that is typed.
    """

    before: str
    field: str
    says: str
    after: str = ""
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()


_CLAUSES: Final[tuple[tuple[Clause, ...], ...]] = (
    (
        Clause("It begins with flaps ", "situation.start_flaps", "flaps at the start"),
        Clause(" and the gear ", "situation.start_gear", "gear at the start", "", "", (("down", "down"), ("up", "up"))),
        Clause("; its speed is ", "situation.entry_speed", "speed at the start", " (times VS, or with its unit)"),
        Clause(", descending at ", "situation.descent", "angle of the descent"),
        Clause(", ", "situation.height", "height above the ground at the start", " above the ground"),
    ),
    (
        Clause("The loss is noticed after ", "situation.recognition", "time until the loss is noticed"),
        Clause(", then it glides at ", "situation.glide_speed", "speed of the glide", " times VS with flaps up"),
    ),
    (
        Clause("The power lever is moved ", "situation.power_delay", "time until the power lever is moved", " later"),
        Clause(", and is where it goes after another ", "situation.power_ramp", "time the power lever takes"),
    ),
    (Clause("The pilot takes ", "situation.action_delay", "delay before each action", " before each action"),),
    (
        Clause("It comes down at ", "situation.descent_speed", "speed of the descent"),
        Clause(", until it has lost ", "situation.height_lost", "height to lose"),
        Clause("It ends when it has slowed to ", "situation.target_speed", "speed to slow down to"),
    ),
    (
        Clause("Under “level, then climb” it climbs at ", "situation.climb_speed", "speed of the climb", " times VS"),
        Clause(
            "; under “hold attitude” the nose is raised by ", "situation.pitch_up", "how far the nose is raised",
            "", "what a steady climb asks",
        ),
    ),
    (Clause("Each is flown for ", "situation.duration", "how long each is flown"),),
)  # fmt: skip


def sentences(procedure: str) -> list[list[Clause]]:
    """Return the sentences of a procedure, each as its clauses, with the fields it has."""
    known = {f"situation.{name}" for name in fields_of(_procedure(procedure))}
    found = [[clause for clause in group if clause.field in known] for group in _CLAUSES]
    return [_begun(group) for group in found if group]


def _begun(group: Sequence[Clause]) -> list[Clause]:
    """Return a sentence whose first clause begins it, whatever was left out before it."""
    first = group[0]
    before = first.before.lstrip(" ,;")
    before = before[:1].upper() + before[1:] if before else "It begins at "
    return [Clause(before, first.field, first.says, first.after, first.hint, first.choices), *group[1:]]


def _procedure(name: str) -> Any:
    if name not in PROCEDURES:
        raise BadInputError(f"'{name[:60]}' is no procedure", "procedure", f"one of {'; '.join(PROCEDURES)}")
    return name


def plan_fields(document: PlanDocument) -> Fields:
    """Return a plan as a flat table of texts."""
    situation = document.situation
    out = {f"situation.{n}": _text(getattr(situation, n)) for n in fields_of(situation.procedure)}
    for name in PAIRS:
        low, high = getattr(document.domain, name.removeprefix("domain.")) or ("", "")
        out |= {f"{name}.low": _text(low), f"{name}.high": _text(high)}
    loads = document.pilot.load_factor if document.pilot else None
    out |= {f"{_LOADS}.low": _text(loads[0] if loads else None), f"{_LOADS}.high": _text(loads[1] if loads else None)}
    for section, names in _DETAILS.items():
        written = getattr(document, section)
        for name in names:
            value = None if written is None else getattr(written, name)
            out[f"{section}.{name}"] = "" if value == _USUAL_DEVICE else _text(value)
    out["ground.runway"] = "" if document.ground is None else "yes" if document.ground.runway else "no"
    out["orders"] = "\n".join(
        f"{o.title}: {'; '.join(o.steps)}" if o.title else "; ".join(o.steps) for o in document.orders
    )
    return out


def _text(value: object) -> str:
    if value is None:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)


def plan_typed(procedure: str, typed: Mapping[str, str]) -> PlanDocument:
    """Return the plan that was typed; a field left empty is as usual.

    Raises:
        BadInputError: a field cannot be read, naming it.
    """
    texts = {name: text.strip() for name, text in typed.items() if text.strip()}
    situation: dict[str, Any] = {"procedure": _procedure(procedure)}
    for name in fields_of(_procedure(procedure)):
        if text := texts.get(f"situation.{name}"):
            situation[name] = text if name in ("start_flaps", "start_gear") else _value(text)
    raw: dict[str, Any] = {"situation": situation}
    pairs = {name.partition(".")[2]: _pair(name, texts) for name in PAIRS}
    raw["domain"] = {name: pair for name, pair in pairs.items() if pair is not None}
    for section, names in _DETAILS.items():
        if written := {name: _value(texts[f"{section}.{name}"]) for name in names if f"{section}.{name}" in texts}:
            raw[section] = written
    if (loads := _pair(_LOADS, texts)) is not None:
        raw["pilot"] = raw.get("pilot", {}) | {"load_factor": loads}
    if runway := texts.get("ground.runway"):
        raw["ground"] = raw.get("ground", {}) | {"runway": runway == "yes"}
    if own := [_order(line) for line in texts.get("orders", "").splitlines() if line.strip()]:
        raw["orders"] = own
    return checked_plan(raw, "plan")


def _value(text: str) -> str | int | float:
    """Return a plain number as one, and anything else as it was typed."""
    plain = text.replace("\N{MINUS SIGN}", "-")
    if re.fullmatch(r"[+-]?\d{1,9}", plain):
        return int(plain)
    return float(plain) if re.fullmatch(r"[+-]?\d{0,9}\.\d{1,9}", plain) else text


def _pair(name: str, texts: Mapping[str, str]) -> list[str | int | float] | None:
    ends = [texts.get(f"{name}.{end}") for end in ("low", "high")]
    if ends == [None, None]:
        return None
    if None in ends:
        raise BadInputError("only one end is stated", f"plan, {name}", "write the lowest and the highest, or neither")
    return [_value(str(end)) for end in ends]


def _order(line: str) -> dict[str, Any]:
    title, _, steps = line.rpartition(":")
    return {"title": title.strip(), "steps": [step.strip() for step in steps.split(";") if step.strip()]}
