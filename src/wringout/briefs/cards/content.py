"""What stands on the cards of a flight, as plain values: the front card, the hazards, and one card for each point."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from wringout.airplane.beliefs import Beliefs
from wringout.briefs.cards.envelope import envelope_figure
from wringout.briefs.cards.metric import metric_words
from wringout.methods.cautions import CAUTIONS
from wringout.plain_text import visible
from wringout.planning.boxes import boxes_of
from wringout.planning.checks import Check, Level
from wringout.planning.hazards import SOURCE, hazards_for, initial_risk, residual_risk, worst_first
from wringout.planning.loading import burn_path
from wringout.planning.plan import Point, TestPlan
from wringout.units import FOOT, POUND, US_GALLON

Json = dict[str, Any]
DEFERENCE = (
    "The airplane's own approved manual and placards, local regulation and a qualified instructor or test pilot come "
    "before this card. It is for planning, and no advice in flight."
)
_LIMITS_SHOWN = ("VNE", "VA", "VFE", "VLE", "VLO", "the stall", "the altitude floor", "the highest")


@dataclass(frozen=True, slots=True)
class CardLook:
    """How cards are printed: units, day or night, and the address of the flight's capture page ("" for none)."""

    metric: bool = False
    night: bool = False
    address: str = ""


def cards_content(
    plan: TestPlan, beliefs: Beliefs, checks: Sequence[Check], points: Sequence[Point], look: CardLook
) -> Json:
    """Return everything that is printed, every text made visible and in the wanted units."""
    shown = _texts(look.metric)
    return {
        "title": visible(plan.document.title),
        "airplane": visible(beliefs.name),
        "night": look.night,
        "deference": DEFERENCE,
        "address": visible(look.address),
        "front": _front(plan, checks, shown),
        "envelope": _envelope(plan, beliefs, look),
        "hazards": _hazards(plan, shown),
        "hazard_source": SOURCE,
        "cards": [_card(point, plan, beliefs, checks, shown) for point in points],
    }


def _texts(metric: bool) -> Any:
    def one(text: str) -> str:
        return visible(metric_words(text) if metric else text)

    return one


def _front(plan: TestPlan, checks: Sequence[Check], shown: Any) -> Json:
    flight = plan.flight
    when = [] if flight.start is None else [f"Take-off {flight.start:%Y-%m-%d %H:%M %Z}".strip()]
    ends = []
    for name, moment in (("Take-off", plan.takeoff), ("Landing", plan.landing)):
        parts = []
        if moment.balance is not None:
            parts.append(f"{moment.balance.mass_kg / POUND:,.0f} lb")
        if moment.fuel_m3 is not None:
            parts.append(f"fuel {moment.fuel_m3 / US_GALLON:.0f} gal")
        if parts:
            ends.append(f"{name}: {', '.join(parts)}")
    engine = plan.document.engine
    stated = [
        f"{name} {value}"
        for name, value in (
            ("engine speed at most", engine.highest_rpm),
            ("manifold pressure at most", engine.highest_manifold_pressure),
            ("density altitude at most", engine.highest_density_altitude),
        )
        if value is not None
    ]
    return {
        "facts": [shown(x) for x in (*when, *ends, f"Floor {flight.floor_m / FOOT:,.0f} ft above ground")],
        "engine": [shown(str(x)) for x in (*stated, *engine.other)],
        "order": [
            {
                "key": visible(p.key),
                "method": shown(f"{p.method.title}{_words_of(p)}"),
                "altitude": "" if p.altitude_m is None else shown(f"{p.altitude_m / FOOT:,.0f} ft"),
                "start": _minutes(p.start.elapsed_s),
            }
            for p in plan.points
        ],
        "go": [shown(line) for line in plan.document.go_no_go],
        "warnings": [shown(c.sentence) for c in checks if c.point == "" and c.level is not Level.HELD],
        "cautions": [shown(line) for line in CAUTIONS],
    }


def _words_of(point: Point) -> str:
    words = [point.words[k] for k in ("device", "to", "entry speed", "speed", "speeds") if k in point.words]
    return f": {', '.join(words)}" if words else ""


def _minutes(seconds: float) -> str:
    return f"{int(seconds // 3600)}:{int(seconds % 3600 // 60):02d}"


def _envelope(plan: TestPlan, beliefs: Beliefs, look: CardLook) -> str:
    start, end = plan.takeoff.fuel_m3, plan.landing.fuel_m3
    if beliefs.loading is None or not beliefs.loading.envelope or start is None or end is None:
        return ""
    path = burn_path(beliefs.loading, plan.flight.load_kg, start, end)
    return envelope_figure(beliefs.loading, path, look.metric, look.night)


def _hazards(plan: TestPlan, shown: Any) -> list[Json]:
    used = {p.method.key for p in plan.points}
    wanted = [h for h in plan.document.hazards if not h.methods or used & set(h.methods)]
    return [
        {
            "hazard": shown(h.hazard),
            "cause": shown(h.cause),
            "effect": shown(h.effect),
            "mitigation": [shown(line) for line in h.mitigation],
            "stop": shown(h.stop),
            "before": f"{h.likelihood}, {h.severity}: {initial_risk(h)}",
            "after": f"{h.residual_likelihood}, {h.residual_severity}: {residual_risk(h)}",
        }
        for h in worst_first(wanted)
    ]


def _card(point: Point, plan: TestPlan, beliefs: Beliefs, checks: Sequence[Check], shown: Any) -> Json:
    card = point.method.card(beliefs, dict(point.words))
    own = [c for c in checks if c.point == point.key]
    stops = list(card.stop_conditions) + _hazard_stops(point, plan)
    return {
        "key": visible(point.key),
        "title": shown(card.title),
        "purpose": shown(card.purpose),
        "setup": [shown(x) for x in (*card.setup, *([point.remark] if point.remark else []))],
        "steps": [shown(x) for x in card.steps],
        "stops": [shown(x) for x in dict.fromkeys(stops)],
        "limits": [shown(x) for x in _limits(own, point)],
        "warnings": [shown(c.sentence) for c in own if c.level in (Level.THIN, Level.NOT_STATED)],
        "boxes": [
            {
                "title": shown(b.title),
                "columns": list(b.columns),
                "rows": [shown(r) for r in b.rows],
                "strips": b.strips,
            }
            for b in boxes_of(point, beliefs)
        ],
    }


def _limits(own: Iterable[Check], point: Point) -> list[str]:
    """Return the limits of a point as they are read out, each with its number and unit."""
    out = []
    for check in own:
        if check.limit is None or not check.subject.startswith(_LIMITS_SHOWN):
            continue
        name = check.subject.removeprefix("the ")
        sign = {"stall": "stop at", "altitude floor": "floor"}.get(name.split(",")[0], name)
        least = "least " if check.subject.startswith("the stall") and "Stop at" not in check.sentence else ""
        text = f"{sign} {check.limit:,.0f} {check.unit}"
        if check.subject.startswith("the stall"):
            text = f"{'least speed' if least else 'stop at least'} {_up(check.limit):,.0f} kt ({name.split(', ')[-1]})"
        elif check.subject == "the altitude floor":
            text = f"floor at least {check.limit:,.0f} ft above ground"
        out.append(text)
    out.append(f"weight {point.mass_kg / POUND:,.0f} lb{'' if point.mass_is_stated else ' (assumed)'}")
    return out


def _up(value: float) -> float:
    return float(-(-value // 1))


def _hazard_stops(point: Point, plan: TestPlan) -> list[str]:
    return [h.stop for h in worst_first(hazards_for(plan.document.hazards, point.method.key)) if h.methods][:3]
