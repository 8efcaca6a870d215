"""The airplane before any test: from the figures a flight manual prints to a belief about every parameter.

Three steps. The printed glide, stall speeds and sizes give beliefs by textbook relations, with honest widths. The
printed climbs and cruises then tighten what they speak of: polar, power, propeller. And every figure that can be held
against another one is, so that a user learns which figures contradict each other before leaning on them.

The answer is an ordinary airplane file, which may be edited and replaced by better knowledge line by line.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import tomli_w

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.distribution import Prior
from wringout.airplane.document import FORMAT, AirplaneDocument
from wringout.airplane.from_document import airplane_from_document
from wringout.airplane.handbook_checks import (
    GLIDE_RATIO_SHARE,
    GLIDE_SPEED_SHARE,
    Check,
    checks_of,
)
from wringout.airplane.handbook_document import HandbookDocument, parse_handbook
from wringout.airplane.handbook_figures import Figures, figures_of
from wringout.airplane.handbook_performance import Updated, updated
from wringout.airplane.handbook_relations import (
    CLEAN_COEFFICIENT,
    flap_area_belief,
    gear_area_belief,
    polar_without_propeller,
    propeller_drag_area,
)
from wringout.units import from_si

OWN_SHARES = {"glide_ratio": 0.04, "clean_area": 0.08, "disk_efficiency": 0.02, "rated_power": 0.02}
"""How far this very airplane may be from the new one the handbook was flown with, relative (judged, no source)."""
MOST_EFFICIENCY = 0.98
_FIELDS = {
    "glide_ratio": ("drag", "ratio", ""),
    "glide_speed": ("drag", "speed", "kt"),
    "clean_area": ("drag", "clean_area", "ft2"),
    "span_efficiency": ("drag", "span_efficiency", ""),
    "clean_slope": ("drag", "clean_slope", "ft2"),
    "efficiency_slope": ("propulsion", "efficiency_slope", ""),
    "thrust_bend": ("propulsion", "thrust_bend", ""),
    "disk_efficiency": ("propulsion", "disk_efficiency", ""),
    "rated_power": ("propulsion", "rated_power", "hp"),
}


@dataclass(frozen=True, slots=True)
class HandbookReading:
    """What a handbook's figures say.

    Attributes:
        document: an airplane file that holds them as beliefs.
        beliefs: the same in SI.
        checks: every comparison between figures, worst first.
        notes: a sentence on where each group of beliefs comes from.
    """

    document: AirplaneDocument
    beliefs: Beliefs
    checks: tuple[Check, ...]
    notes: tuple[str, ...]

    @property
    def contradictions(self) -> tuple[Check, ...]:
        """The checks that fail, worst first."""
        return tuple(check for check in self.checks if check.contradicts)


def read_handbook(text: str, name: str = "handbook.toml") -> HandbookReading:
    """Return the reading of a handbook file.

    Raises:
        BadInputError: naming file and field, for anything that cannot be read or used.
    """
    return reading_of(parse_handbook(text, name), name)


def beliefs_from_handbook(text: str, name: str = "handbook.toml") -> Beliefs:
    """Return what to believe of an airplane from its handbook file alone; raises as `read_handbook`."""
    return read_handbook(text, name).beliefs


def reading_of(handbook: HandbookDocument, name: str = "handbook.toml") -> HandbookReading:
    """Return the reading of a checked handbook document; raises BadInputError naming file and field."""
    bare = airplane_from_document(_document(handbook, _bare_sections()), name)
    figures = figures_of(handbook, bare.instrument.position_error, name)
    sections = _textbook_sections(handbook, figures)
    first = airplane_from_document(_document(handbook, sections), name)
    found = updated(first, figures.points)
    document = _document(handbook, _moved(sections, first, found))
    return HandbookReading(
        document, airplane_from_document(document, name), checks_of(figures, first), _notes(figures, found)
    )


def airplane_toml(reading: HandbookReading) -> str:
    """Return the airplane file of a reading as TOML text, with its notes and contradictions as comments.

    What the handbook leaves open is left out, so that nothing judged is taken for something stated.
    """
    lines = [f"# {note}" for note in reading.notes]
    lines += [f"# Contradiction: {check.sentence}" for check in reading.contradictions]
    return "\n".join(lines) + "\n" + tomli_w.dumps(reading.document.model_dump(exclude_none=True, exclude_unset=True))


def _shown(value_si: float, sd_si: float, unit: str) -> str:
    """Return a belief as people write it in an airplane file."""
    factor = from_si(1.0, unit) if unit else 1.0
    return f"{factor * value_si:.4g} ± {factor * sd_si:.2g} {unit}".rstrip()


def _prior_text(prior: Prior, unit: str) -> str:
    return _shown(prior.value, prior.sd, unit)


def _bare_sections() -> dict[str, Any]:
    """Return the least an airplane needs, to read its airspeed calibration."""
    return {"drag": {"clean_area": "4 ± 2 ft2"}, "flaps": {}, "stalls": {}, "propulsion": {}}


def _textbook_sections(handbook: HandbookDocument, figures: Figures) -> dict[str, Any]:
    """Return drag, flaps and stall speeds as beliefs from the glide, the stalls and the textbook."""
    drag: dict[str, Any] = _clean_drag(figures)
    if figures.retractable:
        drag["gear_area"] = _prior_text(gear_area_belief(figures.max_mass_kg, figures.wing_area_m2), "ft2")
    flaps = {}
    for flap, angle in zip(handbook.flaps, figures.flap_angles_rad, strict=True):
        area = flap_area_belief(
            figures.flap_kind, figures.flap_chord_share, figures.flap_area_share, angle, figures.wing_area_m2
        )
        flaps[flap.name] = _prior_text(area, "ft2")
    stalls = {stall.setting: _shown(stall.speed_mps, stall.sd_mps, "kt") for stall in figures.stalls}
    return {"drag": drag, "flaps": flaps, "stalls": stalls, "propulsion": {}}


def _clean_drag(figures: Figures) -> dict[str, Any]:
    """Return the clean polar: from the printed glide without its propeller, else typical and wide."""
    glide = figures.glide
    if glide is None:
        usual, spread = CLEAN_COEFFICIENT[figures.retractable]
        wing = figures.wing_area_m2
        return {"clean_area": _shown(usual * wing, spread * wing, "ft2")}
    area, sd = propeller_drag_area(glide.propeller, figures.disk_area_m2)
    ratio, speed, clean, _ = polar_without_propeller(glide.ratio, glide.speed_mps, glide.mass_kg, figures.span_m, area)
    doubt = sd / clean  # of the clean area, which the ratio follows with the power 1/2 and the speed with 1/4
    return {
        "best_glide": {
            "ratio": _shown(ratio, ratio * math.hypot(GLIDE_RATIO_SHARE, 0.5 * doubt), ""),
            "speed": _shown(speed, speed * math.hypot(GLIDE_SPEED_SHARE, 0.25 * doubt), "kt"),
            "weight": f"{from_si(glide.mass_kg, 'lb'):.6g} lb",
        }
    }


def _moved(sections: Mapping[str, Any], first: Beliefs, found: Updated) -> dict[str, Any]:
    """Return the sections with the beliefs that printed climbs and cruises leave, for an airplane of its own."""
    out = {key: dict(value) for key, value in sections.items()}
    for key, z, sd in zip(found.keys, found.z, found.sd, strict=True):
        prior = first.parameters[first.index(key)].prior
        value = prior.from_latent(float(z))
        if prior.kind == "lognormal":
            width = value * math.hypot(prior.log_sd * float(sd), OWN_SHARES.get(key, 0.0))
        else:
            width = prior.sd * float(sd)
        if key in ("disk_efficiency", "span_efficiency"):
            value = min(value, MOST_EFFICIENCY)
        section, field, unit = _FIELDS[key]
        place = out[section].setdefault("best_glide", {}) if key.startswith("glide_") else out[section]
        place[field] = _shown(value, width, unit)
    return out


def _document(handbook: HandbookDocument, sections: Mapping[str, Any]) -> AirplaneDocument:
    """Return the airplane document of a handbook with the given beliefs in it."""
    stalls = sections["stalls"]
    raw: dict[str, Any] = {
        "format": FORMAT,
        "name": handbook.name,
        "invented": handbook.invented,
        "source": handbook.source,
        "geometry": handbook.geometry,
        "propulsion": {**handbook.propulsion.model_dump(), **sections["propulsion"]},
        "drag": sections["drag"],
        "stall_speed_clean": stalls.get("up"),
        "flaps": [
            {
                "name": flap.name,
                "angle": flap.angle,
                "area": sections["flaps"].get(flap.name),
                "stall_speed": stalls.get(flap.name),
                "limit_speed": flap.limit_speed,
            }
            for flap in handbook.flaps
        ],
        "flap_travel": handbook.flap_travel,
        "gear": handbook.gear,
        "limits": handbook.limits,
        "instrument": {"position_error": handbook.position_error},
    }
    return AirplaneDocument.model_validate(raw)


def _notes(figures: Figures, found: Updated) -> tuple[str, ...]:
    said = ["Beliefs from a handbook's figures, before any test; widths are one standard deviation."]
    if figures.glide is None:
        said.append("Clean drag: typical of such airplanes, wide, since no best glide is printed.")
    else:
        state = figures.glide.propeller
        less = "" if state == "zero thrust" else f", less the drag of its {state} propeller"
        said.append(f"Clean drag: the printed best glide{less}.")
    if figures.points:
        climbs = sum(point.power_w is None for point in figures.points)
        said.append(
            f"Polar, power and propeller: fitted to the printed climbs ({climbs}) and cruises "
            f"({len(figures.points) - climbs}) as well."
        )
    if found.tension > 1.0:
        said.append(
            f"The climbs and cruises disagree with the rest (chi-square {found.tension**2:.1f} per point), so these "
            "beliefs are widened by about as far as they were moved."
        )
    if figures.retractable:
        said.append("Gear: textbook formula times 2.2, as measured on a light retractable.")
    said.append(f"Flaps ({figures.flap_kind}): textbook formula times 1.5, as measured on a light airplane; wide.")
    calibrated = all(stall.sd_mps < 0.03 * stall.speed_mps for stall in figures.stalls)
    said.append(
        "CLmax: the printed stall speeds at maximum weight"
        + ("." if calibrated else ", with room for the position error, since they are indicated.")
    )
    return tuple(said)
