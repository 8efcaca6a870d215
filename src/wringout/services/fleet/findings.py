"""Findings of many studies and airplanes in one library: collected, listed, checked."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wringout.errors import BadInputError, NotFoundError
from wringout.services.findings.reduce import kept_reduction
from wringout.services.opening import the_study
from wringout.store import Store, View, get_entry, list_entries, put_entries, remove_entry

KIND = "fleet-finding"
FIELDS = (
    "quantity",
    "label",
    "unit",
    "value",
    "standard_uncertainty",
    "at_speed",
    "at_weight",
    "family",
    "model",
    "airplane",
    "pilot",
    "made_on",
    "invented",
    "source",
    "note",
)
_TEXTS = ("quantity", "label", "unit", "family", "model", "airplane", "pilot", "made_on", "note")
_NEEDED = ("quantity", "family", "model", "airplane", "pilot")
Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class FleetFinding:
    """One finding of one airplane, as it stands in the library.

    Values are in ``unit`` (a unit of the trade, "" for a ratio); ``at_speed_kt`` and ``at_weight_lb`` say what it holds
    for, None where it holds at any. ``source`` says where it came from.
    """

    key: str
    quantity: str
    label: str
    unit: str
    value: float
    standard_uncertainty: float
    at_speed_kt: float | None
    at_weight_lb: float | None
    family: str
    model: str
    airplane: str
    pilot: str
    made_on: str
    invented: bool
    source: Mapping[str, Any]


def finding_key(body: Mapping[str, Any]) -> str:
    """Return the key of a finding: the same for the same quantity, airplane, pilot and source."""
    source = body.get("source") or {}
    named = [body.get("quantity"), body.get("airplane"), body.get("pilot"), source.get("inputs_hash") or source]
    return hashlib.sha256(json.dumps(named, sort_keys=True).encode()).hexdigest()[:16]


def check_finding(body: Mapping[str, Any], where: str) -> Json:
    """Return the body of a finding if it can be kept.

    Raises:
        BadInputError: a field is unknown, missing or of the wrong kind; the field is named.
    """
    unknown = sorted(str(key) for key in body if key not in FIELDS)
    if unknown:
        raise BadInputError(f"the field {unknown[0]!r} is not known", where, f"use {', '.join(FIELDS)}")
    for name in _TEXTS:
        if not isinstance(body.get(name, ""), str) or len(body.get(name, "")) > 300:
            raise BadInputError("it is no short text", f"{where}, {name}", "write at most 300 characters")
    for name in _NEEDED:
        if not body.get(name, "").strip():
            raise BadInputError("it is missing", f"{where}, {name}", f"a finding needs {', '.join(_NEEDED)}")
    for name in ("value", "standard_uncertainty"):
        value = body.get(name)
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise BadInputError(f"{value!r} is no number", f"{where}, {name}", "write a finite number")
    if float(body["standard_uncertainty"]) <= 0.0:
        raise BadInputError("it is not above zero", f"{where}, standard_uncertainty", "write one standard deviation")
    for name in ("at_speed", "at_weight"):
        _quantity(body.get(name), f"{where}, {name}", "kt" if name == "at_speed" else "lb")
    if not isinstance(body.get("source", {}), dict):
        raise BadInputError("it is no object", f"{where}, source", "write where the finding came from in braces")
    return dict(body)


def _quantity(value: object, where: str, unit: str) -> float | None:
    if value is None:
        return None
    if isinstance(value, dict) and value.get("unit") == unit and isinstance(value.get("value"), (int, float)):
        return float(value["value"])
    raise BadInputError(f"{str(value)[:40]!r} is no quantity", where, f'write {{"value": 85, "unit": "{unit}"}}')


def _finding(key: str, body: Mapping[str, Any]) -> FleetFinding:
    text = {name: str(body.get(name, "")) for name in _TEXTS}
    return FleetFinding(
        key=key,
        quantity=text["quantity"],
        label=text["label"] or text["quantity"],
        unit=text["unit"],
        value=float(body["value"]),
        standard_uncertainty=float(body["standard_uncertainty"]),
        at_speed_kt=_quantity(body.get("at_speed"), key, "kt"),
        at_weight_lb=_quantity(body.get("at_weight"), key, "lb"),
        family=text["family"],
        model=text["model"],
        airplane=text["airplane"],
        pilot=text["pilot"],
        made_on=text["made_on"],
        invented=bool(body.get("invented", False)),
        source=dict(body.get("source") or {}),
    )


def fleet_findings(view: View) -> tuple[FleetFinding, ...]:
    """Return every finding of the library, by model, quantity and airplane."""
    found = [_finding(item.key, dict(item.body or {})) for item in list_entries(view, KIND)]
    return tuple(sorted(found, key=lambda f: (f.model, f.quantity, f.airplane, f.pilot, f.key)))


def list_findings(store: Store, model: str = "", quantity: str = "", family: str = "") -> tuple[FleetFinding, ...]:
    """Return the findings of the library, of one model, quantity or family where named (any case)."""
    with store.reading() as view:
        found = fleet_findings(view)
    kin, clan = model.strip().casefold(), family.strip().casefold()
    return tuple(
        f
        for f in found
        if (not kin or f.model.casefold() == kin)
        and (not quantity or f.quantity == quantity)
        and (not clan or f.family.casefold() == clan)
    )


def put_findings(store: Store, bodies: Sequence[Mapping[str, Any]], where: str = "finding") -> int:
    """Check findings and keep them; returns how many were new or changed.

    Raises:
        BadInputError: one of them cannot be kept; nothing is kept then.
    """
    checked = [check_finding(body, f"{where} {number}") for number, body in enumerate(bodies, 1)]
    with store.writing() as work:
        return put_entries(work, KIND, {finding_key(body): body for body in checked})


def collect(
    store: Store, slug: str | None, family: str, model: str, airplane: str, pilot: str
) -> tuple[FleetFinding, ...]:
    """Take the findings of a study's reduction into the library.

    Args:
        store: where both are kept.
        slug: the study; None for the only one.
        family, model: of its airplane, as the register names them.
        airplane: which airplane it was: its serial or registration. pilot: who flew it. Both are replaced on export.

    Raises:
        BadInputError: a word is missing.
        NotFoundError: there is no such study, or its reduction is missing or out of date.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        reduction = kept_reduction(view, study)
    source = {
        "study": study.slug,
        "inputs_hash": reduction.inputs_hash,
        "seed": reduction.seed,
        "version": reduction.package_version,
    }
    bodies = [
        {
            "quantity": item["key"],
            "label": item["label"],
            "unit": item["unit"],
            "value": item["value"],
            "standard_uncertainty": (item["interval_95"][1] - item["interval_95"][0]) / (2.0 * 1.959964),
            "at_speed": item["at_speed"],
            "at_weight": item["at_weight"],
            "family": family,
            "model": model,
            "airplane": airplane,
            "pilot": pilot,
            "made_on": reduction.created_at[:10],
            "invented": study.invented,
            "source": source,
        }
        for item in _usable(reduction.body)
    ]
    put_findings(store, bodies, f"study {study.slug}, finding")
    keys = {finding_key(body) for body in bodies}
    return tuple(f for f in list_findings(store) if f.key in keys)


def _usable(body: Mapping[str, Any]) -> list[Json]:
    """Return the findings of a reduction that rest on runs and have a number and a width."""
    found: Any = body.get("findings") or []
    return [
        item
        for item in found
        if item["runs"]
        and item["value"] is not None
        and None not in item["interval_95"]
        and item["interval_95"][1] > item["interval_95"][0]
    ]


def remove_finding(store: Store, key: str) -> None:
    """Remove a finding from the library; its revisions stay.

    Raises:
        NotFoundError: there is none of that key.
    """
    with store.writing() as work:
        if get_entry(work, KIND, key) is None:
            raise NotFoundError(
                f"there is no finding {key[:40]!r} in the library", advice="choose one from the list of findings"
            )
        remove_entry(work, KIND, key)


def quantities(store: Store, family: str = "") -> tuple[tuple[str, str, str, int], ...]:
    """Return what can be pooled, of one family where named: model, quantity, label and the number of airplanes."""
    counted: dict[tuple[str, str], tuple[str, set[str]]] = {}
    for f in list_findings(store, family=family):
        label, planes = counted.setdefault((f.model, f.quantity), (f.label, set()))
        counted[f.model, f.quantity] = (label, planes | {f.airplane})
    return tuple((model, quantity, label, len(planes)) for (model, quantity), (label, planes) in counted.items())
