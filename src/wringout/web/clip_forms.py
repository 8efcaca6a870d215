"""What is marked on a clip, as it stands in the form: texts as they were typed, and the marks they make."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from wringout.errors import BadInputError
from wringout.instruments.readings import CONFIDENT
from wringout.services.flights.clip_documents import Wish
from wringout.services.flights.instruments import RATE_HZ
from wringout.web.ask import Ask

FIELDS = (
    "kind", "unit", "at", "rate", "least", "centre_x", "centre_y", "needle", "inner", "outer", "fastest",
    "left", "top", "width", "height",
)  # fmt: skip
USUAL = {"kind": "dial", "unit": "kt", "at": "0", "rate": f"{RATE_HZ:g}", "least": f"{CONFIDENT:g}", "needle": "either"}
DIAL_ROW, KNOWN_ROW = ("value", "x", "y"), ("time", "reads")
FEWEST_ROWS, SPARE_ROWS, MOST_ROWS = 4, 2, 40
LONGEST = 40
"""Characters of a field that are looked at."""
Row = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Typed:
    """The form: single fields by name, and the rows of known speeds and of known read-outs; nothing is left out."""

    fields: Mapping[str, str]
    speeds: tuple[Row, ...] = ()
    known: tuple[Row, ...] = field(default=())

    def __getitem__(self, name: str) -> str:
        return self.fields.get(name, "")

    @property
    def speed_rows(self) -> tuple[Row, ...]:
        """The known speeds with a few empty rows behind them."""
        return _padded(self.speeds, len(DIAL_ROW))

    @property
    def known_rows(self) -> tuple[Row, ...]:
        """The known read-outs with a few empty rows behind them."""
        return _padded(self.known, len(KNOWN_ROW))


def _padded(rows: tuple[Row, ...], width: int) -> tuple[Row, ...]:
    empty = max(FEWEST_ROWS - len(rows), SPARE_ROWS)
    return (*rows, *[("",) * width] * max(0, min(empty, MOST_ROWS - len(rows))))


def typed_in(ask: Ask) -> Typed:
    """Return the form as it was sent."""
    fields = {name: ask.text(name).strip() for name in FIELDS}
    return Typed(fields, _rows(ask, DIAL_ROW), _rows(ask, KNOWN_ROW))


def _rows(ask: Ask, names: tuple[str, ...]) -> tuple[Row, ...]:
    columns = [[text.strip() for text in ask.texts(name)[:MOST_ROWS]] for name in names]
    return tuple(row for row in zip(*columns, strict=False) if any(row))


def typed_of(wish: Wish | None) -> Typed:
    """Return the form that says what was asked of a clip last, or the usual one."""
    if wish is None:
        return Typed(USUAL)
    marks = wish.marks
    fields = {**USUAL, "kind": str(marks["kind"]), "unit": str(marks.get("unit", "kt")), "at": f"{wish.frame_s:g}"}
    fields |= {"rate": f"{wish.rate_hz:g}", "least": f"{wish.least:g}", "needle": str(marks.get("needle", "either"))}
    fields |= {name: f"{marks[name]:g}" for name in ("inner", "outer", "fastest") if name in marks}
    if marks["kind"] == "digits":
        fields |= {n: f"{v:g}" for n, v in zip(("left", "top", "width", "height"), marks["box"], strict=True)}
        known = tuple((f"{one['time']:g}", str(one["reads"])) for one in marks.get("known", ()))
        return Typed(fields, known=known)
    fields |= {"centre_x": f"{marks['centre'][0]:g}", "centre_y": f"{marks['centre'][1]:g}"}
    rows = tuple((f"{one['value']:g}", *(f"{v:g}" for v in one["at"])) for one in marks["speeds"])
    return Typed(fields, rows)


def wish_in(typed: Typed) -> Wish:
    """Return what a form asks of a clip.

    Raises:
        BadInputError: a field is no number, with its name; what the numbers mean together is looked at later.
    """
    marks: dict[str, Any] = {"kind": typed["kind"], "unit": typed["unit"] or "kt"}
    if typed["kind"] == "digits":
        marks["box"] = [number(typed[name], name) for name in ("left", "top", "width", "height")]
        marks["known"] = [
            {"time": number(time, f"known number {i}, time"), "reads": reads}
            for i, (time, reads) in enumerate(typed.known, 1)
        ]
    elif typed["kind"] == "dial":
        marks["centre"] = [
            number(typed["centre_x"], "centre, from the left"),
            number(typed["centre_y"], "centre, from the top"),
        ]
        marks["speeds"] = [_speed(i, row) for i, row in enumerate(typed.speeds, 1)]
        marks["needle"] = typed["needle"] or "either"
        marks |= {name: number(typed[name], name) for name in ("inner", "outer") if typed[name]}
    else:
        raise BadInputError(
            f"{typed['kind'][:LONGEST]!r} is no kind of instrument", "instrument", "choose one of the two"
        )
    if typed["fastest"]:
        marks["fastest"] = number(typed["fastest"], "fastest")
    return Wish(
        marks, number(typed["rate"], "readings a second"), number(typed["least"], "least confidence"), moment(typed)
    )


def _speed(i: int, row: Row) -> dict[str, Any]:
    value, x, y = row
    where = f"known speed {i}"
    at = [number(x, f"{where}, from the left"), number(y, f"{where}, from the top")]
    return {"value": number(value, f"{where}, value"), "at": at}


def moment(typed: Typed) -> float:
    """Return the moment of the picture [s].

    Raises:
        BadInputError: it is no number, or before the beginning.
    """
    at_s = number(typed["at"] or "0", "moment of the picture")
    if not 0.0 <= at_s < 86_400.0:
        raise BadInputError(f"{at_s:g} s is no moment of a clip", "moment of the picture", "write seconds, such as 2.5")
    return at_s


def number(text: str, where: str) -> float:
    """Return a number as it is typed, with a point or a comma for decimals.

    Raises:
        BadInputError: it is none.
    """
    try:
        found = float(text.replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        found = float("nan")
    if not abs(found) <= 1e6:
        what = f"{text[:LONGEST]!r} is no number" if text else "it is missing"
        raise BadInputError(what, where, "write digits, such as 150.5")
    return found
