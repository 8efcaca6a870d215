"""Test plans of a study: proposed, kept, corrected, held against limits, and asked what they can decide."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, cast

import tomli_w

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.quantity import parse_measured
from wringout.errors import BadInputError, NotFoundError
from wringout.planning.chance import Chance, chance_to_decide
from wringout.planning.checks import Check
from wringout.planning.deciding import Contest
from wringout.planning.document import FlightSection, PointSection, TestPlanDocument, parse_test_plan, plan_from_table
from wringout.planning.guard import guard
from wringout.planning.hazards import GO_NO_GO, starter_hazards
from wringout.planning.plan import TestPlan, plan_in_si
from wringout.planning.propose import Kind, Wishes, kinds, propose
from wringout.planning.readings import Air, Planned, Recording, planned_run
from wringout.planning.teaching import Lesson, gradient_of, lessons
from wringout.services.airplane.airplanes import decoded, study_airplane
from wringout.services.findings.reduce import Progress, check_seed, no_progress
from wringout.services.opening import the_study
from wringout.services.planning.question import contest_of, known_so_far
from wringout.store import Document, Store, Study, View, get_document, list_documents, put_document
from wringout.units import FOOT

KIND, USUAL_KEY = "test-plan", "flight-1"
LONGEST_PLAN_BYTES = 1 << 20
TRIALS, DRAWS, SEED = 60, 200, 1
Cancelled = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class KeptPlan:
    """A test plan as it is kept, with its study and airplane; ``plan`` is the same in SI."""

    study: Study
    key: str
    revision: int
    document: TestPlanDocument
    beliefs: Beliefs
    plan: TestPlan


@dataclass(frozen=True, slots=True)
class Proposal:
    """A proposed plan that is kept, and what each kind of point would teach, most first."""

    kept: KeptPlan
    lessons: tuple[Lesson, ...]
    left_out: tuple[str, ...]
    score: str


@dataclass(frozen=True, slots=True)
class Variant:
    """The chance of a plan under one way of flying it."""

    title: str
    runs: int
    chance: Chance


def read_test_plan(data: bytes, name: str) -> TestPlanDocument:
    """Return the test plan in a file of TOML or JSON; raises BadInputError naming the field."""
    text = decoded(data, name, "a test plan as docs/planning.md shows")
    if not text.lstrip().startswith("{"):
        return parse_test_plan(text, name)
    try:
        found = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise BadInputError(f"this is not JSON: {error}", name, "write it as docs/planning.md shows") from None
    return plan_from_table(found, name)


def plan_toml(document: TestPlanDocument) -> str:
    """Return a test plan as TOML that :func:`read_test_plan` reads back."""
    return tomli_w.dumps(document.model_dump(mode="json", exclude_none=True), multiline_strings=False)


def keep_plan(
    store: Store, slug: str | None, document: TestPlanDocument, key: str = USUAL_KEY, expected: int | None = None
) -> KeptPlan:
    """Keep a test plan of a study as its next revision.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        document: the plan.
        key: which flight, a short slug.
        expected: the revision the edit was made from; None for whatever is there, 0 for a new one.

    Raises:
        BadInputError: the plan does not fit the airplane.
        ConflictError: somebody else changed it meanwhile.
        NotFoundError: there is no such study, or it has no airplane.
    """
    with store.writing() as work:
        study = the_study(work, slug)
        beliefs = study_airplane(work, study.id).beliefs
        plan = plan_in_si(document, beliefs, f"test plan {key}")
        body = cast(Document, document.model_dump(mode="json", exclude_none=True))
        found = put_document(work, study.id, KIND, key, body, expected)
    return KeptPlan(study, key, found.revision, document, beliefs, plan)


def kept_plan(store: Store, slug: str | None, key: str = USUAL_KEY) -> KeptPlan:
    """Return a study's test plan; raises NotFoundError where it has none of that key."""
    with store.reading() as view:
        return _kept(view, slug, key)


def plan_keys(store: Store, slug: str | None) -> tuple[str, ...]:
    """Return the keys of a study's test plans."""
    with store.reading() as view:
        return tuple(d.key for d in list_documents(view, the_study(view, slug).id, KIND))


def _kept(view: View, slug: str | None, key: str) -> KeptPlan:
    study = the_study(view, slug)
    found = get_document(view, study.id, KIND, key)
    if found is None or found.body is None:
        known = ", ".join(d.key for d in list_documents(view, study.id, KIND)) or "none yet"
        raise NotFoundError(f"the study has no test plan {key!r}", advice=f"it has {known}; propose one first")
    document = plan_from_table(cast(Mapping[str, Any], found.body), f"test plan {key}")
    beliefs = study_airplane(view, study.id).beliefs
    return KeptPlan(study, key, found.revision, document, beliefs, plan_in_si(document, beliefs, f"test plan {key}"))


def check_plan(kept: KeptPlan) -> tuple[Check, ...]:
    """Return every check of a plan against the limits of its airplane."""
    return guard(kept.plan, kept.beliefs)


def propose_plan(
    store: Store, slug: str | None, flight: FlightSection, wishes: Wishes, key: str = USUAL_KEY, seed: int = SEED
) -> Proposal:
    """Propose a flight for a study's question, and keep it with the starter hazards and go/no-go list.

    Kinds of points that would take away less than one per cent of the variance of what decides are left out. A plan
    already kept under the key stays in its earlier revision.

    Raises:
        BadInputError: something in the flight cannot be read, or the believed airplane cannot fly the approach.
        NotFoundError: there is no such study, or it has no airplane.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        beliefs = study_airplane(view, study.id).beliefs
        before = get_document(view, study.id, KIND, key)
        old = None if before is None or before.body is None else plan_from_table(cast(Any, before.body), key)
        base = TestPlanDocument(title=study.title, flight=flight) if old is None else old
        contest = contest_of(view, study, beliefs, base.question)
        _, state = known_so_far(view, study.slug, beliefs, seed, base.question)
    offered = kinds(beliefs, wishes)
    named = {kind.point.key: kind.name for kind in offered}
    flown = base.model_copy(update={"flight": flight})
    planned = _planned(flown, [kind.point for kind in offered], beliefs, flight.recording, flight.air)
    found = lessons(planned, beliefs, state, gradient_of(beliefs, state, contest))
    worth = {named[one.key]: one.share for one in found}
    points = propose(beliefs, replace(wishes, worth=worth))
    document = flown.model_copy(
        update={
            "points": list(points),
            "hazards": base.hazards or list(starter_hazards([p.method for p in points])),
            "go_no_go": base.go_no_go or list(GO_NO_GO),
        }
    )
    kept = keep_plan(store, study.slug, document, key)
    taught = tuple(replace(one, key=named[one.key]) for one in found)
    return Proposal(kept, taught, _left_out(offered, points), contest.thresholds.score)


def _left_out(offered: Sequence[Kind], points: Sequence[PointSection]) -> tuple[str, ...]:
    letters = {p.key.rstrip("0123456789") for p in points}
    return tuple(kind.name for kind in offered if kind.letter.rstrip("0123456789") not in letters)


def _planned(
    document: TestPlanDocument, points: Sequence[PointSection], beliefs: Beliefs, recording: Recording, air: Air
) -> tuple[Planned, ...]:
    plan = plan_in_si(document.model_copy(update={"points": list(points)}), beliefs)
    return tuple(planned_run(point, beliefs, recording, air) for point in plan.points)


@dataclass(frozen=True, slots=True)
class Asked:
    """How a chance is computed: flights of the plan, posterior draws of each, and the seed."""

    trials: int = TRIALS
    draws: int = DRAWS
    seed: int = SEED


def plan_chance(
    store: Store,
    slug: str | None,
    key: str = USUAL_KEY,
    asked: Asked | None = None,
    progress: Progress = no_progress,
    cancelled: Cancelled | None = None,
) -> tuple[KeptPlan, Contest, Chance]:
    """Return the probability that a kept plan decides its question; see :mod:`wringout.planning.chance`.

    Raises:
        BadInputError: a point cannot be simulated, or the numbers asked for are out of range.
        NotFoundError: there is no such plan.
    """
    kept, contest, found = plan_variants(store, slug, key, asked, ("as planned",), progress, cancelled)
    return kept, contest, found[0].chance


VARIANTS = (
    "as planned", "not flown", "flown once", "flown twice", "flown three times", "with a logger", "called",
    "in rough air",
)  # fmt: skip
"""Ways of flying a plan; "not flown" is what is decided without it."""
Found = Callable[[KeptPlan, Contest, Variant], None]
"""Called with each variant as soon as it is known."""


def plan_variants(
    store: Store,
    slug: str | None,
    key: str = USUAL_KEY,
    asked: Asked | None = None,
    wanted: Sequence[str] = VARIANTS,
    progress: Progress = no_progress,
    cancelled: Cancelled | None = None,
    each: Found | None = None,
) -> tuple[KeptPlan, Contest, tuple[Variant, ...]]:
    """Return the chance of a plan as planned, and how it changes with repeats, recording and air.

    All variants meet the same airplanes and seeds. "flown once" leaves out the later points of each kind; "flown
    twice" flies the whole list as planned two times over, and so on; ways that come to the same are flown once.
    """
    how = asked or Asked()
    check_seed(how.seed)
    with store.reading() as view:
        kept = _kept(view, slug, key)
        contest = contest_of(view, kept.study, kept.beliefs, kept.document.question)
        believed, _ = known_so_far(view, kept.study.slug, kept.beliefs, how.seed, kept.document.question)
    out: list[Variant] = []
    flown: dict[str, Chance] = {}
    for i, title in enumerate(wanted):
        points, recording, air = variant_of(kept.document, title)
        planned = _planned(kept.document, points, kept.beliefs, recording, air)
        part = _part(progress, i / len(wanted), (i + 1) / len(wanted), title)
        same = json.dumps([[p.model_dump(mode="json") for p in points], recording, air])
        if same not in flown:
            flown[same] = chance_to_decide(believed, planned, contest, how.trials, how.draws, how.seed, part, cancelled)
        out.append(Variant(title, len(planned), flown[same]))
        if each is not None:
            each(kept, contest, out[-1])
        if flown[same].stopped:
            break
    return kept, contest, tuple(out)


def _part(progress: Progress, low: float, high: float, title: str) -> Progress:
    return lambda share, words: progress(low + (high - low) * share, f"{title}: {words}")


_TIMES = {"flown twice": 2, "flown three times": 3}


def variant_of(document: TestPlanDocument, title: str) -> tuple[list[PointSection], Recording, Air]:
    """Return the points, recording and air of a variant of a plan; raises BadInputError for an unknown one."""
    if title not in VARIANTS:
        raise BadInputError(f"{title!r} is no variant of a plan", "variant", f"use one of: {', '.join(VARIANTS)}")
    flight, points = document.flight, list(document.points)
    recording: Recording = {"with a logger": "logger", "called": "called"}.get(title, flight.recording)  # type: ignore[assignment]
    air: Air = "rough" if title == "in rough air" else flight.air
    if title == "flown once":
        points = firsts(points)
    elif title == "not flown":
        points = []
    times = _TIMES.get(title, 1)
    again = [p.model_copy(update={"key": f"{p.key}-{i + 1}"}) for i in range(times) for p in points]
    return (again if times > 1 else points), recording, air


def firsts(points: Sequence[PointSection]) -> list[PointSection]:
    """Return the first point of each kind: those whose method and words stand there for the first time."""
    seen: set[str] = set()
    out = []
    for point in points:
        what = json.dumps([point.method, sorted(point.words.items())])
        if what not in seen:
            seen.add(what)
            out.append(point)
    return out


def next_runs(
    store: Store, slug: str | None, key: str = USUAL_KEY, seed: int = SEED
) -> tuple[KeptPlan, Contest, tuple[Lesson, ...]]:
    """Return what each kind of point of a plan would teach next, after the runs in use, most first.

    Raises:
        BadInputError: a point cannot be simulated.
        NotFoundError: there is no such plan.
    """
    with store.reading() as view:
        kept = _kept(view, slug, key)
        contest = contest_of(view, kept.study, kept.beliefs, kept.document.question)
        _, state = known_so_far(view, kept.study.slug, kept.beliefs, seed, kept.document.question)
    flight = kept.document.flight
    planned = _planned(kept.document, firsts(kept.document.points), kept.beliefs, flight.recording, flight.air)
    return kept, contest, lessons(planned, kept.beliefs, state, gradient_of(kept.beliefs, state, contest))


def kept_or_none(store: Store, slug: str | None, key: str = USUAL_KEY) -> KeptPlan | None:
    """Return a study's test plan, or None where it has none of that key yet."""
    try:
        return kept_plan(store, slug, key)
    except NotFoundError:
        return None


def wishes_of(
    old: KeptPlan | None, repeats: int, altitude: str | None, ground: str, recording: str
) -> tuple[FlightSection, Wishes]:
    """Return the flight and the wishes of a proposal from what was typed; what an earlier plan states is kept.

    Raises:
        BadInputError: an altitude or elevation cannot be read.
    """
    high = None if altitude is None else parse_measured(altitude, "length", "altitude", "7000 ft")[0] / FOOT
    low = parse_measured(ground, "length", "ground", "1500 ft")[0] / FOOT
    flight = FlightSection() if old is None else old.document.flight
    if low > 0.0 or flight.ground_elevation is None:
        flight = flight.model_copy(update={"ground_elevation": f"{low:.0f} ft"})
    flight = flight.model_copy(update={"recording": recording})
    floor = parse_measured(flight.floor, "length", "test plan, flight.floor", "3000 ft")[0] / FOOT
    return flight, Wishes(repeats, high, low, floor, isa_deviation_k=flight.isa_deviation)
