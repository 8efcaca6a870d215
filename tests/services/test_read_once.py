"""What is kept in memory of a recording: the same while nothing changed, anew with another mapping, bounded."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from pathlib import Path

import pytest

from wringout.errors import BadInputError
from wringout.services.flights.read_once import _Kept
from wringout.services.flights.recordings import study_recording, take_in_recording, use_mapping
from wringout.services.opening import open_studies
from wringout.services.study.studies import make_study

TABLE = b"Time (s),Speed,Altitude (ft)\n0,100,5000\n1,99,5000\n2,98,5000\n"


def test_a_recording_is_read_once_for_one_mapping(tmp_path: Path) -> None:
    with open_studies(tmp_path / "study.db", lambda: datetime(2027, 5, 1, tzinfo=UTC)) as store:
        make_study(store, "A", "Which?", {})
        sha = take_in_recording(store, "a", io.BytesIO(TABLE), "log.csv").item.recording.sha256
        first = study_recording(store, "a", sha).recording
        assert first is not None
        assert study_recording(store, "a", sha).recording is first
        use_mapping(store, "a", sha, None, [("Speed", "ignore")])
        second = study_recording(store, "a", sha).recording
        assert second is not None
        assert second is not first
        assert "ias" not in second.channels
        assert "ias" in first.channels


def test_what_was_not_asked_for_longest_goes_first_and_an_error_is_not_kept() -> None:
    kept: _Kept[str] = _Kept(5, len)
    made: list[str] = []

    def make(text: str) -> str:
        made.append(text)
        return text

    for text in ("aa", "bb", "aa", "cc", "aa", "bb"):  # "bb" had to go for "cc"
        assert kept.get(text, lambda text=text: make(text)) == text  # type: ignore[misc]
    assert made == ["aa", "bb", "cc", "bb"]

    def refuse() -> str:
        raise BadInputError("no", "here", "yes")

    with pytest.raises(BadInputError):
        kept.get("dd", refuse)
    assert kept.get("dd", lambda: make("dd")) == "dd"
