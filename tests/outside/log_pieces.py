"""The pieces a logged flight is made of, each flown by the pilot of `pilot` from wherever the one before has led.

See `logs`. Nothing of the package under test is imported here.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from .airplanes import STEP_S
from .log_book import Book, Piece
from .truth import stall_kcas


def _level(book: Book, kias: float, seconds: float) -> None:
    """Seek a speed in level flight, power worked, for at least so long and at most 150 s more."""

    def act() -> None:
        book.work_power(kias)
        book.pilot.hold_height(book.height_ft)

    book.seek()
    book.fly(seconds, act)
    count = [0]

    def steady() -> bool:
        still = abs(book.kias - kias) < 0.7 and abs(book.pilot.fdm["position/h-sl-ft"] - book.height_ft) < 8.0
        count[0] = count[0] + 1 if still else 0
        return count[0] > round(8.0 / STEP_S)

    book.fly(150.0, act, steady)


def _frozen(book: Book, seconds: float, until: Callable[[], bool] = lambda: False) -> bool:
    """Level at power left alone."""
    return book.fly(seconds, lambda: book.pilot.hold_height(book.height_ft), until)


def _run_on(book: Book, most_s: float) -> None:
    """Go on level at frozen power until the speed stands still for 30 s (less than 0.4 kt in 10 s), or stalls."""
    last, still = book.kias, 0
    for _ in range(round(most_s / 10.0)):
        if _frozen(book, 10.0, lambda: book.near_stall or book.kias < 1.15 * _stall(book)):
            return
        still = still + 1 if abs(book.kias - last) < 0.4 else 0
        last = book.kias
        if still >= 3:
            return


def _stall(book: Book, flap_deg: float | None = None) -> float:
    return stall_kcas(book.pilot.airplane, book.out("flaps") if flap_deg is None else flap_deg)


def _cruise(book: Book, piece: Piece) -> None:
    book.configure(piece.flap_deg, piece.gear)
    _level(book, piece.kias, 20.0)
    start = book.now_s
    book.fly(piece.seconds, lambda: (book.work_power(piece.kias), book.pilot.hold_height(book.height_ft))[1])
    book.note(piece.kind, start, piece)


def _deceleration(book: Book, piece: Piece) -> None:
    """Put a device out at frozen power; as a pair, in again once the speed has fallen, and accelerate back."""
    _level(book, piece.kias, 30.0)
    book.power(book.power_sum)
    _frozen(book, 5.0)
    start = book.now_s
    _frozen(book, 15.0)
    book.move(piece.device, piece.flap_deg if piece.device == "flaps" else 1.0)
    if piece.kind == "out and back":
        _frozen(book, piece.seconds, lambda: book.near_stall or book.kias < 1.25 * _stall(book, 0.0))
        book.move(piece.device, 0.0)
    _run_on(book, 150.0)
    book.note(piece.kind, start, piece)
    book.fly(4.0, lambda: (book.full_power(), book.pilot.hold_height(book.height_ft))[1])
    book.configure(0.0, 0.0)


def _acceleration(book: Book, piece: Piece) -> None:
    """Level and steady with a device out, or clean; then retract at frozen power, or put the power on."""
    flap, gear = piece.flap_deg, 1.0 if piece.device == "gear" else 0.0
    book.configure(flap if piece.device == "flaps" else 0.0, gear)
    _level(book, piece.kias, 30.0)
    book.power(book.power_sum)
    start = book.now_s
    _frozen(book, 15.0)
    if piece.device:
        book.move(piece.device, 0.0)
    else:
        book.fly(2.0, lambda: (book.full_power(), book.pilot.hold_height(book.height_ft))[1])
    _run_on(book, 150.0)
    book.note(piece.kind, start, piece)


def _power_off(book: Book, piece: Piece) -> None:
    """Slow down level and clean by power alone: like a deceleration, but nothing goes out."""
    _level(book, piece.kias, 30.0)
    start = book.now_s
    target = 0.5 * book.pilot.throttle
    book.fly(
        3.0,
        lambda: (
            book.power(max(book.pilot.throttle - 0.2 * STEP_S, target)),
            book.pilot.hold_height(book.height_ft),
        )[1],
    )
    _frozen(book, piece.seconds, lambda: book.near_stall or book.kias < 1.2 * _stall(book, 0.0))
    book.note(piece.kind, start, piece)


def _stalls(book: Book, piece: Piece) -> None:
    """Idle, the speed falling 1 kt/s to the break, then recovery with power."""
    stall = _stall(book, piece.flap_deg)
    pilot = book.pilot
    _level(book, max(1.35 * stall, 1.15 * _stall(book, 0.0)), 10.0)
    book.configure(piece.flap_deg, 0.0)
    _level(book, 1.3 * stall, 5.0)
    pilot.climb_sum = 0.0
    wanted, began = [book.kias], [math.nan]

    def slow() -> None:
        book.power(pilot.throttle - 0.1 * STEP_S)
        wanted[0] -= STEP_S
        pilot.hold_speed(wanted[0], 1.0)
        if math.isnan(began[0]) and book.kias < 1.2 * stall:
            began[0] = book.now_s

    book.fly(90.0, slow, lambda: pilot.fdm["aero/alpha-rad"] >= pilot.airplane.stall_alpha_rad)
    at = book.now_s
    book.note(piece.kind, began[0], piece, at)
    _recover(book, 1.35 * stall)


def _recover(book: Book, kias: float) -> None:
    """Nose down and power on until the speed is back, then clean up."""
    pilot = book.pilot
    pilot.climb_sum = -25.0

    def act() -> None:
        book.full_power()
        pilot.hold_climb(-25.0)

    book.fly(20.0, act, lambda: book.kias > kias - 2.0)
    pilot.climb_sum = 0.0
    book.configure(0.0, 0.0)
    book.fly(15.0, lambda: (book.full_power(), pilot.hold_speed(max(kias, 1.3 * _stall(book, 0.0))))[1])


def _glide(book: Book, piece: Piece) -> None:
    """Throttle closed, a steady speed, height given away."""
    _level(book, piece.kias, 5.0)
    book.configure(piece.flap_deg, piece.gear)
    pilot = book.pilot
    pilot.climb_sum = 0.0

    def act() -> None:
        book.power(pilot.throttle - 0.3 * STEP_S)
        pilot.hold_speed(piece.kias)

    book.fly(35.0, act)
    start = book.now_s
    book.fly(piece.seconds, act)
    book.note(piece.kind, start, piece)
    book.height_ft = float(pilot.fdm["position/h-sl-ft"])
    book.configure(0.0, 0.0)


def _climb(book: Book, piece: Piece) -> None:
    """Climb at climb power, or descend at low power, at a steady speed to a height; then level off."""
    pilot, up = book.pilot, piece.altitude_ft > book.pilot.fdm["position/h-sl-ft"]
    pilot.climb_sum = 0.0

    def act() -> None:
        if up:
            book.full_power(4.0)
        else:
            book.power(pilot.throttle + math.copysign(0.05 * STEP_S, 0.25 - pilot.throttle))
        pilot.hold_speed(piece.kias)

    book.fly(25.0, act)
    start = book.now_s
    level = piece.altitude_ft
    book.fly(900.0, act, lambda: (pilot.fdm["position/h-sl-ft"] > level) == up)
    book.note(piece.kind, start, piece)
    book.height_ft = level


def _turn(book: Book, piece: Piece) -> None:
    """Turn level at a speed, rolling at 5 degrees per second."""
    _level(book, piece.kias, 10.0)
    pilot, wanted = book.pilot, math.radians(piece.bank_deg)
    start, turned, last = book.now_s, [0.0], [pilot.fdm["attitude/psi-deg"]]

    def act() -> None:
        pilot.bank_rad += max(min(wanted - pilot.bank_rad, 0.087 * STEP_S), -0.087 * STEP_S)
        book.work_power(piece.kias)
        pilot.hold_height(book.height_ft)
        now = pilot.fdm["attitude/psi-deg"]
        turned[0] += (now - last[0] + 180.0) % 360.0 - 180.0
        last[0] = now

    book.fly(400.0, act, lambda: abs(turned[0]) >= abs(piece.turn_deg) - 0.3 * abs(piece.bank_deg))
    wanted = 0.0
    book.fly(abs(piece.bank_deg) / 5.0, act)
    book.note(piece.kind, start, piece)
    pilot.bank_rad = 0.0


def _go_around(book: Book, piece: Piece) -> None:
    """Approach at 3 degrees in the configuration, then power, nose up to the speed, and the hands in their order."""
    pilot = book.pilot
    _level(book, max(piece.kias, 1.25 * _stall(book, 0.0)), 10.0)
    book.configure(piece.flap_deg, piece.gear)
    _level(book, piece.kias, 10.0)
    started = book.now_s

    def approach() -> None:
        book.work_power(piece.kias)
        pilot.hold_climb(-math.sin(math.radians(3.0)) * pilot.fdm["velocities/vt-fps"])

    book.fly(40.0, approach)
    book.note("approach", started, piece)
    started = book.now_s
    pilot.climb_sum = float(pilot.fdm["velocities/h-dot-fps"])

    def away() -> None:
        book.full_power()
        pilot.hold_speed(piece.kias + min(0.5 * (book.now_s - started), 12.0))

    for step in piece.order:
        book.fly(piece.pause_s, away)
        book.move("gear" if step == "gear" else "flaps", 0.0 if step == "gear" else float(step))
    book.fly(max(piece.seconds, 5.0), away)
    book.note(piece.kind, started, piece)
    book.configure(0.0, 0.0)
    book.fly(15.0, away)
    book.height_ft = float(pilot.fdm["position/h-sl-ft"])


KINDS: dict[str, Callable[[Book, Piece], None]] = {
    "cruise": _cruise,
    "level deceleration": _deceleration,
    "out and back": _deceleration,
    "retraction": _acceleration,
    "level acceleration": _acceleration,
    "slow-down by power": _power_off,
    "stall": _stalls,
    "glide": _glide,
    "climb": _climb,
    "descent": _climb,
    "turn": _turn,
    "go-around": _go_around,
}
"""Every kind of piece. A go-around also gives a segment "approach"."""
