"""What a user marks on one frame: a round dial's centre and known speeds, or the box of a digital read-out."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from wringout.errors import BadInputError
from wringout.units import find_unit

FloatArray = NDArray[np.float64]

BEYOND_DEG = 4.0
"""How far outside the marked speeds the scale is still believed [deg]."""

_NEEDLES = ("light", "dark", "either")
_MOST_TURN_DEG = 355.0
_DIAL_FIELDS = frozenset({"kind", "unit", "centre", "speeds", "needle", "inner", "outer", "fastest"})
_BOX_FIELDS = frozenset({"kind", "unit", "box", "known", "fastest"})


@dataclass(frozen=True, slots=True)
class DialMarks:
    """A round dial as marked.

    Attributes:
        unit: unit of the speeds.
        centre: of the needle's turn [pixels from the left, from the top].
        speeds: the known speeds, rising.
        angles_deg: where they stand, clockwise from twelve o'clock, rising with speed (beyond 360 where need be).
        inner, outer: the ring in which the needle is looked for [pixels from the centre].
        needle: "light", "dark" or "either", against the face.
        fastest: how fast the speed can change [unit/s].
    """

    unit: str
    centre: tuple[float, float]
    speeds: FloatArray
    angles_deg: FloatArray
    inner: float
    outer: float
    needle: str
    fastest: float

    def speed_at(self, angles_deg: FloatArray) -> FloatArray:
        """Return speeds at angles, NaN more than `BEYOND_DEG` outside the marks; monotone cubic between the marks."""
        scale = PchipInterpolator(self.angles_deg, self.speeds)
        low, high = float(self.angles_deg[0]), float(self.angles_deg[-1])
        inside = np.clip(angles_deg, low, high)
        slope = scale.derivative()
        speeds: FloatArray = scale(inside) + slope(inside) * (angles_deg - inside)
        speeds[(angles_deg < low - BEYOND_DEG) | (angles_deg > high + BEYOND_DEG)] = np.nan
        return speeds

    def angle_at(self, speed: float) -> float:
        """Return where a speed stands [deg, clockwise from twelve o'clock], at the end of the scale where beyond it."""
        angles = np.linspace(float(self.angles_deg[0]) - BEYOND_DEG, float(self.angles_deg[-1]) + BEYOND_DEG, 2000)
        return float(np.interp(speed, self.speed_at(angles), angles))


@dataclass(frozen=True, slots=True)
class BoxMarks:
    """A digital read-out as marked.

    Attributes:
        unit: unit of the number.
        box: left, top, width, height [pixels].
        known: times [s] and what was read there, from which the shapes of the digits are learnt.
        fastest: how fast the number can change [unit/s].
    """

    unit: str
    box: tuple[int, int, int, int]
    known: tuple[tuple[float, str], ...]
    fastest: float


def read_marks(text: str, file: str) -> DialMarks | BoxMarks:
    """Return the marks in a TOML text.

    Raises:
        BadInputError: it is no TOML, a field is missing, unknown or cannot be right.
    """
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        what = "nested too deeply" if isinstance(error, RecursionError) else error
        raise BadInputError(f"this is no TOML ({what})", file, "write lines such as centre = [160, 120]") from None
    return marks_of(document, file)


def marks_of(document: Mapping[str, Any], file: str) -> DialMarks | BoxMarks:
    """Return the marks in a document, such as the TOML of ``docs/instruments.md`` holds.

    Raises:
        BadInputError: a field is missing, unknown or cannot be right; ``file`` names the document in the sentence.
    """
    kind = document.get("kind", "dial" if "centre" in document else "digits" if "box" in document else "")
    if kind not in ("dial", "digits"):
        raise BadInputError(
            f"{kind!r} is no kind of instrument", f"{file}, kind", 'write kind = "dial" with centre and speeds, '
            'or kind = "digits" with box'
        )  # fmt: skip
    known = _DIAL_FIELDS if kind == "dial" else _BOX_FIELDS
    unknown = sorted(set(document) - known)
    if unknown:
        raise BadInputError(f"there is no field {unknown[0]!r}", file, f"the fields are {', '.join(sorted(known))}")
    unit = str(document.get("unit", "kt"))
    found = find_unit(unit)
    if found is None or found.dimension != "speed":
        raise BadInputError(f"{unit!r} is no unit of speed", f"{file}, unit", 'write "kt", "mph" or "km/h"')
    return _dial(document, unit, file) if kind == "dial" else _box(document, unit, file)


def _dial(document: Mapping[str, Any], unit: str, file: str) -> DialMarks:
    centre = _numbers(document.get("centre"), 2, f"{file}, centre", "centre = [160, 120]")
    speeds, angles, reach = _scale(document.get("speeds"), centre, file)
    inner = _number(document.get("inner", 0.3 * reach), f"{file}, inner")
    outer = _number(document.get("outer", 0.7 * reach), f"{file}, outer")
    if not 0.0 < inner < outer - 5.0:
        raise BadInputError(
            f"the ring from {inner:g} to {outer:g} pixels is too narrow to see a needle in", f"{file}, inner and outer",
            "mark on a larger picture, or let outer be at least 6 pixels more than inner"
        )  # fmt: skip
    needle = document.get("needle", "either")
    if needle not in _NEEDLES:
        raise BadInputError(f"{needle!r} is no kind of needle", f"{file}, needle", 'write "light", "dark" or "either"')
    return DialMarks(unit, (centre[0], centre[1]), speeds, angles, inner, outer, needle, _fastest(document, file))


def _scale(given: Any, centre: tuple[float, ...], file: str) -> tuple[FloatArray, FloatArray, float]:
    """Return speeds, their angles [deg], and the median distance of the marks from the centre [pixels]."""
    example = "give value and place of each, such as 60 at [210, 95]"
    if not isinstance(given, list) or len(given) < 2:
        raise BadInputError("fewer than two known speeds are marked", f"{file}, speeds", example)
    rows = []
    for count, one in enumerate(given, 1):
        where = f"{file}, speeds, number {count}"
        if not isinstance(one, dict) or set(one) != {"value", "at"}:
            raise BadInputError("a known speed has a value and a place", where, example)
        at = _numbers(one["at"], 2, f"{where}, at", "at = [210, 95]")
        distance = float(np.hypot(at[0] - centre[0], at[1] - centre[1]))
        if distance < 10.0:
            raise BadInputError("this mark lies on the centre of the dial", where, "mark the stroke on the scale")
        angle = float(np.degrees(np.arctan2(at[0] - centre[0], centre[1] - at[1])))
        rows.append((_number(one["value"], f"{where}, value"), angle, distance))
    rows.sort()
    speeds = np.array([row[0] for row in rows])
    steps = np.diff([row[1] for row in rows])
    if np.any(np.diff(speeds) <= 0.0):
        raise BadInputError("the same speed is marked twice", f"{file}, speeds", "mark each speed once")
    clockwise = np.mod(steps, 360.0)
    if float(clockwise.sum()) >= _MOST_TURN_DEG and float(np.mod(-steps, 360.0).sum()) < _MOST_TURN_DEG:
        raise BadInputError("the speeds rise anticlockwise", f"{file}, speeds", "check which mark is which speed")
    if float(clockwise.sum()) >= _MOST_TURN_DEG or np.any(clockwise < 0.5):
        raise BadInputError(
            "the speeds do not rise clockwise within one turn", f"{file}, speeds",
            "check which mark is which speed, and mark one turn of the scale only"
        )  # fmt: skip
    angles = rows[0][1] + np.concatenate([[0.0], np.cumsum(clockwise)])
    return speeds, angles, float(np.median([row[2] for row in rows]))


def _box(document: Mapping[str, Any], unit: str, file: str) -> BoxMarks:
    left, top, width, height = _numbers(document.get("box"), 4, f"{file}, box", "box = [left, top, width, height]")
    if width < 12 or height < 10 or left < 0 or top < 0:
        raise BadInputError(
            f"a box of {width:g} by {height:g} pixels at {left:g}, {top:g} holds no digits", f"{file}, box",
            "give left, top, width and height in pixels, at least 12 wide and 10 high"
        )  # fmt: skip
    known = []
    given = document.get("known", [])
    for count, one in enumerate(given if isinstance(given, list) else [given], 1):
        where = f"{file}, known, number {count}"
        if not isinstance(one, dict) or set(one) != {"time", "reads"} or not str(one["reads"]).isdigit():
            raise BadInputError("what is known has a time and its digits", where, "such as 105 at 3.2 s")
        known.append((_number(one["time"], f"{where}, time"), str(one["reads"])))
    return BoxMarks(unit, (int(left), int(top), int(width), int(height)), tuple(known), _fastest(document, file))


def _fastest(document: Mapping[str, Any], file: str) -> float:
    fastest = _number(document.get("fastest", 12.0), f"{file}, fastest")
    if fastest <= 0.0:
        raise BadInputError(f"{fastest:g} a second is no pace", f"{file}, fastest", "write for example 12")
    return fastest


def _number(given: Any, where: str) -> float:
    if isinstance(given, bool) or not isinstance(given, int | float) or not abs(given) <= 1e6:
        raise BadInputError(f"{given!r} is not a number", where, "write digits")
    return float(given)


def _numbers(given: Any, count: int, where: str, example: str) -> tuple[float, ...]:
    if not isinstance(given, list) or len(given) != count:
        raise BadInputError("it is missing" if given is None else f"{given!r} are not {count} numbers", where, example)
    return tuple(_number(one, where) for one in given)
