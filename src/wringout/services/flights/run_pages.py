"""A run and its recording as a reader looks at them: readings by row, the fit through them, the rows around."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import numpy as np

from wringout.errors import BadInputError
from wringout.recordings.types import Recording, Severity
from wringout.services.flights.documents import observed_documents, run_document
from wringout.services.flights.mappings import proposed_mapping
from wringout.services.flights.recordings import ReadRecording
from wringout.services.flights.runs import find_recording, study_run
from wringout.services.opening import the_study
from wringout.services.study.inputs import inputs_hash
from wringout.store import ResultKind, Store, latest_result, read_recording_bytes
from wringout.units import from_si

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Window:
    """Rows of a recording: column titles with units, and for each row its number, time, s, and cells as text."""

    titles: tuple[str, ...]
    rows: tuple[tuple[int, float | None, tuple[str, ...]], ...]
    first: int
    last: int
    total: int


def run_view(store: Store, slug: str | None, key: str) -> Json:
    """Return a run with its readings, and what the newest reduction made of it (None before one, or where it is new).

    Raises:
        NotFoundError: there is no such study or run.
    """
    found, _ = study_run(store, slug, key)
    with store.reading() as view:
        study = the_study(view, slug)
        result = latest_result(view, study.id, ResultKind.REDUCTION)
        now = inputs_hash(view, study.id)
    body = {} if result is None else result.body
    reduced: Any = next((run for run in _list(body.get("runs")) if run["key"] == key), None)
    return {
        "run": run_document(found),
        "readings": observed_documents(found),
        "reduced": reduced,
        "is_current": result is not None and result.inputs_hash == now,
        "findings": [item for item in _list(body.get("findings")) if key in item["runs"]],
        "flags": [item for item in _list(body.get("flags")) if item["run"] == key],
    }


def _list(value: Any) -> list[Json]:
    return value if isinstance(value, list) else []


def window_of(recording: Recording, wanted: int, most: int) -> Window:
    """Return at most ``most`` rows of a recording around the source row that is wanted."""
    numbers = np.asarray(recording.rows)
    middle = int(np.searchsorted(numbers, wanted))
    start = max(0, min(middle - most // 2, len(numbers) - most))
    stop = min(len(numbers), start + most)
    channels = list(recording.channels.values())
    texts = [key for key in recording.texts if key not in recording.channels]
    titles = tuple(f"{c.quantity} ({c.unit})" if c.unit else c.quantity for c in channels) + tuple(texts)
    shown = [np.asarray(from_si(c.values[start:stop], c.unit) if c.unit else c.values[start:stop]) for c in channels]
    time = recording.time_s
    rows = []
    for offset in range(stop - start):
        cells = [_cell(float(values[offset])) for values in shown]
        cells += [str(recording.texts[key][start + offset]) for key in texts]
        at = None if time is None else float(time[start + offset])
        rows.append((int(numbers[start + offset]), at, tuple(cells)))
    first, last = (rows[0][0], rows[-1][0]) if rows else (0, 0)
    return Window(titles, tuple(rows), first, last, len(numbers))


def _cell(value: float) -> str:
    return "" if np.isnan(value) else f"{value:.6g}"


def columns_of(found: ReadRecording) -> list[Json]:
    """Return the reader's questions about columns, each with the sentence and the column it is about."""
    if found.recording is None:
        return []
    notices = found.recording.notices
    return [
        {"field": notice.field, "sentence": notice.sentence}
        for notice in notices
        if notice.severity is Severity.QUESTION and notice.field
    ]


def mapping_text(store: Store, slug: str | None, wanted: str) -> str:
    """Return the mapping of a recording as JSON to edit: the one chosen, or what its columns are taken to be; else "".

    Raises:
        NotFoundError: there is no such study or recording.
    """
    with store.reading() as view:
        item = find_recording(view, the_study(view, slug).id, wanted)
        if item.mapping is not None:
            return json.dumps(item.mapping, indent=1, ensure_ascii=False)
        data = read_recording_bytes(view, item.recording.sha256)
    try:
        return proposed_mapping(data, item.name)
    except BadInputError:
        return ""
