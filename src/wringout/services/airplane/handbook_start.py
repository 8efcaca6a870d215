"""An airplane nobody has tested: its handbook file read, and the airplane file that follows from it."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from wringout.airplane.handbook import HandbookReading, airplane_toml, read_handbook
from wringout.airplane.handbook_checks import Check
from wringout.errors import BadInputError, StoreError
from wringout.services.airplane.airplanes import decoded
from wringout.services.kept_numbers import number, shown

Json = dict[str, Any]
STARTER = """format = "wringout handbook, version 1"
name = "Quillback 230 (invented)"
invented = true
source = "an invented manual: put your own airplane's figures in the place of these"
airspeeds = "indicated"

[geometry]
wing_area = "174 ft2"
span = "33.5 ft"

[propulsion]
propeller = "constant speed"
diameter = "76 in"
rated_power = "230 hp"

[stalls]
clean = "60 kt"
weight = "3200 lb"

[[flaps]]
name = "full"
angle = "40 deg"
stall_speed = "52 kt"
limit_speed = "105 kt"

[glide]
ratio = "9.4"
speed = "88 kt"
weight = "3200 lb"
propeller = "windmilling"

[[climb]]
altitude = "0 ft"
rate = "1050 ft/min"
speed = "90 kt"

[gear]
operate_limit = "125 kt"
retract_limit = "110 kt"
extended_limit = "140 kt"

[limits]
max_weight = "3200 lb"
never_exceed = "190 kt"
maneuvering = "118 kt"
"""
"""A handbook file to begin from; the example of docs/handbook.md, shortened. All of it is invented."""


def handbook_reading(data: bytes, name: str) -> HandbookReading:
    """Read the bytes of a handbook file.

    Raises:
        BadInputError: it is too large, empty, not UTF-8, or no handbook; the sentence names the field.
    """
    return read_handbook(decoded(data, name, "a handbook file as docs/handbook.md shows"), name)


def write_airplane_file(reading: HandbookReading, path: Path) -> None:
    """Write the airplane file of a reading, where there is none yet.

    Raises:
        BadInputError: there is a file of that name already.
        StoreError: it cannot be written.
    """
    try:
        with path.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(airplane_toml(reading))
    except FileExistsError:
        raise BadInputError("there is a file of this name already", str(path), "choose another name") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise StoreError(
            f"the airplane file could not be written to '{path}' ({reason})", advice="choose another place"
        ) from error


def handbook_document(reading: HandbookReading) -> Json:
    """Return a reading as a document; ``sigma`` is null where figures that are exact contradict each other."""
    return {
        "name": reading.beliefs.name,
        "invented": reading.beliefs.invented,
        "contradictions": [_check(check) for check in reading.contradictions],
        "checks": [_check(check) for check in reading.checks],
        "notes": list(reading.notes),
        "parameters": [
            {
                "key": p.key,
                "label": p.label,
                "unit": p.display_unit,
                "value": shown(p.prior.value, p.display_unit),
                "interval_95": [shown(x, p.display_unit) for x in p.prior.interval()],
                "source": p.prior.source,
            }
            for p in reading.beliefs.parameters
        ],
        "toml": airplane_toml(reading),
    }


def _check(check: Check) -> Json:
    return {
        "key": check.key,
        "sigma": number(check.sigma) if math.isfinite(check.sigma) else None,
        "sentence": check.sentence,
    }
