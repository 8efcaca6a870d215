"""Several recordings of one flight: parts joined, clocks brought together, the result a recording of its own."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace

from wringout.recordings.changes import marks_from_channels
from wringout.recordings.together.alignment import ClockFit, align
from wringout.recordings.together.merging import aligned_table, joined_table
from wringout.recordings.types import Recording
from wringout.services.flights.recordings import Arrival, take_in_recording
from wringout.services.flights.runs import find_recording, read_study_recording
from wringout.services.opening import the_study
from wringout.store import Store
from wringout.store.documents import Document


@dataclass(frozen=True, slots=True)
class Alignment:
    """How the clock of one recording runs against another's; names as in the study."""

    first: str
    other: str
    fit: ClockFit

    def sentence(self) -> str:
        """Return the alignment in words."""
        fit = self.fit
        drift = f"drift {1e6 * fit.rate:+.0f} ± {1e6 * fit.rate_sd:.0f} parts in a million"
        words = (
            f"{self.other} is {fit.offset_s:+.2f} ± {fit.offset_sd_s:.2f} s on the clock of {self.first} "
            f"(68 % confidence), {drift}, by {fit.by}"
        )
        steps = "".join(f"; it jumps by {step.by_s:+.1f} s near {step.time_s:.0f} s" for step in fit.steps)
        return f"{words}{steps}."


def compare_clocks(store: Store, slug: str | None, first: str, other: str) -> Alignment:
    """Return how the clocks of two recordings of one flight lie, by common channels or common marks.

    Raises:
        BadInputError: one cannot be read, or nothing common to both says how they lie.
        NotFoundError: there is no such study or recording.
    """
    one, two = _read(store, slug, (first, other))
    return Alignment(one.name, two.name, align(with_movement(one), with_movement(two)))


def align_recordings(store: Store, slug: str | None, first: str, other: str, name: str = "") -> Arrival:
    """Take in two recordings of one flight as one, on the clock of the first; both stay as they are.

    Raises:
        BadInputError: as :func:`compare_clocks`, or a clock jumped between them.
        NotFoundError: there is no such study or recording.
    """
    one, two = _read(store, slug, (first, other))
    text = aligned_table(one, [(two, align(with_movement(one), with_movement(two)))])
    given = name or f"{_stem(one.name)}+{_stem(two.name)}.csv"
    return take_in_recording(store, slug, io.BytesIO(text.encode()), given, f"{two.name} aligned onto {one.name}")


def join_recordings(store: Store, slug: str | None, names: Sequence[str], name: str = "") -> Arrival:
    """Take in the parts a logger split a flight into as one recording; the parts stay as they are.

    Raises:
        BadInputError: the parts do not follow one another, or measure other things.
        NotFoundError: there is no such study or recording.
    """
    parts = _read(store, slug, names)
    text = joined_table(parts)
    return take_in_recording(
        store, slug, io.BytesIO(text.encode()), name or f"{_stem(parts[0].name)}-joined.csv", "joined from its parts"
    )


def alignment_document(found: Alignment) -> Document:
    """Return an alignment as JSON."""
    fit = found.fit
    return {
        "first": found.first,
        "other": found.other,
        "offset_s": round(fit.offset_s, 4),
        "offset_sd_s": round(fit.offset_sd_s, 4),
        "drift_ppm": round(1e6 * fit.rate, 2),
        "drift_sd_ppm": round(1e6 * fit.rate_sd, 2),
        "reference_s": round(fit.reference_s, 3),
        "by": fit.by,
        "count": fit.count,
        "steps": [{"time_s": round(step.time_s, 1), "by_s": round(step.by_s, 2)} for step in fit.steps],
        "sentence": found.sentence(),
    }


def _read(store: Store, slug: str | None, names: Sequence[str]) -> list[Recording]:
    with store.reading() as view:
        study = the_study(view, slug)
        return [read_study_recording(view, find_recording(view, study.id, name)) for name in names]


def with_movement(recording: Recording) -> Recording:
    """Return a recording whose moving gear and flap columns count as marks too."""
    return replace(recording, marks=(*recording.marks, *marks_from_channels(recording)))


def _stem(name: str) -> str:
    return name.rpartition(".")[0] or name
