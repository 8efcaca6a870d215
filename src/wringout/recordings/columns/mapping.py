"""Which column of a table is which quantity, in which unit: a small document a user can save and use again."""

from __future__ import annotations

import json
from dataclasses import dataclass

from wringout.errors import BadInputError
from wringout.recordings.columns.quantities import QUANTITIES, ROLES, Quantity, plain_name
from wringout.units import SI_UNIT, UNITS, find_unit

__all__ = ["QUANTITIES", "MappedColumn", "Mapping", "Quantity", "example_unit", "mapping_from_json", "mapping_to_json"]

_FORMAT = "wringout column mapping"
_VERSION = 1
_TEXT_ROLES = frozenset(ROLES) - {"time"}
_MAY_LACK_UNIT = frozenset({"flap", "gear"})  # such columns may hold words (UP, DOWN, 20)


@dataclass(frozen=True, slots=True)
class MappedColumn:
    """One line of a mapping.

    Attributes:
        column: the column's name as the file writes it (case and punctuation do not matter), or ``#3`` for the third.
        quantity: a key of `QUANTITIES`, or one of the roles ``time``, ``date``, ``mark``, ``note``, ``device``,
            ``from``, ``to``, ``pair``, ``technique``, ``ignore``.
        unit: the unit of its values; empty for words and for clock times such as ``h:mm:ss``.
        confirmed: the user has looked at the values and stands by the unit, however odd they are.
    """

    column: str
    quantity: str
    unit: str = ""
    confirmed: bool = False


@dataclass(frozen=True, slots=True)
class Mapping:
    """A saved answer to "what is in these columns", for all files of one logger.

    Build it with `make_mapping` or `mapping_from_json`, which check it.
    """

    name: str
    columns: tuple[MappedColumn, ...]

    def find(self, column: str, position: int) -> MappedColumn | None:
        """Return the line for a column by its name, or by its 0-based position written ``#1`` for the first."""
        wanted = {f"#{position + 1}", plain_name(column)} - {""}
        for line in self.columns:
            if line.column.strip() in wanted or plain_name(line.column) in wanted:
                return line
        return None


def example_unit(dimension: str) -> str:
    """Return the first unit this project knows of a dimension, for a sentence saying what would be right."""
    if dimension == "temperature":
        return "°C"
    return next((unit.symbol for unit in UNITS.values() if unit.dimension == dimension), SI_UNIT[dimension])


def check_column(line: MappedColumn, where: str) -> None:
    """Check one line of a mapping.

    Raises:
        BadInputError: no column, an unknown quantity, an unknown unit, or a unit that measures something else.
    """
    if not line.column.strip():
        raise BadInputError("the column has no name", f"{where}, column", 'write its name, or "#3" for the third')
    if line.quantity not in QUANTITIES and line.quantity not in ROLES:
        known = ", ".join([*QUANTITIES, *ROLES])
        raise BadInputError(f"{line.quantity!r} is not a quantity", f"{where}, quantity", f"use one of {known}")
    if line.quantity in _TEXT_ROLES or (not line.unit and line.quantity in {"time", *_MAY_LACK_UNIT}):
        return
    dimension = "time" if line.quantity == "time" else QUANTITIES[line.quantity].dimension
    unit = find_unit(line.unit)
    if unit is None:
        raise BadInputError(
            f"the unit {line.unit!r} is not known", f"{where}, unit", f"write for example {example_unit(dimension)}"
        )
    if unit.dimension != dimension:
        raise BadInputError(
            f"{line.unit!r} measures {unit.dimension}, but {line.quantity} is a {dimension}",
            f"{where}, unit",
            f"write for example {example_unit(dimension)}",
        )


def make_mapping(name: str, columns: tuple[MappedColumn, ...], *, where: str = "mapping") -> Mapping:
    """Return a checked mapping.

    Raises:
        BadInputError: a line is wrong (see `check_column`), or two lines name the same column or quantity.
    """
    seen: dict[str, str] = {}
    for number, line in enumerate(columns, start=1):
        place = f"{where}, line {number}"
        check_column(line, place)
        keys = [f"column {plain_name(line.column) or line.column.strip()}"]
        if line.quantity in QUANTITIES or line.quantity == "time":
            keys.append(f"quantity {line.quantity}")
        for key in keys:
            if key in seen:
                raise BadInputError(
                    f"the {key} is mapped twice (also in {seen[key]})",
                    place,
                    'keep one of the two and map the other column to "ignore"',
                )
            seen[key] = f"line {number}"
    return Mapping(name, columns)


def mapping_to_json(mapping: Mapping) -> str:
    """Write a mapping as a JSON document (RFC 8259) that `mapping_from_json` reads back unchanged."""
    document = {
        "format": _FORMAT,
        "version": _VERSION,
        "name": mapping.name,
        "columns": [
            {"column": line.column, "quantity": line.quantity, "unit": line.unit, "confirmed": line.confirmed}
            for line in mapping.columns
        ],
    }
    return json.dumps(document, ensure_ascii=False, indent=2) + "\n"


def mapping_from_json(text: str | bytes, *, where: str = "mapping") -> Mapping:
    """Read a mapping from JSON, refusing anything it does not understand.

    Raises:
        BadInputError: not JSON, another format or version, a missing, unknown or mistyped field, or a wrong line.
    """
    try:
        document = json.loads(text, object_pairs_hook=_unique_keys)
    except (ValueError, RecursionError) as problem:
        at = f", line {problem.lineno}" if isinstance(problem, json.JSONDecodeError) else ""
        raise BadInputError(
            "the mapping is not JSON" if at or not str(problem).startswith("the key") else str(problem),
            where + at,
            "save it again from the program, or correct it in a text editor",
        ) from None
    _check_fields(document, {"format": str, "version": int, "name": str, "columns": list}, where)
    if document["format"] != _FORMAT or document["version"] != _VERSION:
        raise BadInputError(
            f"this is {document['format']!r} version {document['version']}",
            where,
            f"a mapping says {_FORMAT!r} version {_VERSION}",
        )
    lines = []
    for number, entry in enumerate(document["columns"], start=1):
        place = f"{where}, line {number}"
        _check_fields(entry, {"column": str, "quantity": str, "unit": str, "confirmed": bool}, place)
        lines.append(MappedColumn(entry["column"], entry["quantity"], entry["unit"], entry["confirmed"]))
    return make_mapping(document["name"], tuple(lines), where=where)


def _unique_keys(pairs: list[tuple[str, object]]) -> dict[str, object]:
    keys = [key for key, _ in pairs]
    for key in keys:
        if keys.count(key) > 1:
            raise ValueError(f"the key {key!r} is written twice")
    return dict(pairs)


_TYPE_WORDS = {str: "text in quotes", int: "a whole number", list: "a list", bool: "true or false"}


def _check_fields(entry: object, wanted: dict[str, type], where: str) -> None:
    if not isinstance(entry, dict):
        raise BadInputError("this is not an object in braces", where, f"it needs the fields {', '.join(wanted)}")
    for key in entry:
        if key not in wanted:
            raise BadInputError(f"the field {key!r} is not known", where, f"the fields are {', '.join(wanted)}")
    for key, kind in wanted.items():
        if key not in entry:
            raise BadInputError(f"the field {key!r} is missing", where, f"write {_TYPE_WORDS[kind]}")
        if not isinstance(entry[key], kind) or (kind is int and isinstance(entry[key], bool)):
            words = _TYPE_WORDS[kind]
            raise BadInputError(f"{entry[key]!r} is not {words}", f"{where}, {key}", f"write {words}")
