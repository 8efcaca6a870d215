"""Boxes for readings on a card, at the times that matter for its method."""

from __future__ import annotations

from dataclasses import dataclass

from wringout.airplane.beliefs import Beliefs
from wringout.methods.setup_words import flap_setting
from wringout.planning.plan import Point
from wringout.planning.template import BEFORE_S, LONGEST_S, STALLS_OF_EACH, TIMINGS_OF_EACH

EVERY_S = 6.0


@dataclass(frozen=True, slots=True)
class Boxes:
    """A table to write into: column titles, and for each row the words of its first cell; the rest is left empty.

    ``strips`` is how many tables stand side by side.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[str, ...]
    strips: int = 1


ENDS = Boxes(
    "Before and after",
    ("", "altitude", "temperature", "fuel", "MAP", "rpm"),
    ("before", "after"),
)


_BEFORE = f"Select at 0:{BEFORE_S:.0f}; call the speed twice before it"


def boxes_of(point: Point, beliefs: Beliefs) -> tuple[Boxes, ...]:
    """Return the boxes of a point; methods without a pattern of their own get lines for time and readings."""
    key, words = point.method.key, point.words
    if key == "level deceleration":
        return (ENDS, Boxes(_BEFORE, ("time", "airspeed"), _times(0.0, LONGEST_S), 3))
    if key == "out and back":
        device = words.get("device", "gear")
        back = Boxes(f"{device} up again, at the same power", ("time", "airspeed"), _times(0.0, 90.0), 3)
        return (ENDS, Boxes(_BEFORE, ("time", "airspeed"), _times(0.0, LONGEST_S), 3), back)
    if key == "stall series":
        names = [n for n in words.get("flaps", "").replace(";", ",").split(",") if n.strip()]
        settings = [flap_setting(n, beliefs, "card, flaps") for n in names] or list(beliefs.settings)
        rows = tuple(f"{s.name}, {i + 1}" for s in settings for i in range(STALLS_OF_EACH))
        return (Boxes("Stalls", ("flaps", "airspeed", "entry rate", "weight or fuel", "how it stalled"), rows),)
    if key == "transit timing":
        columns = ("from, to", *(f"{i + 1}" for i in range(TIMINGS_OF_EACH)), "even?")
        return (Boxes("Travel times", columns, _legs(point, beliefs)),)
    if key in ("glide", "climb", "level power", "level acceleration"):
        speeds = _each_with_its_unit(words.get("speeds", "")) or ("",) * 5
        columns = ("speed", "altitude at 0:00", "0:30", "1:00", "1:30", "temperature", "MAP, rpm")
        return (ENDS, Boxes("Steady points", columns, speeds))
    return (ENDS, Boxes("Readings", ("time", "airspeed", "altitude", "mark"), ("",) * 12))


def _each_with_its_unit(listed: str) -> tuple[str, ...]:
    """Return a list of speeds such as "75, 90, 115 kt" one by one; the unit at its end is that of all.

    >>> _each_with_its_unit("75, 90, 115 kt")
    ('75 kt', '90 kt', '115 kt')
    """
    parts = [part.strip() for part in listed.split(",") if part.strip()]
    unit = parts[-1].lstrip("0123456789. ") if parts else ""
    return tuple(part if part.lstrip("0123456789. ") or not unit else f"{part} {unit}" for part in parts)


def _clock(seconds: float) -> str:
    return f"{int(seconds // 60)}:{int(seconds % 60):02d}"


def _times(first_s: float, last_s: float) -> tuple[str, ...]:
    count = int((last_s - first_s) / EVERY_S) + 1
    return tuple(_clock(first_s + i * EVERY_S) for i in range(count))


def _legs(point: Point, beliefs: Beliefs) -> tuple[str, ...]:
    device, full = point.words.get("device", "gear and flaps"), beliefs.settings[-1].name
    out: tuple[str, ...] = ()
    if "gear" in device and beliefs.retractable:
        out += ("gear up to down", "gear down to up")
    if "flap" in device:
        out += (f"flaps up to {full}", f"flaps {full} to up")
        if len(beliefs.settings) > 2:
            half = beliefs.settings[len(beliefs.settings) // 2].name
            out += (f"flaps {full} to {half}", f"flaps {half} to up")
    return out
