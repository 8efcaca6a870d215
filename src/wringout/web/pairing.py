"""Sharing with another device: a code for an hour, few tries, and keys that end after half a day or when told to."""

from __future__ import annotations

import hmac
import secrets
import threading
from collections.abc import Callable

COOKIE = "wringout-paired"
LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""Signs that are not mistaken for one another when read aloud."""
CODE_LENGTH = 8
MOST_TRIES = 10
"""Wrong tries before no device is let in any more, until a new code is made."""
WAIT_S = 2.0
"""Between two wrong tries, seconds."""
CODE_LASTS_S = 3600.0
"""How long a code lets devices in, seconds."""
KEY_LASTS_S = 12 * 3600.0
"""How long a device stays in, seconds."""


class Pairing:
    """Hands a key to whoever types the code; threads may share it.

    A code of eight signs out of 31 guessed ten times is right once in 85,000,000,000 sharings.
    """

    def __init__(self, clock_s: Callable[[], float]) -> None:
        self._clock_s = clock_s
        self._lock = threading.Lock()
        self.renew()

    def renew(self) -> None:
        """Make a new code and end every key there is: no device is in any more."""
        with self._lock:
            self.code = "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
            self._until_s = self._clock_s() + CODE_LASTS_S
            self._keys: dict[str, float] = {}
            self._wrong = 0
            self._not_before_s = 0.0

    @property
    def is_closed(self) -> bool:
        """Whether no device is let in: too many codes were wrong, or the code is too old."""
        return self._wrong >= MOST_TRIES or self._clock_s() >= self._until_s

    @property
    def devices(self) -> int:
        """How many keys are in use."""
        with self._lock:
            return sum(ends_s > self._clock_s() for ends_s in self._keys.values())

    def admits(self, key: str | None) -> bool:
        """Say whether a key was handed out by this program, and has not ended."""
        with self._lock:
            return key is not None and self._keys.get(key, 0.0) > self._clock_s()

    def pair(self, typed: str) -> tuple[str, str]:
        """Return a key for the right code and "", or "" and the sentence that says why not."""
        with self._lock:
            if self.is_closed:
                why = "Too many codes were wrong" if self._wrong >= MOST_TRIES else "The code is older than an hour"
                return "", f"{why}, so no device is let in any more; make a new code on the workbench's own machine."
            now = self._clock_s()
            if now < self._not_before_s:
                return "", "That was too fast after the last try; wait two seconds and type the code again."
            plain = "".join(typed.upper().split()).replace("-", "")
            if hmac.compare_digest(plain.encode(), self.code.encode()):
                key = secrets.token_urlsafe(32)
                self._keys[key] = now + KEY_LASTS_S
                return key, ""
            self._wrong += 1
            self._not_before_s = now + WAIT_S
            left = MOST_TRIES - self._wrong
            return "", f"That is not the code of this workbench; {left} tries are left."
