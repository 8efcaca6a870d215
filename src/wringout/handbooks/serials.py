"""Serial-number effectivity: ranges, open ends and exceptions, as handbooks print them.

Written ``"1001-1250, 1300 and on, except 1310, 1320-1325"``; a serial may carry letters and hyphens before its number
(``"QB-101 thru QB-250"``). ``"all"`` holds for every serial. Ranges never run from one prefix to another.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from wringout.errors import BadInputError

EXAMPLE = "1001-1250, 1300 and on, except 1310"
_SERIAL = re.compile(r"([A-Z]*(?:[A-Z0-9]*[A-Z])?[- ]?)(\d{1,9})", re.IGNORECASE)
_RANGE = re.compile(r"(\S+)\s*(?:\bto\b|\bthru\b|\bthrough\b|\s[-–—]\s|[–—])\s*(\S+)", re.IGNORECASE)
_PLAIN_RANGE = re.compile(r"([A-Z]*-?\d+)-([A-Z]*-?\d+)", re.IGNORECASE)
_AND_ON = re.compile(r"(\S+?)\s*(?:and (?:on|up|later|subsequent|after)|\+|onwards?)", re.IGNORECASE)
_UP_TO = re.compile(r"(?:up to|before|until)\s+(\S+)|(\S+)\s+and (?:before|prior|earlier)", re.IGNORECASE)
_EXCEPT = re.compile(r"[,;]?\s*\b(?:except|excluding|but not)\b:?\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True, order=True)
class Serial:
    """One serial number: its letters (upper case, "" for none) and its number."""

    prefix: str
    number: int

    def __str__(self) -> str:
        """Return it as it is written."""
        return f"{self.prefix}{self.number}"


@dataclass(frozen=True, slots=True)
class Span:
    """Serials of one prefix from ``low`` to ``high``, both included; None is an open end. ``prefix`` None: any."""

    prefix: str | None
    low: int | None = None
    high: int | None = None

    def holds(self, serial: Serial) -> bool:
        """Return whether a serial lies in it."""
        if self.prefix is not None and serial.prefix != self.prefix:
            return False
        return (self.low is None or serial.number >= self.low) and (self.high is None or serial.number <= self.high)

    def __str__(self) -> str:
        """Return it as :func:`parse_effectivity` reads it."""
        prefix = self.prefix or ""
        if self.low is None and self.high is None:
            return "all"
        if self.low is None:
            return f"up to {prefix}{self.high}"
        if self.high is None:
            return f"{prefix}{self.low} and on"
        if self.low == self.high:
            return f"{prefix}{self.low}"
        return f"{prefix}{self.low} thru {prefix}{self.high}" if prefix else f"{self.low}-{self.high}"


@dataclass(frozen=True, slots=True)
class Effectivity:
    """The serials something holds for: any of ``spans``, none of ``exceptions``."""

    spans: tuple[Span, ...]
    exceptions: tuple[Span, ...] = ()

    def holds(self, serial: Serial) -> bool:
        """Return whether it holds for a serial."""
        return any(s.holds(serial) for s in self.spans) and not any(s.holds(serial) for s in self.exceptions)

    def __str__(self) -> str:
        """Return it as :func:`parse_effectivity` reads it."""
        said = ", ".join(str(span) for span in self.spans)
        return f"{said}, except {', '.join(str(span) for span in self.exceptions)}" if self.exceptions else said


ALL = Effectivity((Span(None),))


def parse_serial(text: str, where: str = "serial") -> Serial:
    """Return a serial number.

    Raises:
        BadInputError: it does not end in a number of at most nine digits.
    """
    found = _SERIAL.fullmatch(text.strip())
    if found is None:
        raise BadInputError(
            f"{text.strip()[:40]!r} is no serial number", where, "write a number such as 1123 or QB-123"
        )
    return Serial(found[1].upper().replace(" ", "-"), int(found[2]))


def parse_effectivity(text: str, where: str = "serials") -> Effectivity:
    """Return the serials a text names, e.g. ``"1001-1250, 1300 and on, except 1310"``.

    Raises:
        BadInputError: a part cannot be read, or a range runs backwards or across prefixes; the part is named.
    """
    holds, *excepted = _EXCEPT.split(" ".join(text.split()), maxsplit=1)
    spans = _spans(holds, where)
    if not spans:
        raise BadInputError("no serial numbers are named", where, f'write for example "{EXAMPLE}", or "all"')
    exceptions = _spans(excepted[0], where) if excepted else ()
    if excepted and not exceptions:
        raise BadInputError("nothing follows 'except'", where, f'write for example "{EXAMPLE}"')
    if any(span == Span(None) for span in exceptions):
        raise BadInputError("all serials are excepted", where, "leave 'except all' out, or leave the entry out")
    return Effectivity(spans, exceptions)


def _spans(text: str, where: str) -> tuple[Span, ...]:
    return tuple(_span(part.strip(), where) for part in re.split(r"[,;]", text) if part.strip())


def _span(part: str, where: str) -> Span:
    part = re.sub(r"^and\s+", "", part, flags=re.IGNORECASE)
    if part.lower() in {"all", "all serials", "all serial numbers"}:
        return Span(None)
    if (found := _AND_ON.fullmatch(part)) is not None:
        low = parse_serial(found[1], where)
        return Span(low.prefix, low.number)
    if (found := _UP_TO.fullmatch(part)) is not None:
        high = parse_serial(found[1] or found[2], where)
        below = part.lower().startswith("before")
        if below and high.number == 0:
            raise BadInputError(f"nothing comes before {high}", where, "name serials from 0 up")
        return Span(high.prefix, None, high.number - 1 if below else high.number)
    if (found := _RANGE.fullmatch(part) or _PLAIN_RANGE.fullmatch(part)) is not None:
        return _between(parse_serial(found[1], where), parse_serial(found[2], where), part, where)
    one = parse_serial(part, where)
    return Span(one.prefix, one.number, one.number)


def _between(low: Serial, high: Serial, part: str, where: str) -> Span:
    prefix = high.prefix or low.prefix
    if prefix != low.prefix:
        raise BadInputError(f"{part!r} runs from one prefix to another", where, "write one range for each prefix")
    if high.number < low.number:
        raise BadInputError(f"{part!r} runs backwards", where, "write the lower serial first")
    return Span(prefix, low.number, high.number)


def corners(effectivities: Iterable[Effectivity]) -> tuple[Serial, ...]:
    """Return, for each prefix named, the serials at which something may begin to hold or to cease, in order.

    Between two neighbours of one prefix nothing changes, so testing these serials tests all of them.
    """
    spans = [span for item in effectivities for span in (*item.spans, *item.exceptions)]
    found: set[Serial] = set()
    for prefix in {span.prefix for span in spans if span.prefix is not None} or {""}:
        own = [s for s in spans if s.prefix in (prefix, None)]
        lows = {span.low for span in own if span.low is not None}
        afters = {span.high + 1 for span in own if span.high is not None}
        starts = lows | afters
        if any(span.low is None for span in own):
            starts.add(0)
        found |= {Serial(prefix, number) for number in starts}
    return tuple(sorted(found))


def stretches(prefix: str, starts: Sequence[int]) -> tuple[Span, ...]:
    """Return the spans between consecutive starts of one prefix, the last one open."""
    ends = [*(number - 1 for number in starts[1:]), None]
    return tuple(Span(prefix, low, high) for low, high in zip(starts, ends, strict=True))
