"""GPX tracks (Topografix, GPX 1.0 and 1.1): time, place, GPS altitude, ground speed and track.

The text is parsed by expat under defusedxml: a document type, an entity or a reference to another file is refused
before anything of it is expanded. Every point keeps its line, which is why no reader of whole files does this;
times are read by gpxpy.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass, field
from xml.parsers.expat import ErrorString, ExpatError

import numpy as np
from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser
from gpxpy.gpx import GPXException
from gpxpy.gpxfield import parse_time

from wringout.errors import BadInputError
from wringout.recordings.tracks.fixes import Fixes, recording_of_fixes
from wringout.recordings.types import Notice, Recording, Severity

MOST_POINTS = 5_000_000
_DEEPEST = 64
_EPOCH = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)
_WANTED = frozenset({"ele", "time", "speed", "course"})
_UTC = re.compile(r"\s*(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d{1,9})?)\s*(Z|[+-]\d\d:?\d\d)?\s*")


def looks_like_gpx(text: str) -> bool:
    """Return whether a text begins as GPX does."""
    top = text[:2000]
    return top.lstrip("\ufeff \t\r\n").startswith("<") and re.search(r"<(\w+:)?gpx[\s>]", top) is not None


@dataclass(slots=True)
class _Points:
    """Collects track points while expat walks through the text."""

    file: str
    line: int = 0
    depth: int = 0
    collecting: str = ""
    text: str = ""
    point: dict[str, str] | None = None
    segment: int = 0
    rows: list[int] = field(default_factory=list)
    points: list[dict[str, str]] = field(default_factory=list)
    segments: list[int] = field(default_factory=list)
    name: str = ""

    def start(self, tag: str, attributes: dict[str, str], line: int) -> None:
        self.depth += 1
        if self.depth > _DEEPEST:
            raise BadInputError("the elements are nested too deeply", f"{self.file}, row {line}", "export it again")
        plain = _plain(tag)
        self.collecting, self.text = "", ""
        if plain == "trkseg":
            self.segment += 1
        elif plain == "trkpt":
            if len(self.points) >= MOST_POINTS:
                raise BadInputError(f"there are more than {MOST_POINTS:,} points", f"{self.file}, row {line}", "cut it")
            self.point = {"lat": attributes.get("lat", ""), "lon": attributes.get("lon", "")}
            self.line = line
        elif self.point is not None and plain in _WANTED:
            self.collecting = plain

    def data(self, text: str) -> None:
        if self.collecting and len(self.text) < 100:
            self.text += text

    def end(self, tag: str) -> None:
        self.depth -= 1
        plain = _plain(tag)
        if self.point is not None and self.collecting == plain:
            self.point.setdefault(plain, self.text.strip())
        elif self.point is not None and plain == "trkpt":
            self.points.append(self.point)
            self.rows.append(self.line)
            self.segments.append(self.segment)
            self.point = None
        self.collecting = ""


def _plain(tag: str) -> str:
    return tag.rpartition("}")[2].rpartition(":")[2]


def read_gpx(text: str, file: str, sha256: str) -> Recording:
    """Read the track points of a GPX file as a recording of kind ``logger``.

    Returns:
        Channels ``gps_altitude`` (the points' ``ele``, metres above mean sea level by the standard),
        ``ground_speed`` and ``track``; times in UTC.

    Raises:
        BadInputError: no well-formed GPX, a document type or an entity in it, or no track point with a time.
    """
    found = _parsed(text, file)
    if not found.points:
        raise BadInputError("there is no track point in this GPX file", file, "export the track, not a route or marks")
    times, rows, notices = _times(found, file)
    columns = {
        key: np.array([_number(point.get(key, "")) for point in found.points])
        for key in ("lat", "lon", "ele", "speed", "course")
    }
    odd = ~((np.abs(columns["lat"]) <= 90.0) & (np.abs(columns["lon"]) <= 180.0))
    if np.any(odd & np.isfinite(times)):
        row = int(rows[np.flatnonzero(odd)[0]])
        sentence = f"{int(odd.sum())} points have no latitude and longitude that can be right, the first is row {row}"
        notices.append(Notice(Severity.CAUTION, f"{sentence}; they are left blank", row, "lat"))
        columns["lat"][odd] = columns["lon"][odd] = np.nan
    fixes = Fixes(
        times_s=times,
        rows=rows,
        latitude_deg=columns["lat"],
        longitude_deg=columns["lon"],
        gps_altitude_m=columns["ele"],
        ground_speed_mps=columns["speed"],
        track_deg=columns["course"],
        pieces=np.array(found.segments),
    )
    notices.append(
        Notice(
            Severity.NOTE,
            "altitude is GPS altitude (ele), metres above mean sea level where the receiver keeps to the standard; "
            "it is no pressure altitude",
        )
    )
    return recording_of_fixes(fixes, file, sha256, "GPX", notices)


def _parsed(text: str, file: str) -> _Points:
    found = _Points(file)
    parser = DefusedXMLParser(target=_Nothing(), forbid_dtd=True, forbid_entities=True, forbid_external=True)
    expat = parser.parser
    expat.StartElementHandler = lambda tag, attributes: found.start(
        tag,
        attributes if isinstance(attributes, dict) else dict(zip(attributes[::2], attributes[1::2], strict=True)),
        expat.CurrentLineNumber,
    )
    expat.EndElementHandler = found.end
    expat.CharacterDataHandler = found.data
    expat.DefaultHandlerExpand = None
    try:
        expat.Parse(re.sub(r"^\s*<\?xml[^>]{0,200}\?>", "", text.lstrip("\ufeff")).encode(), True)
    except DefusedXmlException:
        raise BadInputError(
            "the file declares a document type or an entity, which no track needs and which can be an attack",
            file,
            "export the track again as plain GPX",
        ) from None
    except ExpatError as error:
        raise BadInputError(
            f"this is no well-formed XML ({ErrorString(error.code)})",
            f"{file}, row {error.lineno}",
            "export the track again; the file may be cut short",
        ) from None
    return found


class _Nothing:
    """A target that builds no tree."""

    def start(self, *_: object) -> None:
        """Take no element."""

    def end(self, *_: object) -> None:
        """Take no element."""

    def data(self, *_: object) -> None:
        """Take no text."""

    def close(self) -> None:
        """Give nothing."""


def _times(found: _Points, file: str) -> tuple[np.ndarray, np.ndarray, list[Notice]]:
    rows = np.array(found.rows, dtype=np.int64)
    written = [_UTC.fullmatch(point.get("time", "")) for point in found.points]
    times = np.full(rows.size, np.nan)
    for i, match in enumerate(written):
        if match is not None:
            times[i] = _seconds(match)
    missing = np.flatnonzero(~np.isfinite(times))
    if missing.size == rows.size:
        raise BadInputError(
            "no track point has a time that can be read", f"{file}, row {rows[0]}, time", "export the track with times"
        )
    if not missing.size:
        return times, rows, []
    row = int(rows[missing[0]])
    words = f"{missing.size} points have no time that can be read and are not used, the first is row {row}"
    return times, rows, [Notice(Severity.CAUTION, words, row, "time")]


def _seconds(match: re.Match[str]) -> float:
    """Return seconds since 1970-01-01 UTC; a leap second counts as the second after it."""
    text, zone = match.groups()
    leap = text[17:19] == "60"
    try:
        moment = parse_time((text[:17] + "59" + text[19:] if leap else text) + (zone or "Z"))
    except (GPXException, ValueError, OverflowError):
        return np.nan
    if moment is None:
        return np.nan
    return (moment - _EPOCH).total_seconds() + (1.0 if leap else 0.0)


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        return np.nan
    return value if np.isfinite(value) and abs(value) < 1e6 else np.nan
