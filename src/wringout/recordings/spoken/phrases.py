"""What is said in a cockpit, as phrases a speech recogniser is prepared with: speeds, marks, and the talk around them.

A recogniser that expects all of English hears "well no eight" for "one oh eight". Prepared with these phrases alone it
expects calls, yet knows enough other words ("heading", "altimeter", "gallons") not to hear every sentence as a speed.
The phrases are common practice in cockpits and on the radio (no source); places and callsigns are invented.
"""

from __future__ import annotations

import numpy as np

LOWEST_KT, HIGHEST_KT = 30, 200
SEED = 20_270_611
"""Draws the numbers in the talk: fixed, so that the same audio is always heard alike."""
MARKS_EACH, TALK_EACH, SMALL_TALK_EACH = 25, 40, 6
"""How often each mark, each kind of other number and each line of small talk stands beside the speeds."""

_UNITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_TEENS = (
    "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")

MARKS = (
    "gear down", "gear up", "gear coming down", "gear coming up", "gear moving", "gear down and locked",
    "gear up and locked", "gear is down", "gear is up", "three green", "down and locked", "flaps full", "full flaps",
    "flaps up", "flaps half", "half flaps", "flaps moving", "flaps coming down", "flaps coming up", "flaps stopped",
    "flaps ten", "flaps twenty", "flaps thirty", "flaps forty", "flaps approach", "flaps one notch",
    "flaps two notches", "stable", "steady", "settled", "power set", "throttle idle",
    "power idle", "full power",
)  # fmt: skip
"""Words of marks, as `wringout.recordings.marks` understands them."""

_AROUND = ("{} knots", "airspeed {}", "{} stable", "stable at {}", "still {}", "now {}", "speed {}", "{} miles an hour")
_TALK = (
    "heading {3}", "turn right heading {3}", "turn left heading {3}", "fly heading {3}", "runway {2}",
    "altimeter {3} {1}", "contact approach on one {2} point {1}", "contact tower one {2} point {1}",
    "squawk {3} {1}", "{1} thousand {1} hundred feet", "{1} thousand feet", "maintain {1} thousand {1} hundred",
    "passing {1} thousand", "passing {1} thousand {1} hundred", "climb to {1} thousand", "descend to {1} thousand",
    "{tens} inches", "twenty {1} inches and twenty {1} hundred", "twenty {1} hundred", "fuel {tens} gallons",
    "{tens} gallons left", "temperature {tens} degrees", "plus {1} degrees", "{1} miles", "{tens} miles",
    "{1} o'clock {1} miles", "trainer {2}", "bramble tower trainer {2}", "trainer {2} roger",
    "wind {3} at {1}", "slowing to {speed}", "that cost us {tens} knots", "that took {1} seconds",
    "the limit is {speed}", "do not go below {speed}", "we want {speed}", "about {speed}", "{tens} minutes",
    "information {1}", "number {1}", "point {1}", "run {1}", "vertical speed {1} hundred", "{tens} hundred feet",
    "the manual says {speed}", "next is {speed}", "climb back to {speed}", "fuel flow {tens}", "{tens} percent",
)  # fmt: skip
_SMALL_TALK = (
    "okay", "okay ready", "okay here we go", "the camera is running", "is the camera on", "did you see that",
    "what was that", "that was nice", "nice and smooth today", "a little bumpy here", "let me write that down",
    "say that again", "i have it", "you have it", "looking for traffic", "traffic in sight", "no traffic",
    "how does it feel", "it feels heavy", "she is slowing down", "hold it there", "hold the altitude",
    "hold the nose up", "watch the altitude", "we are a little high", "we are a little low", "keep it level",
    "back on the power", "a little more power", "mixture is rich", "the lights are out", "lights are on",
    "horn", "there is the horn", "buffet", "it broke", "there it goes", "recovering", "nose down", "next one",
    "let us do that again", "one more time", "that is it", "we go home now", "request the practice area",
    "cleared for the approach", "good day", "thank you", "roger", "negative", "affirm", "stand by",
    "the gear handle", "do not touch the flaps yet", "put the gear down next", "when the gear is down",
    "before the flaps", "should be faster", "i think so", "yes", "no", "ready", "mark", "clear left", "clear right",
    "turning left", "turning right", "frequency change approved", "radar contact", "airport in sight",
    "final approach", "entering downwind", "on final", "and the", "of the", "to the", "it is", "we have", "this is",
)  # fmt: skip


def phrases() -> tuple[str, ...]:
    """Return all phrases, each as often as it should count; the same at every call."""
    rng = np.random.default_rng(SEED)
    found: list[str] = []
    for speed in range(LOWEST_KT, HIGHEST_KT):
        forms = spoken_forms(speed)
        found += [*forms, *forms]
        found += [around.format(forms[(speed + i) % len(forms)]) for i, around in enumerate(_AROUND)]
    found += MARKS * MARKS_EACH
    found += [_filled(pattern, rng) for pattern in _TALK * TALK_EACH]
    found += _SMALL_TALK * SMALL_TALK_EACH
    return tuple(found)


def spoken_forms(speed: int) -> tuple[str, ...]:
    """Return the ways a speed of 1 to 999 is called, the likeliest first.

    >>> spoken_forms(108)
    ('one hundred eight', 'one hundred and eight', 'one zero eight', 'one oh eight')
    """
    digits = " ".join(_UNITS[int(digit)] for digit in str(speed))
    hundreds, rest = divmod(speed, 100)
    if not hundreds:
        return (_below_hundred(rest), digits)
    large = f"{_UNITS[hundreds]} hundred"
    if not rest:
        return (large, digits)
    short = f"{_UNITS[hundreds]} {_below_hundred(rest) if rest >= 10 else f'oh {_UNITS[rest]}'}"
    return (f"{large} {_below_hundred(rest)}", f"{large} and {_below_hundred(rest)}", digits, short)


def _below_hundred(number: int) -> str:
    if number < 10:
        return _UNITS[number]
    if number < 20:
        return _TEENS[number - 10]
    return f"{_TENS[number // 10]} {_UNITS[number % 10] if number % 10 else ''}".strip()


def _filled(pattern: str, rng: np.random.Generator) -> str:
    """Return a pattern with numbers drawn for its places."""
    out = pattern
    for count in (1, 2, 3):
        place = f"{{{count}}}"
        while place in out:
            digits = " ".join(_UNITS[int(i)] for i in rng.integers(0, 10, count))
            out = out.replace(place, digits, 1)
    forms = spoken_forms(int(rng.integers(50, 150)))
    out = out.replace("{speed}", forms[int(rng.integers(len(forms)))])
    return out.replace("{tens}", _below_hundred(int(rng.integers(10, 60))))
