"""The invented fleet that ships with the package, put into a library; running it again changes nothing."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files

from wringout.services.fleet.findings import put_findings
from wringout.services.register.entries import import_register
from wringout.services.register.printed_orders import put_variant
from wringout.store import Store

FAMILY = "Quillback (invented)"
MODELS: dict[str, str] = {
    "Quillback 180": "quillback-180.toml",
    "Quillback 200": "quillback-200.toml",
    "Quillback 230": "quillback-230.toml",
    "Quillback 230A": "quillback-230a.toml",
    "Quillback 260T": "quillback-260t.toml",
}


@dataclass(frozen=True, slots=True)
class DemoFleet:
    """What was put into the library: how many entries and findings were new or changed, and the models."""

    entries: int
    findings: int
    models: tuple[str, ...]
    family: str = FAMILY


def put_demo_fleet(store: Store) -> DemoFleet:
    """Put the five invented variants, what their handbooks print, and the invented findings into the library.

    Raises:
        StoreError: the library cannot be written.
    """
    folder = files("wringout.services") / "demo_fleet"
    entries = import_register(store, (folder / "register.csv").read_bytes(), "register.csv")
    for model, name in MODELS.items():
        put_variant(store, FAMILY, model, (folder / name).read_bytes(), name, note="Invented.")
    bodies: Sequence[dict[str, object]] = json.loads((folder / "findings.json").read_text(encoding="utf-8"))
    kept = put_findings(store, bodies, "findings.json, finding")
    return DemoFleet(entries.changed, kept, tuple(MODELS))
