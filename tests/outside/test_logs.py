"""A logged flight is flown as its labels say, and its table is what a logger writes.

JSBSim 1.3.3 is the outside source; see `logs`.
"""

import numpy as np
import pytest

from .airplanes import L17, PC7
from .logs import Log, Move, Piece, fly_log

PIECES = (
    Piece("level deceleration", 118.0, device="gear"),
    Piece("turn", 110.0, bank_deg=30.0, turn_deg=90.0),
    Piece("stall", flap_deg=30.0),
    Piece("go-around", 80.0, 20.0, flap_deg=30.0, gear=1.0, order=(15.0, "gear", 0.0), pause_s=4.0),
)
WIND_KT = (12.0, -7.0)


@pytest.fixture(scope="module")
def log() -> Log:
    return fly_log(L17, PIECES, kias=115.0, altitude_ft=4000.0, wind_kt=WIND_KT, heading_deg=40.0)


def test_the_segments_cover_the_flight_once_in_order(log: Log) -> None:
    ends = [s.end_s for s in log.segments]
    starts = [s.start_s for s in log.segments]
    assert starts == [0.0, *ends[:-1]]
    assert ends[-1] == pytest.approx(log.time_s[-1], abs=0.1)
    flown = [s.kind for s in log.segments if s.kind != "in between"]
    assert flown == ["level deceleration", "turn", "stall", "approach", "go-around"]


def test_a_deceleration_is_steady_until_the_gear_moves_and_power_stands_still(log: Log) -> None:
    (run,) = log.of_kind("level deceleration")
    inside = (log.time_s >= run.start_s) & (log.time_s <= run.end_s)
    (down,) = (m for m in log.moves if m.device == "gear" and run.start_s < m.time_s < run.end_s)
    before = inside & (log.time_s <= down.time_s)
    assert down.target == 1.0
    assert down.arrived_s == pytest.approx(down.time_s + 5.0, abs=0.2)  # gear traverse time of L17.xml
    assert np.ptp(log.columns["throttle"][inside]) == 0.0
    assert np.ptp(log.columns["ias_kt"][before]) < 1.0
    assert np.ptp(log.columns["altitude_ft"][inside]) < 20.0
    assert log.columns["ias_kt"][inside][-1] < 90.0


def test_a_stall_breaks_where_the_lift_table_ends_and_the_turn_goes_round(log: Log) -> None:
    (stall,) = log.of_kind("stall")
    assert stall.break_s == pytest.approx(stall.end_s)
    alpha = np.radians(np.interp(stall.end_s - 0.1, log.time_s, log.columns["alpha_deg"]))
    assert alpha == pytest.approx(L17.stall_alpha_rad, abs=0.01)
    (turn,) = log.of_kind("turn")
    ends = np.interp([turn.start_s, turn.end_s], log.time_s, np.unwrap(log.columns["heading_deg"], period=360.0))
    assert ends[1] - ends[0] == pytest.approx(90.0, abs=12.0)


def test_the_hands_move_in_the_order_asked_for(log: Log) -> None:
    (away,) = log.of_kind("go-around")
    moves = [m for m in log.moves if away.start_s <= m.time_s < away.end_s]
    assert [(m.device, m.target) for m in moves] == [("flaps", 15.0), ("gear", 0.0), ("flaps", 0.0)]
    np.testing.assert_allclose(np.diff([away.start_s, *(m.time_s for m in moves)]), 4.0, atol=0.02)
    climb = np.interp([away.start_s, away.end_s], log.time_s, log.columns["climb_fpm"])
    assert climb[0] == pytest.approx(-420.0, abs=60.0)  # 80 kt down 3 degrees, a little more true
    assert climb[1] > 100.0


def test_wind_carries_the_flight_along(log: Log) -> None:
    """Ground speed is true airspeed and wind added as vectors; level flight without sideslip."""
    (run,) = log.of_kind("level deceleration")
    i = int(np.searchsorted(log.time_s, run.start_s))
    c = {name: float(column[i]) for name, column in log.columns.items()}
    heading = np.radians(c["heading_deg"])
    east = c["tas_kt"] * np.sin(heading) + WIND_KT[1]
    north = c["tas_kt"] * np.cos(heading) + WIND_KT[0]
    assert c["ground_kt"] == pytest.approx(np.hypot(north, east), abs=0.2)
    assert c["track_deg"] == pytest.approx(np.degrees(np.arctan2(east, north)) % 360.0, abs=0.3)


def test_the_table_keeps_its_rate_and_its_errors_repeat_by_seed(log: Log) -> None:
    table, again, other, exact = (log.table(2.0, seed=s) for s in (3, 3, 4, None))
    np.testing.assert_allclose(np.diff(table["time_s"]), 2.0)
    np.testing.assert_array_equal(table["ias_kt"], again["ias_kt"])
    assert not np.array_equal(table["ias_kt"], other["ias_kt"])
    assert float(np.std(table["ias_kt"] - exact["ias_kt"])) == pytest.approx(0.3, rel=0.2)
    lines = log.text(2.0).splitlines()
    assert lines[0].startswith("Time (s), IAS (kt), Pressure Altitude (ft), GS (kt)")
    assert "MAP (inHg)" in lines[0]
    assert len(lines) == table["time_s"].size + 1


def test_a_turboprop_has_no_manifold_pressure_to_log() -> None:
    flight = fly_log(PC7, (Piece("cruise", 130.0, 5.0),), kias=130.0, altitude_ft=4000.0)
    assert "MAP" not in flight.text().splitlines()[0]
    assert flight.moves == ()


def test_a_lever_sent_elsewhere_before_it_arrived_did_not_arrive(log: Log) -> None:
    (away,) = log.of_kind("go-around")
    gear: list[Move] = [m for m in log.moves if m.device == "gear" and m.time_s > away.start_s]
    assert all(m.arrived_s is None or m.arrived_s > m.time_s for m in log.moves)
    assert gear[0].arrived_s is not None


def test_an_unknown_piece_is_refused() -> None:
    with pytest.raises(ValueError, match="'loop' is no piece of a flight"):
        fly_log(L17, (Piece("loop"),), kias=115.0, altitude_ft=4000.0)
