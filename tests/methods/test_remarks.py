"""What is said of a run as taken in, and that every word a method reads is known."""

from __future__ import annotations

import re
from pathlib import Path

from tests.estimate.invented import DECELERATION, beliefs
from wringout.methods.remarks import KNOWN_WORDS, remarks_on
from wringout.recordings.reader import read_recording

ROWS = "".join(f"{t}, {120 - t // 4}{', gear down' if t == 12 else ''}\n" for t in range(0, 97, 6))
HEADER = "# method: level deceleration\n# altitude: 6000 ft\n# weight: 3000 lb\n"


def said(header: str, rows: str = ROWS) -> tuple[str, ...]:
    recording = read_recording(f"{header}time, speed, mark\n{rows}".encode(), "G1.csv")
    return remarks_on(DECELERATION.from_recording("G1", recording, {}, beliefs()), recording, {})


def test_a_run_with_all_its_words_needs_no_remark() -> None:
    assert said(HEADER + "# temperature: 5 C\n") == ()


def test_an_unknown_word_a_missing_temperature_and_a_short_run_are_said() -> None:
    unknown, assumed = said(HEADER + "# altitud: 6500 ft\n")
    assert "'altitud' is not known" in unknown
    assert "standard one is taken" in assumed
    (short,) = said(HEADER + "# temperature: 5 C\n", "\n".join(ROWS.splitlines()[:5]) + "\n")
    assert "5 readings over 24 s" in short


def test_every_word_a_method_reads_is_known() -> None:
    folder = Path(__file__).resolve().parents[2] / "src" / "wringout" / "methods"
    text = "\n".join(path.read_text(encoding="utf-8") for path in folder.rglob("*.py"))
    read = re.findall(r'words(?:\.get\(|\[)"([a-z ]+)"', text) + re.findall(r'"([a-z ]+)" (?:not )?in words', text)
    read += re.findall(r'quantity\(words, "([a-z ]+)"', text)
    assert len(read) > 40
    assert set(read) <= KNOWN_WORDS
