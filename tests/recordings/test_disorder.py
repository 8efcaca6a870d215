"""Clocks that do not run on: started again, set back, an hour back, stretches in the wrong order, local time."""

from __future__ import annotations

import numpy as np
import pytest

from wringout.recordings.disorder import RESET_PAUSE_S
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Recording, Severity


def log(times: list[str], head: str = "Time,IAS (kt),RPM") -> Recording:
    rows = "".join(f"{time},{100 + i % 7},2400\n" for i, time in enumerate(times))
    return read_recording(f"# kind: logger\n{head}\n{rows}".encode(), "log.csv")


def cautions(recording: Recording) -> list[str]:
    return [n.sentence for n in recording.notices if n.severity is Severity.CAUTION and "gap" not in n.sentence]


def clock(seconds: float) -> str:
    return f"{int(seconds) // 3600}:{int(seconds) // 60 % 60:02d}:{seconds % 60:04.1f}"


def test_a_clock_that_starts_again_goes_on_behind_a_pause() -> None:
    found = log([str(i) for i in range(60)] + [str(i) for i in range(40)])
    assert found.time_s is not None
    assert found.time_s.tolist() == [*range(60), *(59 + RESET_PAUSE_S + i for i in range(40))]
    assert cautions(found) == [
        "row 63, Time: the clock starts again here, from 59 to 0 s; the rows from here on are put 60 s behind those "
        "before, since the true pause is not known: let no run cross this row"
    ]


def test_a_clock_set_back_in_flight_moves_the_rows_before_it() -> None:
    found = log([clock(36000 + i) for i in range(60)] + [clock(36000 + 60 - 8 + i) for i in range(60)])
    assert found.time_s is not None
    assert np.allclose(np.diff(found.time_s), 1.0)
    assert found.clock_zero_s == 36000 - 8
    assert "row 63, Time: the clock is set back by 8 s here and taken as right from here on" in cautions(found)[0]


def test_the_end_of_daylight_saving_is_carried_on() -> None:
    found = log([clock(9000 + i) for i in range(60)] + [clock(9000 + 60 - 3600 + i) for i in range(60)])
    assert found.time_s is not None
    assert np.allclose(np.diff(found.time_s), 1.0)
    assert "falls back by an hour here, as where daylight saving ends" in cautions(found)[0]


def test_stretches_in_the_wrong_order_are_sorted() -> None:
    found = log([clock(40000 + i) for i in range(60)] + [clock(36000 + i) for i in range(60)])
    assert found.rows.tolist() == [*range(63, 123), *range(3, 63)]
    assert "the 2 stretches of this file stand in another order; they are sorted" in cautions(found)[0]


def test_local_time_with_its_offset_becomes_utc() -> None:
    rows = "".join(f"2026-11-01,0{1 if i else 2}:00:0{i},{'-05:00' if i else '-04:00'},{120 + i}\n" for i in range(5))
    head = "Lcl Date,Lcl Time,UTC Offset,IAS\nyyyy-mm-dd,hh:mm:ss,hh:mm,kt\n"
    found = read_recording((head + rows).encode(), "log.csv")
    assert found.time_s is not None
    assert found.time_s.tolist() == [0, 1, 2, 3, 4]
    wanted = np.datetime64("2026-11-01T06:00:00").astype("datetime64[s]").astype(float)
    assert found.clock_zero_s == wanted
    note = next(n.sentence for n in found.notices if "daylight" in n.sentence)
    assert note.startswith("row 4, UTC Offset: local time goes from -04:00 to -05:00 of UTC here")


@pytest.mark.parametrize(
    ("written", "seconds"),
    [
        (["2026-05-04T10:00:00Z", "2026-05-04T10:00:01.5Z"], [0, 1.5]),
        (["2026-05-04 10:00:00", "2026-05-04 10:00:02"], [0, 2]),
        (["2026-12-31T23:59:60Z", "2027-01-01T00:00:01Z"], [0, 1]),  # a leap second is the second after it
        (["10:00:00.0", "10:00:00.1"], [0, 0.1]),
    ],
)
def test_quick_and_careful_ways_of_reading_clocks_agree(written: list[str], seconds: list[float]) -> None:
    quick = log(written)
    careful = log([written[0] + " ", *written[1:], ""])
    for found in (quick, careful):
        assert found.time_s is not None
        assert found.time_s == pytest.approx(seconds)
        assert found.clock_zero_s == quick.clock_zero_s
