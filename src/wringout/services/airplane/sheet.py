"""The airplane file as a sheet of sentences: single values changed in its text, everything else left as it was."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from wringout.errors import BadInputError, ConflictError
from wringout.services.airplane.airplanes import StudyAirplane, put_airplane_file, show_airplane
from wringout.services.opening import the_study
from wringout.store import Store, latest_airplane

NAME = "airplane sheet"
_HEAD = re.compile(r"^\s*(\[\[?)\s*([A-Za-z0-9_.\" -]+?)\s*\]\]?\s*(?:#.*)?$")

STARTER = """# What is believed of the airplane before flying; docs/airplane.md describes every field.
# "value ± spread unit": the spread is one standard deviation of what is believed.
format = "wringout airplane, version 1"
name = ""
source = ""
stall_speed_clean = ""

[geometry]
wing_area = ""
span = ""

[propulsion]
propeller = "constant speed"
diameter = ""
rated_power = ""

[drag]
clean_area = ""
span_efficiency = "0.75 ± 0.08"

[[flaps]]
name = "half"
angle = ""
stall_speed = ""
limit_speed = ""

[[flaps]]
name = "full"
angle = ""
stall_speed = ""
limit_speed = ""

[limits]
max_weight = ""
never_exceed = ""
maneuvering = ""
"""
GEAR = """
[gear]
down_time = "8 ± 4 s"
up_time = "8 ± 4 s"
operate_limit = ""
retract_limit = ""
extended_limit = ""
"""
REQUIRED = frozenset(
    {
        "name",
        "geometry.wing_area",
        "geometry.span",
        "propulsion.propeller",
        "propulsion.diameter",
        "propulsion.rated_power",
        "limits.max_weight",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sheet:
    """The values of an airplane text by their path, such as ``flaps.0.limit_speed``. Empty where it has none."""

    values: Mapping[str, str]
    flap_settings: int
    has_gear: bool

    def value(self, path: str) -> str:
        """Return a value as it is written."""
        return self.values.get(path, "")


def sheet_of(text: str) -> Sheet:
    """Return the plain values of an airplane text; a text that is no TOML has none."""
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError):
        return Sheet({}, 0, False)
    values: dict[str, str] = {}
    _collect(table, "", values)
    flaps = table.get("flaps")
    return Sheet(values, len(flaps) if isinstance(flaps, list) else 0, isinstance(table.get("gear"), dict))


def _collect(value: Any, path: str, out: dict[str, str]) -> None:
    if isinstance(value, dict):
        for key, inner in value.items():
            _collect(inner, f"{path}.{key}" if path else key, out)
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            _collect(inner, f"{path}.{number}", out)
    elif isinstance(value, str | int | float) and not isinstance(value, bool):
        out[path] = str(value)


def with_values(text: str, changes: Mapping[str, str]) -> str:
    """Return an airplane text with single values changed; comments, order and all other values stay.

    Args:
        text: TOML.
        changes: new values by path; a blank one takes the field out, unless the airplane cannot do without it.

    Raises:
        BadInputError: a value stands where a line cannot be changed by itself.
    """
    lines = text.split("\n")
    before = sheet_of(text)
    for path, wanted in changes.items():
        value = wanted.strip()
        if value == before.value(path) and (value or path in before.values):
            continue
        if value or path in REQUIRED:
            _put(lines, path, value)
        else:
            _take_out(lines, path)
    changed = "\n".join(lines)
    found = sheet_of(changed)
    for path, wanted in changes.items():
        if found.value(path) != wanted.strip():
            raise BadInputError("this value cannot be changed by itself", path, "change it in the text of the file")
    return changed


def _section(lines: list[str], section: str, number: int) -> tuple[int, int] | None:
    """Return the lines of a table, from behind its head to its end; the ``number``-th of its name."""
    start: int | None = 0 if not section else None
    seen = -1
    for index, line in enumerate(lines):
        head = _HEAD.match(line)
        if head is None:
            continue
        if start is not None:
            return start, index
        if head.group(2).strip() == section:
            seen += 1
            if seen == number:
                start = index + 1
    return None if start is None else (start, len(lines))


def _place(path: str) -> tuple[str, int, str]:
    *front, key = path.split(".")
    number = int(front.pop()) if front and front[-1].isdigit() else 0
    return ".".join(front), number, key


def _find(lines: list[str], path: str) -> tuple[tuple[int, int] | None, int | None]:
    section, number, key = _place(path)
    span = _section(lines, section, number)
    if span is None:
        return None, None
    pattern = re.compile(rf"^\s*{re.escape(key)}\s*=")
    return span, next((i for i in range(*span) if pattern.match(lines[i])), None)


def _put(lines: list[str], path: str, value: str) -> None:
    span, there = _find(lines, path)
    key = path.rpartition(".")[2]
    if span is None:
        raise BadInputError("the file has no such section", path, "add it in the text of the file")
    written = f"{key} = {json.dumps(value, ensure_ascii=False)}"
    if there is not None:
        lines[there] = written
        return
    start, end = span
    while end > start and not lines[end - 1].strip():
        end -= 1
    lines.insert(end, written)


def _take_out(lines: list[str], path: str) -> None:
    _, there = _find(lines, path)
    if there is not None:
        del lines[there]


def starter(retractable: bool = True) -> str:
    """Return an airplane text with nothing filled in yet."""
    return STARTER + (GEAR if retractable else "")


def newest_text(store: Store, slug: str | None) -> tuple[str, int]:
    """Return the text of a study's newest airplane and its version; "" and 0 where there is none.

    Raises:
        NotFoundError: there is no such study.
    """
    with store.reading() as view:
        found = latest_airplane(view, the_study(view, slug).id)
    return ("", 0) if found is None else (found.toml, found.version)


def put_airplane_text(store: Store, slug: str | None, text: str, made_from: int, name: str = NAME) -> StudyAirplane:
    """Check an airplane text and keep it as the newest version.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        text: TOML.
        made_from: the version it was made from, 0 for none.
        name: what to call it in sentences.

    Raises:
        ConflictError: there is a newer version; nothing is kept then.
        BadInputError: the text cannot be used, naming field and cure; nothing is kept then.
        NotFoundError: there is no such study.
    """
    there, version = newest_text(store, slug)
    if version and there == text:
        return show_airplane(store, slug)
    if version != made_from:
        raise ConflictError(
            f"the airplane was changed in another window: this came from version {made_from}, now there is {version}",
            advice="nothing was lost; read the newest version, then save again to put yours in its place",
        )
    return put_airplane_file(store, slug, text.encode(), name)
