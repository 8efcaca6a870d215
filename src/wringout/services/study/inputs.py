"""The hash of everything a reduction is computed from: airplane text, recordings with their mappings, runs in use."""

from __future__ import annotations

import hashlib

from wringout.store import RunState, View, hash_of_document, latest_airplane, list_recordings, list_runs
from wringout.store.documents import JsonValue

INPUTS_FORMAT = 2
"""Raised when what is hashed, or the way it is read, changes its meaning."""


def inputs_hash(view: View, study_id: int) -> str:
    """Return the SHA-256 of the inputs of a study's reduction as they are now.

    It covers the airplane's text, and for each run in use, in order: key, method, recording hash, column mapping, span
    and set-up words. A run set aside, a title or a note does not change it.
    """
    airplane = latest_airplane(view, study_id)
    mappings = {item.recording.sha256: item.mapping for item in list_recordings(view, study_id)}
    names = {item.recording.sha256: item.name for item in list_recordings(view, study_id)}
    runs: list[JsonValue] = [
        {
            "key": run.key,
            "method": run.method,
            "recording_sha256": run.recording_sha256,
            "recording_name": names.get(run.recording_sha256, ""),
            "mapping": mappings.get(run.recording_sha256),
            "from_s": run.from_s,
            "to_s": run.to_s,
            "setup": run.setup,
        }
        for run in list_runs(view, study_id)
        if run.state is RunState.IN_USE
    ]
    text = "" if airplane is None else airplane.toml
    return hash_of_document(
        {"format": INPUTS_FORMAT, "airplane_sha256": hashlib.sha256(text.encode()).hexdigest(), "runs": runs}
    )
