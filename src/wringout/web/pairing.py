"""Sharing with another device: a code shown at the terminal, few tries, and a key that ends with the program."""

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
"""Wrong tries before no device is let in any more, until the program is started again."""
WAIT_S = 2.0
"""Between two wrong tries, seconds."""


class Pairing:
    """Hands a key to whoever types the code; threads may share it.

    A code of eight signs out of 31 guessed ten times is right once in 85,000,000,000 sharings.
    """

    def __init__(self, clock_s: Callable[[], float]) -> None:
        self.code = "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
        self._clock_s = clock_s
        self._keys: set[str] = set()
        self._wrong = 0
        self._not_before_s = 0.0
        self._lock = threading.Lock()

    @property
    def is_closed(self) -> bool:
        """Whether so many codes were wrong that none is taken any more."""
        return self._wrong >= MOST_TRIES

    def admits(self, key: str | None) -> bool:
        """Say whether a key was handed out by this program."""
        with self._lock:
            return key is not None and key in self._keys

    def pair(self, typed: str) -> tuple[str, str]:
        """Return a key for the right code and "", or "" and the sentence that says why not."""
        with self._lock:
            if self.is_closed:
                return "", "Too many codes were wrong, so no device is let in any more; start wringout open again."
            now = self._clock_s()
            if now < self._not_before_s:
                return "", "That was too fast after the last try; wait two seconds and type the code again."
            plain = "".join(typed.upper().split()).replace("-", "")
            if hmac.compare_digest(plain.encode(), self.code.encode()):
                key = secrets.token_urlsafe(32)
                self._keys.add(key)
                return key, ""
            self._wrong += 1
            self._not_before_s = now + WAIT_S
            left = MOST_TRIES - self._wrong
            return "", f"That is not the code shown at the terminal; {left} tries are left."
