"""One entry of the register: what a handbook prints for a go-around, for which airplanes, since when."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from wringout.errors import BadInputError
from wringout.handbooks.serials import Effectivity, parse_effectivity
from wringout.handbooks.steps import Step, parse_steps, steps_text

FIELDS = (
    "family",
    "model",
    "serials",
    "document",
    "part_number",
    "revision",
    "date",
    "section",
    "prints",
    "steps",
    "paraphrase",
    "attachments",
    "invented",
    "note",
)
"""The fields of an entry, in the order of the CSV columns."""

PRINTS_STEPS, PRINTS_NONE = "steps", "none"
LONGEST_LINE, LONGEST_TEXT = 200, 2000
_REQUIRED = ("family", "model", "serials", "document", "date")
_HASH = re.compile(r"[0-9a-f]{64}")
_YES, _NO = {"yes", "true", "1", "y"}, {"no", "false", "0", "n", ""}


@dataclass(frozen=True, slots=True)
class Entry:
    """What one revision of one handbook prints for the go-around of some airplanes.

    Attributes:
        family: the airplane family. model: the variant.
        serials: the serials it holds for.
        document: title of the handbook. part_number: its number, "" if it has none.
        revision: of the document, as it names it. dated: the revision's date.
        section: where the procedure stands.
        steps: the printed order; empty where it prints none.
        paraphrase: the user's own short words for it. The printed text itself is not kept.
        attachments: SHA-256 hashes of photos or pages in the vault.
        invented: whether it is made up. note: anything else.
    """

    family: str
    model: str
    serials: Effectivity
    document: str
    part_number: str
    revision: str
    dated: date
    section: str = ""
    steps: tuple[Step, ...] = ()
    paraphrase: str = ""
    attachments: tuple[str, ...] = field(default_factory=tuple)
    invented: bool = False
    note: str = ""

    @property
    def prints_none(self) -> bool:
        """Whether the handbook prints no order."""
        return not self.steps

    @property
    def series(self) -> tuple[str, str, str]:
        """What revisions of one procedure have in common: model, and part number or else title; all in one case."""
        return self.family.casefold(), self.model.casefold(), (self.part_number or self.document).casefold()

    @property
    def name(self) -> str:
        """How sentences name it: document, revision and date."""
        revision = f", revision {self.revision}" if self.revision else ""
        return f"{self.document}{revision} of {self.dated.isoformat()}"


def entry_from(table: Mapping[str, Any], where: str = "") -> Entry:
    """Return the entry of a flat table of texts, as CSV rows and JSON objects hold it.

    ``steps`` is a text such as ``"power full; flaps half; gear up when climbing"``; ``attachments`` are hashes parted
    by blanks, or a list; ``prints`` is "steps" or "none" and may be left out.

    Raises:
        BadInputError: a field is unknown, missing or cannot be read; ``where`` and the field are named.
    """

    def at(name: str) -> str:
        return f"{where}, {name}" if where else name

    unknown = sorted(str(key) for key in table if key not in FIELDS)
    if unknown:
        raise BadInputError(f"the field {unknown[0]!r} is not known", where, f"use {', '.join(FIELDS)}")
    line = {name: _line(table.get(name), at(name)) for name in FIELDS if name not in ("attachments", "invented")}
    for name in _REQUIRED:
        if not line[name]:
            raise BadInputError("it is missing", at(name), f"an entry needs {', '.join(_REQUIRED)}")
    return Entry(
        family=line["family"],
        model=line["model"],
        serials=parse_effectivity(line["serials"], at("serials")),
        document=line["document"],
        part_number=line["part_number"],
        revision=line["revision"],
        dated=parse_date(line["date"], at("date")),
        section=line["section"],
        steps=_steps(line["prints"], line["steps"], at),
        paraphrase=line["paraphrase"],
        attachments=_attachments(table.get("attachments"), at("attachments")),
        invented=_yes(table.get("invented"), at("invented")),
        note=line["note"],
    )


def _line(value: object, where: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise BadInputError(f"a {type(value).__name__} cannot stand here", where, "write text")
    text = " ".join(str(value).split())
    longest = LONGEST_TEXT if where.endswith(("steps", "paraphrase", "serials", "note")) else LONGEST_LINE
    if len(text) > longest:
        raise BadInputError(
            f"it has {len(text):,} characters",
            where,
            f"keep it within {longest:,}; a paraphrase is a sentence or two of your own, not the printed page",
        )
    return text


def parse_date(text: str, where: str = "date") -> date:
    """Return a calendar date written ``YYYY-MM-DD``.

    Raises:
        BadInputError: it is none.
    """
    try:
        found = date.fromisoformat(text.strip())
    except ValueError:
        raise BadInputError(f"{text[:40]!r} is no date", where, "write year-month-day, such as 1998-06-15") from None
    if len(text.strip()) != len("1998-06-15"):
        raise BadInputError(f"{text[:40]!r} is no date", where, "write year-month-day, such as 1998-06-15")
    return found


def _steps(prints: str, text: str, at: Any) -> tuple[Step, ...]:
    said = prints.lower()
    if said not in {"", PRINTS_STEPS, PRINTS_NONE, "prints none"}:
        raise BadInputError(f"{prints[:40]!r} is not known", at("prints"), 'write "steps" or "none"')
    none = said in {PRINTS_NONE, "prints none"} or (not said and text.lower() in {"none", "prints none"})
    if none and text and text.lower() not in {"none", "prints none"}:
        raise BadInputError(
            "it prints none, but steps are written", at("prints"), 'write "steps", or leave steps empty'
        )
    if none:
        return ()
    if not text:
        raise BadInputError("no steps are written", at("steps"), 'write them, or "none" under prints')
    return parse_steps(text, at("steps"))


def _attachments(value: object, where: str) -> tuple[str, ...]:
    hashes = value.split() if isinstance(value, str) else list(value) if isinstance(value, (list, tuple)) else []
    for item in hashes:
        if not isinstance(item, str) or not _HASH.fullmatch(item):
            raise BadInputError(
                f"{str(item)[:20]!r} is no hash of an attachment", where, "attach the file, which gives its hash"
            )
    return tuple(dict.fromkeys(hashes))


def _yes(value: object, where: str) -> bool:
    if isinstance(value, bool):
        return value
    said = str(value or "").strip().lower()
    if said in _YES:
        return True
    if said in _NO:
        return False
    raise BadInputError(f"{said[:20]!r} is neither yes nor no", where, 'write "yes" or "no"')


def table_of(entry: Entry) -> dict[str, Any]:
    """Return an entry as the flat table :func:`entry_from` reads."""
    return {
        "family": entry.family,
        "model": entry.model,
        "serials": str(entry.serials),
        "document": entry.document,
        "part_number": entry.part_number,
        "revision": entry.revision,
        "date": entry.dated.isoformat(),
        "section": entry.section,
        "prints": PRINTS_NONE if entry.prints_none else PRINTS_STEPS,
        "steps": steps_text(entry.steps),
        "paraphrase": entry.paraphrase,
        "attachments": list(entry.attachments),
        "invented": entry.invented,
        "note": entry.note,
    }
