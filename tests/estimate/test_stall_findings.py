"""What power takes off a stall speed is found where a setting was stalled with it and without, and only there."""

import pytest

from tests.airplane.own_words import KT
from tests.airplane.quillback import quillback
from wringout.estimate.findings import Finding
from wringout.estimate.problem import StudyRun
from wringout.estimate.reduction import reduce_runs
from wringout.methods.stall_series.method import METHOD
from wringout.recordings.reader import read_recording

BELIEFS = quillback()


def series(key: str, power: str, *rows: str) -> StudyRun:
    head = f"# altitude: 0 ft\n# weight: 3200 lb\n# power: {power}\nflap, speed\n"
    recording = read_recording((head + "\n".join(rows)).encode(), f"{key}.csv")
    (run,) = METHOD.from_recording(key, recording, {}, BELIEFS)
    return StudyRun(run, METHOD)


def found(*runs: StudyRun) -> dict[str, Finding]:
    return {finding.key: finding for finding in reduce_runs(BELIEFS, list(runs), draws=400, seed=1).findings}


def test_power_on_less_power_off_at_the_setting_flown_both_ways() -> None:
    off = series("S1", "idle", "up, 60", "up, 61", "up, 59", "full, 50")
    on = series("S2", "65 %", "up, 54", "up, 55", "up, 53")
    findings = found(off, on)
    change = findings["power.up.S2"]
    assert "power.full.S2" not in findings
    assert change.runs == ("S2", "S1")
    assert change.label == "stall speed, flaps up, power 65 % less power off"
    assert change.value / KT == pytest.approx(-6.0, abs=0.4)  # brought to maximum weight, so not exactly
    assert change.most[0] < change.value < change.most[1] < 0.0
    assert findings["stall.up"].runs == ("S1",)


def test_power_alone_gives_no_difference() -> None:
    off = series("S1", "idle", "up, 60")
    on = series("S2", "65 %", "full, 45")
    assert not [key for key in found(off, on) if key.startswith("power.")]
