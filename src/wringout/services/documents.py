"""Studies, airplanes, recordings and runs as JSON documents, in the units of the trade with each unit named.

The shapes are described in docs/json.md; results have theirs in :mod:`wringout.services.reduction_document` and
:mod:`wringout.services.matchup_document`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from wringout.airplane.limits import Limits
from wringout.methods.register import METHODS
from wringout.methods.types import Card, GuardNotice
from wringout.recordings.types import Notice, Recording
from wringout.services.airplanes import StudyAirplane
from wringout.services.kept_numbers import number, shown
from wringout.services.recordings import Arrival, ReadRecording
from wringout.services.reduction_document import exceedance_document
from wringout.services.runs import BuiltRun
from wringout.services.studies import Standing, StudySummary
from wringout.services.weights import Weighing
from wringout.store import HistoryEntry, StudyRecording
from wringout.units import from_si

Json = dict[str, Any]


def study_document(found: StudySummary) -> Json:
    """Return a study and how far it has come."""
    study = found.study
    return {
        "name": study.slug,
        "title": study.title,
        "question": study.question,
        "difference": dict(study.difference_that_matters),
        "difference_words": found.difference_words,
        "invented": study.invented,
        "made_at": study.created_at,
        "airplane_version": found.airplane_version,
        "recordings": found.recordings,
        "runs_in_use": found.runs_in_use,
        "runs_set_aside": found.runs_set_aside,
        "reduction": standing_document(found.reduction),
        "matchup": standing_document(found.matchup),
        "brief": found.brief_path or None,
    }


def standing_document(standing: Standing) -> Json | None:
    """Return when a result was computed and whether it is current; None without one."""
    return {"computed_at": standing.computed_at, "current": standing.current} if standing.computed_at else None


def history_document(entry: HistoryEntry) -> Json:
    """Return one edit."""
    return {"at": entry.at, "what": entry.what, "before": entry.before, "after": entry.after}


def airplane_document(found: StudyAirplane) -> Json:
    """Return an airplane: what is believed before its runs, and its limits."""
    beliefs = found.beliefs
    return {
        "name": beliefs.name,
        "invented": beliefs.invented,
        "source": found.document.source,
        "version": found.version.version,
        "put_at": found.version.created_at,
        "is_new": found.is_new,
        "flap_settings": [
            {"name": s.name, "angle": shown(s.angle_rad, "deg"), "unit": "deg"} for s in beliefs.settings
        ],
        "retractable": beliefs.retractable,
        "limits": limits_document(beliefs.limits),
        "parameters": [
            {
                "key": p.key,
                "label": p.label,
                "unit": p.display_unit,
                "value": shown(p.prior.value, p.display_unit),
                "interval_95": [shown(x, p.display_unit) for x in p.prior.interval()],
                "source": p.prior.source,
            }
            for p in beliefs.parameters
        ],
        "toml": found.version.toml,
    }


def limits_document(limits: Limits) -> Json:
    """Return the limits of the airplane's manual; null where it states none."""

    def speed(value: float | None) -> Json | None:
        return None if value is None else {"value": shown(value, "kt"), "unit": "kt"}

    return {
        "never_exceed": speed(limits.never_exceed_mps),
        "maneuvering": speed(limits.maneuvering_mps),
        "gear_operate": speed(limits.gear_operate_mps),
        "gear_retract": speed(limits.gear_retract_mps),
        "gear_extended": speed(limits.gear_extended_mps),
        "flaps_extended": {name: speed(value) for name, value in sorted(limits.flaps_extended_mps.items())},
        "max_weight": {"value": shown(limits.max_mass_kg, "lb"), "unit": "lb"},
    }


def item_document(item: StudyRecording) -> Json:
    """Return what the store knows of a recording in a study."""
    return {
        "name": item.name,
        "sha256": item.recording.sha256,
        "size_bytes": item.recording.size_bytes,
        "received_at": item.recording.received_at,
        "note": item.note,
        "mapping": item.mapping,
    }


def recording_document(found: ReadRecording, rows: bool = False) -> Json:
    """Return a recording; with ``rows`` every channel's values too."""
    read = found.recording
    return {
        **item_document(found.item),
        "problem": found.problem or None,
        "runs": list(found.runs),
        "read": None if read is None else read_document(read, rows),
    }


def read_document(recording: Recording, rows: bool) -> Json:
    """Return what a reader made of a recording's bytes."""
    return {
        "kind": recording.kind,
        "rows": len(recording),
        "header": dict(recording.header),
        "channels": [{"quantity": c.quantity, "column": c.column, "unit": c.unit} for c in recording.channels.values()],
        "texts": sorted(recording.texts),
        "marks": [{"time_s": number(m.time_s), "words": m.label, "row": m.row} for m in recording.marks],
        "notices": [notice_document(notice) for notice in recording.notices],
        **({"values": _values(recording)} if rows else {}),
    }


def _values(recording: Recording) -> Json:
    time = recording.time_s
    return {
        "row": [int(row) for row in recording.rows],
        "time_s": None if time is None else [number(float(t)) for t in time],
        **{
            key: [number(float(x)) for x in np.asarray(from_si(c.values, c.unit) if c.unit else c.values)]
            for key, c in recording.channels.items()
        },
        **{key: list(words) for key, words in recording.texts.items() if key not in recording.channels},
    }


def notice_document(notice: Notice) -> Json:
    """Return one thing a reader noticed."""
    return {
        "severity": str(notice.severity),
        "sentence": notice.sentence,
        "row": notice.row or None,
        "field": notice.field or None,
    }


def arrival_document(arrival: Arrival) -> Json:
    """Return what became of a file that was taken in."""
    read = arrival.recording
    return {
        **item_document(arrival.item),
        "already_kept": arrival.already_kept,
        "already_in_study": arrival.already_in_study,
        "problem": arrival.problem or None,
        "read": None if read is None else read_document(read, rows=False),
        "run": None if arrival.run is None else run_document(arrival.run),
        "no_run": arrival.no_run or None,
        "earlier_runs": list(arrival.earlier_runs),
    }


def run_document(found: BuiltRun) -> Json:
    """Return a run as stored and as built."""
    stored = found.stored
    return {
        "key": stored.key,
        "method": stored.method,
        "title": found.title or None,
        "recording": {"name": found.recording_name, "sha256": stored.recording_sha256},
        "from_s": stored.from_s,
        "to_s": stored.to_s,
        "setup": dict(stored.setup),
        "state": str(stored.state),
        "reason": stored.reason or None,
        "problem": found.problem or None,
        "readings": found.readings,
        "in_fit": found.is_fitted,
        "weight": None if found.weighing is None else weighing_document(found.weighing),
        "exceedances": [exceedance_document(stored.key, item) for item in found.exceedances],
    }


def observed_documents(found: BuiltRun) -> list[Json]:
    """Return every reading that the joint fit takes from a run, with its row and, where it has one, its time."""
    return [
        {
            "row": int(item.run.rows[i]),
            "time_s": number(float(item.run.time_s[i])) if hasattr(item.run, "time_s") else None,
            "value": shown(float(value), item.method.observed_unit),
            "unit": item.method.observed_unit,
        }
        for item in found.built
        for i, value in enumerate(item.method.observed(item.run))
    ]


def weighing_document(weighing: Weighing) -> Json:
    """Return how the weight of a run is known."""
    balance = weighing.balance
    return {
        "value": None if weighing.mass_kg is None else shown(weighing.mass_kg, "lb"),
        "unit": "lb",
        "basis": weighing.basis or None,
        "centre_of_gravity": None if balance is None else {"value": shown(balance.arm_m, "in"), "unit": "in"},
        "inside_envelope": None if balance is None else balance.inside,
        "notices": list(weighing.notices),
    }


def card_document(card: Card, notices: list[GuardNotice]) -> Json:
    """Return a test card with what stands against it."""
    return {
        "title": card.title,
        "purpose": card.purpose,
        "setup": list(card.setup),
        "steps": list(card.steps),
        "readings": list(card.readings),
        "stop_conditions": list(card.stop_conditions),
        "notices": [{"blocking": notice.blocking, "sentence": notice.sentence} for notice in notices],
        "cautions": list(card.cautions),
    }


def method_documents() -> list[Json]:
    """Return every flight-test method there is."""
    return [{"key": key, "title": found.title, "observed_unit": found.observed_unit} for key, found in METHODS.items()]
