"""What surrounds a number in talk: radio, quantities that are no airspeed, and talk about speeds that nobody reads.

Every word here is common practice in cockpits and on the radio, no source. Each rule gives a reason in words, which a
candidate carries, so a person can see why something was set aside.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from wringout.recordings.spoken.numbers import Token, tokens_of

_STATION = (
    r"(tower|approach|departure|center|centre|ground|radio|information|director|radar|unicom|traffic|atis|control)"
)
_RADIO_SPEAKER = re.compile(rf"\b{_STATION}\b|\batc\b", re.IGNORECASE)
_RADIO = re.compile(
    rf"\b[a-z]+ {_STATION}\b(?=,|\s+(trainer|information))|\bsquawk|\brunway\b|\bcleared\b|\bo'clock\b|\bcontact\b"
    r"|\bradar contact\b|\bwind \w+ (zero|\d)|\bwind (calm|\d)|\bsay (again|altitude)|\baltimeter\b|\bqnh\b"
    r"|\bfrequency\b"
    r"|\bdescend and maintain\b|\bmaintain\b|\bturn (left|right)\b|\bvectors?\b|\breport \w+ (miles|final|downwind)"
    r"|\brequest\b|\bsquawking\b|\broger\b|\bwilco\b|\bnegative (contact|traffic)\b|\bgood day\b|\bmiles\b|\binbound\b"
    r"|\bany traffic\b|\ball aircraft\b|\bexpect\b|\bflight level\b|\blooking for\b"
)
_CALLSIGN = re.compile(
    r"\b([a-z]{4,})\s+((?:(?:zero|one|two|three|four|five|six|seven|eight|niner?)\s*){2,4}|\d{2,4})\b"
)
_NOT_CALLSIGNS = frozenset({
    "heading", "runway", "altimeter", "squawk", "wind", "speed", "airspeed", "holding", "course", "right", "left",
    "only", "than", "point", "information", "flaps", "about", "over", "under", "through", "passing", "pressure",
    "power", "airplane", "number", "going", "their", "this", "that", "gear", "from", "still", "again", "break",
    "horn", "call", "calls", "another", "oclock", "contact",
})  # fmt: skip
_TALK = re.compile(
    r"\b(should|would|could|limits?|max|maximum|minimum|manual|says?|said|lost|cost|last (week|time|one)|i think|let's"
    r"|let us|let me|want|next|tops? out|bottom of|top of|best glide|what|how|did|didn't|was|were|slowing to|target"
    r"|climb back|number \d|squared away|my phone|about|between|we (have|had|burned|lost)|that (cost|took)|took|hungry"
    r"|remember|yesterday|for this|with the|we are down to|yes|minus|today)\b|\?"
)
_BEFORE = {
    "a heading or a course": "heading course track radial bearing northbound southbound hdg",
    "a runway": "runway",
    "an altimeter setting": "altimeter qnh qfe",
    "a frequency or a code": "frequency squawk contact channel",
    "an altitude": "altitude passing through maintain level leveling levelling above below climbing_to descending_to fl"
    " height",
    "the wind": "wind gusting",
    "a temperature": "temperature temp oat oil heads plus minus",
    "fuel": "fuel tank mixture",
    "an engine setting": "manifold pressure inches rpm throttle",
    "a number of something": "number page point run item gate bus case",
    "a flap setting": "flap flaps",
    "a descent or a climb": "descent vertical rate sink",
    "a clock time": "time clock",
    "a tolerance": "within",
}
_AFTER = {
    "an altitude or a height": "feet foot ft",
    "fuel": "gallons gallon gal litres liters litre gph quarts",
    "an engine setting": "inches inch rpm squared",
    "an angle or a temperature": "degrees degree",
    "a distance": "miles mile nautical nm km kilometers kilometres",
    "a span of time": "minutes minute seconds second hours hour",
    "a weight": "pounds pound lb lbs kilos",
    "a clock time": "zulu local o'clock",
    "something electric": "volts amps volt",
    "a part of something": "percent of left times people",
    "a climb or a descent": "per",
    "a difference": "low high over under more less slower faster knots_lost",
    "a rate": "knot a",
}
_REJECT_BEFORE = {word: why for why, words in _BEFORE.items() for word in words.split()}
_REJECT_AFTER = {word: why for why, words in _AFTER.items() for word in words.split()}
UNIT_WORDS = {
    "knots": "kt",
    "knot": "kt",
    "kt": "kt",
    "kts": "kt",
    "kias": "kt",
    "mph": "mph",
    "kmh": "km/h",
}
"""Words for units of speed, with the unit."""

FILLERS = frozenset({
    "uh", "um", "er", "okay", "ok", "and", "now", "is", "at", "it", "i", "the", "there", "still", "again", "call",
    "looks", "like", "holding", "hold", "speed", "airspeed", "ias", "kias", "indicated", "indicating", "indicates",
    "knots", "knot", "kts", "kt", "mph", "kmh", "reading", "reads", "read", "stable", "steady", "settled",
    "stabilized", "stabilised", "she", "that", "just", "we", "are", "have", "got", "we're", "i'm", "showing", "shows",
    "a", "he", "alive", "correction", "break", "broke", "horn", "buffet", "mark", "passing", "through", "down",
})  # fmt: skip
"""Words that stand beside a reading and do not make it talk."""


def is_radio_speaker(speaker: str) -> bool:
    """Return whether a caption names a station on the ground as its speaker."""
    return bool(_RADIO_SPEAKER.search(speaker))


def callsigns_of(lines: Sequence[str]) -> dict[str, frozenset[str]]:
    """Return the words in front of callsigns, learnt from lines that are plainly radio, each with its numbers.

    "Trainer four two" said twice gives ``{"trainer": {"42"}}``.
    """
    found: dict[str, list[str]] = {}
    addressed: set[str] = set()
    for line in lines:
        plain = line.casefold()
        if not _RADIO.search(plain):
            continue
        for match in _CALLSIGN.finditer(plain):
            if match.group(1) not in _NOT_CALLSIGNS:
                found.setdefault(match.group(1), []).append(tokens_of(match.group(2))[0].text)
                if match.start() == 0 and plain[match.end() : match.end() + 1] == ",":
                    addressed.add(match.group(1))
    return {word: frozenset(numbers) for word, numbers in found.items() if len(numbers) >= 2 or word in addressed}


def is_radio(line: str, speaker: str, callsigns: Collection[str]) -> bool:
    """Return whether a line is radio: a station speaks, or its words are those of the radio or hold a callsign."""
    plain = line.casefold()
    if is_radio_speaker(speaker) or _RADIO.search(plain):
        return True
    return any(match.group(1) in callsigns for match in _CALLSIGN.finditer(plain))


def is_talk(line: str) -> bool:
    """Return whether a line speaks about speeds or devices rather than reading one or moving one."""
    return bool(_TALK.search(line.casefold()))


def other_quantity(tokens: Sequence[Token], i: int) -> str:
    """Return what else the number at a position is, from the words just before and behind it; "" if nothing says so."""
    following = [token.text for token in tokens[i + 1 : i + 3]]
    if following[:1] == [":"] or (i > 0 and tokens[i - 1].text == ":"):
        return "a clock time"
    if following[:1] and following[0] in UNIT_WORDS:
        return ""
    for back in (1, 2, 3):
        if i - back < 0 or tokens[i - back].is_stop or tokens[i - back].value is not None:
            break
        why = _REJECT_BEFORE.get(tokens[i - back].text)
        if why and not (why == "an altitude" and back > 1):
            return why
    for ahead in (1, 2):
        if i + ahead >= len(tokens) or tokens[i + ahead].is_stop or tokens[i + ahead].value is not None:
            break
        why = _REJECT_AFTER.get(tokens[i + ahead].text)
        if why:
            return why
    return ""
