"""Printed orders read and flown on the airplane of their variant, and the agreement of a family's handbooks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.errors import BadInputError, NotFoundError
from wringout.handbooks.agreement import Agreement, Variant, agreement
from wringout.handbooks.entry import Entry
from wringout.handbooks.flown import Contest, fly_variant
from wringout.handbooks.queries import holding, supersessions
from wringout.handbooks.reading import Reading, general_readings, read_order
from wringout.handbooks.serials import corners
from wringout.services.airplane.airplanes import LONGEST_AIRPLANE_BYTES, decoded
from wringout.services.findings.reduce import Progress, airplane_rows, kept_reduction, no_progress
from wringout.services.matchups.plan_situations import SituationSection
from wringout.services.matchups.plans import PlanDocument, plan_of
from wringout.services.register.entries import registered
from wringout.services.study.thresholds import thresholds_of
from wringout.store import Store, View, get_entry, get_study, list_entries, put_entry, slug_of

VARIANT_KIND = "variant"
DRAWS, SEED, THREADS = 400, 1, 2
MOST_DRAWS = 5000
USUAL_PLAN = PlanDocument(situation=SituationSection(height="200 ft"))
"""The approach printed orders are flown from unless a plan says otherwise: the usual one, broken off at 200 ft."""


@dataclass(frozen=True, slots=True)
class KnownVariant:
    """A variant whose airplane is known.

    Attributes:
        family, model: as in the register.
        toml: its airplane file. study: short name of a study whose reduction gives its draws, "" for none.
        finds: whether findings stand behind the airplane file (its maker says so).
    """

    family: str
    model: str
    toml: str
    study: str = ""
    note: str = ""


def variant_key(model: str) -> str:
    """Return the key a variant's airplane is kept under."""
    return slug_of(model)


def put_variant(store: Store, family: str, model: str, data: bytes, name: str, study: str = "", note: str = "") -> str:
    """Check an airplane file and keep it as the airplane of a variant; returns the airplane's name.

    Raises:
        BadInputError: the file cannot be used.
        NotFoundError: the study that is named is not there.
    """
    text = decoded(data, name)
    beliefs = airplane_from_document(parse_airplane(text, name), name)
    body = check_variant({"family": family, "model": model, "airplane": text, "study": study, "note": note}, name)
    with store.writing() as work:
        if study:
            get_study(work, study)
        put_entry(work, VARIANT_KIND, variant_key(model), body)
    return beliefs.name


def check_variant(body: Mapping[str, Any], where: str, longest: int = LONGEST_AIRPLANE_BYTES) -> dict[str, Any]:
    """Return the body of a variant if it can be kept: its names, and an airplane file that can be used.

    Raises:
        BadInputError: a field is unknown, missing or cannot be used.
    """
    fields = ("family", "model", "airplane", "study", "note")
    unknown = sorted(str(key) for key in body if key not in fields)
    if unknown:
        raise BadInputError(f"the field {unknown[0]!r} is not known", where, f"use {', '.join(fields)}")
    for name in fields:
        value = body.get(name, "")
        if not isinstance(value, str) or (name != "airplane" and len(value) > 300):
            raise BadInputError("it is no short text", f"{where}, {name}", "write at most 300 characters")
    for name in ("family", "model"):
        if not body.get(name, "").strip():
            raise BadInputError("it is missing", f"{where}, {name}", "name it as the register does")
    text = body.get("airplane", "")
    if len(text.encode()) > longest:
        raise BadInputError("the airplane file is larger than 1 MB", where, "it should be a page of text")
    airplane_from_document(parse_airplane(text, where), where)
    return {name: body.get(name, "") for name in fields}


def list_variants(view: View) -> tuple[KnownVariant, ...]:
    """Return the variants whose airplane is known, by model."""
    found = [dict(item.body or {}) for item in list_entries(view, VARIANT_KIND)]
    return tuple(_variant(body) for body in sorted(found, key=lambda body: str(body.get("model"))))


def known_airplanes(store: Store) -> tuple[KnownVariant, ...]:
    """Return the variants of the register whose airplane is known, by model."""
    with store.reading() as view:
        return list_variants(view)


def _variant(body: dict[str, Any]) -> KnownVariant:
    return KnownVariant(
        str(body.get("family", "")),
        str(body.get("model", "")),
        str(body.get("airplane", "")),
        str(body.get("study", "")),
        str(body.get("note", "")),
    )


def variant_of(view: View, model: str) -> KnownVariant | None:
    """Return the variant of a model, or None where its airplane is not known."""
    found = get_entry(view, VARIANT_KIND, variant_key(model))
    return None if found is None else _variant(dict(found.body or {}))


def prior_rows(beliefs: Beliefs, draws: int, seed: int) -> NDArray[np.float64]:
    """Return parameter rows drawn from what is believed of an airplane, shape (draws, SIZE)."""
    rng = np.random.default_rng(seed)
    latents = rng.standard_normal((draws, len(beliefs.parameters)))
    return np.array([beliefs.row_from_latent(latent) for latent in latents])


@dataclass(frozen=True, slots=True)
class FlyingOptions:
    """How printed orders are flown; ``plan`` None is the usual approach, ``difference`` None what usually matters."""

    draws: int = DRAWS
    seed: int = SEED
    plan: PlanDocument | None = None
    difference: dict[str, Any] | None = None
    threads: int = THREADS


USUAL = FlyingOptions()


def read_printed(
    store: Store,
    model: str,
    on: date,
    family: str = "",
    options: FlyingOptions = USUAL,
    progress: Progress = no_progress,
) -> tuple[Variant, ...]:
    """Read and fly what the register holds for a model on a day.

    Raises:
        BadInputError: the options are out of range.
        NotFoundError: the register knows no such model.
    """
    _check(options)
    with store.reading() as view:
        entries = [e for e in standing_entries(view, on) if e.model.casefold() == model.strip().casefold()]
        entries = [e for e in entries if not family or e.family.casefold() == family.strip().casefold()]
    if not entries:
        raise NotFoundError(f"the register holds nothing for {model[:60]!r} on {on.isoformat()}", advice="list it")
    return _fly_all(store, entries, options, progress)


def family_agreement(
    store: Store, family: str, on: date, options: FlyingOptions = USUAL, progress: Progress = no_progress
) -> tuple[Agreement, tuple[Variant, ...]]:
    """Return how the handbooks of a family agree, each printed order flown where its airplane is known.

    Raises:
        BadInputError: the options are out of range.
        NotFoundError: the register knows no such family.
    """
    _check(options)
    kin = family.strip().casefold()
    with store.reading() as view:
        entries = [e for e in standing_entries(view, on) if e.family.casefold() == kin]
        every = [item.entry for item in registered(view) if item.entry.family.casefold() == kin]
    if not entries:
        raise NotFoundError(
            f"the register holds nothing for the family {family[:60]!r}", advice="look it up in the register"
        )
    variants = _fly_all(store, entries, options, progress)
    revisions = [item for item in supersessions(every) if item.after.dated <= on]
    return agreement(variants, revisions), variants


def standing_entries(view: View, on: date) -> list[Entry]:
    """Return the entries that hold on a day for at least one serial."""
    entries = [item.entry for item in registered(view)]
    found: list[Entry] = []
    for family, model in sorted({(e.family, e.model) for e in entries}):
        own = [e for e in entries if (e.family, e.model) == (family, model)]
        held = [e for serial in corners(e.serials for e in own) for e in holding(own, serial, on).entries]
        found += dict.fromkeys(held)
    return found


def _check(options: FlyingOptions) -> None:
    if not 50 <= options.draws <= MOST_DRAWS:
        raise BadInputError(f"{options.draws:,} draws are wanted", "draws", f"50 to {MOST_DRAWS:,}")
    if options.seed < 0:
        raise BadInputError(f"{options.seed} is no seed", "seed", "0 or more")


def _fly_all(store: Store, entries: Sequence[Entry], options: FlyingOptions, progress: Progress) -> tuple[Variant, ...]:
    found = []
    for number, entry in enumerate(entries):
        low, high = number / len(entries), (number + 1) / len(entries)

        def part(share: float, words: str, low: float = low, high: float = high, entry: Entry = entry) -> None:
            progress(low + (high - low) * share, f"{entry.model}: {words}")

        found.append(fly_entry(store, entry, options, part))
    return tuple(found)


def fly_entry(store: Store, entry: Entry, options: FlyingOptions = USUAL, progress: Progress = no_progress) -> Variant:
    """Read one entry's printed order and fly it on its variant's airplane; what cannot be flown is said in it."""
    with store.reading() as view:
        variant = variant_of(view, entry.model)
        if variant is None:
            return Variant(entry, problem=f"the airplane of {entry.model} is not known; put its airplane file")
        try:
            beliefs = airplane_from_document(parse_airplane(variant.toml, entry.model), entry.model)
            rows = _rows(view, variant, beliefs, options)
        except (BadInputError, NotFoundError) as error:
            return Variant(entry, problem=str(error).rstrip("."))
    try:
        return _flown(entry, beliefs, rows, options, progress)
    except BadInputError as error:
        return Variant(entry, beliefs.name, problem=str(error).rstrip("."))


def _rows(view: View, variant: KnownVariant, beliefs: Beliefs, options: FlyingOptions) -> NDArray[np.float64]:
    if not variant.study:
        return prior_rows(beliefs, options.draws, options.seed)
    rows = airplane_rows(kept_reduction(view, get_study(view, variant.study)).draws or b"")
    return rows[: options.draws]


def _flown(
    entry: Entry, beliefs: Beliefs, rows: NDArray[np.float64], options: FlyingOptions, progress: Progress
) -> Variant:
    plan = plan_of(options.plan or USUAL_PLAN, beliefs)
    start = plan.situation.start_flap_rad
    general = general_readings(beliefs, start).readings
    readings = None if entry.prints_none else read_order(entry.steps, beliefs, start, f"{entry.model}, steps")
    printed: tuple[Reading, ...] = () if readings is None else readings.readings
    contest = Contest(beliefs, rows, plan.situation, plan.domain, plan.limits, thresholds_of(options.difference or {}))
    flown = fly_variant(
        contest,
        printed,
        general,
        options.seed,
        lambda done, total: progress(done / max(total, 1), f"{done:,} of {total:,} trajectories"),
        options.threads,
    )
    return Variant(entry, beliefs.name, readings, flown)
