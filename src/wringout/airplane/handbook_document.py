"""The handbook file: the figures a flight manual prints about an airplane that nobody has tested yet, in TOML.

``parse_handbook`` checks every field and says in one sentence what is wrong and what would be right. Figures stay in
the user's words; :mod:`wringout.airplane.handbook_figures` turns them into SI units.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from wringout.airplane.document import (
    FlapTravelSection,
    GearSection,
    GeometrySection,
    LimitsSection,
    PositionErrorSection,
    Quantity,
    Text,
    _Section,
    checked,
)

FORMAT = "wringout handbook, version 1"
PropellerInGlide = Literal["windmilling", "stopped", "feathered", "zero thrust"]
FlapKind = Literal["plain", "split", "slotted", "unknown"]


class EngineSection(_Section):
    """Engine and propeller."""

    propeller: Literal["constant speed", "fixed pitch"]
    diameter: Quantity
    rated_power: Quantity
    aspiration: Literal["normal", "flat rated"] = "normal"


class StallsSection(_Section):
    """The clean stall speed, and the weight all stall speeds are printed for (maximum weight when left out)."""

    clean: Quantity | None = None
    weight: Quantity | None = None


class HandbookFlapSection(_Section):
    """One flap setting beyond up, in order of travel."""

    name: Text
    angle: Quantity
    stall_speed: Quantity | None = None
    limit_speed: Quantity | None = None


class FlapDesignSection(_Section):
    """How the flaps are made: kind, chord as a share of the wing's, and the share of wing area they stand on."""

    kind: FlapKind = "unknown"
    chord_share: Quantity = "0.2"
    area_share: Quantity = "0.5"


class GlideSection(_Section):
    """The printed best glide, and what the propeller did in it."""

    ratio: Quantity
    speed: Quantity
    weight: Quantity | None = None
    propeller: PropellerInGlide = "windmilling"


class ClimbSection(_Section):
    """One printed climb, clean and at full throttle: rate and airspeed at an altitude."""

    altitude: Quantity
    rate: Quantity
    speed: Quantity
    weight: Quantity | None = None
    isa_deviation: Quantity = 0


class CruiseSection(_Section):
    """One printed cruise point: power (``"75 %"`` of rated, or ``"170 hp"``) and true airspeed at an altitude."""

    altitude: Quantity
    power: Quantity
    true_airspeed: Quantity
    weight: Quantity | None = None
    isa_deviation: Quantity = 0


class HandbookDocument(_Section):
    """A whole handbook file. ``airspeeds`` says what the printed airspeeds are, but for true airspeeds in cruise."""

    format: Literal["wringout handbook, version 1"]
    name: Text
    invented: bool = False
    source: str = ""
    airspeeds: Literal["indicated", "calibrated"] = "indicated"
    geometry: GeometrySection
    propulsion: EngineSection
    stalls: StallsSection = StallsSection()
    flaps: list[HandbookFlapSection] = Field(min_length=1, max_length=7)
    flap_design: FlapDesignSection = FlapDesignSection()
    flap_travel: FlapTravelSection = FlapTravelSection()
    glide: GlideSection | None = None
    climb: list[ClimbSection] = Field(default=[], max_length=20)
    cruise: list[CruiseSection] = Field(default=[], max_length=20)
    gear: GearSection | None = None
    limits: LimitsSection
    position_error: list[PositionErrorSection] = Field(default=[])


def parse_handbook(text: str, name: str = "handbook.toml") -> HandbookDocument:
    """Return the checked document of a handbook file.

    Raises BadInputError naming the file and field with one sentence for TOML that cannot be read, a missing or
    unknown field, or a value of the wrong type.
    """
    return checked(HandbookDocument, FORMAT, text, name, "docs/handbook.md")
