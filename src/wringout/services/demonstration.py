"""The bundled study, worked from question to brief as a user would work one; running it again changes nothing."""

from __future__ import annotations

import io
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from wringout.errors import NotFoundError
from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.findings.reduce import Progress, Reduced, no_progress, reduce_study
from wringout.services.fleet_demonstration import put_demo_fleet
from wringout.services.flights.recordings import Arrival, take_in_recording
from wringout.services.matchups.compare import Compared, compare_techniques
from wringout.services.matchups.plans import checked_plan
from wringout.services.opening import Clock, open_studies
from wringout.services.planning.plans import USUAL_KEY, keep_plan, plan_keys, read_test_plan
from wringout.services.publishing.publish import Published, publish
from wringout.services.study.studies import make_study
from wringout.store import Store, Study, get_study

DATABASE_NAME = "study.db"
BRIEF_FOLDER = "brief"
RUN_FIELDS = frozenset({"file", "run"})
"""Fields of a recording in ``study.toml`` that are no set-up words."""


@dataclass(frozen=True, slots=True)
class Demonstration:
    """What the demonstration made and found."""

    database: Path
    arrivals: tuple[Arrival, ...]
    reduced: Reduced
    compared: Compared
    published: Published


def demonstrate(folder: Path, clock: Clock, progress: Progress = no_progress) -> Demonstration:
    """Work the bundled, invented study in ``folder``: make, take in, reduce, compare, publish.

    The invented fleet and its register are put into the library as well.

    Args:
        folder: made if it is not there; holds the database, its recordings and the brief.
        clock: returns the present moment with its time zone.
        progress: see :data:`wringout.services.findings.reduce.Progress`.

    Raises:
        WringoutError: the folder cannot be used.
    """
    source = files("wringout.services") / "demo_study"
    table = tomllib.loads((source / "study.toml").read_text(encoding="utf-8"))
    database = folder / DATABASE_NAME
    with open_studies(database, clock) as store:
        _make(store, table)
        _plan(store, source, table)
        progress(0.05, "taking in the recordings")
        arrivals = tuple(_take_in(store, table["slug"], source, item) for item in table["recordings"])
        reduced = reduce_study(store, table["slug"], progress=_part(progress, 0.1, 0.45, "reducing: "))
        plan = checked_plan({"situation": table["situation"], "domain": table["domain"]}, "study.toml")
        compared = compare_techniques(store, table["slug"], plan, progress=_part(progress, 0.45, 0.8, "comparing: "))
        published = publish(
            store,
            table["slug"],
            folder / BRIEF_FOLDER,
            _today(clock),
            progress=_part(progress, 0.8, 1.0, "publishing: "),
            reduced=reduced,
            compared=compared,
        )
        put_demo_fleet(store)
    return Demonstration(database, arrivals, reduced, compared, published)


def take_in_demonstration(store: Store, progress: Progress = no_progress) -> Study:
    """Put the bundled, invented study into a store, its airplane and its recordings, and leave the rest to its reader.

    The invented fleet and its register are put into the library as well.

    Args:
        store: where it is put; a study of its name that is there already is taken further, not replaced.
        progress: see :data:`wringout.services.findings.reduce.Progress`.

    Raises:
        WringoutError: the store refuses.
    """
    source = files("wringout.services") / "demo_study"
    table = tomllib.loads((source / "study.toml").read_text(encoding="utf-8"))
    slug, items = table["slug"], table["recordings"]
    _make(store, table)
    _plan(store, source, table)
    for done, item in enumerate(items):
        progress(done / len(items), f"taking in {item['file']}")
        _take_in(store, slug, source, item)
    put_demo_fleet(store)
    with store.reading() as view:
        return get_study(view, slug)


def _today(clock: Clock) -> datetime:
    return clock()


def _make(store: Store, table: Mapping[str, Any]) -> None:
    try:
        with store.reading() as view:
            get_study(view, table["slug"])
    except NotFoundError:
        make_study(store, table["title"], table["question"], table["difference"], table["invented"], table["slug"])


def _plan(store: Store, source: Traversable, table: Mapping[str, Any]) -> None:
    """Put the airplane in, and the plan of its flight where there is none yet."""
    slug, plan = table["slug"], table["test_plan"]
    put_airplane_file(store, slug, (source / table["airplane"]).read_bytes(), table["airplane"])
    if USUAL_KEY not in plan_keys(store, slug):
        keep_plan(store, slug, read_test_plan((source / plan).read_bytes(), plan))


def _take_in(store: Store, slug: str, source: Traversable, item: Mapping[str, Any]) -> Arrival:
    data = (source / "recordings" / item["file"]).read_bytes()
    setup = {key: str(value) for key, value in item.items() if key not in RUN_FIELDS}
    return take_in_recording(store, slug, io.BytesIO(data), item["file"], setup=setup, key=item["run"])


def _part(progress: Progress, low: float, high: float, before: str) -> Progress:
    return lambda share, words: progress(low + (high - low) * share, f"{before}{words}")
