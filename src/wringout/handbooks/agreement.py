"""Do the handbooks of a family agree, with each other and with what was found? A matrix, and its anomalies explained.

Nothing here advises to depart from an approved manual. Every anomaly ends with whom to ask.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from wringout.handbooks.entry import Entry
from wringout.handbooks.flown import SAME_ORDER, Against, FlownOrder, FlownVariant, LawResult
from wringout.handbooks.queries import Supersession
from wringout.handbooks.reading import Readings
from wringout.handbooks.steps import Item, cleaning_up, order_words
from wringout.units import from_si

ASK = "Fly what the approved manual prints; ask the type-certificate holder or your instructor why it prints it."
ASK_NONE = "Ask the type-certificate holder or your instructor what is flown where the manual prints no order."
STALL_RATIO_NOTICED = 0.03
"""Difference in the lowest V/Vs worth a remark: about 1.5 kt at a stall speed of 50 kt (judged, no source)."""
SHARE_NOTICED = 0.05
"""Difference in the share of draws that break a margin worth a remark (judged, no source)."""
HEIGHT_NOTICED_M = 3.0
"""Difference in the lowest height worth a remark: about what an altimeter shows (judged, no source)."""


class Kind(StrEnum):
    """What an anomaly is."""

    REVERSED = "reverse order for the same devices"
    CHANGED = "order changed between revisions"
    COSTS = "the printed order costs more than the threshold"
    KEEPS_A_MARGIN = "the printed order keeps a margin that the other gives away"
    NOT_ACCEPTABLE = "the printed order breaks a stated margin"
    PRINTS_NONE = "no order is printed"
    WORDS_MATTER = "how the words are read matters"


@dataclass(frozen=True, slots=True)
class Variant:
    """One variant with what its handbook prints and what was flown.

    Attributes:
        entry: what holds for it.
        airplane: name of the airplane it was flown on, "" if none is known.
        readings: of the printed order; None where it prints none or the airplane is not known.
        flown: None where nothing could be flown; ``problem`` then says why.
    """

    entry: Entry
    airplane: str = ""
    readings: Readings | None = None
    flown: FlownVariant | None = None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the matrix.

    Attributes:
        model, serials, document: of the entry.
        printed: the printed order in few words, or "prints none".
        favoured: title of the best order found under each pilot law, as (law, title or "none acceptable").
        standing: "agrees", "costs more", "not acceptable", "depends", "no order acceptable", "prints none" or
            "not flown".
        cost: least and greatest median cost over laws and readings, in the score's SI unit; None if not flown.
        interval_95: of the costliest reading under the law where it costs most.
        sentence: in words.
    """

    model: str
    serials: str
    document: str
    printed: str
    favoured: tuple[tuple[str, str], ...]
    standing: str
    cost: tuple[float, float] | None
    interval_95: tuple[float, float] | None
    sentence: str


@dataclass(frozen=True, slots=True)
class Anomaly:
    """Something to explain: what, about which models, in sentences, and whom to ask."""

    kind: Kind
    models: tuple[str, ...]
    sentence: str
    ask: str = ASK


@dataclass(frozen=True, slots=True)
class Agreement:
    """The matrix of a family's variants, and its anomalies."""

    rows: tuple[Row, ...]
    anomalies: tuple[Anomaly, ...]


def agreement(variants: Sequence[Variant], revisions: Sequence[Supersession] = ()) -> Agreement:
    """Return how the printed orders of several variants agree with each other and with what was flown."""
    found: list[Anomaly] = list(_reversed(variants))
    found += [_changed(item) for item in revisions if item.order_changed]
    for variant in variants:
        found += _of_one(variant)
    return Agreement(tuple(_row(variant) for variant in variants), tuple(found))


def _row(variant: Variant) -> Row:
    entry, flown = variant.entry, variant.flown
    printed = "prints none" if entry.prints_none else order_words(entry.steps)
    standing, cost, most = _standing(variant)
    favoured = (
        () if flown is None else tuple((r.law, r.best.title if r.best else "none acceptable") for r in flown.laws)
    )
    return Row(
        entry.model,
        str(entry.serials),
        entry.name,
        printed,
        favoured,
        standing,
        cost,
        None if most is None else most.interval_95,
        _row_sentence(variant, standing, cost, most),
    )


def _against(flown: FlownVariant) -> list[tuple[LawResult, Against]]:
    return [(result, item) for result in flown.laws for item in result.against_printed]


def _standing(variant: Variant) -> tuple[str, tuple[float, float] | None, Against | None]:
    """Return how a printed order stands over all laws and readings, its cost, and where it costs most."""
    if variant.entry.prints_none:
        return "prints none", None, None
    if variant.flown is None:
        return "not flown", None, None
    if not _against(variant.flown):
        return "no order acceptable", None, None
    found = [item for _, item in _against(variant.flown)]
    costs = [item.cost for item in found]
    most = max(found, key=lambda item: item.cost)
    outcomes = {item.outcome for item in found}
    if outcomes <= {SAME_ORDER, "too close to call"}:
        word = "agrees"
    elif outcomes == {"favoured"}:
        word = "costs more"
    elif outcomes == {"not acceptable"}:
        word = "not acceptable"
    else:
        word = "depends"
    return word, (min(costs), max(costs)), most


def amount(value_si: float, flown: FlownVariant) -> str:
    """Return a value of the deciding score with its unit, as it is shown."""
    places = {"ft": 0, "s": 1, "kt": 1}.get(flown.shown_unit, 2)
    unit = "" if flown.shown_unit == "1" else f" {flown.shown_unit}"
    return f"{from_si(value_si, flown.shown_unit):,.{places}f}{unit}".replace("-0 ", "0 ")


def _row_sentence(variant: Variant, standing: str, cost: tuple[float, float] | None, most: Against | None) -> str:
    entry, flown = variant.entry, variant.flown
    if standing == "prints none":
        return f"{entry.model}: {entry.name} prints no order. {ASK_NONE}"
    said = f"{entry.model}: {entry.name} prints “{order_words(entry.steps)}”"
    if standing == "no order acceptable":
        return f"{said}; no order that was flown keeps the stated margins. {ASK}"
    if flown is None or cost is None or most is None:
        return f"{said}; nothing was flown{f': {variant.problem}' if variant.problem else ''}".rstrip(".") + "."
    against = {
        "agrees": "no order found is ahead of it by what matters in enough of the draws",
        "costs more": f"in every way it can be read the best order found is ahead in {flown.score_title}",
        "not acceptable": "in every way it can be read a stated margin is broken in too many draws",
        "depends": "whether another order is ahead depends on how it is read and how pitch is flown",
    }[standing]
    if standing == "not acceptable":
        return f"{said}: {against}. {ASK}"
    low, high = most.interval_95
    numbers = (
        f"at most {amount(most.cost, flown)} (95 %: {amount(low, flown)} to {amount(high, flown)}; "
        f"{amount(flown.difference, flown)} is what matters)"
    )
    return f"{said}: {against}; the best is ahead by {numbers}. {ASK}"


def _reversed(variants: Sequence[Variant]) -> list[Anomaly]:
    """Return the pairs of variants that move the same devices, one gear before flaps, the other flaps before gear."""
    found = []
    first = [(v, gear_first(v.entry)) for v in variants]
    for (one, a), (other, b) in combinations(first, 2):
        if a is None or b is None or a == b or one.entry.family.casefold() != other.entry.family.casefold():
            continue
        gear, flaps = (one, other) if a else (other, one)
        words = (
            f"{gear.entry.model} and {flaps.entry.model} raise the same devices in reverse order: "
            f"{gear.entry.name} prints “{order_words(gear.entry.steps)}”, {flaps.entry.name} prints "
            f"“{order_words(flaps.entry.steps)}”."
        )
        found.append(Anomaly(Kind.REVERSED, (gear.entry.model, flaps.entry.model), words))
    return found


def gear_first(entry: Entry) -> bool | None:
    """Return whether the gear is printed before the first movement of the flaps; None if either is not printed."""
    items = [step.item for step in cleaning_up(entry.steps)]
    if Item.GEAR not in items or Item.FLAPS not in items:
        return None
    return items.index(Item.GEAR) < items.index(Item.FLAPS)


def _changed(item: Supersession) -> Anomaly:
    def said(entry: Entry) -> str:
        return "no order" if entry.prints_none else f"“{order_words(entry.steps)}”"

    words = f"{item.after.model}: {item.after.name} prints {said(item.after)}, {item.before.name} printed "
    return Anomaly(Kind.CHANGED, (item.after.model,), f"{words}{said(item.before)}.")


def _of_one(variant: Variant) -> list[Anomaly]:
    entry, flown = variant.entry, variant.flown
    model = (entry.model,)
    if entry.prints_none:
        return [Anomaly(Kind.PRINTS_NONE, model, f"{entry.model}: {entry.name} prints no order.", ASK_NONE)]
    if flown is None:
        return []
    found = []
    for result in flown.laws:
        found += _of_law(entry, flown, result)
    return found


def _of_law(entry: Entry, flown: FlownVariant, result: LawResult) -> list[Anomaly]:
    model, found = (entry.model,), []
    who = f"{entry.model}, pilot who flies “{result.law}”"
    costly = [item for item in result.against_printed if item.outcome == "favoured"]
    found += [Anomaly(Kind.COSTS, model, f"{who}: {item.sentence}") for item in costly]
    bad = [order for order in result.printed if not order.acceptable]
    if bad and result.best is not None:
        found.append(Anomaly(Kind.NOT_ACCEPTABLE, model, f"{who}: {bad[0].sentence}"))
    for order in result.printed:
        kept = [] if result.best is None or order.key == result.best.key else _kept(order, result.best)
        if kept and result.best is not None:
            words = f"{who}: against “{result.best.title}”, the printed “{order.title}” keeps {' and '.join(kept)}."
            found.append(Anomaly(Kind.KEEPS_A_MARGIN, model, words))
    costs = [item.cost for item in result.against_printed]
    if len(costs) > 1 and max(costs) - min(costs) >= flown.difference:
        words = (
            f"{who}: the readings of the printed words differ by {amount(max(costs) - min(costs), flown)} in "
            f"{flown.score_title}, more than the {amount(flown.difference, flown)} that matter."
        )
        found.append(Anomaly(Kind.WORDS_MATTER, model, words))
    return found


def _kept(printed: FlownOrder, best: FlownOrder) -> list[str]:
    """Return the margins the printed order keeps better than the best by the deciding score, in words."""
    a, b = printed.margins, best.margins
    found = []
    if a.stall_ratio - b.stall_ratio >= STALL_RATIO_NOTICED:
        found.append(f"a lowest V/Vs of {a.stall_ratio:.2f} instead of {b.stall_ratio:.2f}")
    if a.lowest_height_m - b.lowest_height_m >= HEIGHT_NOTICED_M:
        found.append(
            f"a lowest height of {from_si(a.lowest_height_m, 'ft'):.0f} ft instead of "
            f"{from_si(b.lowest_height_m, 'ft'):.0f} ft above the ground"
        )
    shares = (
        ("the stall margin", a.below_stall_margin, b.below_stall_margin),
        ("the height margin", a.below_height, b.below_height),
        ("the limit speeds", a.above_limit, b.above_limit),
    )
    for name, mine, other in shares:
        if other - mine >= SHARE_NOTICED:
            found.append(f"{name} in {100 * (1 - mine):.0f} % of the draws instead of {100 * (1 - other):.0f} %")
    return found
