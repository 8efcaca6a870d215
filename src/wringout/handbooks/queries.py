"""Asking the register: what holds for a serial on a date, where it has gaps and overlaps, what superseded what."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from wringout.handbooks.entry import Entry
from wringout.handbooks.serials import Serial, Span, corners, stretches


@dataclass(frozen=True, slots=True)
class Holding:
    """What holds for one airplane on one day.

    Attributes:
        serial: asked for. on: the day.
        entries: what holds, one for each series of documents, newest first; empty if the register has nothing.
        superseded: earlier revisions of those, newest first.
        notices: sentences about what to look at.
    """

    serial: Serial
    on: date
    entries: tuple[Entry, ...]
    superseded: tuple[Entry, ...]
    notices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Irregular:
    """A gap or an overlap.

    Attributes:
        kind: "gap" or "overlap". family, model: of the variant. span: the serials.
        entries: what overlaps, or what stands on both sides of a gap.
        sentence: the same in words.
    """

    kind: str
    family: str
    model: str
    span: Span
    entries: tuple[Entry, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Supersession:
    """A revision and the one before it, of one series. ``order_changed``: the printed order is not the same."""

    before: Entry
    after: Entry
    order_changed: bool
    sentence: str


def of_model(entries: Iterable[Entry], model: str, family: str = "") -> tuple[Entry, ...]:
    """Return the entries of a model (any case), of one family where one is named."""
    wanted, kin = model.strip().casefold(), family.strip().casefold()
    return tuple(e for e in entries if e.model.casefold() == wanted and (not kin or e.family.casefold() == kin))


def holding(entries: Iterable[Entry], serial: Serial, on: date) -> Holding:
    """Return what holds for a serial on a day: of each series of documents the newest revision that names the serial.

    A later revision of the series that does not name the serial leaves the earlier one standing, and is noticed: the
    holder of the manual must say which holds.
    """
    known = [entry for entry in entries if entry.dated <= on]
    standing: list[Entry] = []
    superseded: list[Entry] = []
    notices: list[str] = []
    for series in _by_series(known):
        naming = [entry for entry in series if entry.serials.holds(serial)]
        if not naming:
            continue
        standing.append(naming[0])
        superseded += naming[1:]
        later = [entry for entry in series if entry.dated > naming[0].dated]
        if later:
            notices.append(
                f"{later[0].name} is later than {naming[0].name} and does not name serial {serial}; ask the holder of "
                "the manual which one holds."
            )
    standing.sort(key=lambda entry: entry.dated, reverse=True)
    if len(standing) > 1:
        names = " and ".join(entry.name for entry in standing)
        notices.append(f"Serial {serial} is named by more than one document: {names}.")
    return Holding(serial, on, tuple(standing), tuple(superseded), tuple(notices))


def _by_series(entries: Iterable[Entry]) -> list[list[Entry]]:
    """Return entries by series, each newest first."""
    found: defaultdict[tuple[str, str, str], list[Entry]] = defaultdict(list)
    for entry in entries:
        found[entry.series].append(entry)
    return [sorted(series, key=lambda entry: (entry.dated, entry.revision), reverse=True) for series in found.values()]


def irregularities(entries: Iterable[Entry], on: date) -> tuple[Irregular, ...]:
    """Return the serials of each model that no document names between those that are named, and those that two name.

    Serials below the lowest and above the highest that are named are no gap: nobody says such airplanes exist.
    """
    found: list[Irregular] = []
    models: defaultdict[tuple[str, str], list[Entry]] = defaultdict(list)
    for entry in entries:
        if entry.dated <= on:
            models[entry.family, entry.model].append(entry)
    for (family, model), own in sorted(models.items()):
        for prefix, starts in groupby(corners(e.serials for e in own), key=lambda serial: serial.prefix):
            found += _irregular(family, model, own, stretches(prefix, [s.number for s in starts]), on)
    return tuple(found)


def _irregular(family: str, model: str, own: Sequence[Entry], spans: Sequence[Span], on: date) -> list[Irregular]:
    held = [holding(own, Serial(span.prefix or "", span.low or 0), on).entries for span in spans]
    named = [index for index, entries in enumerate(held) if entries]
    found: list[Irregular] = []
    for index, (span, entries) in enumerate(zip(spans, held, strict=True)):
        inside = bool(named) and named[0] < index < named[-1]
        if not entries and inside:
            around = (*held[max(i for i in named if i < index)], *held[min(i for i in named if i > index)])
            words = f"{model}: no entry holds for {_serials(span)} on {on.isoformat()}."
            found.append(Irregular("gap", family, model, span, tuple(dict.fromkeys(around)), words))
        elif len(entries) > 1:
            names = " and ".join(entry.name for entry in entries)
            many = "both" if len(entries) == 2 else "all"
            words = f"{model}: {names} {many} hold for {_serials(span)} on {on.isoformat()}."
            found.append(Irregular("overlap", family, model, span, entries, words))
    return found


def supersessions(entries: Iterable[Entry]) -> tuple[Supersession, ...]:
    """Return each revision with the one it follows, where the two name a serial in common, oldest first."""
    found = []
    for series in _by_series(entries):
        for place, after in enumerate(series):
            before = next((e for e in series[place + 1 :] if e.dated < after.dated and _common(e, after)), None)
            if before is None:
                continue
            changed = before.steps != after.steps
            how = "with another order" if changed else "with the same order"
            words = f"{after.model}: {after.name} follows {before.name} {how}."
            found.append(Supersession(before, after, changed, words))
    return tuple(sorted(found, key=lambda item: (item.after.model, item.after.dated)))


def _common(one: Entry, other: Entry) -> bool:
    both = (one.serials, other.serials)
    return any(one.serials.holds(serial) and other.serials.holds(serial) for serial in corners(both))


def _serials(span: Span) -> str:
    """Return a span of serial numbers with its noun, such as "serial 1310" or "serials 1251-1299"."""
    return f"serial {span}" if span.low is not None and span.low == span.high else f"serials {span}"
