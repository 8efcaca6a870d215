"""The register, what holds, and the agreement of handbooks as JSON documents, in the units of the trade."""

from __future__ import annotations

from typing import Any

from wringout.handbooks.agreement import ASK, Agreement, Anomaly, Row, Variant
from wringout.handbooks.entry import table_of
from wringout.handbooks.flown import Against, FlownOrder, FlownVariant, LawResult
from wringout.handbooks.queries import Holding, Irregular, Supersession
from wringout.handbooks.reading import GENERAL_SOURCE as GENERAL_SOURCE
from wringout.handbooks.reading import GENERAL_TEXT, Readings
from wringout.services.kept_numbers import number, shown
from wringout.services.register.entries import Checked, Registered, order_of

Json = dict[str, Any]

CAUTIONS = (
    "The airplane's approved manual, local regulation and a qualified instructor come before anything printed here.",
    ASK,
    "The register holds what was typed into it; the manual in the airplane decides.",
)


def registered_document(item: Registered) -> Json:
    """Return one entry of the register."""
    return {
        "key": item.key,
        "revision_in_library": item.revision,
        "kept_at": item.at,
        **table_of(item.entry),
        "order": order_of(item.entry),
    }


def holding_document(found: Holding) -> Json:
    """Return what holds for a serial on a day."""
    return {
        "serial": str(found.serial),
        "on": found.on.isoformat(),
        "holds": [table_of(entry) for entry in found.entries],
        "superseded": [table_of(entry) for entry in found.superseded],
        "notices": list(found.notices),
        "cautions": list(CAUTIONS),
    }


def irregular_document(item: Irregular) -> Json:
    """Return a gap or an overlap."""
    return {
        "kind": item.kind,
        "family": item.family,
        "model": item.model,
        "serials": str(item.span),
        "entries": [entry.name for entry in item.entries],
        "sentence": item.sentence,
    }


def supersession_document(item: Supersession) -> Json:
    """Return a revision and the one it follows."""
    return {
        "model": item.after.model,
        "before": table_of(item.before),
        "after": table_of(item.after),
        "order_changed": item.order_changed,
        "sentence": item.sentence,
    }


def checked_document(found: Checked) -> Json:
    """Return gaps, overlaps and revisions."""
    return {
        "on": found.on.isoformat(),
        "entries": found.entries,
        "irregular": [irregular_document(item) for item in found.irregular],
        "revisions": [supersession_document(item) for item in found.revisions],
    }


def readings_document(found: Readings | None) -> Json | None:
    """Return every way of reading a printed order."""
    if found is None:
        return None
    return {
        "readings": [{"key": r.key, "title": r.title, "choices": list(r.choices)} for r in found.readings],
        "doubts": list(found.doubts),
        "not_flown": list(found.not_flown),
    }


def variant_document(variant: Variant) -> Json:
    """Return one variant: what is printed, how it can be read, and what was flown."""
    flown = variant.flown
    return {
        "entry": table_of(variant.entry),
        "airplane": variant.airplane or None,
        "problem": variant.problem or None,
        "read": readings_document(variant.readings),
        "general_order": {"steps": GENERAL_TEXT, "source": GENERAL_SOURCE},
        "flown": None if flown is None else _flown_document(flown),
        "cautions": list(CAUTIONS),
    }


def _flown_document(flown: FlownVariant) -> Json:
    return {
        "score": flown.score,
        "score_title": flown.score_title,
        "unit": flown.shown_unit,
        "difference_that_matters": shown(flown.difference, flown.shown_unit),
        "threshold": flown.threshold,
        "orders_flown": flown.orders_flown,
        "draws": flown.draws,
        "seed": flown.seed,
        "laws": [_law_document(flown, result) for result in flown.laws],
    }


def _law_document(flown: FlownVariant, result: LawResult) -> Json:
    unit = flown.shown_unit
    return {
        "law": result.law,
        "domain": result.domain,
        "best": None if result.best is None else _order_document(result.best, unit),
        "printed": [_order_document(order, unit) for order in result.printed],
        "general": [_order_document(order, unit) for order in result.general],
        "best_against_printed": [_against_document(item, unit) for item in result.against_printed],
        "best_against_general": [_against_document(item, unit) for item in result.against_general],
    }


def _order_document(order: FlownOrder, unit: str) -> Json:
    m = order.margins
    return {
        "key": order.key,
        "title": order.title,
        "value": shown(order.median, unit),
        "interval_95": [shown(x, unit) for x in order.interval_95],
        "unit": unit,
        "acceptable": order.acceptable,
        "complete": order.complete,
        "margins": {
            "lowest_stall_ratio": number(m.stall_ratio),
            "lowest_height": {"value": shown(m.lowest_height_m, "ft"), "unit": "ft"},
            "share_below_stall_margin": number(m.below_stall_margin),
            "share_below_height": number(m.below_height),
            "share_above_a_limit": number(m.above_limit),
        },
        "sentence": order.sentence,
    }


def _against_document(item: Against, unit: str) -> Json:
    return {
        "key": item.key,
        "outcome": item.outcome,
        "cost": shown(item.cost, unit),
        "interval_95": [shown(x, unit) for x in item.interval_95],
        "unit": unit,
        "share_ahead": number(item.share),
        "sentence": item.sentence,
    }


def agreement_document(found: Agreement, variants: tuple[Variant, ...]) -> Json:
    """Return the matrix of a family, its anomalies, and each variant."""
    units = {id(v.entry): v.flown.shown_unit for v in variants if v.flown is not None}
    rows = [
        _row_document(row, units.get(id(variant.entry), "ft"))
        for row, variant in zip(found.rows, variants, strict=True)
    ]
    return {
        "rows": rows,
        "anomalies": [_anomaly_document(item) for item in found.anomalies],
        "variants": [variant_document(variant) for variant in variants],
        "cautions": list(CAUTIONS),
    }


def _row_document(row: Row, unit: str) -> Json:
    return {
        "model": row.model,
        "serials": row.serials,
        "document": row.document,
        "printed": row.printed,
        "favoured": [{"law": law, "title": title} for law, title in row.favoured],
        "standing": row.standing,
        "cost": None if row.cost is None else [shown(x, unit) for x in row.cost],
        "interval_95": None if row.interval_95 is None else [shown(x, unit) for x in row.interval_95],
        "unit": unit,
        "sentence": row.sentence,
    }


def _anomaly_document(item: Anomaly) -> Json:
    return {"kind": str(item.kind), "models": list(item.models), "sentence": item.sentence, "ask": item.ask}
