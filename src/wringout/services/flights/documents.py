"""Recordings and runs as JSON documents, in the units of the trade with each unit named (docs/json.md)."""

from __future__ import annotations

from typing import Any

import numpy as np

from wringout.airplane.limits import Exceedance
from wringout.recordings.types import Notice, Recording
from wringout.services.flights.recordings import Arrival, ReadRecording
from wringout.services.flights.runs import BuiltRun
from wringout.services.flights.weights import Weighing
from wringout.services.kept_numbers import number, shown
from wringout.store import StudyRecording
from wringout.units import from_si

Json = dict[str, Any]


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


def exceedance_document(run: str, found: Exceedance) -> Json:
    """Return a limit that a reading went beyond."""
    return {
        "run": run,
        "limit": found.limit,
        "limit_speed": {"value": shown(found.limit_mps, "kt"), "unit": "kt"},
        "seen_speed": {"value": shown(found.seen_mps, "kt"), "unit": "kt"},
        "row": found.row,
        "sentence": found.sentence(),
    }
