"""The long work on sounds and clips, as functions that a worker process calls."""

from __future__ import annotations

from pathlib import Path

from wringout.numerals import count
from wringout.services.findings.reduce import Progress
from wringout.services.flights.speech import hear_recording
from wringout.services.opening import open_studies
from wringout.web.work import clock


def hear_sound_of(database: Path, progress: Progress, slug: str, recording: str) -> str:
    """Hear what is said in a sound or clip of a study, and say how many captions came of it."""
    with open_studies(database, clock, create=False) as store:
        progress(0.0, "getting ready")
        done = hear_recording(store, slug, recording, lambda share: progress(share, "listening"))
        heard = 0 if done.recording is None else len(done.recording)
        return f"{count(heard, 'phrase')} heard, kept as {done.item.name}."
