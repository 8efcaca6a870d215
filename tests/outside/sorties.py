"""Flights to log: what an instructor's test hour holds, good runs and everything that looks like one.

See `logs`. Speeds are knots calibrated, heights feet; chosen for each airplane within what its model flies well.
"""

from __future__ import annotations

from .airplanes import L17, PC7, Outside
from .logs import Log, Piece, fly_log
from .pilot import Gusts

ORDERS: tuple[tuple[str | float, ...], ...] = (
    (15.0, "gear", 0.0),
    ("gear", 15.0, 0.0),
    (0.0, "gear"),
    ("gear", 0.0),
    (15.0, 0.0, "gear"),
)
"""Ways of cleaning up after full flap and gear: a number is where the flaps go."""


def _go_arounds(kias: float, orders: tuple[tuple[str | float, ...], ...] = ORDERS) -> tuple[Piece, ...]:
    return tuple(
        Piece("go-around", kias, 40.0, flap_deg=30.0, gear=1.0, order=order, pause_s=2.0 + i)
        for i, order in enumerate(orders)
    )


SORTIE = {
    L17.model: (
        Piece("climb", 95.0, altitude_ft=4500.0),
        Piece("cruise", 130.0, 60.0),
        Piece("turn", 120.0, bank_deg=30.0, turn_deg=180.0),
        Piece("level deceleration", 132.0, device="gear"),
        Piece("cruise", 120.0, 40.0),
        Piece("level deceleration", 118.0, device="flaps", flap_deg=15.0),
        Piece("level deceleration", 118.0, device="flaps", flap_deg=30.0),
        Piece("turn", 110.0, bank_deg=-25.0, turn_deg=360.0),
        Piece("slow-down by power", 125.0, 50.0),
        Piece("out and back", 130.0, 60.0, device="gear"),
        Piece("retraction", 95.0, device="gear"),
        Piece("retraction", 85.0, device="flaps", flap_deg=30.0),
        Piece("level acceleration", 80.0),
        Piece("stall"),
        Piece("stall", flap_deg=15.0),
        Piece("stall", flap_deg=30.0),
        Piece("climb", 92.0, altitude_ft=5500.0),
        Piece("glide", 85.0, 90.0),
        Piece("glide", 100.0, 90.0),
        Piece("climb", 92.0, altitude_ft=5000.0),
        *_go_arounds(78.0),
        Piece("descent", 125.0, altitude_ft=2500.0),
        Piece("cruise", 110.0, 30.0),
    ),
    PC7.model: (
        Piece("climb", 120.0, altitude_ft=4500.0),
        Piece("cruise", 150.0, 60.0),
        Piece("turn", 140.0, bank_deg=40.0, turn_deg=180.0),
        Piece("level deceleration", 130.0, device="gear"),
        Piece("cruise", 140.0, 40.0),
        Piece("level deceleration", 104.0, device="flaps", flap_deg=15.0),
        Piece("level deceleration", 104.0, device="flaps", flap_deg=30.0),
        Piece("turn", 120.0, bank_deg=-25.0, turn_deg=360.0),
        Piece("slow-down by power", 140.0, 40.0),
        Piece("out and back", 128.0, 25.0, device="gear"),
        Piece("retraction", 110.0, device="gear"),
        Piece("level acceleration", 100.0),
        Piece("stall"),
        Piece("stall", flap_deg=30.0),
        Piece("climb", 110.0, altitude_ft=5500.0),
        Piece("glide", 95.0, 90.0),
        Piece("climb", 110.0, altitude_ft=5000.0),
        *_go_arounds(84.0, ORDERS[:3]),
        Piece("descent", 150.0, altitude_ft=2500.0),
        Piece("cruise", 130.0, 30.0),
    ),
}
"""About an hour: each kind of run, and turns, climbs and slow-downs that are none."""

CIRCUITS = {
    L17.model: (
        Piece("climb", 90.0, altitude_ft=4200.0),
        Piece("turn", 100.0, bank_deg=20.0, turn_deg=90.0),
        Piece("go-around", 80.0, 30.0, flap_deg=30.0, gear=1.0, order=(15.0, "gear", 0.0)),
        Piece("turn", 100.0, bank_deg=-20.0, turn_deg=180.0),
        Piece("cruise", 105.0, 60.0),
        Piece("descent", 110.0, altitude_ft=3000.0),
        Piece("turn", 110.0, bank_deg=30.0, turn_deg=270.0),
        Piece("go-around", 82.0, 30.0, flap_deg=15.0, gear=1.0, order=("gear", 0.0), pause_s=4.0),
        Piece("cruise", 125.0, 120.0),
        Piece("slow-down by power", 120.0, 40.0),
        Piece("climb", 100.0, altitude_ft=4500.0),
        Piece("cruise", 130.0, 120.0),
    ),
}
"""A flight with no test run in it but go-arounds: what is found here besides them is a false alarm."""

START = {L17.model: (115.0, 3000.0), PC7.model: (130.0, 3000.0)}
WIND_KT = (12.0, -7.0)


def sortie(airplane: Outside = L17, *, gusts: Gusts | None = None) -> Log:
    """Return the log of the test sortie, in a steady wind; with gusts on top if wanted."""
    return _flown(airplane, SORTIE[airplane.model], gusts)


def circuits(airplane: Outside = L17, *, gusts: Gusts | None = None) -> Log:
    """Return the log of a flight without test runs, in a steady wind; with gusts on top if wanted."""
    return _flown(airplane, CIRCUITS[airplane.model], gusts)


def _flown(airplane: Outside, pieces: tuple[Piece, ...], gusts: Gusts | None) -> Log:
    kias, altitude_ft = START[airplane.model]
    return fly_log(airplane, pieces, kias=kias, altitude_ft=altitude_ft, wind_kt=WIND_KT, heading_deg=40.0, gusts=gusts)
