"""How well marks and readings share a clock (`# clock uncertainty`), in every method that takes both."""

from __future__ import annotations

import numpy as np
import pytest

from tests.airplane.quillback import quillback
from tests.services.every_method import FASTER, GEAR_AND_BACK, IDLE_GEAR
from wringout.errors import BadInputError
from wringout.methods.register import METHODS
from wringout.recordings.reader import read_recording

BELIEFS = quillback()
CLIMB = (
    "# method: climb\n# altitude: 5000 ft\n# weight: 2900 lb\n# power: full\ntime, speed, altitude, mark\n"
    + "".join(
        f"{t}, {80 + t / 20:.2f}, {4000 + 12 * t}, {'start' if t == 40 else 'end' if t == 160 else ''}\n"
        for t in range(0, 201, 5)
    )
)


def runs(key: str, text: str, **words: str):  # type: ignore[no-untyped-def]
    return METHODS[key].from_recording("X1", read_recording(text.encode(), "x.csv"), words, BELIEFS)


@pytest.mark.parametrize(("key", "text"), [("slow down", IDLE_GEAR), ("out and back", GEAR_AND_BACK)])
def test_a_mark_is_as_doubtful_as_dial_and_clock_together(key: str, text: str) -> None:
    own = BELIEFS.instrument.clock_sd_s
    for said, expected in (({}, own), ({"clock uncertainty": "1.2 s"}, (own**2 + 1.2**2) ** 0.5)):
        (run,) = runs(key, text, **said)
        marks = [n for n in METHODS[key].nuisances(run, BELIEFS) if n.key.startswith("mark")]
        assert len(marks) == len(run.moves) >= 1
        assert [n.sd for n in marks] == pytest.approx([expected] * len(marks))


def test_an_acceleration_begins_as_much_later_after_the_call_of_power_as_the_clock_is_doubtful() -> None:
    """Readings every 5 s; the power was called at 0 s, is there after 4 s, and 2 sd of the clock are 6 s."""
    text = FASTER.replace("time, speed", "time, speed, mark").replace("0, 80\n", "0, 80, power full\n", 1)
    (sure,), (doubtful,) = (
        runs("level acceleration", text),
        runs("level acceleration", text, **{"clock uncertainty": "3 s"}),
    )
    assert (sure.source.from_s, doubtful.source.from_s) == (5.0, 10.0)


def test_a_steady_stretch_keeps_clear_of_its_marks_and_its_speed_counts_the_drift() -> None:
    (sure,), (doubtful,) = runs("climb", CLIMB), runs("climb", CLIMB, **{"clock uncertainty": "4 s"})
    first = [run.points.rows[0] for run in (sure, doubtful)]
    assert first[1] - first[0] == 2  # 2 sd are 8 s, readings stand every 5 s
    dial = BELIEFS.instrument.reading_sd_mps**2 / 21  # readings from 50 s to 150 s
    expected = np.sqrt(dial + (4.0 * doubtful.points.drift_mps2) ** 2)
    np.testing.assert_allclose(doubtful.points.ias_sd_mps, expected, rtol=1e-6)


def test_a_clock_word_that_is_no_time_is_refused() -> None:
    with pytest.raises(BadInputError, match="clock uncertainty"):
        runs("slow down", IDLE_GEAR, **{"clock uncertainty": "poor"})
