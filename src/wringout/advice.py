"""What a refusal or a hint asks for, said so that it holds for every face, and put by each face into its own words.

The core and the services know nothing of options, fields and links. Where what they ask for has one, they say it by a
:class:`Way` or by :func:`set_up_word`. A face has a :class:`Wording` that names its own field or option in its place.
Advice that no face words is still a sentence that is true.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Way(StrEnum):
    """Ways forward for which each face has a place of its own."""

    OWN_MARKS = "let its own gear and flap columns give the marks"
    STRETCH = "give the start and the end of the stretch"
    METHOD = "name the method"
    COLUMNS = "say what its columns are"
    PASS_ON = "say that it may be passed on"  # noqa: S105  words
    PICTURES = "write pictures instead"
    RESCUE = "save what can still be read of it"


def set_up_word(line: str) -> str:
    """Return the advice to give a run a set-up word, such as ``weight: 3000 lb``."""
    return f'add the line "# {line}"'


@dataclass(frozen=True, slots=True)
class Wording:
    """How one face says it.

    Attributes:
        ways: its words for each way.
        set_up_word: its words for a set-up word, with ``{key}`` and ``{value}``.
    """

    ways: Mapping[Way, str]
    set_up_word: str


_SAID: Final = re.compile(rf'add the line "# (?P<key>[^":]+): (?P<value>[^"]+)"|{"|".join(map(re.escape, Way))}')


def worded(text: str, wording: Wording) -> str:
    """Return a refusal or a hint in a face's own words."""

    def said(found: re.Match[str]) -> str:
        if found["key"] is None:
            return wording.ways[Way(found.group())]
        return wording.set_up_word.format(key=found["key"], value=found["value"])

    return _SAID.sub(said, text)
