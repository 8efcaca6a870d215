"""Noticing that what an edit was made from is no longer what is stored."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from wringout.errors import ConflictError

ADVICE = "look at it as it is now and make the edit again; nothing was changed"


def _shown(value: object) -> str:
    text = "empty" if value is None or value == "" else str(value)
    return f"'{text}'" if len(text) <= 60 else f"'{text[:57]}...'"


def refuse_changed(name: str, expected: Mapping[str, Any], there: Mapping[str, Any]) -> None:
    """Refuse an edit when what it was made from differs from what is stored.

    Args:
        name: what is edited, in words, such as ``run G1``.
        expected: its editable fields as the editor saw them.
        there: its editable fields as they are stored.

    Raises:
        ConflictError: they differ; the sentence names each field that was changed meanwhile and its first new value.
    """
    changed = [field for field in there if expected.get(field) != there[field]]
    if not changed:
        return
    words = " and ".join([", ".join(changed[:-1]), changed[-1]] if changed[1:] else changed).replace("_", " ")
    now = f", which is now {_shown(there[changed[0]])}" if len(changed) == 1 else ""
    raise ConflictError(f"{name} was changed meanwhile in its {words}{now}", advice=ADVICE)
