"""How pages word what a refusal or a hint asks for: by their own fields and links."""

from __future__ import annotations

from typing import Final

from wringout.advice import Way, Wording, worded
from wringout.web.units import words_in

_RUN: Final = "under “Make a run of it” on the recording's page"
WORDING: Final = Wording(
    {
        Way.OWN_MARKS: "write “marks: columns” among the set-up words, so that its own gear and flap columns give the "
        "marks",
        Way.STRETCH: f"choose the start and the end of the stretch on its strip chart, or {_RUN}",
        Way.METHOD: f"choose the method {_RUN}",
        Way.COLUMNS: "say what its columns are on the recording's page, in its mapping",
        Way.PASS_ON: "tick that it may be passed on",
        Way.PICTURES: "tick “as single pictures” instead",
        Way.RESCUE: "stop Wringout and open it again, which offers to save what can still be read of it",
    },
    "write “{key}: {value}” among the set-up words",
)


def told(said: object) -> str:
    """Return a sentence of a service, or a refusal, as a page says it, in the reader's units; None says nothing."""
    return worded(words_in(str(said)), WORDING) if said else ""
