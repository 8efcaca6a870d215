"""The words of a planned point as a sentence: what stands before each, what may be chosen, and what is usual."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from wringout.airplane.beliefs import Beliefs
from wringout.planning.document import PointSection


@dataclass(frozen=True, slots=True)
class Phrase:
    """A piece of a sentence and the word that follows it. ``choices`` are (value, shown); none for free text."""

    before: str
    word: str
    value: str
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()


_GEAR, _FLAPS, _DEVICE, _BOTH, _TO = "gear", "flaps", "device", "both", "to"
_Part = tuple[str, str, str, str]
"""Text before, word, hint, and what may be chosen ("" for free text)."""
_STEADY: tuple[_Part, ...] = (("With gear ", "gear", "", _GEAR), (" and flaps ", "flaps", "", _FLAPS))
_ENTRY: tuple[_Part, ...] = (
    ("With gear ", "entry gear", "", _GEAR),
    (" and flaps ", "entry flaps", "", _FLAPS),
    (", enter at ", "entry speed", "110 kt", ""),
    (" at ", "altitude", "7,000 ft", ""),
    ("; then move the ", "device", "", _DEVICE),
    (" ", "to", "", _TO),
)
_SENTENCES: Mapping[str, tuple[_Part, ...]] = {
    "level deceleration": (*_ENTRY, (" and let it settle at ", "settled speed", "as it comes", "")),
    "out and back": (*_ENTRY, (", and back again at ", "settled speed", "85 kt", "")),
    "stall series": (
        ("Stall with gear ", "gear", "", _GEAR),
        (" and flaps ", "flaps", "every setting", ""),
        (", entering at ", "entry speed", "85 kt", ""),
        (" at ", "altitude", "7,000 ft", ""),
    ),
    "transit timing": (
        ("Time the travel of ", "device", "", _BOTH),
        (" at ", "speed", "85 kt", ""),
        (" and ", "altitude", "7,000 ft", ""),
    ),
    "glide": (
        *_STEADY,
        (" and power ", "power", "idle", ""),
        (", glide at ", "speeds", "75, 90, 115 kt", ""),
        (" around ", "altitude", "7,000 ft", ""),
    ),
    "climb": (
        *_STEADY,
        (" and power ", "power", "full", ""),
        (", climb at ", "speeds", "75, 90, 115 kt", ""),
        (" through ", "altitude", "7,000 ft", ""),
    ),
    "level acceleration": (
        *_STEADY,
        (" and power ", "power", "full", ""),
        (", accelerate over ", "speeds", "75, 140 kt", ""),
        (" at ", "altitude", "7,000 ft", ""),
    ),
    "level power": (
        *_STEADY,
        (", hold level at ", "speeds", "80, 100, 120 kt", ""),
        (" with power ", "power", "from least to full", ""),
        (" at ", "altitude", "7,000 ft", ""),
    ),
    "airspeed calibration": (
        *_STEADY,
        (", fly the legs at ", "speed", "90 kt", ""),
        (" and ", "altitude", "7,000 ft", ""),
    ),
    "slow down": (
        ("Slow from ", "from speed", "140 kt", ""),
        (" to ", "to speed", "90 kt", ""),
        (" with gear ", "gear", "", _GEAR),
        (" and flaps ", "flaps", "", _FLAPS),
        (", moved at ", "device speed", "105 kt", ""),
        (", power ", "power", "idle", ""),
        (", at ", "altitude", "7,000 ft", ""),
    ),
    "go around pairs": (
        ("Break off the approach at ", "entry speed", "75 kt", ""),
        (" with flaps ", "entry flaps", "", _FLAPS),
        (", by ", "techniques", "the two techniques", ""),
        (" in turn, at ", "altitude", "7,000 ft", ""),
        (", with a hard deck at ", "hard deck above ground", "4,000 ft", ""),
        (" above ground", "call above deck", "500 ft", ""),
    ),
}
_USUAL = {"device": "gear", "gear": "up", "entry gear": "up", "flaps": "up", "entry flaps": "up"}
EXAMPLES: Mapping[str, Mapping[str, str]] = {
    "level acceleration": {"speeds": "75, 140 kt", "altitude": "7,000 ft"},
    "level power": {"speeds": "80, 100, 120 kt", "altitude": "7,000 ft"},
    "airspeed calibration": {"speed": "90 kt", "altitude": "7,000 ft"},
    "slow down": {"from speed": "140 kt", "to speed": "90 kt", "device speed": "105 kt", "altitude": "7,000 ft"},
    "go around pairs": {"entry speed": "75 kt", "altitude": "7,000 ft"},
}
"""Words a new point starts with where no proposal makes them; to be corrected."""
ENTRY_WORDS = ("entry speed", "speed", "from speed")
"""The word that a point's scale of speeds sets, the first that its sentence has."""


def sentence_of(point: PointSection, beliefs: Beliefs, given: Mapping[str, str]) -> tuple[Phrase, ...]:
    """Return a point as a sentence of words to edit; ``given`` are the words as they stand or were typed."""
    parts = _SENTENCES.get(point.method, ())
    out = []
    for before, word, hint, kind in parts:
        if word.endswith("gear") and not beliefs.retractable:
            continue
        out.append(Phrase(before, word, given.get(word, ""), hint, _choices(kind, word, given, beliefs, point.method)))
    known = {word for _, word, _, _ in parts}
    extra = [Phrase(f"; {word} ", word, text) for word, text in given.items() if word not in known and word]
    if "altitude" not in known and "altitude" not in given:
        extra.append(Phrase("Flown at ", "altitude", "", "7,000 ft"))
    return (*out, *extra)


def _choices(
    kind: str, word: str, given: Mapping[str, str], beliefs: Beliefs, method: str
) -> tuple[tuple[str, str], ...]:
    flaps = [setting.name for setting in beliefs.settings]
    names = {
        _GEAR: ["up", "down"],
        _FLAPS: flaps,
        _DEVICE: ["gear", "flaps"] if beliefs.retractable else ["flaps", "gear"],
        _BOTH: ["gear", "flaps", "gear and flaps"],
        _TO: flaps[1:] if given.get("device", "gear") == "flaps" else ["down"],
    }.get(kind)
    if names is None:
        return ()
    usual = "full" if (word, method) == ("entry flaps", "go around pairs") else _USUAL.get(word, "")
    blank = {_BOTH: "gear and flaps", _TO: "all the way"}.get(kind, usual)
    shown = [("", blank), *((name, name) for name in names if name != blank)]
    value = given.get(word, "")
    if value and value not in {v for v, _ in shown}:
        shown.append((value, value))
    return tuple(shown)


def entry_word(phrases: tuple[Phrase, ...]) -> str:
    """Return the word of a sentence that its scale of speeds sets; "" for none."""
    there = {phrase.word for phrase in phrases}
    return next((word for word in ENTRY_WORDS if word in there), "")
