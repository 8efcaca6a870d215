"""Stalls found in a log: lowest speed, entry rate by the slope to it, and stalls pulled into a recovery left out."""

import numpy as np
import pytest

from tests.airplane.own_words import DEG, KT, LB
from tests.airplane.quillback import quillback
from wringout.errors import BadInputError
from wringout.methods.stall_series.method import StallRun, StallSeries
from wringout.recordings.reader import read_recording

METHOD = StallSeries()
BELIEFS = quillback()


def log_of(speeds: list[float], *, every_s: float = 1.0, more: dict[str, list[str]] | None = None) -> bytes:
    more = more or {}
    head = ["time (s)", "ias (kt)", "altitude (ft)", *more]
    lines = [",".join(head)]
    for i, speed in enumerate(speeds):
        lines.append(",".join([f"{i * every_s:.1f}", f"{speed:.2f}", "5000", *(column[i] for column in more.values())]))
    return "\n".join(lines).encode()


def run_of(table: bytes, **setup: str) -> StallRun:
    words = {"weight": "3000 lb", "altitude": "5000 ft", "flaps": "full", **setup}
    (run,) = METHOD.from_recording("S1", read_recording(table, "log.csv"), words, BELIEFS)
    return run


def falls(top: float, low: float, rate: float) -> list[float]:
    return [*np.arange(top, low, -rate), low]


def recovery(low: float, top: float) -> list[float]:
    return list(np.arange(low + 4.0, top, 4.0))


@pytest.mark.parametrize("rate", [0.5, 1.0, 2.5])
def test_a_straight_fall_gives_its_lowest_speed_and_its_slope(rate: float) -> None:
    run = run_of(log_of([75.0] * 5 + falls(75.0, 50.0, rate) + recovery(50.0, 80.0)))
    assert run.title == "1 stall, power off"
    assert run.ias_mps == pytest.approx([50.0 * KT])
    assert run.entry_rate_mps2 == pytest.approx([rate * KT])
    assert run.flap_rad == pytest.approx([40 * DEG])
    assert run.mass_kg == pytest.approx([3000 * LB])


def test_two_entries_are_two_stalls_and_one_pulled_into_the_recovery_is_none() -> None:
    first = falls(75.0, 50.0, 1.0) + recovery(50.0, 76.0)
    again = [*falls(75.0, 49.0, 1.0), 53.0, 56.0, 55.0, 53.0, 51.0, 50.0, *recovery(50.0, 80.0)]
    run = run_of(log_of(first + again))
    assert run.title == "2 stalls, power off; 1 secondary stall left out"
    assert run.ias_mps == pytest.approx([50.0 * KT, 49.0 * KT])


def test_what_a_dial_flickers_is_no_stall() -> None:
    rng = np.random.default_rng(3)
    speeds = np.array(falls(78.0, 48.0, 1.0) + recovery(48.0, 80.0))
    run = run_of(log_of(list(speeds + rng.normal(0.0, 0.4, speeds.size))))
    assert run.ias_mps.size == 1
    assert run.ias_mps[0] == pytest.approx(48.0 * KT, abs=1.5 * KT)
    assert run.entry_rate_mps2[0] == pytest.approx(1.0 * KT, rel=0.35)


def test_a_log_shows_its_own_flaps() -> None:
    speeds = falls(75.0, 49.0, 1.0) + recovery(49.0, 80.0)
    run = run_of(log_of(speeds, more={"flaps (deg)": ["20"] * len(speeds)}), flaps="")
    assert run.flap_rad == pytest.approx([20 * DEG])


@pytest.mark.parametrize(
    ("speeds", "more", "setup", "sentence"),
    [
        (falls(75.0, 49.0, 1.0), {}, {}, "never falls and comes back"),
        (falls(75.0, 50.0, 5.0) + recovery(50.0, 80.0), {}, {}, "only 2 speeds|falls at 5.0 kt/s"),
        (falls(75.0, 49.0, 1.0) + recovery(49.0, 80.0), {}, {"flaps": ""}, "does not show the flaps"),
        (
            falls(75.0, 49.0, 1.0) + recovery(49.0, 80.0),
            {"flaps (deg)": ["20"] * 24 + ["40"] * 10},
            {},
            "flaps moved by 20 deg just before the stall",
        ),
    ],
)
def test_what_gives_no_stall_says_why(
    speeds: list[float], more: dict[str, list[str]], setup: dict[str, str], sentence: str
) -> None:
    with pytest.raises(BadInputError, match=sentence):
        run_of(log_of(speeds, more=more), **setup)
