"""The library passed on to other members, and theirs merged into it: conflicts shown, provenance kept."""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from wringout.errors import BadInputError, NotFoundError
from wringout.handbooks.entry import entry_from, table_of
from wringout.handbooks.tables import key_of
from wringout.services.fleet.findings import KIND as FINDING_KIND
from wringout.services.fleet.findings import check_finding, finding_key
from wringout.services.privacy import KEEPABLE, Cleaner
from wringout.services.register.entries import KIND as HANDBOOK_KIND
from wringout.services.register.printed_orders import VARIANT_KIND, check_variant, variant_key
from wringout.store import LibraryEntry, Store, View, Work, get_entry, list_entries, put_entry, remove_entry

FORMAT = "wringout fleet, version 1"
LONGEST_FLEET_BYTES = 64 << 20
CONFLICT_KIND, ORIGIN_KIND, SECRET_KIND = "fleet-conflict", "fleet-origin", "fleet-secret"
_SECTIONS = {"register": HANDBOOK_KIND, "variants": VARIANT_KIND, "findings": FINDING_KIND}
Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Exported:
    """A fleet file: its text, how many of each it holds, and what was taken out."""

    text: str
    counts: Mapping[str, int]
    removed: tuple[Json, ...]


@dataclass(frozen=True, slots=True)
class Merged:
    """What a merge did. ``errors`` are of entries that cannot be used; nothing is kept if there are any."""

    name: str
    sha256: str
    new: int
    same: int
    conflicts: tuple[str, ...]
    errors: tuple[BadInputError, ...]


def export_fleet(store: Store, keep: Iterable[str] = (), model: str = "") -> Exported:
    """Return the library as a file for other members, personal data taken out unless ``keep`` names its kind.

    Args:
        store: where the library is.
        keep: any of ``privacy.KEEPABLE``.
        model: only what is of this model; "" for everything.

    Raises:
        BadInputError: ``keep`` names something else.
    """
    kept = frozenset(keep)
    unknown = sorted(kept - set(KEEPABLE))
    if unknown:
        raise BadInputError(f"{unknown[0]!r} cannot be kept", "keep", f"use {', '.join(KEEPABLE)}")
    with store.writing() as work:
        cleaner = Cleaner(_secret(work), kept)
        wanted = model.strip().casefold()
        sections = {
            name: [
                _CLEANED[name](dict(item.body or {}), cleaner)
                for item in list_entries(work, kind)
                if not wanted or str((item.body or {}).get("model", "")).casefold() == wanted
            ]
            for name, kind in _SECTIONS.items()
        }
    removed = cleaner.report()
    document = {"format": FORMAT, "removed": removed, **sections}
    text = json.dumps(document, ensure_ascii=False, indent=1, sort_keys=True) + "\n"
    return Exported(text, {name: len(items) for name, items in sections.items()}, tuple(removed))


def _secret(work: Work) -> bytes:
    """Return this library's secret for names that say nothing; made at the first export, never passed on."""
    found = get_entry(work, SECRET_KIND, "names")
    if found is None:
        found = put_entry(work, SECRET_KIND, "names", {"secret": secrets.token_hex(16)})
    return bytes.fromhex(str((found.body or {})["secret"]))


def _clean_register(body: Json, cleaner: Cleaner) -> Json:
    if body.get("attachments"):
        cleaner.removed["attachments"] += len(body["attachments"])
    texts = {name: cleaner.text(str(body.get(name, ""))) for name in ("paraphrase", "section")}
    return {**body, **texts, "note": cleaner.note(str(body.get("note", ""))), "attachments": []}


def _clean_variant(body: Json, cleaner: Cleaner) -> Json:
    study = str(body.get("study", ""))
    if study:
        cleaner.removed["links to studies"] += 1
    toml = cleaner.text(str(body.get("airplane", "")))
    return {**body, "airplane": toml, "study": "", "note": cleaner.note(str(body.get("note", "")))}


def _clean_finding(body: Json, cleaner: Cleaner) -> Json:
    source = dict(body.get("source") or {})
    for name in ("study", "file", "member"):
        if source.get(name):
            source[name] = cleaner.stand_in("study", str(source[name]))
    return {
        **body,
        "airplane": cleaner.stand_in("airplane", str(body.get("airplane", ""))),
        "pilot": cleaner.stand_in("pilot", str(body.get("pilot", ""))),
        "made_on": cleaner.day(str(body.get("made_on", ""))),
        "label": cleaner.text(str(body.get("label", ""))),
        "note": cleaner.note(str(body.get("note", ""))),
        "source": source,
    }


_CLEANED = {"register": _clean_register, "variants": _clean_variant, "findings": _clean_finding}


def merge_fleet(store: Store, data: bytes, name: str) -> Merged:
    """Merge a member's fleet file into the library; with an error in any entry nothing is kept.

    An entry that is here with other words stays as it is; the other version is kept as a conflict to be looked at.

    Raises:
        BadInputError: it is no fleet file.
    """
    document = _document(data, name)
    bodies, errors = _checked(document, name)
    digest = hashlib.sha256(data).hexdigest()
    if errors:
        return Merged(name, digest, 0, 0, (), tuple(errors))
    new, same, conflicts = 0, 0, []
    with store.writing() as work:
        cleaner = Cleaner(_secret(work))
        passed_on = _passed_on(work, cleaner)
        origin = {"file": name[:200], "sha256": digest, "at": work.now}
        for section, key, body in bodies:
            kind = _SECTIONS[section]
            known = get_entry(work, kind, key)
            if section == "findings" and key in passed_on:
                same += 1
                continue
            if known is None:
                put_entry(work, kind, key, body)
                new += 1
            elif _alike(section, dict(known.body or {}), body, cleaner):
                same += 1
            else:
                conflicts.append(_conflict(work, kind, key, body, known, origin))
            _note_origin(work, kind, key, origin)
    return Merged(name, digest, new, same, tuple(conflicts), ())


def _passed_on(work: Work, cleaner: Cleaner) -> frozenset[str]:
    """Return the keys our own findings have in an export: coming back by way of others they must not count twice."""
    cleaned = (_clean_finding(dict(item.body or {}), cleaner) for item in list_entries(work, FINDING_KIND))
    return frozenset(finding_key(body) for body in cleaned)


def _alike(section: str, ours: Json, theirs: Json, cleaner: Cleaner) -> bool:
    """Return whether two versions of an entry say the same, leaving aside what an export takes out."""
    return _CLEANED[section](ours, cleaner) == _CLEANED[section](theirs, cleaner)


def _document(data: bytes, name: str) -> Json:
    if len(data) > LONGEST_FLEET_BYTES:
        raise BadInputError("the file is larger than 64 MB", name, "export it in parts, one model at a time")
    try:
        found = json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise BadInputError("this is not sound JSON", name, "ask for a new export") from None
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise BadInputError("this is no fleet file", name, f"its format should be {FORMAT!r}")
    return found


def _checked(document: Json, name: str) -> tuple[list[tuple[str, str, Json]], list[BadInputError]]:
    bodies: list[tuple[str, str, Json]] = []
    errors: list[BadInputError] = []
    for section in _SECTIONS:
        items = document.get(section, [])
        if not isinstance(items, list):
            errors.append(BadInputError("it is no list", f"{name}, {section}", "write a list of objects"))
            continue
        for number, item in enumerate(items, 1):
            where = f"{name}, {section} {number}"
            try:
                if not isinstance(item, dict):
                    raise BadInputError("it is no object", where, "write fields and values in braces")
                bodies.append((section, *_CHECKED[section](item, where)))
            except BadInputError as error:
                errors.append(error)
    return bodies, errors


def _check_register(item: Json, where: str) -> tuple[str, Json]:
    entry = entry_from(item, where)
    return key_of(entry), table_of(entry)


def _check_variant(item: Json, where: str) -> tuple[str, Json]:
    body = check_variant(item, where)
    return variant_key(str(body["model"])), body


def _check_finding(item: Json, where: str) -> tuple[str, Json]:
    body = check_finding(item, where)
    return finding_key(body), body


_CHECKED = {"register": _check_register, "variants": _check_variant, "findings": _check_finding}


def _conflict_key(kind: str, key: str, body: Json) -> str:
    digest = hashlib.sha256(json.dumps(body, sort_keys=True).encode()).hexdigest()
    return f"{kind}-{key[:40].strip('-')}-{digest[:8]}"


def _conflict(work: Work, kind: str, key: str, body: Json, known: LibraryEntry, origin: Json) -> str:
    """Keep the other version of an entry, and return the key of the conflict."""
    name = _conflict_key(kind, key, body)
    put_entry(
        work,
        CONFLICT_KIND,
        name,
        {"kind": kind, "key": key, "ours": dict(known.body or {}), "theirs": body, "from": origin},
    )
    return name


def _note_origin(work: Work, kind: str, key: str, origin: Json) -> None:
    name = f"{kind}-{key}"[:80].strip("-")
    known = get_entry(work, ORIGIN_KIND, name)
    files: list[Any] = [] if known is None else list((known.body or {}).get("files") or [])  # type: ignore[arg-type]
    if not any(item["sha256"] == origin["sha256"] for item in files):
        put_entry(work, ORIGIN_KIND, name, {"kind": kind, "key": key, "files": [*files, origin]})


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two versions of one entry: ours and theirs, the fields they differ in, and where theirs came from."""

    key: str
    kind: str
    entry: str
    fields: tuple[str, ...]
    ours: Mapping[str, Any]
    theirs: Mapping[str, Any]
    origin: Mapping[str, Any]


def list_conflicts(store: Store) -> tuple[Conflict, ...]:
    """Return the conflicts that wait for a decision."""
    with store.reading() as view:
        return tuple(_as_conflict(item) for item in list_entries(view, CONFLICT_KIND))


def _as_conflict(item: LibraryEntry) -> Conflict:
    body: Json = dict(item.body or {})
    ours, theirs = dict(body["ours"]), dict(body["theirs"])
    fields = tuple(name for name in sorted({*ours, *theirs}) if ours.get(name) != theirs.get(name))
    return Conflict(item.key, str(body["kind"]), str(body["key"]), fields, ours, theirs, dict(body["from"]))


def resolve_conflict(store: Store, key: str, take_theirs: bool) -> Conflict:
    """Settle a conflict: keep ours, or put theirs in its place as a new revision. Both stay in the history.

    Raises:
        NotFoundError: there is no such conflict.
    """
    with store.writing() as work:
        item = get_entry(work, CONFLICT_KIND, key)
        if item is None:
            raise NotFoundError(f"there is no conflict {key[:80]!r}", advice="choose one from the list of conflicts")
        found = _as_conflict(item)
        if take_theirs:
            put_entry(work, found.kind, found.entry, dict(found.theirs))
        remove_entry(work, CONFLICT_KIND, key)
    return found


def origins(view: View, kind: str, key: str) -> tuple[Json, ...]:
    """Return the files an entry came from, oldest first; empty where it was made here."""
    found = get_entry(view, ORIGIN_KIND, f"{kind}-{key}"[:80].strip("-"))
    return () if found is None else tuple((found.body or {}).get("files") or ())  # type: ignore[arg-type]
