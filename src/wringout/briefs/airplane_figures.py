"""The key figures of an airplane file, in the words its owner wrote."""

from __future__ import annotations

from dataclasses import replace

from wringout.airplane.document import AirplaneDocument, FlapSection
from wringout.briefs.content import KeyFigure

_FILE = "airplane file"


def airplane_figures(document: AirplaneDocument) -> tuple[KeyFigure, ...]:
    """Return geometry, power, settings, travel and limits of an airplane, values as written in its file."""
    geometry, power, limits = document.geometry, document.propulsion, document.limits
    travel = document.flap_travel
    out = [
        KeyFigure("Wing area, span", f"{geometry.wing_area}, {geometry.span}", _FILE),
        KeyFigure("Propeller", f"{power.propeller}, {power.diameter}", _FILE),
        KeyFigure("Rated power", str(power.rated_power), _FILE),
        *_clean_drag(document),
        *(_flap(flap) for flap in document.flaps),
        KeyFigure("Flap travel, down and up", f"{travel.down_time}, {travel.up_time}", _FILE),
        *_gear(document),
        KeyFigure("Maximum weight", str(limits.max_weight), _FILE),
    ]
    if limits.never_exceed is not None:
        out.append(KeyFigure("Never exceed, VNE", str(limits.never_exceed), _FILE))
    if limits.maneuvering is not None:
        out.append(KeyFigure("Maneuvering, VA", str(limits.maneuvering), _FILE))
    return tuple(replace(figure, value=_typeset(figure.value)) for figure in out)


def _typeset(value: str) -> str:
    """Return a value with its unit as it is printed: ft², m², degrees as a sign."""
    return value.replace("ft2", "ft²").replace("m2", "m²").replace(" deg", "°")


def _clean_drag(document: AirplaneDocument) -> list[KeyFigure]:
    drag = document.drag
    if drag.best_glide is not None:
        glide = drag.best_glide
        return [KeyFigure("Best glide, believed", f"{glide.ratio} at {glide.speed}, {glide.weight}", _FILE)]
    value = f"{drag.clean_area}" + (f", span efficiency {drag.span_efficiency}" if drag.span_efficiency else "")
    return [KeyFigure("Clean drag area, believed", value, _FILE)]


def _flap(flap: FlapSection) -> KeyFigure:
    parts = [str(flap.angle)]
    if flap.stall_speed is not None:
        parts.append(f"stall {flap.stall_speed}")
    if flap.limit_speed is not None:
        parts.append(f"VFE {flap.limit_speed}")
    return KeyFigure(f"Flaps {flap.name}", ", ".join(parts), _FILE)


def _gear(document: AirplaneDocument) -> list[KeyFigure]:
    gear = document.gear
    if gear is None:
        return [KeyFigure("Gear", "fixed", _FILE)]
    out = [KeyFigure("Gear travel, down and up", f"{gear.down_time}, {gear.up_time}", _FILE)]
    named = [("operate", gear.operate_limit), ("retract", gear.retract_limit), ("extended", gear.extended_limit)]
    said = [f"{name} {limit}" for name, limit in named if limit is not None]
    return [*out, KeyFigure("Gear limit speeds", ", ".join(said), _FILE)] if said else out
