"""IGC flight records: fixes each second or so, with pressure altitude from the recorder's own static cell.

Written from the format's published description, FAI/IGC "Technical Specification for GNSS Flight Recorders",
appendix A: B records (``BHHMMSS DDMMmmmN DDDMMmmmE V PPPPP GGGGG``), the I record that lists additional fields, the
date header HFDTE, and E records for pressed buttons. The signature (G records) is not checked; a notice says so.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from wringout.errors import BadInputError
from wringout.recordings.marks import split_mark
from wringout.recordings.tracks.fixes import Fixes, recording_of_fixes
from wringout.recordings.types import FloatArray, IntArray, Mark, Notice, Recording, Severity

_B = re.compile(
    r"B(\d{2})(\d{2})(\d{2})(\d{2})(\d{5})([NS])(\d{3})(\d{5})([EW])([AV])(-?\d{4,5}|[ \d-]{5})([ \d-]{5})(.*)"
)
_DATE = re.compile(r"H[FOP]DTE(?:DATE)?\s*:?\s*(\d{2})(\d{2})(\d{2})", re.IGNORECASE)
_HEADER = re.compile(r"H[FOP]([A-Z]{3})[A-Z0-9 ]{0,40}:\s*(.{0,80})")
_EVENT = re.compile(r"E(\d{2})(\d{2})(\d{2})([A-Z0-9]{3})(.{0,200})")
_DAY_S = 86400.0
_KEPT_HEADERS = {"GTY": "glider type", "FTY": "recorder", "DTM": "geodetic datum", "TZN": "time zone"}
_EXTENSIONS = {
    # three-letter codes of the specification: quantity, one count in SI, spelling of the unit
    "IAS": ("ias", 1000.0 / 3600.0, "km/h"),
    "TAS": ("tas", 1000.0 / 3600.0, "km/h"),
    "GSP": ("ground_speed", 1000.0 / 3600.0, "km/h"),
    "HDM": ("heading", np.pi / 180.0, "deg"),
    "HDT": ("heading", np.pi / 180.0, "deg"),
    "TRT": ("track", np.pi / 180.0, "deg"),
}


def looks_like_igc(text: str) -> bool:
    """Return whether a text begins as an IGC file does: an A record, then H records or fixes."""
    lines = [line for line in text.lstrip("\ufeff \t\r\n")[:20_000].splitlines() if line.strip()][:80]
    if not lines or not re.match(r"A[A-Z0-9]{3}", lines[0]):
        return False
    return any(_B.match(line) or re.match(r"H[FOP][A-Z]{3}", line) for line in lines[1:])


def read_igc(text: str, file: str, sha256: str) -> Recording:
    """Read the fixes of an IGC file as a recording of kind ``logger``.

    Returns:
        Channels ``pressure_altitude`` (of the recorder's cell, against 1013.25 hPa), ``gps_altitude``,
        ``ground_speed`` and ``track``, and what its I record adds of airspeeds and headings; marks
        of its E records; times in UTC.

    Raises:
        BadInputError: no fix can be read.
    """
    lines = re.split(r"\r\n|\n|\r", text)
    records = [(i, match) for i, line in enumerate(lines, 1) if line.startswith("B") and (match := _B.fullmatch(line))]
    bad = [i for i, line in enumerate(lines, 1) if line.startswith("B") and not _B.fullmatch(line)]
    if not records:
        where = f"{file}, row {bad[0]}" if bad else file
        raise BadInputError(
            "no fix (B record) of this IGC file can be read", where, "hand over the recorder's own file"
        )
    notices = _about_file(lines, bad)
    day_s, dated = _day(lines, notices)
    rows = np.array([i for i, _ in records], dtype=np.int64)
    clock = np.array([3600 * int(m[1]) + 60 * int(m[2]) + int(m[3]) for _, m in records], dtype=np.float64)
    clock[[int(m[2]) > 59 or int(m[3]) > 60 or int(m[1]) > 23 for _, m in records]] = np.nan
    extra, last_places = _extensions(lines, [m for _, m in records], notices)
    times = _past_midnight(clock + last_places["TDS"], rows, notices) + day_s
    valid = np.array([m[10] == "A" for _, m in records])
    gps = np.array([_altitude(m[12]) for _, m in records])
    pressure = np.array([_altitude(m[11]) for _, m in records])
    gps[~valid] = np.nan  # the specification: V is a fix in two dimensions, without GNSS altitude
    if not np.any(pressure != 0.0):
        pressure[:] = np.nan
        notices.append(Notice(Severity.NOTE, "the recorder has no pressure cell (its pressure altitudes are all 0)"))
    if np.any(~valid):
        row = int(rows[np.flatnonzero(~valid)[0]])
        words = f"{int((~valid).sum())} fixes are without GPS altitude (V), the first is row {row}"
        notices.append(Notice(Severity.NOTE, words, row))
    fixes = Fixes(
        times_s=times,
        rows=rows,
        latitude_deg=np.array(
            [_angle(m[4], m[5], more, m[6] == "S") for (_, m), more in zip(records, last_places["LAD"], strict=True)]
        ),
        longitude_deg=np.array(
            [_angle(m[7], m[8], more, m[9] == "W") for (_, m), more in zip(records, last_places["LOD"], strict=True)]
        ),
        gps_altitude_m=gps,
        ground_speed_mps=extra.pop("ground_speed", (None, None, None))[2],
        track_deg=None if "track" not in extra else extra.pop("track")[2] * 180.0 / np.pi,
        pressure_altitude_m=pressure,
        others=dict(extra),
    )
    marks = _marks(lines, day_s, float(np.nanmin(times)) if np.isfinite(times).any() else 0.0)
    header = {"date": dated} if dated else {}
    for line in lines[:200]:
        match = _HEADER.match(line)
        if match and match[1] in _KEPT_HEADERS and match[2].strip():
            header.setdefault(_KEPT_HEADERS[match[1]], match[2].strip())
    return recording_of_fixes(fixes, file, sha256, "IGC", notices, header=header, marks=marks)


def _about_file(lines: Sequence[str], bad: Sequence[int]) -> list[Notice]:
    notices = [
        Notice(
            Severity.NOTE,
            "pressure altitude is that of the recorder's own cell, often in the cabin, against 1013.25 hPa; GPS "
            "altitude is above the WGS 84 ellipsoid by the format (some recorders write mean sea level)",
        )
    ]
    if any(line.startswith("G") for line in lines):
        notices.append(Notice(Severity.NOTE, "the file's signature (G records) is not checked"))
    if bad:
        words = f"{len(bad)} {'fix' if len(bad) == 1 else 'fixes'} cannot be read and are not used, the first is row"
        notices.append(Notice(Severity.CAUTION, f"{words} {bad[0]}", bad[0]))
    return notices


def _day(lines: Sequence[str], notices: list[Notice]) -> tuple[float, str]:
    """Return the day of the first fix, s since 1970 (0 where no date is written), and the date in words."""
    for i, line in enumerate(lines[:2000], 1):
        match = _DATE.match(line)
        if match is None:
            continue
        day, month, year = (int(part) for part in match.groups())
        written = f"{2000 + year if year < 80 else 1900 + year:04d}-{month:02d}-{day:02d}"
        try:
            return float(np.datetime64(written, "s").astype(np.int64)), written
        except ValueError:
            notices.append(Notice(Severity.CAUTION, f"row {i}: {line[:30]!r} is no date; times count from midnight", i))
            return 0.0, ""
    notices.append(Notice(Severity.CAUTION, "no date (HFDTE) is written; times count from midnight UTC"))
    return 0.0, ""


def _past_midnight(clock: FloatArray, rows: IntArray, notices: list[Notice]) -> FloatArray:
    """Carry times of the day over midnight UTC."""
    good = np.flatnonzero(np.isfinite(clock))
    falls = np.flatnonzero(np.diff(clock[good]) < -0.5 * _DAY_S)
    out = clock.copy()
    for i in falls.tolist():
        out[good[i + 1] :] += _DAY_S
        row = int(rows[good[i + 1]])
        notices.append(Notice(Severity.NOTE, f"row {row}: midnight UTC passes here; times run on", row, "time"))
    return out


def _altitude(text: str) -> float:
    try:
        value = float(text.strip())
    except ValueError:
        return np.nan
    return value if -1000.0 < value < 20_000.0 else np.nan


def _angle(degrees: str, thousandths: str, last_places: float, negative: bool) -> float:
    minutes = (int(thousandths) + last_places) / 1000.0
    value = int(degrees) + minutes / 60.0
    return np.nan if minutes >= 60.0 or value > 180.0 else -value if negative else value


def _extensions(
    lines: Sequence[str], records: Sequence[re.Match[str]], notices: list[Notice]
) -> tuple[dict[str, tuple[str, str, FloatArray]], dict[str, FloatArray]]:
    """Return channels of the I record's additional fields, and the last places it adds to others.

    TDS are parts of a second, LAD and LOD parts of a thousandth of a minute of latitude and longitude (these three
    codes from memory); each as a fraction, shape (n,).
    """
    last_places = {code: np.zeros(len(records)) for code in ("TDS", "LAD", "LOD")}
    line = next((line for line in lines[:2000] if re.match(r"I\d{2}(\d{4}[A-Z0-9]{3})+", line)), "")
    found: dict[str, tuple[str, str, FloatArray]] = {}
    for first, last, code in re.findall(r"(\d{2})(\d{2})([A-Z0-9]{3})", line[3:]):
        begin, end = int(first) - 36, int(last) - 35
        if begin < 0 or end <= begin:
            continue
        cells = [match[13][begin:end] for match in records]
        digits = np.array([float(c) if c.isascii() and c.isdigit() else np.nan for c in cells])
        if code in last_places:
            last_places[code] = np.nan_to_num(digits / 10.0 ** (end - begin))
        elif code in _EXTENSIONS and np.any(digits > 0.0):
            quantity, factor, unit = _EXTENSIONS[code]
            scale = 1.0 if end - begin <= 3 else 10.0 ** -(end - begin - 3)
            found[quantity] = (code, unit, digits * scale * factor)
            if quantity in {"ias", "tas"}:
                notices.append(
                    Notice(Severity.CAUTION, f"{code} is taken as km/h, as the format says; check it against the dial")
                )
    return found, last_places


def _marks(lines: Sequence[str], day_s: float, first_s: float) -> tuple[Mark, ...]:
    marks = []
    for i, line in enumerate(lines, 1):
        match = _EVENT.match(line) if line.startswith("E") else None
        if match is None:
            continue
        time = day_s + 3600 * int(match[1]) + 60 * int(match[2]) + int(match[3])
        time += _DAY_S if time < first_s - 0.5 * _DAY_S else 0.0
        words = match[5].strip() or f"button {match[4]}"
        marks += [Mark(time, label, i, event) for label, event in split_mark(words)]
    return tuple(marks)
