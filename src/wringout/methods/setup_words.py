"""The words that describe how a run was flown (header lines of a recording, or options of the command line).

Keys are plain words: ``altitude``, ``temperature`` or ``isa deviation``, ``weight``, ``altitude held``, ``device``,
``entry flaps``, ``entry gear``. Each complaint names the recording and the word.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

import numpy as np

from wringout.advice import set_up_word
from wringout.airplane.beliefs import Beliefs, FlapSetting
from wringout.airplane.quantity import parse_measured
from wringout.atmosphere import pressure_altitude_from_setting_m, standard_temperature_k
from wringout.errors import BadInputError
from wringout.methods.types import Conditions
from wringout.recordings.types import Recording
from wringout.units import DEGREE, FOOT

_SAME_WORDS = {
    "oat": "temperature",
    "outside air temperature": "temperature",
    "pressure altitude": "altitude",
    "mass": "weight",
    "gross weight": "weight",
}
"""Other words that people write for a key."""
_GEAR_WORDS = {"up": 0.0, "retracted": 0.0, "down": 1.0, "extended": 1.0, "out": 1.0}


def words_of(recording: Recording, setup: Mapping[str, str]) -> dict[str, str]:
    """Return header words of the recording overlaid with ``setup``; keys lower-case, values stripped.

    Of two words for one key, such as ``oat`` and ``temperature``, the key itself counts.
    """
    return {**_by_key(recording.header), **_by_key(setup)}


def _by_key(words: Mapping[str, str]) -> dict[str, str]:
    given = {key.strip().lower(): value.strip() for key, value in words.items() if value.strip()}
    if "pressure altitude" in given and "altitude" not in given:
        given.pop("altimeter setting", None)  # it is standard pressure already
    for other, key in _SAME_WORDS.items():
        if other in given:
            given.setdefault(key, given[other])
            del given[other]
    return given


def with_columns(words: Mapping[str, str], recording: Recording) -> dict[str, str]:
    """Return the words with altitude and temperature from the recording's own columns, where no word states them.

    The mean over the rows of the recording is taken; GPS altitude, which is no pressure altitude, is not.
    """
    filled = dict(words)
    for stands, channels, unit in (
        (("altitude",), ("pressure_altitude", "altitude"), "m"),
        (("temperature", "isa deviation"), ("oat",), "K"),
    ):
        columns = [recording.channels[name].values for name in channels if name in recording.channels]
        read = next((values for values in columns if np.isfinite(values).any()), None)
        if read is not None and not any(word in filled for word in stands):
            filled[stands[0]] = f"{float(np.nanmean(read)):.6f} {unit}"
            if "pressure_altitude" in recording.channels:
                filled.pop("altimeter setting", None)
    return filled


def quantity(words: Mapping[str, str], key: str, dimension: str, name: str, example: str) -> float:
    """Return a required quantity in SI; raises BadInputError naming the recording and word."""
    if key not in words:
        raise BadInputError(f"the run does not say its {key}", f"{name}, {key}", set_up_word(f"{key}: {example}"))
    return parse_measured(words[key], dimension, f"{name}, {key}", example)[0]


CLOCK_WORD = "clock uncertainty"
"""Header word for how well the clocks of marks and readings agree, one standard deviation."""

CLOCK_MARGIN = 2.0
"""By how many of these readings keep clear of a mark that was made on the other clock (judged)."""


def clock_sd_s(words: Mapping[str, str], name: str) -> float:
    """Return how well marks and readings of a run share a clock, one standard deviation [s]; 0 where nothing is said.

    Raises BadInputError for a word that is no time.
    """
    return quantity(words, CLOCK_WORD, "time", name, "0.4 s") if CLOCK_WORD in words else 0.0


def conditions_of(words: Mapping[str, str], name: str, max_mass_kg: float) -> Conditions:
    """Return air and weight of a run; standard temperature when none is given, altitude held within 50 ft.

    Raises BadInputError for a missing or impossible altitude, temperature or weight.
    """
    altitude = _pressure_altitude_m(words, name)
    mass = quantity(words, "weight", "mass", name, "3000 lb")
    if not 0.2 * max_mass_kg <= mass <= 1.5 * max_mass_kg:
        raise BadInputError(
            f"{words['weight']!r} is not a likely weight for this airplane",
            f"{name}, weight",
            "give the weight at the run, in lb or kg",
        )
    try:
        standard = float(standard_temperature_k(altitude))
    except BadInputError as error:
        raise error.at(f"{name}, altitude") from None
    deviation = 0.0
    if "isa deviation" in words:
        text = re.sub(r"\s*(deg\s*)?[CK]$", "", words["isa deviation"].replace("°", ""), flags=re.IGNORECASE)
        deviation = parse_measured(text, "number", f"{name}, isa deviation", "+10")[0]
    elif "temperature" in words:
        kelvin = quantity(words, "temperature", "temperature", name, "8 C")
        deviation = kelvin - standard
    if abs(deviation) > 50.0:
        seen = standard + deviation - 273.15
        raise BadInputError(
            f"{seen:.0f} C at {altitude / FOOT:.0f} ft is {deviation:+.0f} C from standard",
            f"{name}, temperature",
            "check the temperature, its unit and the altitude",
        )
    band = quantity(words, "altitude held", "length", name, "50 ft") if "altitude held" in words else 50.0 * FOOT
    return Conditions(altitude, deviation, mass, abs(band))


def _pressure_altitude_m(words: Mapping[str, str], name: str) -> float:
    """Return pressure altitude, m: the altitude word, brought to 29.92 inHg where an altimeter setting is stated."""
    altitude = quantity(words, "altitude", "length", name, "7000 ft")
    if "altimeter setting" not in words:
        return altitude
    setting = quantity(words, "altimeter setting", "pressure", name, "30.10 inHg")
    try:
        return float(pressure_altitude_from_setting_m(altitude, setting))
    except BadInputError as error:
        raise error.at(f"{name}, altimeter setting") from None


def flap_setting(text: str, beliefs: Beliefs, where: str) -> FlapSetting:
    """Return the airplane's flap setting meant by a name ("half", "full") or an angle ("20", "20 deg").

    "full" is the last setting and "up" the first whatever the airplane calls them; "half" is the middle one.
    """
    wanted = text.strip().lower().removeprefix("flaps").strip()
    for setting in beliefs.settings:
        if wanted == setting.name.lower():
            return setting
    if wanted in ("full", "landing"):
        return beliefs.settings[-1]
    if wanted in ("half", "mid", "middle") and len(beliefs.settings) > 2:
        return beliefs.settings[len(beliefs.settings) // 2]
    if wanted in ("up", "clean", "0", "retracted"):
        return beliefs.settings[0]
    if notch := re.fullmatch(r"notch (\d)", wanted):
        index = int(notch.group(1))
        if index < len(beliefs.settings):
            return beliefs.settings[index]
    if number := re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?:deg|degrees|°)?", wanted):
        angle = float(number.group(1)) * DEGREE
        best = min(beliefs.settings, key=lambda setting: abs(setting.angle_rad - angle))
        if abs(best.angle_rad - angle) < 0.6 * DEGREE:
            return best
    names = ", ".join(f"{s.name} ({s.angle_rad / DEGREE:.0f} deg)" for s in beliefs.settings)
    raise BadInputError(f"{text!r} is not a flap setting of this airplane", where, f"use one of: {names}")


def gear_position(text: str, where: str) -> float:
    """Return 0.0 for up, 1.0 for down; raises BadInputError otherwise."""
    word = text.strip().lower().removeprefix("gear").strip()
    if word not in _GEAR_WORDS:
        raise BadInputError(f"{text!r} is not a gear position", where, 'write "up" or "down"')
    return _GEAR_WORDS[word]


def block_means(times: np.ndarray, *series: np.ndarray, width_s: float = 2.0) -> list[np.ndarray]:
    """Return times and series averaged over consecutive blocks of ``width_s`` (a dense log is not independent)."""
    block = np.floor((times - times[0]) / width_s).astype(np.int64)
    _, start = np.unique(block, return_index=True)
    counts = np.diff(np.append(start, times.size))
    return [np.add.reduceat(x, start) / counts for x in (times, *series)]
