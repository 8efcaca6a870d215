"""Column mappings of loggers' tables: proposed, saved as JSON, and the answers to a reader's questions."""

from __future__ import annotations

import json
from collections.abc import Mapping as Words
from collections.abc import Sequence

from wringout.errors import BadInputError
from wringout.recordings.columns.mapping import MappedColumn, Mapping, make_mapping, mapping_from_json, mapping_to_json
from wringout.recordings.columns.plan import split_unit
from wringout.recordings.columns.quantities import QUANTITIES, meaning_of, plain_name
from wringout.recordings.hashing import SIZE_LIMIT_BYTES
from wringout.recordings.reader import propose_mapping
from wringout.store.documents import Document
from wringout.units import find_unit

LONGEST_MAPPING_BYTES = 1 << 20
LONGEST_TABLE_BYTES = SIZE_LIMIT_BYTES


def read_mapping(data: bytes, name: str) -> Mapping:
    """Read a saved mapping.

    Raises:
        BadInputError: it is too large, no mapping, or a line of it is wrong.
    """
    if len(data) > LONGEST_MAPPING_BYTES:
        raise BadInputError("the file is larger than 1 MB", name, "a mapping is a page of JSON")
    return mapping_from_json(data, where=name)


def proposed_mapping(data: bytes, name: str) -> str:
    """Return, as JSON to correct and save, what the columns of a table are taken to be; doubtful ones are ignored.

    Raises:
        BadInputError: the file cannot be read or has no column names.
    """
    return mapping_to_json(propose_mapping(data, name))


Answer = tuple[str, str]
"""A column, and what is said of it."""


def confirm_columns(known: Mapping | None, answers: Sequence[Answer], data: bytes, name: str) -> Mapping:
    """Return a mapping with the user's answers to a reader's questions in it.

    Args:
        known: the mapping chosen before, or None.
        answers: to each column its unit (``kt``), or ``QUANTITY:UNIT`` (``ias:kt``) where the name of the column does
            not say what it measures, or ``ignore``.
        data: the recording, for the names of its columns.
        name: its name, for sentences.

    Raises:
        BadInputError: an answer cannot be read, or names no column of the recording.
    """
    lines = {_key(line.column): line for line in (known.columns if known else ())}
    columns = {_key(line.column): line for line in propose_mapping(data, name).columns}
    for column, said in answers:
        key = _key(column)
        if columns and key not in columns:
            names = ", ".join(line.column for line in list(columns.values())[:12])
            raise BadInputError(f"{name} has no column {column.strip()!r}", "answers", f"name one of {names}")
        lines[key] = _answered(column.strip(), said.strip())
    return make_mapping(name, tuple(lines.values()), where="answers")


def _key(column: str) -> str:
    bare = column.strip()
    return bare if bare.startswith("#") else plain_name(bare)


def _answered(column: str, said: str) -> MappedColumn:
    if said == "ignore":
        return MappedColumn(column, "ignore")
    quantity, separator, unit = said.partition(":")
    if not separator:
        quantity, unit = _measured_by(column, said), said
    return MappedColumn(column, quantity.strip(), unit.strip(), confirmed=True)


def _measured_by(column: str, unit_name: str) -> str:
    """Return the quantity a column's name stands for, for a unit of its kin where there is one."""
    found = meaning_of(split_unit(column)[0])
    if found is None or found[0] not in QUANTITIES:
        raise BadInputError(
            f"the name of column {column!r} does not say what it measures",
            "answers",
            f'write quantity and unit, such as "ias:{unit_name if find_unit(unit_name) else "kt"}"',
        )
    unit = find_unit(unit_name)
    return QUANTITIES[found[0]].kin.get(unit.dimension, found[0]) if unit is not None else found[0]


def as_document(mapping: Mapping) -> Document:
    """Return a mapping as the JSON document the store keeps."""
    document: Document = json.loads(mapping_to_json(mapping))
    return document


def from_document(document: Words[str, object] | None, name: str) -> Mapping | None:
    """Return the mapping a stored document holds, None where there is none.

    Raises:
        BadInputError: the document is no mapping of this version.
    """
    return None if document is None else mapping_from_json(json.dumps(document), where=f"{name}, mapping")
