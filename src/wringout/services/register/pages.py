"""The register as its pages need it: searched without reading whole entries, brought back, attachments handed out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from wringout.errors import NotFoundError
from wringout.services.register.entries import ATTACHMENT_KIND, KIND, Registered, show_entry
from wringout.store import Store, entry_revisions, get_entry, list_entries, list_fields, put_entry
from wringout.store.vault import read

LISTED = ("family", "model", "serials", "document", "part_number", "revision", "date", "section", "prints", "steps")
PAGE = 50


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the list: the key of an entry and its fields as they are kept."""

    key: str
    fields: Mapping[str, str]

    @property
    def order(self) -> str:
        """What it prints, as typed, or "prints none"."""
        return "prints none" if self.fields["prints"] == "none" else self.fields["steps"]


@dataclass(frozen=True, slots=True)
class Searched:
    """What a search found: how many entries there are, how many fit, and one page of those."""

    total: int
    fitting: int
    start: int
    lines: tuple[Line, ...]
    families: tuple[str, ...]


def search_register(store: Store, words: str = "", start: int = 0) -> Searched:
    """Return the entries that hold every word somewhere, by family, model and date, ``PAGE`` from ``start``."""
    wanted = words.casefold().split()
    with store.reading() as view:
        rows = list_fields(view, KIND, LISTED)
    every = [Line(key, {name: str(value or "") for name, value in fields.items()}) for key, fields in rows]
    fitting = [line for line in every if _holds(line, wanted)]
    fitting.sort(key=lambda line: tuple(line.fields[name] for name in ("family", "model", "date", "serials")))
    start = max(0, min(start, max(len(fitting) - 1, 0) // PAGE * PAGE))
    families = tuple(sorted({line.fields["family"] for line in every}))
    return Searched(len(every), len(fitting), start, tuple(fitting[start : start + PAGE]), families)


def models_of_register(store: Store) -> tuple[tuple[str, str], ...]:
    """Return every family and model of the register, each pair once, in order."""
    with store.reading() as view:
        rows = list_fields(view, KIND, ("family", "model"))
    return tuple(sorted({(str(fields["family"] or ""), str(fields["model"] or "")) for _, fields in rows}))


def _holds(line: Line, wanted: list[str]) -> bool:
    text = "\n".join(line.fields.values()).casefold()
    return all(word in text for word in wanted)


@dataclass(frozen=True, slots=True)
class Edition:
    """One revision of an entry in the library, and the fields that changed with it."""

    revision: int
    at: str
    changed: tuple[str, ...]
    removed: bool


def editions(store: Store, key: str) -> tuple[Registered, tuple[Edition, ...], tuple[tuple[str, str], ...]]:
    """Return an entry, its revisions in the library newest first, and its attachments as (hash, name).

    Raises:
        NotFoundError: there is no such entry.
    """
    found, kept = show_entry(store, key)
    out: list[Edition] = []
    before: Mapping[str, Any] = {}
    for item in kept:
        body = dict(item.body or {})
        changed = tuple(name for name in body if before and body.get(name) != before.get(name))
        out.append(Edition(item.revision, item.at, changed, item.body is None))
        before = body
    with store.reading() as view:
        names = {item.key: str((item.body or {}).get("name", "")) for item in list_entries(view, ATTACHMENT_KIND)}
    attached = tuple((digest, names.get(digest) or digest[:12]) for digest in found.entry.attachments)
    return found, tuple(reversed(out)), attached


def bring_back(store: Store, key: str) -> None:
    """Put the last words of a removed entry back as a new revision.

    Raises:
        NotFoundError: there never was such an entry.
    """
    with store.writing() as work:
        bodies = [item.body for item in entry_revisions(work, KIND, key) if item.body is not None]
        if not bodies:
            raise NotFoundError(
                f"there never was an entry {key[:40]!r} in the register", advice="look it up in the register"
            )
        put_entry(work, KIND, key, bodies[-1])


def attachment(store: Store, digest: str) -> tuple[bytes, str]:
    """Return an attachment's bytes and the name it was given.

    Raises:
        NotFoundError: the library knows no such attachment.
    """
    with store.reading() as view:
        found = get_entry(view, ATTACHMENT_KIND, digest)
    if found is None:
        raise NotFoundError(f"there is no attachment {digest[:12]!r}", advice="open its entry in the register")
    return read(store.place.recordings, digest), str((found.body or {}).get("name", digest[:12]))
