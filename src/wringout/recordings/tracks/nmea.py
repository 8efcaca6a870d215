"""NMEA 0183 logs: positions, ground speed, track and GPS altitude from RMC, GGA, VTG and ZDA sentences.

Sentences are read by pynmea2, their checksum by ourselves, so that a damaged one is counted and left out. Talkers of
all satellite systems are taken. Times are UTC; a date comes from RMC or ZDA and is carried over midnight.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pynmea2

from wringout.errors import BadInputError
from wringout.recordings.tracks.fixes import Fixes, recording_of_fixes
from wringout.recordings.types import Notice, Recording, Severity
from wringout.units import KNOT

_SENTENCE = re.compile(r"\$([A-Z]{2})(RMC|GGA|VTG|ZDA|GLL),([^*$]{0,200})\*([0-9A-Fa-f]{2})\s*$")
_ANY = re.compile(r"(?:^|\s|\\)\$[A-Z]{2,5}[A-Z0-9]{0,3},")
_DAY_S = 86400.0
_QUALITY = {"0": "no fix", "6": "estimated", "8": "simulated"}


def looks_like_nmea(text: str) -> bool:
    """Return whether most of the first lines of a text are NMEA 0183 sentences."""
    lines = [line for line in text[:20_000].splitlines()[:40] if line.strip()]
    return bool(lines) and 2 * sum(bool(_ANY.search(line)) for line in lines) > len(lines)


@dataclass(slots=True)
class _Epoch:
    """What the sentences of one moment said."""

    time_s: float
    row: int
    values: dict[str, float] = field(default_factory=dict)


@dataclass(slots=True)
class _Log:
    """Epochs collected so far, the day, and what could not be used."""

    epochs: list[_Epoch] = field(default_factory=list)
    day_s: float | None = None
    damaged: list[int] = field(default_factory=list)
    unfixed: list[int] = field(default_factory=list)
    midnights: list[int] = field(default_factory=list)
    carry_s: float = 0.0
    last_clock_s: float = -1.0


def read_nmea(text: str, file: str, sha256: str) -> Recording:
    """Read an NMEA 0183 log as a recording of kind ``logger``, one row for each moment.

    Returns:
        Channels ``ground_speed``, ``track`` (true) and ``gps_altitude`` (GGA: above mean sea level); times in UTC.

    Raises:
        BadInputError: no sentence with a time and a place can be read.
    """
    log = _Log()
    for row, line in enumerate(re.split(r"\r\n|\n|\r", text), 1):
        at = line.rfind("$")
        if at >= 0:
            _take(log, line[at:].strip(), row)
    if not log.epochs:
        where = f"{file}, row {log.damaged[0]}" if log.damaged else file
        raise BadInputError(
            "no sentence of this NMEA log has a time and a valid fix", where, "hand over the receiver's log as it is"
        )
    return recording_of_fixes(_fixes(log), file, sha256, "NMEA", _notices(log))


def _take(log: _Log, line: str, row: int) -> None:
    match = _SENTENCE.match(line)
    if match is None:
        if re.match(r"\$[A-Z]{2}(RMC|GGA|VTG|ZDA|GLL),", line):
            log.damaged.append(row)
        return
    if _checksum(line[1 : line.rindex("*")]) != int(match[4], 16):
        log.damaged.append(row)
        return
    try:
        sentence = pynmea2.parse(line)
        _USE[match[2]](log, sentence, row)
    except (pynmea2.ParseError, ValueError, TypeError, AttributeError, IndexError, OverflowError):
        log.damaged.append(row)


def _checksum(body: str) -> int:
    """Return the exclusive or of all characters between $ and * (NMEA 0183)."""
    out = 0
    for byte in body.encode("latin-1", "replace"):
        out ^= byte
    return out


def _clock_s(moment: datetime.time) -> float:
    return 3600.0 * moment.hour + 60.0 * moment.minute + moment.second + 1e-6 * moment.microsecond


def _day_s(day: datetime.date) -> float:
    return _DAY_S * (day.toordinal() - datetime.date(1970, 1, 1).toordinal())


def _epoch(log: _Log, moment: Any, row: int) -> _Epoch:
    clock = _clock_s(moment)
    if log.last_clock_s - clock > 0.5 * _DAY_S:
        log.carry_s += _DAY_S
        log.midnights.append(row)
    log.last_clock_s = clock
    time = clock + log.carry_s
    if log.epochs and log.epochs[-1].time_s == time:
        return log.epochs[-1]
    log.epochs.append(_Epoch(time, row))
    return log.epochs[-1]


def _date(log: _Log, day: datetime.date) -> None:
    """Note the first date; the days after it follow from the clock."""
    if log.day_s is None:
        log.day_s = _day_s(day) - log.carry_s


def _place(epoch: _Epoch, sentence: Any) -> None:
    latitude, longitude = float(sentence.latitude), float(sentence.longitude)
    if sentence.lat and sentence.lon and abs(latitude) <= 90.0 and abs(longitude) <= 180.0:
        epoch.values.setdefault("latitude", latitude)
        epoch.values.setdefault("longitude", longitude)


def _rmc(log: _Log, sentence: Any, row: int) -> None:
    if sentence.status != "A":
        log.unfixed.append(row)
        return
    epoch = _epoch(log, sentence.timestamp, row)
    if isinstance(sentence.datestamp, datetime.date):
        _date(log, sentence.datestamp)
    _place(epoch, sentence)
    _keep(epoch, "speed", sentence.spd_over_grnd, KNOT)
    _keep(epoch, "course", sentence.true_course, 1.0)


def _gga(log: _Log, sentence: Any, row: int) -> None:
    if str(sentence.gps_qual) in _QUALITY:
        log.unfixed.append(row)
        return
    epoch = _epoch(log, sentence.timestamp, row)
    _place(epoch, sentence)
    if sentence.altitude_units in {"M", "", None}:
        _keep(epoch, "altitude", sentence.altitude, 1.0)


def _gll(log: _Log, sentence: Any, row: int) -> None:
    if sentence.status != "A":
        log.unfixed.append(row)
        return
    _place(_epoch(log, sentence.timestamp, row), sentence)


def _vtg(log: _Log, sentence: Any, _row: int) -> None:
    """Speed without a time belongs to the moment before it."""
    if log.epochs:
        _keep(log.epochs[-1], "speed", sentence.spd_over_grnd_kts, KNOT)
        _keep(log.epochs[-1], "course", sentence.true_track, 1.0)


def _zda(log: _Log, sentence: Any, _row: int) -> None:
    _date(log, datetime.date(int(sentence.year), int(sentence.month), int(sentence.day)))


_USE: dict[str, Any] = {"RMC": _rmc, "GGA": _gga, "GLL": _gll, "VTG": _vtg, "ZDA": _zda}


def _keep(epoch: _Epoch, name: str, value: Any, factor: float) -> None:
    if value in {None, ""}:
        return
    number = float(value)
    if np.isfinite(number) and abs(number) < 1e6:
        epoch.values.setdefault(name, number * factor)


def _fixes(log: _Log) -> Fixes:
    def column(name: str) -> np.ndarray:
        return np.array([epoch.values.get(name, np.nan) for epoch in log.epochs])

    return Fixes(
        times_s=np.array([epoch.time_s for epoch in log.epochs]) + (log.day_s or 0.0),
        rows=np.array([epoch.row for epoch in log.epochs], dtype=np.int64),
        latitude_deg=column("latitude"),
        longitude_deg=column("longitude"),
        gps_altitude_m=column("altitude"),
        ground_speed_mps=column("speed"),
        track_deg=column("course"),
    )


def _notices(log: _Log) -> list[Notice]:
    notices = [
        Notice(
            Severity.NOTE,
            "altitude is GPS altitude above mean sea level (GGA), no pressure altitude; speed is ground speed; times "
            "are UTC, in which a leap second is the second after it",
        )
    ]
    if log.day_s is None:
        notices.append(Notice(Severity.CAUTION, "no date is given (RMC or ZDA); times count from midnight UTC"))
    for rows, words in (
        (log.damaged, "sentences are damaged (checksum or fields) and are not used"),
        (log.unfixed, "sentences are without a valid fix and are not used"),
        (log.midnights, "times past midnight UTC; they run on"),
    ):
        if rows:
            severity = Severity.NOTE if rows is log.midnights else Severity.CAUTION
            notices.append(Notice(severity, f"{len(rows)} {words}, the first is row {rows[0]}", rows[0]))
    return notices
