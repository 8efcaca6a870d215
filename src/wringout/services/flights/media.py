"""Clips and sounds of a study: told by their names, kept as they are, and laid out as files for whoever reads them."""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Iterator
from pathlib import Path, PurePath

from wringout.store import Store, StudyRecording, read_recording_bytes

CLIPS = frozenset({".mp4", ".m4v", ".mov", ".avi", ".mkv", ".webm", ".mpg", ".mpeg"})
SOUNDS = frozenset({".wav", ".mp3", ".m4a", ".ogg", ".oga", ".opus", ".flac", ".aac"})


def is_clip(name: str) -> bool:
    """Say whether a file is a video clip by its name."""
    return PurePath(name).suffix.lower() in CLIPS


def has_sound(name: str) -> bool:
    """Say whether a file is a sound, or a clip that may have one, by its name."""
    return PurePath(name).suffix.lower() in SOUNDS | CLIPS


@contextlib.contextmanager
def laid_out(store: Store, item: StudyRecording) -> Iterator[Path]:
    """Lay out a recording as a file under its own name, in a folder that goes when it is done with.

    Raises:
        StoreError: its bytes are missing or damaged.
    """
    with store.reading() as view:
        data = read_recording_bytes(view, item.recording.sha256)
    with tempfile.TemporaryDirectory(prefix="wringout-") as folder:
        path = Path(folder) / (PurePath(item.name.replace("\\", "/")).name or "recording")
        path.write_bytes(data)
        yield path
