"""Weight at the run from what was loaded and burned, and the centre of gravity against the airplane's envelope."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from wringout.advice import set_up_word
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.limits import Limits
from wringout.airplane.loading import Balance, Loading, balance
from wringout.airplane.quantity import parse_measured
from wringout.errors import BadInputError
from wringout.recordings.types import Recording
from wringout.services.flights.fuel_channels import FuelChannels, at_start_kg, burned_by_channels
from wringout.typed_quantity import parse_quantity
from wringout.units import INCH, POUND, US_GALLON, find_unit

USUAL_FUEL_KGM3 = 6.0 * POUND / US_GALLON
"""Density of aviation gasoline, 6 lb to the gallon (common practice, no source), where the airplane file says none."""

WEIGHT_WORDS = ("weight", "start weight", "load", "fuel", "fuel burned", "fuel flow", "since start")


@dataclass(frozen=True, slots=True)
class Weighing:
    """The weight at a run.

    Attributes:
        mass_kg: None when nothing is said of the weight.
        basis: how it was found, in words; "" when it was stated.
        balance: weight and centre of gravity at the run, when the loading was stated.
        notices: sentences on what is outside a limit or was not used.
    """

    mass_kg: float | None
    basis: str
    balance: Balance | None
    notices: tuple[str, ...]


def weigh(
    words: Mapping[str, str], recording: Recording, beliefs: Beliefs, name: str, whole: Recording | None = None
) -> Weighing:
    """Find the weight at a run from its set-up words.

    ``weight`` is taken as it stands. Otherwise the start is ``start weight``, or ``load`` ("front seats 340 lb; baggage
    20 lb") with ``fuel`` (weight or volume) on the airplane's weighed stations; and from it goes ``fuel burned``
    (weight or volume), or ``fuel flow`` times ``since start``, or what the recording's fuel channels show: used,
    remaining, or the flow summed from the first row on. ``whole`` is the recording the run was cut from.

    Raises:
        BadInputError: a word cannot be read, names no station, or the fuel burned is missing.
    """
    loading = beliefs.loading
    density = USUAL_FUEL_KGM3 if loading is None else loading.fuel_density_kgm3
    if "weight" in words:
        mass, _ = parse_measured(words["weight"], "mass", f"{name}, weight", "2,900 lb")
        unused = [word for word in WEIGHT_WORDS[1:] if word in words]
        said = (f"The stated weight is used; {', '.join(unused)} are not.",) if unused else ()
        return Weighing(mass, "", None, said + _too_heavy(mass, beliefs.limits))
    if not {"start weight", "load", "fuel"} & set(words):
        return Weighing(None, "", None, ())
    channels = FuelChannels(recording, whole or recording, density)
    words = dict(words)
    if "start weight" not in words and "fuel" not in words and (on_board := at_start_kg(channels)) is not None:
        words["fuel"] = f"{on_board / POUND:.6f} lb"
    burned, burned_words = _burned(words, channels, name)
    if "start weight" in words:
        start, _ = parse_measured(words["start weight"], "mass", f"{name}, start weight", "3,000 lb")
        return _after_burn(start, burned, f"{start / POUND:,.0f} lb at the start", burned_words, beliefs, name)
    return _from_stations(words, burned, burned_words, beliefs, name)


def _after_burn(start: float, burned: float, start_words: str, burned_words: str, b: Beliefs, name: str) -> Weighing:
    if burned >= start:
        raise BadInputError(
            f"{burned / POUND:,.0f} lb of fuel burned is more than the start weight", f"{name}, fuel burned", "check it"
        )
    mass = start - burned
    return Weighing(mass, f"{start_words}, less {burned_words}", None, _too_heavy(mass, b.limits))


def _from_stations(words: Mapping[str, str], burned: float, burned_words: str, b: Beliefs, name: str) -> Weighing:
    loading = b.loading
    if loading is None:
        raise BadInputError(
            "the airplane file has no loading section",
            f"{name}, load",
            f"{set_up_word('start weight: 3,000 lb')} instead, or add [loading] to the airplane",
        )
    if "fuel" not in words:
        raise BadInputError("the fuel at the start is missing", f"{name}, fuel", set_up_word("fuel: 40 gal"))
    loads = _loads(words.get("load", ""), loading, name)
    fuel = fuel_mass_kg(words["fuel"], loading.fuel_density_kgm3, f"{name}, fuel")
    if burned > fuel:
        raise BadInputError("more fuel is burned than was loaded", f"{name}, fuel burned", "check both")
    at_start = balance(loading, loads, fuel / loading.fuel_density_kgm3)
    at_run = balance(loading, loads, (fuel - burned) / loading.fuel_density_kgm3)
    basis = f"{at_start.mass_kg / POUND:,.0f} lb loaded, less {burned_words}"
    notices = [*_too_heavy(at_run.mass_kg, b.limits)]
    for moment, found in (("at the start", at_start), ("at the run", at_run)):
        if found.inside is False:
            notices.append(
                f"The centre of gravity {moment}, {found.arm_m / INCH:.1f} in at {found.mass_kg / POUND:,.0f} lb, is "
                "outside the envelope of the airplane file."
            )
    return Weighing(at_run.mass_kg, basis, at_run, tuple(notices))


def _too_heavy(mass_kg: float, limits: Limits) -> tuple[str, ...]:
    if mass_kg <= limits.max_mass_kg * (1.0 + 1e-9):
        return ()
    return (
        f"{mass_kg / POUND:,.0f} lb is above the maximum weight of {limits.max_mass_kg / POUND:,.0f} lb: a limit "
        "exceedance; the run is still reduced.",
    )


def fuel_mass_kg(text: str, density_kgm3: float, where: str) -> float:
    """Return a quantity of fuel as mass, kg, from a weight ("48 lb") or a volume ("8 gal").

    Raises:
        BadInputError: it is neither, or negative.
    """
    unit = find_unit(re.sub(r"^[\s\d.,+-]+", "", text))
    if unit is not None and unit.dimension == "volume":
        found = parse_quantity(text, "volume", where=where) * density_kgm3
    else:
        found = parse_measured(text, "mass", where, "48 lb, or 8 gal")[0]
    if found < 0.0:
        raise BadInputError(f"{text!r} is negative", where, "write for example 8 gal")
    return found


def _loads(text: str, loading: Loading, name: str) -> dict[str, float]:
    """Return the mass on each station: as the airplane file has it, unless ``text`` says otherwise."""
    loads = {station.name: station.mass_kg for station in loading.stations}
    known = {station.name.lower(): station.name for station in loading.stations}
    for part in filter(None, (piece.strip() for piece in text.split(";"))):
        found = re.match(r"^(.*?)[\s:]+([\d.,]+\s*\D*)$", part)
        station = known.get(found.group(1).strip().lower()) if found else None
        if found is None or station is None:
            raise BadInputError(
                f"{part!r} names no station of the airplane",
                f"{name}, load",
                f"write for example {next(iter(known.values()), 'front seats')} 340 lb; stations are "
                f"{', '.join(known.values()) or 'missing in the airplane file'}",
            )
        loads[station] = parse_measured(found.group(2), "mass", f"{name}, load, {station}", "340 lb")[0]
    return loads


def _burned(words: Mapping[str, str], channels: FuelChannels, name: str) -> tuple[float, str]:
    """Return the fuel burned up to the run, kg, and how it is known."""
    density = channels.density_kgm3
    if "fuel burned" in words:
        found = fuel_mass_kg(words["fuel burned"], density, f"{name}, fuel burned")
        return found, f"{found / POUND:.0f} lb of fuel burned"
    if "fuel flow" in words:
        flow = _flow_kgps(words["fuel flow"], density, f"{name}, fuel flow")
        elapsed = _elapsed_s(words, name)
        return flow * elapsed, f"{flow * elapsed / POUND:.0f} lb burned in {elapsed / 60.0:.0f} min"
    at_start = fuel_mass_kg(words["fuel"], density, f"{name}, fuel") if "fuel" in words else None
    elapsed_s = _elapsed_s(words, name) if "since start" in words else None
    measured = burned_by_channels(channels, at_start, elapsed_s)
    if measured is None:
        raise BadInputError(
            "the fuel burned before the run is missing",
            f"{name}, fuel burned",
            f"{set_up_word('fuel burned: 8 gal')}, or give both fuel flow (12 gal/h) and since start (0:40:00)",
        )
    return measured[0], f"{measured[0] / POUND:.0f} lb burned by {measured[1]}"


def _flow_kgps(text: str, density: float, where: str) -> float:
    unit = find_unit(re.sub(r"^[\s\d.,+-]+", "", text))
    if unit is not None and unit.dimension == "volume flow":
        return abs(parse_quantity(text, "volume flow", where=where)) * density
    return abs(parse_measured(text, "mass flow", where, "72 lb/h, or 12 gal/h")[0])


def _elapsed_s(words: Mapping[str, str], name: str) -> float:
    where = f"{name}, since start"
    text = words.get("since start", "").strip()
    clock = re.fullmatch(r"(?:(\d+):)?(\d{1,2}):(\d{2})", text)
    if clock:
        hours, minutes, seconds = (int(part or 0) for part in clock.groups())
        return 3600.0 * hours + 60.0 * minutes + seconds
    elapsed = parse_measured(text, "time", where, "40 min")[0]
    if elapsed < 0.0:
        raise BadInputError(f"{text!r} is negative", where, "write for example 40 min")
    return elapsed
