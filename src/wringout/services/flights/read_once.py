"""What was worked out of a recording, kept in memory under its hash, so that a page need not work it out again.

The bytes are still taken from the vault and held against their hash each time (:mod:`wringout.store.vault`); only the
work on them is spared. Nothing kept here is ever changed, and nothing is kept on disk.
"""

from __future__ import annotations

import json
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

from wringout.recordings.finding.proposals import Proposal
from wringout.recordings.finding.runs import find_runs
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Recording
from wringout.services.flights.mappings import from_document
from wringout.store import StudyRecording

MOST_NUMBERS = 8_000_000
"""Of all recordings kept, by rows and channels: 64 MB; the one not asked for longest goes first."""


T = TypeVar("T")


class _Kept(Generic[T]):
    """The newest answers by key, at most ``most`` of them by weight; threads may share it."""

    def __init__(self, most: int, weight: Callable[[T], int]) -> None:
        self._most, self._weight = most, weight
        self._lock = threading.Lock()
        self._found: OrderedDict[Hashable, T] = OrderedDict()

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return what is kept under a key, made now if need be; an error is not kept."""
        with self._lock:
            if key in self._found:
                self._found.move_to_end(key)
                return self._found[key]
        made = make()
        with self._lock:
            self._found[key] = made
            while len(self._found) > 1 and sum(map(self._weight, self._found.values())) > self._most:
                self._found.popitem(last=False)
        return made


def _numbers(recording: Recording) -> int:
    return len(recording) * (2 + len(recording.channels) + 4 * len(recording.texts))


_READ: _Kept[Recording] = _Kept(MOST_NUMBERS, _numbers)
_FOUND: _Kept[tuple[Proposal, ...]] = _Kept(100, lambda _: 1)


def _key(item: StudyRecording) -> Hashable:
    mapping = json.dumps(item.mapping, sort_keys=True, ensure_ascii=False)
    return item.recording.sha256, item.name, mapping


def recording_of(item: StudyRecording, data: bytes) -> Recording:
    """Return what a reader makes of a study's recording.

    Args:
        item: the recording in the study, with the mapping chosen for it.
        data: its bytes, already held against its hash.

    Raises:
        BadInputError: they do not read as a recording.
    """
    return _READ.get(_key(item), lambda: read_recording(data, item.name, from_document(item.mapping, item.name)))


def runs_found_in(
    item: StudyRecording, recording: Recording, stall_kt: tuple[float, float] | None = None
) -> tuple[Proposal, ...]:
    """Return the runs proposed from a study's recording, in order of time; ``stall_kt`` as `find_runs` takes it.

    Raises:
        BadInputError: it has no times or no speed.
    """
    return _FOUND.get((_key(item), stall_kt), lambda: tuple(find_runs(recording, stall_kt)))
