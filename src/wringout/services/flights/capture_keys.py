"""Keys with which a device may deliver taps to one flight of one study, and see nothing else."""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from wringout.errors import NotFoundError
from wringout.services.opening import the_study
from wringout.store import Store, View, get_entry, put_entry, remove_entry

KIND = "capture-key"
LASTS = timedelta(days=14)
"""A key ends after this long: a flight's taps are delivered within days, or handed over as a file."""
_BYTES = 16


@dataclass(frozen=True, slots=True)
class CaptureKey:
    """A key, and the moment it ends."""

    key: str
    ends: datetime


def _name(view: View, slug: str | None, flight: str) -> str:
    return f"{the_study(view, slug).id}-{flight}"


def _kept(view: View, name: str) -> CaptureKey | None:
    entry = get_entry(view, KIND, name)
    if entry is None or entry.body is None:
        return None
    return CaptureKey(str(entry.body["key"]), datetime.fromisoformat(str(entry.body["ends"])))


def key_of_flight(store: Store, slug: str | None, flight: str, now: datetime, lasts: timedelta = LASTS) -> CaptureKey:
    """Return the key of a flight: the one there is, or a new one where there is none or it has ended.

    Raises:
        NotFoundError: there is no such study.
        BadInputError: the flight's name is no short name.
    """
    with store.writing() as work:
        name = _name(work, slug, flight)
        kept = _kept(work, name)
        if kept is not None and kept.ends > now:
            return kept
        made = CaptureKey(secrets.token_hex(_BYTES), now + lasts)
        put_entry(work, KIND, name, {"key": made.key, "ends": made.ends.isoformat()})
        return made


def revoke_key(store: Store, slug: str | None, flight: str) -> bool:
    """End a flight's key at once, and return whether there was one; raises NotFoundError where there is no study."""
    with store.writing() as work:
        name = _name(work, slug, flight)
        if _kept(work, name) is None:
            return False
        remove_entry(work, KIND, name)
        return True


def check_key(view: View, slug: str | None, flight: str, key: str, now: datetime) -> None:
    """Refuse a key that does not open a flight now.

    Raises:
        NotFoundError: it does not, or there is no such study.
    """
    kept = _kept(view, _name(view, slug, flight))
    if kept is None or kept.ends <= now or not hmac.compare_digest(kept.key.encode(), key.encode()):
        raise NotFoundError(
            "this address does not open the flight any more",
            advice="hand the log over as a file, or ask at the workbench for a new address",
        )
