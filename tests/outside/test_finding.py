"""Runs proposed from unlabelled logs of flights in a flight-dynamics library nobody here wrote, against what was flown.

Bars: at least 9 of 10 of what was flown as a run is proposed as that, and no more than 2 false alarms in a flight. A
false alarm is a proposal for a method (not a mere configuration change) that lies on nothing of its kind.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from tests.airplane.quillback import quillback
from tests.outside.logs import Log
from tests.outside.sorties import circuits, sortie
from wringout.methods.stall_series.method import StallSeries
from wringout.recordings.cutting import cut
from wringout.recordings.finding.proposals import CONFIGURATION_CHANGE, Proposal
from wringout.recordings.finding.runs import find_runs
from wringout.recordings.reader import read_recording
from wringout.units import KNOT

SAME = {"slow-down by power": "slow-down"}
NOT_SOUGHT = {"in between", "cruise", "turn", "approach", "descent"}


def found_in(log: Log, every_s: float) -> tuple[Proposal, ...]:
    return find_runs(read_recording(log.text(every_s).encode(), "log.csv"))


def scored(log: Log, found: tuple[Proposal, ...]) -> tuple[Counter[str], Counter[str], list[Proposal]]:
    """Return what was flown and what of it was proposed, by kind, and the proposals that lie on nothing of theirs."""
    left = [one for one in found if one.kind != CONFIGURATION_CHANGE]
    flown: Counter[str] = Counter()
    hit: Counter[str] = Counter()
    for segment in log.segments:
        kind = SAME.get(segment.kind, segment.kind)
        if kind in NOT_SOUGHT:
            continue
        flown[kind] += 1
        for one in left:
            over = min(segment.end_s, one.to_s) - max(segment.start_s, one.from_s)
            if one.kind == kind and over > 0.5 * min(segment.end_s - segment.start_s, one.to_s - one.from_s):
                hit[kind] += 1
                left.remove(one)
                break
    return flown, hit, left


@pytest.mark.parametrize("every_s", [1.0, 0.2], ids=["1 Hz", "5 Hz"])
def test_what_was_flown_is_proposed(every_s: float) -> None:
    flown, hit, false = scored(sortie(), found_in(sortie(), every_s))
    assert flown.total() >= 20
    assert hit.total() >= 0.9 * flown.total(), flown - hit
    assert len(false) <= 2, [one.why for one in false]


@pytest.mark.parametrize("every_s", [1.0, 0.2], ids=["1 Hz", "5 Hz"])
def test_a_flight_without_test_runs_gives_few_false_alarms(every_s: float) -> None:
    flown, hit, false = scored(circuits(), found_in(circuits(), every_s))
    assert hit["go-around"] == flown["go-around"] == 2
    assert len(false) <= 2, [one.why for one in false]


def test_every_movement_is_in_some_proposal_and_the_configuration_is_right() -> None:
    log, found = sortie(), found_in(sortie(), 1.0)
    for move in log.moves:
        assert any(one.from_s - 2.0 <= move.time_s <= one.to_s + 2.0 for one in found)
    for one in found:
        if one.kind not in {"level deceleration", "stall", "glide"}:
            continue
        at = int(np.argmin(np.abs(log.time_s - one.from_s)))
        gear = "down" if log.columns["gear"][at] > 0.5 else "up"
        assert one.configuration == f"gear {gear}, flaps {log.columns['flap_deg'][at]:.0f}"


@pytest.mark.parametrize("every_s", [1.0, 0.2], ids=["1 Hz", "5 Hz"])
def test_a_proposed_stall_becomes_a_run_with_the_speed_and_rate_flown(every_s: float) -> None:
    log = sortie()
    recording = read_recording(log.text(every_s).encode(), "log.csv")
    proposed = [one for one in found_in(log, every_s) if one.kind == "stall"]
    for one in proposed:
        words = {"weight": "3000 lb", **one.setup, "entry flaps": "up"}  # the settings of that airplane are not ours
        stretch = cut(recording, one.from_s, one.to_s, "log.csv")
        (run,) = StallSeries().from_recording("S1", stretch, words, quillback())
        flown = (log.time_s >= one.from_s) & (log.time_s <= one.to_s)
        speed, time = log.columns["ias_kt"][flown], log.time_s[flown]
        low = int(np.argmin(speed))
        begin = int(np.flatnonzero(speed[:low] >= 1.1 * speed[low])[-1])
        slope = (speed[begin] - speed[low]) / (time[low] - time[begin])
        assert run.ias_mps / KNOT == pytest.approx([speed[low]], abs=1.0)
        assert run.entry_rate_mps2 / KNOT == pytest.approx([slope], rel=0.2)
    assert len(proposed) == 3
