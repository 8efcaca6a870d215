"""The long work on sounds and clips, as functions that a worker process calls."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from wringout.numerals import count
from wringout.services.flights.clips import read_marked_clip
from wringout.services.flights.speech import hear_recording
from wringout.services.opening import open_studies
from wringout.web.jobs import Progress


def clock() -> datetime:
    """Return the present moment; that of ``studies.py`` would bring the whole estimator into the worker."""
    return datetime.now(UTC)


def hear_sound_of(database: Path, progress: Progress, slug: str, recording: str) -> str:
    """Hear what is said in a sound or clip of a study, and say how many captions came of it."""
    with open_studies(database, clock, create=False) as store:
        progress(0.0, "getting ready")
        done = hear_recording(store, slug, recording, lambda share: progress(share, "listening"))
        heard = 0 if done.recording is None else len(done.recording)
        return f"{count(heard, 'phrase')} heard, kept as {done.item.name}."


def read_clip_of(database: Path, progress: Progress, slug: str, recording: str) -> str:
    """Read the marked instrument of a clip, and say how many readings are sure."""
    with open_studies(database, clock, create=False) as store:
        progress(0.0, "getting ready")
        done = read_marked_clip(store, slug, recording, lambda share: progress(0.95 * share, "reading the instrument"))
        sure = sum(one.sure for one in done.readings)
        return f"{count(sure, 'reading')} of {len(done.readings):,} are sure in {done.item.name}."
