"""The figures that members, instructor and slides share: few rows, one thing each."""

from __future__ import annotations

from collections.abc import Sequence

from wringout.briefs.catalogue import tr
from wringout.briefs.document import Drawing, line
from wringout.briefs.evidence import Evidence
from wringout.briefs.figures.areas import ForestRow, curves_figure, forest_figure
from wringout.briefs.figures.stalls import stall_figure
from wringout.briefs.figures.timeline import LETTERS, timeline_figure
from wringout.briefs.figures.verdict import verdict_figure
from wringout.briefs.house_style import HALF_IN, WIDTH_IN
from wringout.briefs.standings import Judged, Place
from wringout.briefs.verdict_words import quoted
from wringout.techniques.stated.types import Device

FEW = 5
LABELS_IN = 0.9
"""Inches that names of devices take beside their intervals."""


def few_orders(judgement: Judged, most: int = FEW) -> tuple[Place, ...]:
    """Return the leader, the orders next to it, and the last of all; all of them where they are few."""
    orders = judgement.orders
    return orders if len(orders) <= most else (*orders[: most - 1], orders[-1])


def verdict_picture(evidence: Evidence, judgement: Judged, name: str, width: float = WIDTH_IN) -> Drawing:
    """Return the leading orders beside one another."""
    rows = few_orders(judgement)
    said = tr(
        "Each order against the leader: {n} of {all} are drawn, the last of all among them. Inside the pale band the "
        "difference is too small to matter. Thick line: half of the cases; thin line: 95 % of them.",
        n=len(rows),
        all=len(judgement.orders),
    )
    return Drawing(name, verdict_figure(evidence, judgement, rows, name, width), said, line(said))


def drag_picture(evidence: Evidence, name: str, width: float = WIDTH_IN) -> Drawing | None:
    """Return each device's drag at the middle speed of its runs; None without any."""
    rows = []
    for curve in evidence.content.reduction.curves:
        found = evidence.finding(f"area.{curve.device}.middle")
        if found is not None:
            belief = found.prior_most
            rows.append(ForestRow(curve.label, "", found.value, found.half, found.most, curve.device, True, belief))
    if not rows:
        return None
    said = tr(
        "Drag area each device adds, with its interval: thick 50 %, thin 95 %. Pale bar: what was believed before "
        "flying."
    )
    svg = forest_figure(evidence, name, rows, "ft2", tr("drag area added"), space=(width, LABELS_IN))
    return Drawing(name, svg, said, line(said))


def curves_picture(evidence: Evidence, name: str, width: float = WIDTH_IN) -> Drawing | None:
    """Return drag over speed; None without any."""
    known = evidence.content.reduction.curves
    if not known:
        return None
    said = tr(
        "Drag area over calibrated airspeed. Darker band: 50 %; paler band: 95 %. A flap's drag changes with speed."
    )
    return Drawing(name, curves_figure(evidence, known, width), said, line(said))


def stall_picture(evidence: Evidence, name: str) -> Drawing | None:
    """Return stall speeds along the flap travel; None without any."""
    found = evidence.findings("stall.")
    if not found:
        return None
    svg = stall_figure(evidence, found, evidence.finding("share.lift"), evidence.finding("share.drag"))
    said = tr(
        "Left: stall speed by flap setting. Right: how much of full flap's lift and drag is had along the travel."
    )
    return Drawing(name, svg, said, line(said))


def time_picture(evidence: Evidence, judgement: Judged, name: str) -> Drawing | None:
    """Return the leader and the next order that begins with the other lever, in time; None without traces."""
    leader, *rest = judgement.orders
    other = next((p for p in rest if _first(p) != _first(leader) and not p.same_as_leader), None)
    chosen = [leader.index] + ([other.index] if other else [])
    if len(judgement.matchup.traces) <= max(chosen):
        return None
    names = "; ".join(
        f"{letter}: {quoted(judgement.matchup.techniques[j].title)}" for letter, j in zip(LETTERS, chosen, strict=False)
    )
    said = tr("One typical case in time: {names}.", names=names)
    return Drawing(name, timeline_figure(evidence, judgement.matchup, chosen, name, few=True), said, line(said))


def _first(place: Place) -> Device | None:
    return place.technique.actions[0].device if place.technique.actions else None


def three(evidence: Evidence, judgements: Sequence[Judged]) -> tuple[Drawing, ...]:
    """Return the three figures that carry the answer, or those that the study has, each to stand beside another."""
    wanted = [
        verdict_picture(evidence, judgements[0], "orders", HALF_IN) if judgements else None,
        drag_picture(evidence, "drag", HALF_IN),
        curves_picture(evidence, "speed", HALF_IN),
        stall_picture(evidence, "stall"),
    ]
    return tuple(drawing for drawing in wanted if drawing is not None)[:3]
