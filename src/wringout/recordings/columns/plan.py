"""Recognising the columns of a table from their names, their units and a saved mapping."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from wringout.errors import BadInputError
from wringout.recordings.columns.mapping import Mapping, example_unit
from wringout.recordings.columns.quantities import (
    CALLED_SPEED_NAMES,
    MEANING_BY_NAME,
    QUANTITIES,
    ROLES,
    meaning_of,
    plain_name,
)
from wringout.recordings.types import Notice, Severity
from wringout.units import find_unit

_BRACKETS = re.compile(r"^(.*?)\s*[(\[{]([^()\[\]{}]*)[)\]}]\s*$")
_SEVERAL_ALLOWED = frozenset({"mark", "note", "ignore"})
_ANY_SPEED = frozenset({"speed", "spd", "velocity"})
_CLOCK_UNITS = re.compile(r"[hdmysz:./\-\s]*|iso ?8601|utc|local|lcl|-+", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ColumnPlan:
    """What one column is taken to be.

    Attributes:
        position: 0-based position in the table.
        column: its name as written.
        meaning: a key of `QUANTITIES` or `ROLES`, or "" if it is not recognised.
        unit: spelling of its unit, or "" (words, clock times, or not written).
        confirmed: the user stands by the unit.
        rank: how specific the name was; 0 is the most specific.
    """

    position: int
    column: str
    meaning: str = ""
    unit: str = ""
    confirmed: bool = False
    rank: int = 0

    @property
    def cell_name(self) -> str:
        """The name of this column in a table of cells."""
        return f"c{self.position}"

    @property
    def is_quantity(self) -> bool:
        """Whether the column carries numbers of a known quantity."""
        return self.meaning in QUANTITIES


@dataclass(frozen=True, slots=True)
class HeaderPlace:
    """Where column names stand, for sentences: the file's name and the 1-based row of the names (0 = none)."""

    file: str
    row: int = 0

    def at(self, column: str) -> str:
        """Return the place of one column name."""
        return f"{self.file}, row {self.row}, {column}" if self.row else f"{self.file}, {column}"


def split_unit(cell: str) -> tuple[str, str]:
    """Split a column name into name and unit: ``IAS (kt)``, ``altitude [ft]``, ``oat_degC``; the unit may be "".

    A name that is itself a unit of what it names (``KIAS``, ``RPM``) carries that unit.
    """
    match = _BRACKETS.match(cell.strip())
    if match:
        return match.group(1).strip(), match.group(2).strip()
    if meaning_of(cell) is not None:
        return cell.strip(), ""
    words = re.split(r"[\s_,]+", cell.strip())
    for count in (1, 2, 3):
        name, unit = " ".join(words[:-count]), " ".join(words[-count:])
        known = meaning_of(name) is not None or plain_name(name) in CALLED_SPEED_NAMES
        if name and known and not unit.isdigit() and find_unit(unit) is not None:
            return name, unit
    return cell.strip(), ""


def plan_columns(
    names: Sequence[str], units: Sequence[str], mapping: Mapping | None, place: HeaderPlace, *, called: bool
) -> tuple[list[ColumnPlan], list[Notice]]:
    """Decide what every column is.

    Args:
        names: column names as written.
        units: unit spellings from a units row, aligned with `names`; empty strings where there is none.
        mapping: a saved mapping, which counts before any recognition.
        place: where the names stand.
        called: hand-called readings, where a bare ``speed`` is the airspeed indicator and knots need not be written.

    Returns:
        One plan for each column, and notices. A column whose unit cannot be right, or that competes with another
        one for the same quantity, has its meaning taken away and a question asked.

    Raises:
        BadInputError: in hand-called readings, a unit that is unknown or measures something else.
    """
    plans, notices = [], []
    for position, cell in enumerate(names):
        plan, questions = _plan_one(position, cell, units[position] if position < len(units) else "", mapping, called)
        questions += _unit_questions(plan, place, called)
        plans.append(replace(plan, meaning="") if questions else plan)
        notices += [replace(question, row=place.row) for question in questions]
    plans, more = _settle_rivals(plans, place.row)
    notices += more + _mapping_leftovers(names, mapping)
    return plans, notices


def _plan_one(
    position: int, cell: str, unit_cell: str, mapping: Mapping | None, called: bool
) -> tuple[ColumnPlan, list[Notice]]:
    name, unit = split_unit(cell)
    unit = unit or re.sub(r"^[(\[{]|[)\]}]$", "", unit_cell.strip()).strip()
    line = mapping.find(cell, position) or mapping.find(name, position) if mapping else None
    if line is not None:
        plan = ColumnPlan(position, cell.strip(), line.quantity, line.unit, line.confirmed, -1)
        written, mapped = find_unit(unit) if unit else None, find_unit(line.unit) if line.unit else None
        if written and mapped and written.dimension == mapped.dimension and written != mapped and not line.confirmed:
            return plan, [
                _question(
                    f"column {cell.strip()!r} is written in {written.symbol} but the mapping says {mapped.symbol}; "
                    "say which is right, the column is not used until then",
                    cell.strip(),
                )
            ]
        return plan, []
    if not called and plain_name(name) in _ANY_SPEED:
        return ColumnPlan(position, cell.strip()), [
            _question(
                f"column {cell.strip()!r} could be indicated, true or ground speed; say which of ias, tas or "
                "ground_speed it is, it is not used until then",
                cell.strip(),
            )
        ]
    return _recognised(position, cell.strip(), name, unit, called), []


def _recognised(position: int, cell: str, name: str, unit: str, called: bool) -> ColumnPlan:
    found = meaning_of(name)
    if called and plain_name(name) in CALLED_SPEED_NAMES:
        found = ("ias", 0)
    if found is None:
        return ColumnPlan(position, cell)
    meaning, rank = found
    if meaning in ROLES:
        if meaning != "time" or (unit and find_unit(unit) is None and _CLOCK_UNITS.fullmatch(unit)):
            unit = ""
        elif not unit and find_unit(name) is not None:
            unit = name
        return ColumnPlan(position, cell, meaning, unit, rank=rank)
    known = find_unit(unit) if unit else find_unit(name)
    quantity = QUANTITIES[meaning]
    if known is not None and known.dimension in quantity.kin:
        meaning, quantity = quantity.kin[known.dimension], QUANTITIES[quantity.kin[known.dimension]]
    if not unit and known is not None and known.dimension == quantity.dimension:
        unit = known.symbol
    if not unit and called:
        unit = quantity.called_unit
    return ColumnPlan(position, cell, meaning, unit, rank=rank)


def _unit_questions(plan: ColumnPlan, place: HeaderPlace, called: bool) -> list[Notice]:
    """Ask about (or, in hand-called readings, refuse) a unit that is unknown or measures something else."""
    dimension = "time" if plan.meaning == "time" else QUANTITIES[plan.meaning].dimension if plan.is_quantity else ""
    if not dimension or not plan.unit.strip("-"):
        return []
    unit = find_unit(plan.unit)
    if unit is not None and unit.dimension == dimension:
        return []
    what = (
        f"the unit {plan.unit!r} is not known"
        if unit is None
        else f"{plan.unit!r} measures {unit.dimension}, not {dimension}"
    )
    if called:
        raise BadInputError(what, place.at(plan.column), f"write for example ({example_unit(dimension)})")
    return [
        _question(
            f"column {plan.column!r}: {what}; say its unit, such as {example_unit(dimension)}, "
            "it is not used until then",
            plan.column,
        )
    ]


def _settle_rivals(plans: list[ColumnPlan], row: int) -> tuple[list[ColumnPlan], list[Notice]]:
    """Let one column stand for each meaning; ask where two have an equal claim."""
    notices: list[Notice] = []
    for meaning in dict.fromkeys(plan.meaning for plan in plans):
        rivals = [plan for plan in plans if plan.meaning == meaning]
        if not meaning or meaning in _SEVERAL_ALLOWED or len(rivals) < 2:
            continue
        best = min(rivals, key=lambda plan: (plan.rank, plan.position))
        tied = [plan for plan in rivals if plan.rank == best.rank]
        names = ", ".join(repr(plan.column) for plan in rivals)
        if len(tied) > 1 and meaning in QUANTITIES:
            notices.append(
                _question(
                    f"columns {names} could each be {meaning}; say which to use, neither is used until then",
                    best.column,
                    row,
                )
            )
            losers = rivals
        else:
            notices.append(
                Notice(
                    Severity.NOTE, f"columns {names} could each be {meaning}; {best.column!r} is used", row, best.column
                )
            )
            losers = [plan for plan in rivals if plan is not best]
        plans = [replace(plan, meaning="") if plan in losers else plan for plan in plans]
    return plans, notices


def _mapping_leftovers(names: Sequence[str], mapping: Mapping | None) -> list[Notice]:
    """Name mapped columns that the file does not have."""
    if mapping is None:
        return []
    here = {
        line
        for i, cell in enumerate(names)
        for line in (mapping.find(cell, i), mapping.find(split_unit(cell)[0], i))
        if line is not None
    }
    absent = [line.column for line in mapping.columns if line not in here]
    if not absent:
        return []
    listed = ", ".join(repr(column) for column in absent)
    return [Notice(Severity.CAUTION, f"the mapping {mapping.name!r} names columns this file does not have: {listed}")]


def unknown_columns_notice(plans: Sequence[ColumnPlan], row: int) -> list[Notice]:
    """Return a notice counting and naming the columns that are not used, if there are any."""
    unknown = [plan.column or f"#{plan.position + 1}" for plan in plans if not plan.meaning]
    if not unknown:
        return []
    shown = ", ".join(repr(column) for column in unknown[:12]) + (", ..." if len(unknown) > 12 else "")
    count = "1 column is" if len(unknown) == 1 else f"{len(unknown)} columns are"
    return [Notice(Severity.NOTE, f"{count} not used: {shown}", row)]


def is_unit_cell(cell: str) -> bool:
    """Return whether a cell of a units row reads as a unit, or as the style of a clock such as ``hh:mm:ss``."""
    bare = re.sub(r"^[(\[{]|[)\]}]$", "", cell.strip()).strip()
    return bool(bare) and (find_unit(bare) is not None or _CLOCK_UNITS.fullmatch(bare) is not None)


def knows_name(cell: str) -> bool:
    """Return whether a cell reads as a column name this project recognises."""
    name = split_unit(cell)[0]
    return plain_name(name) in MEANING_BY_NAME or meaning_of(name) is not None or plain_name(name) in CALLED_SPEED_NAMES


def _question(sentence: str, column: str, row: int = 0) -> Notice:
    return Notice(Severity.QUESTION, sentence, row, column)
