"""Weight from fuel burn, and the centre of gravity, against sums done by hand from the airplane file's own numbers."""

from __future__ import annotations

import io
import math

import pytest

from tests.services.texts import AIRPLANE, GEAR_RUN
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.errors import BadInputError
from wringout.recordings.cutting import cut
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Recording
from wringout.services.flights.recordings import take_in_recording
from wringout.services.flights.runs import add_run_to
from wringout.services.flights.weights import Weighing, weigh
from wringout.store import Store
from wringout.units import INCH, POUND

BELIEFS = airplane_from_document(parse_airplane(AIRPLANE))
RECORDING = read_recording(GEAR_RUN.encode(), "run.csv")
BURNING = read_recording(b"time;ias;fuel used\ns;kt;gal\n0;120;6\n1;120;6\n2;119;7\n3;119;7\n4;118;7\n", "burning.csv")


def weighed(words: dict[str, str]) -> Weighing:
    return weigh(words, RECORDING, BELIEFS, "run.csv")


def pounds(found: Weighing) -> float:
    assert found.mass_kg is not None
    return found.mass_kg / POUND


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ({"weight": "2,890 lb"}, 2890.0),
        ({"weight": "1310 kg"}, 1310.0 / POUND),
        ({"start weight": "3,000 lb", "fuel burned": "48 lb"}, 2952.0),
        # 6.0 lb to the gallon stands in the airplane file
        ({"start weight": "3,000 lb", "fuel burned": "8 gal"}, 2952.0),
        ({"start weight": "3,000 lb", "fuel flow": "12 gal/h", "since start": "40 min"}, 2952.0),
        ({"start weight": "3,000 lb", "fuel flow": "72 lb/h", "since start": "0:40:00"}, 2952.0),
        ({"start weight": "3,000 lb", "fuel flow": "72 lb/h", "since start": "40:00"}, 2952.0),
    ],
)
def test_the_weight_at_the_run(words: dict[str, str], expected: float) -> None:
    assert pounds(weighed(words)) == pytest.approx(expected, abs=0.01)


def test_nothing_said_gives_no_weight() -> None:
    assert weighed({"altitude": "6000 ft"}).mass_kg is None


def test_the_fuel_a_recording_shows_is_used() -> None:
    found = weigh({"start weight": "3,000 lb"}, BURNING, BELIEFS, "burning.csv")
    assert pounds(found) == pytest.approx(3000.0 - 7.0 * 6.0, abs=0.01)
    assert "by the recording" in found.basis


def logged(column: str, unit: str, values: list[float], step_s: float = 60.0) -> Recording:
    rows = "".join(f"{i * step_s:g};120;{value:g}\n" for i, value in enumerate(values))
    return read_recording(f"time;ias;{column}\ns;kt;{unit}\n{rows}".encode(), "logged.csv")


def test_the_fuel_remaining_gives_the_weight() -> None:
    whole = logged("fuel remaining", "gal", [50, 49, 48, 46, 44, 43, 42])
    run = cut(whole, 120.0, 240.0, "G1")
    # From 50 gal at the first row to the median of 48, 46 and 44 gal: 4 gal of 6 lb.
    found = weigh({"start weight": "3,000 lb"}, run, BELIEFS, "logged.csv", whole)
    assert pounds(found) == pytest.approx(3000.0 - 4.0 * 6.0, abs=0.01)
    assert "by the fuel remaining in the recording" in found.basis
    # 52 gal were written down: 6 gal are gone.
    told = weigh({"start weight": "3,000 lb", "fuel": "52 gal"}, run, BELIEFS, "logged.csv", whole)
    assert pounds(told) == pytest.approx(3000.0 - 6.0 * 6.0, abs=0.01)


def test_the_fuel_remaining_stands_in_for_the_fuel_at_the_start() -> None:
    whole = logged("fuel quantity", "lb", [300, 290, 280, 270, 260, 250, 240])
    run = cut(whole, 120.0, 240.0, "G1")
    found = weigh({"load": "front seats 360 lb; baggage 40 lb"}, run, BELIEFS, "logged.csv", whole)
    # Empty 2130 lb (airplane file) + 360 + 40, and the median of 280, 270 and 260 lb at the run.
    assert pounds(found) == pytest.approx(2130.0 + 360.0 + 40.0 + 270.0, abs=0.01)
    assert found.balance is not None


def test_the_fuel_flow_is_summed_to_the_middle_of_the_run() -> None:
    whole = logged("fuel flow", "gal/h", [6, 12, 12, 12, 12, 12, 12], 600.0)
    run = cut(whole, 1800.0, 3000.0, "G1")
    found = weigh({"start weight": "3,000 lb"}, run, BELIEFS, "logged.csv", whole)
    # 10 min at 9 gal/h on the mean, then 30 min at 12 gal/h: 1.5 + 6 gal of 6 lb, to 2,400 s.
    assert pounds(found) == pytest.approx(3000.0 - 7.5 * 6.0, abs=0.01)
    assert "the fuel flow since the recording began, 40 min before" in found.basis
    # Or it has run for an hour at the run's 12 gal/h.
    since = weigh({"start weight": "3,000 lb", "since start": "1:00:00"}, run, BELIEFS, "logged.csv", whole)
    assert pounds(since) == pytest.approx(3000.0 - 12.0 * 6.0, abs=0.01)


def test_gaps_in_the_fuel_flow_are_bridged() -> None:
    whole = logged("fuel flow", "lb/h", [72.0, math.nan, math.nan, 72.0, 72.0, 72.0, 72.0], 600.0)
    found = weigh({"start weight": "3,000 lb"}, cut(whole, 1800.0, 3000.0, "G1"), BELIEFS, "logged.csv", whole)
    assert pounds(found) == pytest.approx(3000.0 - 72.0 * 40.0 / 60.0, abs=0.01)


def test_a_run_cut_from_a_long_recording_counts_the_fuel_from_its_beginning(store: Store) -> None:
    rows = "".join(f"{t};{90 if t < 3000 else 90 + (t - 3000) / 2:.0f};12\n" for t in range(0, 3081, 10))
    text = f"time;ias;fuel flow\ns;kt;gal/h\n{rows}"
    take_in_recording(store, None, io.BytesIO(text.encode()), "log.csv", make_run=False)
    setup = {"start weight": "3,000 lb", "altitude": "6000 ft", "power": "full"}
    added = add_run_to(store, None, "log.csv", "level acceleration", (3000.0, 3060.0), setup)
    # 3,030 s at 12 gal/h are 10.1 gal, 60.6 lb.
    assert added.weighing is not None
    assert pounds(added.weighing) == pytest.approx(3000.0 - 12.0 * 6.0 * 3030.0 / 3600.0, abs=0.05)


def test_the_loading_gives_weight_and_centre_of_gravity() -> None:
    found = weighed({"load": "front seats 360 lb; baggage 40 lb", "fuel": "50 gal", "fuel burned": "10 gal"})
    # empty 2130 at 38.6, front 360 at 37, rear 0, baggage 40 at 97, fuel 240 at 47: airplane file of the demo study
    weight = 2130.0 + 360.0 + 40.0 + 240.0
    arm = (2130.0 * 38.6 + 360.0 * 37.0 + 40.0 * 97.0 + 240.0 * 47.0) / weight
    assert pounds(found) == pytest.approx(weight, abs=0.01)
    assert found.balance is not None
    assert found.balance.arm_m / INCH == pytest.approx(arm, abs=1e-6)
    assert found.balance.inside is True
    assert found.notices == ()


def test_a_centre_of_gravity_outside_is_named_and_not_refused() -> None:
    found = weighed(
        {"load": "front seats 0 lb; rear seats 400 lb; baggage 200 lb", "fuel": "20 gal", "fuel burned": "0 gal"}
    )
    assert found.balance is not None
    assert found.balance.inside is False
    assert len(found.notices) == 2
    assert all("outside the envelope" in notice for notice in found.notices)


def test_too_heavy_is_named_and_not_refused() -> None:
    found = weighed({"weight": "3,300 lb"})
    assert found.notices == (
        "3,300 lb is above the maximum weight of 3,200 lb: a limit exceedance; the run is still reduced.",
    )


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        ({"start weight": "3000 lb"}, "fuel burned before the run is missing"),
        ({"start weight": "3000 lb", "fuel burned": "8"}, "has no unit"),
        ({"start weight": "3000 lb", "fuel burned": "-8 gal"}, "is negative"),
        ({"start weight": "3000 lb", "fuel burned": "4000 lb"}, "more than the start weight"),
        ({"start weight": "3000 lb", "fuel flow": "12 gal/h"}, "run.csv, since start"),
        ({"start weight": "heavy", "fuel burned": "8 gal"}, "run.csv, start weight"),
        ({"load": "front seats 340 lb", "fuel burned": "8 gal"}, "fuel at the start is missing"),
        ({"load": "wing locker 40 lb", "fuel": "40 gal", "fuel burned": "8 gal"}, "names no station"),
        ({"load": "front seats", "fuel": "40 gal", "fuel burned": "8 gal"}, "names no station"),
        ({"fuel": "10 gal", "fuel burned": "12 gal"}, "more fuel is burned than was loaded"),
    ],
)
def test_what_cannot_be_read_is_named(words: dict[str, str], complaint: str) -> None:
    with pytest.raises(BadInputError) as caught:
        weighed(words)
    assert complaint in str(caught.value)
    assert str(caught.value).startswith("run.csv, ")


def test_a_run_is_reduced_at_the_weight_that_was_worked_out(store: Store) -> None:
    text = GEAR_RUN.replace("# weight: 3000 lb\n", "# start weight: 3,050 lb\n# fuel burned: 10 gal\n")
    arrival = take_in_recording(store, None, io.BytesIO(text.encode()), "run.csv")
    assert arrival.run is not None
    assert arrival.run.built[0].run.conditions.mass_kg == pytest.approx(2990.0 * POUND, abs=0.01)
    assert arrival.run.weighing is not None
    assert arrival.run.weighing.basis == "3,050 lb at the start, less 60 lb of fuel burned"
