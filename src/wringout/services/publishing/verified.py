"""What verifying a bundle came to: as a document, in words, and kept in a folder beside the database.

Bundles that are being verified lie in that folder too, so that work that was stopped can be begun again.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from wringout.errors import BadInputError, NotFoundError, StoreError, WringoutError
from wringout.numerals import count
from wringout.services.findings.reduce import Progress, no_progress
from wringout.services.opening import Clock
from wringout.services.publishing.document_compare import Difference
from wringout.services.publishing.verify import Checked, Outcome, Verified, verify_bundle
from wringout.store import place_at, utc_text

NAME_LONGEST = 120
_KEY = re.compile(r"[0-9a-f]{16}")


def outcome_words(found: Verified) -> str:
    """Return what verifying came to, in one sentence."""
    said = {
        Outcome.SAME: f"Every one of {found.numbers:,} numbers came out again to the last digit.",
        Outcome.CLOSE: f"Every one of {found.numbers:,} numbers came out again within {found.tolerance:g} of its size; "
        "not all to the last digit.",
        Outcome.DIFFERS: _differ_words(found),
        Outcome.NOT_DONE: "The newest results could not all be computed again, so the bundle does not bear them out.",
    }
    return said[found.outcome]


def _differ_words(found: Verified) -> str:
    places = [difference for item in found.checked for difference in item.counted]
    numbers = [place for place in places if place.apart is not None]
    if places and not numbers and not any(item.draws_apart for item in found.checked):
        return f"Every one of {found.numbers:,} numbers came out again, but {_differ(places, 'other place')}."
    return f"Not every number came out again: {_differ(places, 'place')}."


def _differ(places: list[Difference], what: str) -> str:
    return f"{count(len(places), what)} {'differs' if len(places) == 1 else 'differ'}"


def verified_document(found: Verified) -> dict[str, object]:
    """Return what was verified as a JSON document (docs/json.md)."""
    return {
        "bundle_sha256": found.sha256,
        "outcome": str(found.outcome),
        "tolerance": found.tolerance,
        "numbers": found.numbers,
        "results": [_checked_document(item, found.tolerance) for item in found.checked],
    }


def _checked_document(item: Checked, tolerance: float) -> dict[str, object]:
    result, comparison = item.result, item.comparison
    return {
        "number": item.number,
        "result": str(result.kind),
        "seed": result.seed,
        "draws": result.settings.get("draws"),
        "package_version": result.package_version,
        "computed_at": result.created_at,
        "outcome": str(item.outcome),
        "reason": item.reason,
        "numbers": None if comparison is None else comparison.numbers,
        "within_tolerance": None if comparison is None else len(comparison.within(tolerance)),
        "draws_apart": item.draws_apart,
        "differences": [
            {"path": d.path, "kept": d.kept, "again": d.again, "apart": d.apart, "wording": d.wording}
            for d in item.counted
        ],
    }


@dataclass(frozen=True, slots=True)
class KeptVerified:
    """A bundle beside the database and what verifying it came to.

    Attributes:
        key: names it.
        name: of the bundle, as it came.
        at: when it came, UTC.
        named_sha256: the hash it must have; "" for any.
        tolerance: the share by which a number may differ.
        refused: why it could not be verified; "" where it was, or has not been yet.
        title: of the study in it; "" before it was verified.
        said: what it came to, in one sentence; "" before it was verified.
        document: see docs/json.md, ``verify``; None before it was verified.
    """

    key: str
    name: str
    at: str
    named_sha256: str
    tolerance: float
    refused: str = ""
    title: str = ""
    said: str = ""
    document: Mapping[str, Any] | None = None


def verify_folder(database: Path | None) -> Path:
    """Return the folder of bundles to be verified beside a database."""
    path = place_at(database).database
    return path.with_name(f"{path.stem}.verified")


def put_bundle(
    database: Path | None, stream: BinaryIO, name: str, clock: Clock, tolerance: float, named_sha256: str = ""
) -> KeptVerified:
    """Put a bundle where it can be verified; what was found of the same bytes before is forgotten.

    Args:
        database: the database it lies beside.
        stream: the zip; must be seekable.
        name: as it came.
        clock: returns the present moment with its time zone.
        tolerance: the share by which a number may differ, 0 to 0.1.
        named_sha256: the hash a brief names, 64 letters and digits; "" for any.

    Raises:
        BadInputError: tolerance or hash cannot be what they are.
        StoreError: it cannot be written.
    """
    if not 0.0 <= tolerance <= 0.1:
        raise BadInputError(f"{tolerance:g} is no share a number may differ by", "tolerance", "0 to 0.1, as 1e-6")
    wanted = named_sha256.strip().lower()
    if wanted and not re.fullmatch(r"[0-9a-f]{64}", wanted):
        raise BadInputError(f"'{wanted[:70]}' is no hash", "hash", "the 64 letters and digits the brief names")
    folder = verify_folder(database)
    digest = hashlib.sha256()
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        arriving = folder / "arriving.unfinished"
        with arriving.open("wb") as file:
            while chunk := stream.read(1 << 20):
                digest.update(chunk)
                file.write(chunk)
        kept = KeptVerified(
            digest.hexdigest()[:16], " ".join(name.split())[-NAME_LONGEST:] or "bundle", utc_text(clock()), wanted,
            tolerance,
        )  # fmt: skip
        arriving.replace(folder / f"{kept.key}.zip")
        _write(folder, kept)
    except OSError as error:
        raise _no_room(error, folder) from error
    return kept


def _no_room(error: OSError, folder: Path) -> StoreError:
    return StoreError(f"'{folder}' cannot be written ({error.strerror or error})", advice="make room, then try again")


def _write(folder: Path, kept: KeptVerified) -> None:
    body = {name: getattr(kept, name) for name in KeptVerified.__dataclass_fields__}
    unfinished = folder / f"{kept.key}.unfinished"
    unfinished.write_text(json.dumps(body))
    unfinished.replace(folder / f"{kept.key}.json")


def kept_verified(database: Path | None, key: str) -> KeptVerified:
    """Return one bundle and what verifying it came to.

    Raises:
        NotFoundError: there is none of that key.
    """
    path = verify_folder(database) / f"{key}.json"
    try:
        if _KEY.fullmatch(key):
            return KeptVerified(**json.loads(path.read_text()))
    except (OSError, ValueError, TypeError):
        pass
    raise NotFoundError("this bundle is not there any more", advice="choose it again")


def all_verified(database: Path | None) -> tuple[KeptVerified, ...]:
    """Return every bundle beside the database, the newest first."""
    found = []
    for path in verify_folder(database).glob("*.json"):
        try:
            found.append(kept_verified(database, path.stem))
        except NotFoundError:
            continue
    return tuple(sorted(found, key=lambda one: (one.at, one.key), reverse=True))


def verify_kept(database: Path | None, key: str, clock: Clock, progress: Progress = no_progress) -> KeptVerified:
    """Compute every number of a bundle again and keep what it came to; a refusal is kept as its sentence.

    Raises:
        NotFoundError: there is none of that key.
    """
    folder, kept = verify_folder(database), kept_verified(database, key)
    about: dict[str, Any] = {name: getattr(kept, name) for name in ("key", "name", "at", "named_sha256", "tolerance")}
    try:
        with (folder / f"{key}.zip").open("rb") as stream:
            found = verify_bundle(stream, kept.name, clock, kept.tolerance, progress, kept.named_sha256)
    except WringoutError as error:
        done = KeptVerified(**about, refused=str(error))
    except OSError as error:
        raise _no_room(error, folder) from error
    else:
        said, document = outcome_words(found), verified_document(found)
        done = KeptVerified(**about, title=found.study.title, said=said, document=document)
    try:
        _write(folder, done)
    except OSError as error:
        raise _no_room(error, folder) from error
    return done


def forget_verified(database: Path | None, key: str) -> None:
    """Take a bundle and what was found of it out of the folder; the bundle it was copied from stays.

    Raises:
        NotFoundError: there is none of that key.
    """
    kept = kept_verified(database, key)
    for ending in (".zip", ".json"):
        (verify_folder(database) / f"{kept.key}{ending}").unlink(missing_ok=True)


_ENDS = {"0": "lower end", "1": "upper end"}


def place_words(path: str) -> str:
    """Return the place of a difference in words, such as "findings, ratio.flaps_gear, 95 % interval, lower end"."""
    words: list[str] = []
    for part in path.split(" / "):
        share = re.fullmatch(r"interval_(\d\d)", part)
        if share:
            words.append(f"{share[1]} % interval")
        elif words and words[-1].endswith("% interval") and part in _ENDS:
            words.append(_ENDS[part])
        else:
            words.append(f"no. {int(part) + 1}" if part.isdigit() and len(part) < 7 else part.replace("_", " "))
    return ", ".join(words)
