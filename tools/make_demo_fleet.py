"""Make the files of the invented fleet in src/wringout/services/demo_fleet/: five variants, their register, findings.

Run: ``python tools/make_demo_fleet.py``. Everything is invented: the airplanes, their handbooks, every number. The
findings are drawn from a hidden truth for each variant, with scatter between airplanes and pilots and a reading doubt;
the seed makes them the same every time.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

FLEET = Path(__file__).resolve().parent.parent / "src" / "wringout" / "services" / "demo_fleet"
FAMILY = "Quillback (invented)"
SEED = 20260512
AIRPLANE_SD, PILOT_SD = 0.45, 0.20
"""Scatter of a drag area between airplanes of a variant, and between pilots, ft2."""


@dataclass(frozen=True, slots=True)
class Made:
    """One invented variant: its airplane, and the hidden drag areas its findings are drawn around (ft2)."""

    model: str
    file: str
    power_hp: int
    aspiration: str
    weight_lb: int
    clean_stall_kt: int
    flaps: tuple[tuple[str, int, float, int, int], ...]  # name, degrees, area ft2, stall kt, VFE kt
    flap_time_s: float
    gear_time_s: float
    gear_area_ft2: float
    drive: str
    airplanes: int = 0
    odd_one_ft2: float = 0.0


VARIANTS = (
    Made("Quillback 180", "quillback-180.toml", 180, "normal", 2650, 56,
         (("10", 10, 0.8, 53, 115), ("25", 25, 2.4, 50, 105), ("40", 40, 5.2, 47, 100)),
         1.5, 3.0, 3.4, "gear and flaps by hand levers", 4),
    Made("Quillback 200", "quillback-200.toml", 200, "normal", 2800, 58,
         (("20", 20, 2.1, 53, 115), ("40", 40, 6.4, 49, 105)),
         9.0, 12.0, 3.9, "electric gear and flaps, both slow"),
    Made("Quillback 230", "quillback-230.toml", 230, "normal", 3200, 61,
         (("half", 20, 2.2, 54, 120), ("full", 40, 6.0, 51, 110)),
         6.0, 7.0, 4.4, "hydraulic gear, electric flaps", 6, 2.6),
    Made("Quillback 230A", "quillback-230a.toml", 230, "normal", 3200, 60,
         (("15", 15, 1.3, 55, 125), ("30", 30, 3.4, 52, 115)),
         5.0, 5.0, 4.1, "electro-hydraulic gear, electric flaps"),
    Made("Quillback 260T", "quillback-260t.toml", 260, "flat rated", 3400, 63,
         (("10", 10, 0.9, 60, 130), ("20", 20, 2.2, 57, 120), ("40", 40, 6.6, 53, 110)),
         7.0, 8.0, 4.8, "electro-hydraulic gear with doors, electric flaps", 3),
)  # fmt: skip


def airplane_text(made: Made) -> str:
    """Return a variant's airplane file."""
    flown = bool(made.airplanes)
    width = 0.12 if flown else 0.35
    behind = "narrowed by the findings of the demo fleet" if flown else "no findings yet, so its beliefs are wide"
    flaps = "\n".join(
        f'\n[[flaps]]\nname = "{name}"\nangle = "{angle} deg"\narea = "{area} ± {width * area:.2g} ft2"\n'
        f'stall_speed = "{stall} ± 1 kt"\nlimit_speed = "{vfe} kt"'
        for name, angle, area, stall, vfe in made.flaps
    )
    return f"""# Invented: no airplane, maker or manual stands behind any number here. Made by tools/make_demo_fleet.py.
format = "wringout airplane, version 1"
name = "{made.model} (invented)"
invented = true
source = "An invented handbook of an invented airplane with {made.drive}; {behind}"
stall_speed_clean = "{made.clean_stall_kt} ± 1 kt"

[geometry]
wing_area = "174 ft2"
span = "33.5 ft"

[propulsion]
propeller = "constant speed"
diameter = "76 in"
rated_power = "{made.power_hp} ± 5 hp"
aspiration = "{made.aspiration}"

[drag]
best_glide = {{ ratio = "11.0 ± 0.3", speed = "93 ± 2 kt", weight = "{made.weight_lb} lb" }}
gear_area = "{made.gear_area_ft2} ± {width * made.gear_area_ft2:.2g} ft2"
interaction = "0.3 ± 0.1"
{flaps}

[flap_travel]
down_time = "{made.flap_time_s:g} ± {0.1 * made.flap_time_s:.2g} s"
up_time = "{made.flap_time_s:g} ± {0.1 * made.flap_time_s:.2g} s"

[gear]
down_time = "{made.gear_time_s:g} ± {0.1 * made.gear_time_s:.2g} s"
up_time = "{made.gear_time_s:g} ± {0.1 * made.gear_time_s:.2g} s"
operate_limit = "130 kt"
retract_limit = "115 kt"
extended_limit = "140 kt"

[limits]
max_weight = "{made.weight_lb} lb"
never_exceed = "187 kt"
maneuvering = "122 kt"
"""


def findings() -> list[dict[str, object]]:
    """Return the invented findings of the variants that were flown."""
    rng = np.random.default_rng(SEED)
    pilots = {f"invented pilot {name}": rng.normal(0.0, PILOT_SD) for name in "ABCD"}
    found: list[dict[str, object]] = []
    for made in (v for v in VARIANTS if v.airplanes):
        full = made.flaps[-1]
        areas = {
            "area.gear.middle": ("drag area of gear, middle", made.gear_area_ft2),
            f"area.flaps.{full[0]}.middle": (f"drag area of flaps {full[0]}, middle", full[2]),
        }
        for plane in range(made.airplanes):
            odd = made.odd_one_ft2 if plane == made.airplanes - 1 else 0.0
            own = {key: rng.normal(0.0, AIRPLANE_SD) + (odd if "gear" in key else 0.0) for key in areas}
            for turn in range(1 + plane % 2):
                pilot = list(pilots)[(plane + 2 * turn) % len(pilots)]
                for key, (label, truth) in areas.items():
                    doubt = float(rng.uniform(0.15, 0.45))
                    value = truth + own[key] + pilots[pilot] + rng.normal(0.0, doubt)
                    found.append(_finding(made, key, label, value, doubt, plane, turn, pilot))
    return found


def _finding(
    made: Made, key: str, label: str, value: float, doubt: float, plane: int, turn: int, pilot: str
) -> dict[str, object]:
    return {
        "quantity": key,
        "label": label,
        "unit": "ft2",
        "value": round(value, 2),
        "standard_uncertainty": round(doubt, 2),
        "at_speed": {"value": 85 + (plane + turn) % 3, "unit": "kt"},
        "at_weight": {"value": made.weight_lb, "unit": "lb"},
        "family": FAMILY,
        "model": made.model,
        "airplane": f"invented airplane {made.model.split()[-1]}-{plane + 1}",
        "pilot": pilot,
        "made_on": f"2026-0{1 + plane}-1{turn}",
        "invented": True,
        "source": {"study": f"invented study {made.model.split()[-1]}-{plane + 1}-{turn + 1}"},
        "note": "",
    }


def all_files() -> dict[str, str]:
    """Return the text of every file that is made, by name; the register is written by hand."""
    texts = {made.file: airplane_text(made) for made in VARIANTS}
    texts["findings.json"] = json.dumps(findings(), ensure_ascii=False, indent=1) + "\n"
    return texts


def main() -> None:
    """Write the files."""
    for name, text in all_files().items():
        (FLEET / name).write_text(text, encoding="utf-8")
        print(f"{name}: {len(text):,} characters")


if __name__ == "__main__":
    main()
