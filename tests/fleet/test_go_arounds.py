"""Finding go-arounds in recordings: what was broken off is found, what was not is left alone."""

from __future__ import annotations

import functools

import pytest

from tests.fleet.flights import CRUISE, GO_AROUND, LANDING, TOUCH_AND_GO
from tests.outside.airplanes import L17
from tests.outside.logs import Log, Piece, fly_log
from wringout.fleet.go_arounds import configuration_changes, find_go_arounds
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Recording


def _read(text: str) -> Recording:
    return read_recording(text.encode(), "flight.csv")


def test_a_go_around_is_found_with_what_the_hands_did() -> None:
    (found,) = find_go_arounds(_read(GO_AROUND))
    assert found.time_s == pytest.approx(312.0, abs=2.0)
    assert found.lowest_m == pytest.approx(590 * 0.3048, abs=3.0)
    assert found.order == "flaps 20, gear up, flaps 0"
    assert [c.time_s for c in found.changes] == pytest.approx([314.0, 324.0, 340.0], abs=0.6)
    assert found.confidence == "go-around"
    assert found.speed_mps / 0.514444 == pytest.approx(68.0, abs=0.5)
    assert found.speed_channel == "ias"


@pytest.mark.parametrize("text", [LANDING, CRUISE], ids=["landing", "cruise"])
def test_what_is_no_go_around_is_left_alone(text: str) -> None:
    assert find_go_arounds(_read(text)) == ()


def test_wheels_that_may_have_touched_are_said() -> None:
    (found,) = find_go_arounds(_read(TOUCH_AND_GO))
    assert found.confidence == "probable"
    assert "wheels may have touched" in found.why


def test_heights_alone_make_it_possible_and_no_more() -> None:
    rows = [line.split(",") for line in GO_AROUND.splitlines()]
    (found,) = find_go_arounds(_read("\n".join(",".join(row[:3]) for row in rows)))
    assert (found.confidence, found.order) == ("possible", "")
    assert found.why == "only heights were kept"


def test_without_heights_or_times_nothing_is_claimed() -> None:
    assert find_go_arounds(_read("Time (s),IAS (kt)\n" + "\n".join(f"{t},{90 + t % 5}" for t in range(60)))) == ()


def test_changes_are_those_of_the_columns() -> None:
    changes = configuration_changes(_read(GO_AROUND))
    assert {(c.device, c.target) for c in changes[:2]} == {("flaps", "40"), ("gear", "down")}
    assert [(c.device, c.target) for c in changes[2:]] == [
        ("flaps", "20"),
        ("gear", "up"),
        ("flaps", "0"),
    ]


@functools.cache
def _flown_outside() -> Log:
    """A flight of an airplane nobody here wrote (JSBSim's L-17): three go-arounds, a climb and a circling between."""
    orders: tuple[tuple[str | float, ...], ...] = ((15.0, "gear", 0.0), ("gear", 15.0, 0.0), (0.0, "gear"))
    pieces = (
        Piece("climb", 92.0, altitude_ft=5000.0),
        *(Piece("go-around", 78.0, 40.0, flap_deg=30.0, gear=1.0, order=order, pause_s=6.0) for order in orders),
        Piece("turn", 110.0, bank_deg=30.0, turn_deg=180.0),
    )
    return fly_log(L17, pieces, kias=100.0, altitude_ft=4500.0)


def test_an_outside_airplanes_go_arounds_are_found_in_their_order() -> None:
    log = _flown_outside()
    found = find_go_arounds(_read(log.text().replace("Gear", "Gear (1)")))
    wanted = log.of_kind("go-around")
    assert len(found) == len(wanted) == 3
    for item, flown in zip(found, wanted, strict=True):
        assert flown.start_s - 5.0 <= item.time_s <= flown.end_s + 5.0
        assert item.confidence in {"go-around", "probable"}
    assert [item.order for item in found] == [
        "flaps 15, gear up, flaps 0",
        "gear up, flaps 15, flaps 0",
        "flaps 0, gear up",
    ]
    for item in found:  # every retraction within a second of the lever's real movement
        for change in item.changes:
            assert min(abs(change.time_s - move.time_s) for move in log.moves) < 1.0
