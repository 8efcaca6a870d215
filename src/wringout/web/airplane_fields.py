"""The fields of the airplane sheet: what each is called, and an example of what stands in it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from wringout.errors import BadInputError
from wringout.services.airplane.sheet import Sheet

SHEET = "the sheet"
"""Where a refusal says that what was typed stands."""


@dataclass(frozen=True, slots=True)
class Field:
    """A field of the sheet as it stands.

    Attributes:
        path: where its value stands in the airplane file, such as ``flaps.0.limit_speed``.
        label: what it is called.
        example: shown while it is empty.
        wide: whether it takes words rather than a number.
        choices: what can be chosen; empty for a field that is typed.
        value: what stands in it.
        was: what stood in the file when it was shown; an edit is made from this.
        refused: whether what stands in it was not saved.
    """

    path: str
    label: str
    example: str
    wide: bool
    choices: tuple[str, ...]
    value: str
    was: str
    refused: bool


_LABELS = {
    "name": ("name of the airplane", "name"),
    "source": ("where the figures come from", "the approved manual"),
    "geometry.wing_area": ("wing area", "174 ft2"),
    "geometry.span": ("wing span", "36 ft"),
    "propulsion.propeller": ("kind of propeller", ""),
    "propulsion.diameter": ("propeller diameter", "76 in"),
    "propulsion.rated_power": ("rated power", "230 ± 5 hp"),
    "drag.clean_area": ("clean drag area", "5 ± 1 ft2"),
    "drag.span_efficiency": ("span efficiency", "0.75 ± 0.08"),
    "stall_speed_clean": ("stall speed, flaps up", "61 ± 2 kt"),
    "gear.down_time": ("gear travel down", "7 ± 2 s"),
    "gear.up_time": ("gear travel up", "7 ± 2 s"),
    "gear.operate_limit": ("gear extend limit, VLO", "130 kt"),
    "gear.retract_limit": ("gear retract limit", "115 kt"),
    "gear.extended_limit": ("gear extended limit, VLE", "140 kt"),
    "limits.max_weight": ("maximum weight", "3200 lb"),
    "limits.never_exceed": ("never exceed speed", "187 kt"),
    "limits.maneuvering": ("maneuvering speed", "124 kt"),
}
_FLAP_LABELS = {
    "name": ("name of flap setting {}", "half"),
    "angle": ("angle of flap setting {}", "20 deg"),
    "stall_speed": ("stall speed, flap setting {}", "54 ± 2 kt"),
    "limit_speed": ("limit speed, flap setting {}", "110 kt"),
}
_WIDE = frozenset({"name", "source"})
_CHOICES = {"propulsion.propeller": ("constant speed", "fixed pitch")}


def named(path: str) -> tuple[str, str] | None:
    """Return what a field is called and its example; None for a path that is no field of the sheet."""
    if path in _LABELS:
        return _LABELS[path]
    front, _, key = path.rpartition(".")
    number = front.removeprefix("flaps.")
    if front.startswith("flaps.") and number.isdigit() and len(number) < 3 and key in _FLAP_LABELS:
        label, example = _FLAP_LABELS[key]
        return label.format(int(number) + 1), example
    return None


def refusal_words(error: BadInputError) -> str:
    """Return a refusal of the sheet as a sentence that calls the field what the page calls it."""
    place = error.where.removeprefix(f"{SHEET}, ")
    path = re.sub(r" / number (\d+)", lambda number: f".{int(number[1]) - 1}", place).replace(" / ", ".")
    found = named(path)
    return str(BadInputError(error.what, found[0] if found else place, error.advice))


def field_of(sheet: Sheet, path: str, typed: str | None = None) -> Field:
    """Return a field; with ``typed`` as it was typed and refused.

    Raises:
        KeyError: the sheet has no such field.
    """
    found = named(path)
    if found is None:
        raise KeyError(path)
    was = sheet.value(path)
    value = was if typed is None else typed
    return Field(path, found[0], found[1], path in _WIDE, _CHOICES.get(path, ()), value, was, typed is not None)
