"""What a verdict rests on that was never flown: beliefs from before the runs that no run in use has sharpened."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from wringout.briefs.catalogue import marked, tr
from wringout.briefs.words import listed
from wringout.techniques.stated.types import Situation

STILL_BELIEVED: Final = "still the prior"
_ALWAYS: Final = (
    (marked("the drag of the gear"), ("gear_area",)),
    (marked("the drag of the flaps"), ("flap_area",)),
    (marked("the stall speeds"), ("cl_max", "cl_gain")),
)
_UP: Final = (
    (marked("how long the gear takes to come up"), ("gear_up_time",)),
    (marked("how long the flaps take to come up"), ("flap_up_time",)),
)
_OUT: Final = (
    (marked("how long the gear takes to go down"), ("gear_down_time",)),
    (marked("how long the flaps take to go down"), ("flap_down_time",)),
)


def beliefs_sentence(verdicts: Mapping[str, str], situation: Situation) -> str:
    """Say which of the quantities a comparison of techniques hangs on were never flown, or nothing where all were.

    Args:
        verdicts: for each parameter of the airplane whether it was measured, sharpened, or is still the prior, as
            :class:`wringout.estimate.posterior.Learned` says it.
        situation: what is flown; it decides which way the devices go.
    """
    clean = situation.start_gear <= 0.0 and situation.start_flap_rad <= 0.0
    there = [(words, [k for k in keys if k in verdicts]) for words, keys in (*_ALWAYS, *(_OUT if clean else _UP))]
    hangs_on = [(words, known) for words, known in there if known]
    believed = [tr(words) for words, known in hangs_on if all(verdicts[key] == STILL_BELIEVED for key in known)]
    if not believed:
        return ""
    whole = marked(
        "This rests on what was believed before flying, not on what was flown: no run in use measures {quantities}."
    )
    part = marked(
        "In part this rests on what was believed before flying, not on what was flown: no run in use measures "
        "{quantities}."
    )
    return tr(whole if len(believed) == len(hangs_on) else part, quantities=listed(believed))
