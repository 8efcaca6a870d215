"""Readings and marks proposed from what was said: candidates, each with its line, a score, and the reason for it.

Nothing here is a reading yet. A person says yes or no to each candidate; `services/flights/candidates.py` keeps the
answers and makes a recording of called readings from what was accepted.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from wringout.errors import BadInputError
from wringout.recordings.marks import read_mark
from wringout.recordings.spoken.captions import Cue
from wringout.recordings.spoken.numbers import Token, tokens_of
from wringout.recordings.spoken.talk import FILLERS, UNIT_WORDS, callsigns_of, is_radio, is_talk, other_quantity
from wringout.recordings.types import Event, EventKind
from wringout.units import find_unit, from_si, to_si

LIKELY = 0.5
"""Score from which a candidate is proposed as a yes; the others are shown below them."""

LEAST = 0.1
"""Candidates scored below this are not shown."""

NOTHING = "nothing"
"""The kind of a phrase in which neither a reading nor a mark was found."""

_LOWEST_KT, _HIGHEST_KT = 30.0, 250.0
_TYPED_SPEED = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*([^\d\s]\S*)?")
_SPEED_WORDS = frozenset({"speed", "airspeed", "ias", "kias", "indicated", "indicating"})
_LONGEST_SPREAD_S = 10.0
_NEIGHBOUR_S = 20.0
_ANSWER_S = 12.0  # within this of a radio line a callsign's number alone is an answer
_NEAR_KT, _FAR_KT = 14.0, 30.0
_FASTEST_KT_PER_S = 4.0
_ENGINE = re.compile(r"\b(1[2-9]|2\d|3[0-1]) (?:inches|squared)\b|\bset (1[2-9]|2\d|3[0-1]) and (1[89]|2\d)00\b")
_DISTURBED = re.compile(
    r"\b(dropped|before|not|don't|do not|never|yet|first|gets?|with|limit|is the|max|next time|raise|if|approach is)\b"
)


@dataclass(frozen=True, slots=True)
class Candidate:
    """Something that may have been a reading or a mark.

    Attributes:
        key: names it within its file, "12.1": line of the caption, then a count.
        time_s: when, on the video's clock [s]; within a caption by the place of the words.
        row: 1-based line of the caption's timing.
        said: the caption.
        kind: "reading" or "mark"; "nothing" for what `unmeant` returns.
        value, unit: of a reading, as spoken.
        label: of a mark, its words.
        event: of a mark, its meaning.
        score: 0 to 1, how sure the rules are that it is one.
        why: the reason for the score, in words.
    """

    key: str
    time_s: float
    row: int
    said: str
    kind: str
    value: float
    unit: str
    label: str
    event: Event | None
    score: float
    why: str

    @property
    def is_likely(self) -> bool:
        """Whether it is proposed as a yes."""
        return self.score >= LIKELY


def find_candidates(cues: Sequence[Cue], extra_radio: Iterable[str] = ()) -> tuple[Candidate, ...]:
    """Return what may be readings and marks in captions, in order of time.

    Args:
        cues: captions in order of time.
        extra_radio: words in front of callsigns, besides those learnt from the captions.
    """
    callsigns = callsigns_of([cue.words for cue in cues]) | {word: frozenset() for word in extra_radio}
    own_numbers = frozenset(number for numbers in callsigns.values() for number in numbers)
    radio_s = -1e9
    found: list[Candidate] = []
    unit = _common_unit(cues)
    for cue in cues:
        radio = is_radio(cue.words, cue.speaker, callsigns)
        tokens = tokens_of(cue.words)
        unit = next((UNIT_WORDS[t.text] for t in tokens if t.text in UNIT_WORDS), unit)
        ends = {tokens[0].text, tokens[-1].text} if tokens else set()
        answer = cue.start_s - radio_s <= _ANSWER_S and not ends.isdisjoint(own_numbers)
        radio_s = cue.start_s if radio else radio_s
        radio = radio or answer
        marks, used = _marks(cue, tokens, radio=radio)
        readings = [] if radio and not marks else _readings(cue, tokens, used, unit, radio=radio)
        found += [*readings, *marks]
    found = _numbered(sorted(_with_neighbours(found), key=lambda one: (one.time_s, one.row)))
    return tuple(one for one in found if one.score >= LEAST)


def unmeant(cue: Cue) -> Candidate:
    """Return what stands for a phrase in which no candidate was found, so that a person can say what it was."""
    why = "nothing in it reads like a speed or a mark"
    return Candidate(f"{cue.row}.0", cue.start_s, cue.row, cue.words, NOTHING, float("nan"), "kt", "", None, 0.0, why)


def as_typed(found: Candidate, words: str) -> Candidate:
    """Return a candidate as a person wrote it: a speed ("82", "94 mph") or the words of a mark ("gear down").

    A speed without a unit takes the candidate's own, knots where it has none.

    Raises:
        BadInputError: it is neither, or no speed that is called out in a light airplane.
    """
    number = _TYPED_SPEED.fullmatch(words.strip())
    if number is None:
        event = read_mark(words)
        if event.kind is EventKind.NOTE:
            raise BadInputError(
                f"{words[:60]!r} is neither a speed nor the words of a mark", "what it was",
                'write a speed such as "82 kt", or words such as "gear down", "flaps full" or "stable"',
            )  # fmt: skip
        return replace(found, kind="mark", value=float("nan"), unit="", label=words, event=event, why="as typed")
    unit = number[2] or found.unit or "kt"
    known = find_unit(unit)
    if known is None or known.dimension != "speed":
        raise BadInputError(f"{unit[:20]!r} is no unit of speed", "what it was", 'write "kt", "mph" or "km/h"')
    value = float(number[1].replace(",", "."))
    if not _LOWEST_KT <= from_si(to_si(value, unit), "kt") <= _HIGHEST_KT:
        raise BadInputError(
            f"{value:g} {unit} is no speed that is called out", "what it was",
            f"write a speed from {_LOWEST_KT:g} to {_HIGHEST_KT:g} kt",
        )  # fmt: skip
    return replace(found, kind="reading", value=value, unit=known.symbol, label="", event=None, why="as typed")


def _common_unit(cues: Sequence[Cue]) -> str:
    """Return the unit of speed spoken most, knots where none is."""
    units = [UNIT_WORDS[t.text] for cue in cues for t in tokens_of(cue.words) if t.text in UNIT_WORDS]
    return max(dict.fromkeys(units), key=units.count) if units else "kt"


def _numbered(found: Sequence[Candidate]) -> list[Candidate]:
    counts: dict[int, int] = {}
    out = []
    for one in found:
        counts[one.row] = counts.get(one.row, 0) + 1
        out.append(replace(one, key=f"{one.row}.{counts[one.row]}"))
    return out


def _time(cue: Cue, at: int) -> float:
    """Return when words at a position of a caption were said: its first words at its start."""
    spread = min(cue.end_s - cue.start_s, _LONGEST_SPREAD_S)
    return cue.start_s + spread * at / max(len(cue.words), 1)


def _readings(cue: Cue, tokens: Sequence[Token], used: frozenset[int], unit: str, *, radio: bool) -> list[Candidate]:
    found = []
    for i, token in enumerate(tokens):
        if token.value is None or i in used:
            continue
        judged = _judge(tokens, i, unit)
        if judged is None:
            continue
        score, why = judged
        if radio:
            score, why = 0.05, "radio"
        elif is_talk(cue.words):
            score, why = min(score, 0.3), "talk about speeds, not a reading"
        found.append(
            Candidate("", _time(cue, token.at), cue.row, cue.words, "reading", token.value, unit, "", None, score, why)
        )
    return found


def _judge(tokens: Sequence[Token], i: int, unit: str) -> tuple[float, str] | None:
    """Return the score and the reason of a number as a speed by its own line; None where it cannot be one."""
    token = tokens[i]
    value = token.value
    factor = find_unit(unit)
    if value is None or factor is None or "." in token.text or token.text.startswith("0"):
        return None
    if not _LOWEST_KT <= from_si(to_si(value, unit), "kt") <= _HIGHEST_KT:
        return None
    other = other_quantity(tokens, i)
    if other:
        return 0.1, f"it reads like {other}"
    if any(t.text == "correction" for t in tokens[i + 1 :]):
        return 0.2, "it was corrected in the same breath"
    if _in_a_count(tokens, i):
        return 0.1, "it stands in a row of numbers"
    named = any(t.text in UNIT_WORDS for t in tokens[i + 1 : i + 2]) or any(
        t.text in _SPEED_WORDS for t in tokens[max(i - 3, 0) : i]
    )
    others = sum(1 for t in tokens if t.value is None and not t.is_stop and t.text not in FILLERS)
    score = 0.8 - 0.09 * others + (0.25 if named else 0.0)
    words = "a number said by itself" if not others else f"a number among {others} other words"
    return min(max(score, 0.12), 0.95), f"{words}, with its unit or the word speed" if named else words


def _in_a_count(tokens: Sequence[Token], i: int) -> bool:
    near = [t for t in tokens[max(i - 1, 0) : i + 2] if t.text in {"to", "through", "of", "or"}]
    return bool(near) and sum(t.value is not None for t in tokens) >= 2


def _marks(cue: Cue, tokens: Sequence[Token], *, radio: bool) -> tuple[list[Candidate], frozenset[int]]:
    """Return the marks of a caption and the positions of the numbers that belong to them."""
    found: list[Candidate] = []
    used: set[int] = set()
    talk = is_talk(cue.words) or bool(_DISTURBED.search(cue.words.casefold()))
    for first, last in _clauses(tokens):
        part = tokens[first:last]
        event, label = _event(part)
        if event.kind is EventKind.NOTE:
            continue
        if event.device is not None or event.kind is EventKind.POWER:
            used |= {first + k for k, t in enumerate(part) if t.value is not None and not _has_unit(part, k)}
        if any(one.event is not None and _same(one.event, event) for one in found):
            continue
        others = max(0, len([t for t in part if not t.is_stop]) - 5)
        score, why = max(0.9 - 0.1 * others, 0.15), "the words of a mark"
        if radio:
            score, why = 0.1, "radio"
        elif talk:
            score, why = min(score, 0.3), "talk about a device, not a move of it"
        elif cue.words.rstrip().endswith("?"):
            score, why = min(score, 0.3), "a question"
        at = part[0].at
        found.append(
            Candidate("", _time(cue, at), cue.row, cue.words, "mark", float("nan"), "", label, event, score, why)
        )
    return found, frozenset(used)


def _same(one: Event, other: Event) -> bool:
    return one.kind == other.kind and one.device == other.device and "" in {one.target, other.target, ""}


def _has_unit(part: Sequence[Token], k: int) -> bool:
    return k + 1 < len(part) and part[k + 1].text in UNIT_WORDS


def _clauses(tokens: Sequence[Token]) -> list[tuple[int, int]]:
    """Return the stretches between stops, as positions; "green, green, green" stays one."""
    out: list[tuple[int, int]] = []
    first = 0
    for i, token in enumerate(tokens):
        joint = token.text == "and" and i + 1 < len(tokens) and tokens[i + 1].text in _OPENERS
        if (token.is_stop and not _green(tokens, i)) or token.text == "then" or joint:
            if i > first:
                out.append((first, i))
            first = i + 1
    if first < len(tokens):
        out.append((first, len(tokens)))
    return out


_OPENERS = frozenset({"flaps", "flap", "gear", "power", "throttle", "stable", "steady", "it", "it's", "that", "she"})


def _green(tokens: Sequence[Token], i: int) -> bool:
    return 0 < i < len(tokens) - 1 and tokens[i - 1].text == tokens[i + 1].text == "green"


_GREENS = re.compile(r"\b3 (?=greens?\b|in the green\b)")
"""A phrase of the trade, not a number that was read."""


def _event(part: Sequence[Token]) -> tuple[Event, str]:
    label = _GREENS.sub("three ", " ".join(token.text for token in part if not token.is_stop))
    plain = label.replace("green green green", "three green").replace("dropping", "lowering")
    plain = re.sub(r"\bthree (greens?|in the green)( lights)?\b", "three green", plain)
    if _ENGINE.search(label):
        label = "power " + " ".join(token.text for token in part if token.value is not None)
        return read_mark(label), label
    return read_mark(plain), label


def _with_neighbours(found: Sequence[Candidate]) -> list[Candidate]:
    """Raise the score of readings that go on from others near in time, lower that of those that break with them."""
    sure = [one for one in found if one.kind == "reading" and one.score >= 0.6]
    times = np.array([one.time_s for one in sure])
    speeds = np.array([from_si(to_si(one.value, one.unit), "kt") for one in sure])
    out = []
    for one in found:
        if one.kind != "reading" or one.score < LEAST or one.why == "radio":
            out.append(one)
            continue
        near = (np.abs(times - one.time_s) <= _NEIGHBOUR_S) & np.array([other is not one for other in sure], dtype=bool)
        gaps = np.abs(speeds[near] - from_si(to_si(one.value, one.unit), "kt"))
        broken = gaps > np.maximum(_FAR_KT, _FASTEST_KT_PER_S * np.abs(times[near] - one.time_s))
        talk = "talk" in one.why or "reads like" in one.why
        if gaps.size and float(np.min(gaps)) <= _NEAR_KT and not talk:
            out.append(replace(one, score=min(one.score + 0.15, 0.99), why=one.why + ", in line with its neighbours"))
        elif gaps.size >= 2 and bool(np.all(broken)):
            out.append(replace(one, score=0.5 * one.score, why=one.why + ", far from its neighbours"))
        else:
            out.append(one)
    return out
