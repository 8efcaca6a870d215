"""A doubt about called speeds without a unit: they are read in knots, though the airplane's file may speak of mph."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel

from wringout.airplane.document import AirplaneDocument
from wringout.recordings.columns.plan import split_unit
from wringout.recordings.columns.quantities import meaning_of, plain_name
from wringout.recordings.types import Notice, Recording, Severity
from wringout.units import KNOT, find_unit

_BY_HAND = ("called", "stalls")
MOSTLY = 0.5
"""A unit speaks for the indicator where more than this share of the speeds in the file is written in it."""
_AFTER_NUMBER = re.compile(r"[\d.,±+\-/\s]+([^\d±]+)$")


def indicator_unit(document: AirplaneDocument) -> str:
    """Return the unit most speeds of an airplane file are written in, such as "mph"; "" where none prevails."""
    units = Counter(_speed_units(document))
    total = units.total()
    return next((unit for unit, count in units.items() if count > MOSTLY * total), "")


def _speed_units(section: BaseModel) -> Iterator[str]:
    """Yield the symbol of the unit of every speed that is written in a section and those inside it."""
    for name in section.model_fields_set:
        if name != "instrument":  # how well a reading is read is no marking of the dial
            yield from _of(getattr(section, name))


def _of(value: Any) -> Iterator[str]:
    if isinstance(value, BaseModel):
        yield from _speed_units(value)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from _of(one)
    elif isinstance(value, str) and (found := _AFTER_NUMBER.fullmatch(value)):
        unit = find_unit(found[1])
        if unit is not None and unit.dimension == "speed":
            yield unit.symbol


def _is_bare(column: str) -> bool:
    """Return whether the head of a column names a speed and no unit; a page of taps names its unit elsewhere."""
    name, unit = split_unit(column)
    if unit or find_unit(name) is not None:  # "KIAS" is a name and a unit
        return False
    meaning, _ = meaning_of(name) or ("", 0)
    return meaning == "ias" or plain_name(name) in ("speed", "spd", "stall speed")


def unit_doubt(recording: Recording, document: AirplaneDocument) -> Notice | None:
    """Return the question about called speeds that stand without a unit; None where there is no doubt.

    The speeds are used as written. Nothing is converted by a guess: whoever wrote them says what they are.
    """
    channel = recording.channels.get("ias")
    if recording.kind not in _BY_HAND or channel is None or not _is_bare(channel.column):
        return None
    unit = find_unit(indicator_unit(document))
    if unit is None or unit.factor == KNOT:
        return None
    symbol = unit.symbol
    return Notice(
        Severity.CAUTION,
        f"column {channel.column!r} has no unit and is read in kt, while the airplane's file writes its speeds in "
        f'{symbol}: if the indicator that was read shows {symbol}, name the column "speed ({symbol})"; if not, '
        '"speed (kt)" ends this doubt',
        0,
        channel.column,
    )
