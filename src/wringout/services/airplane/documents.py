"""An airplane and its limits as JSON documents, in the units of the trade (docs/json.md)."""

from __future__ import annotations

from typing import Any

from wringout.airplane.limits import Limits
from wringout.services.airplane.airplanes import StudyAirplane
from wringout.services.kept_numbers import shown

Json = dict[str, Any]


def airplane_document(found: StudyAirplane) -> Json:
    """Return an airplane: what is believed before its runs, and its limits."""
    beliefs = found.beliefs
    return {
        "name": beliefs.name,
        "invented": beliefs.invented,
        "source": found.document.source,
        "version": found.version.version,
        "put_at": found.version.created_at,
        "is_new": found.is_new,
        "flap_settings": [
            {"name": s.name, "angle": shown(s.angle_rad, "deg"), "unit": "deg"} for s in beliefs.settings
        ],
        "retractable": beliefs.retractable,
        "limits": limits_document(beliefs.limits),
        "parameters": [
            {
                "key": p.key,
                "label": p.label,
                "unit": p.display_unit,
                "value": shown(p.prior.value, p.display_unit),
                "interval_95": [shown(x, p.display_unit) for x in p.prior.interval()],
                "source": p.prior.source,
            }
            for p in beliefs.parameters
        ],
        "toml": found.version.toml,
    }


def limits_document(limits: Limits) -> Json:
    """Return the limits of the airplane's manual; null where it states none."""

    def speed(value: float | None) -> Json | None:
        return None if value is None else {"value": shown(value, "kt"), "unit": "kt"}

    return {
        "never_exceed": speed(limits.never_exceed_mps),
        "maneuvering": speed(limits.maneuvering_mps),
        "gear_operate": speed(limits.gear_operate_mps),
        "gear_retract": speed(limits.gear_retract_mps),
        "gear_extended": speed(limits.gear_extended_mps),
        "flaps_extended": {name: speed(value) for name, value in sorted(limits.flaps_extended_mps.items())},
        "max_weight": {"value": shown(limits.max_mass_kg, "lb"), "unit": "lb"},
    }
