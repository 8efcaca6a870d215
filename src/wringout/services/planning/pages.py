"""What the page of a plan shows, gathered once: points with their speeds and checks, loading, risks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from wringout.airplane.loading import Loading
from wringout.airplane.quantity import parse_measured
from wringout.briefs.cards.envelope import envelope_figure
from wringout.errors import BadInputError
from wringout.planning.checks import Check, Level, blocked
from wringout.planning.document import HazardSection
from wringout.planning.hazards import LIKELIHOODS, MATRIX, SEVERITIES, initial_risk, needs_more, residual_risk
from wringout.planning.loading import burn_path
from wringout.planning.phases import phases_of
from wringout.planning.plan import Point
from wringout.services.opening import the_study
from wringout.services.planning.plans import KeptPlan, check_plan, kept_plan
from wringout.store import ChangeMark, Store, change_mark
from wringout.units import KNOT, POUND


@dataclass(frozen=True, slots=True)
class ScaleMark:
    """One speed on a point's scale, kt. ``kind`` is "limit", "least" or "planned"."""

    label: str
    speed_kt: float
    kind: str


@dataclass(frozen=True, slots=True)
class PointSheet:
    """A point beside its checks: ``marks`` to scale, the free band between the limits, and its place in the flight."""

    point: Point
    checks: tuple[Check, ...]
    marks: tuple[ScaleMark, ...]
    least_kt: float | None
    most_kt: float | None
    blocked: bool

    @property
    def loud(self) -> tuple[Check, ...]:
        """The checks that need somebody's eyes, worst first."""
        order = (Level.VIOLATED, Level.THIN, Level.NOT_STATED)
        return tuple(sorted((c for c in self.checks if c.level in order), key=lambda c: order.index(c.level)))

    @property
    def held(self) -> tuple[Check, ...]:
        """The checks that came out well."""
        return tuple(c for c in self.checks if c.level is Level.HELD)

    @property
    def weight_lb(self) -> float:
        """The weight the point is planned at, lb."""
        return self.point.mass_kg / POUND


@dataclass(frozen=True, slots=True)
class HazardSheet:
    """A hazard with its risk before and after mitigation, and what is wrong with the assessment."""

    hazard: HazardSection
    before: str
    after: str
    complaint: str


@dataclass(frozen=True, slots=True)
class PlanSheet:
    """A plan as its page shows it."""

    kept: KeptPlan
    checks: tuple[Check, ...]
    points: tuple[PointSheet, ...]
    envelope: str
    hazards: tuple[HazardSheet, ...]

    @property
    def flight_checks(self) -> tuple[Check, ...]:
        """The checks of no single point."""
        return tuple(c for c in self.checks if not c.point)

    @property
    def blocked_keys(self) -> tuple[str, ...]:
        """The points that get no card."""
        return tuple(sheet.point.key for sheet in self.points if sheet.blocked)

    @property
    def flight_blocked(self) -> tuple[Check, ...]:
        """The limits of the whole flight that are violated."""
        return tuple(c for c in self.flight_checks if c.level is Level.VIOLATED)

    @property
    def minutes(self) -> float:
        """From engine start to shut-down, min."""
        return self.kept.plan.landing.elapsed_s / 60.0


_SHEETS: dict[tuple[str, str, str], tuple[ChangeMark, PlanSheet]] = {}
_MOST_SHEETS = 16


def study_plan_sheet(store: Store, slug: str | None, key: str) -> PlanSheet:
    """Return everything the page of a kept plan shows; worked out once for as long as the study stays as it is.

    Raises:
        BadInputError: the plan does not fit the airplane any more.
        NotFoundError: there is no such study or plan.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        mark = change_mark(view, study.id)
    place = (str(store.place.database), study.slug, key)
    known = _SHEETS.get(place)
    if known is not None and known[0] == mark:
        return known[1]
    sheet = plan_sheet(kept_plan(store, slug, key))
    if len(_SHEETS) >= _MOST_SHEETS:
        _SHEETS.clear()
    _SHEETS[place] = (mark, sheet)
    return sheet


def plan_sheet(kept: KeptPlan) -> PlanSheet:
    """Return everything the page of a plan shows."""
    checks = check_plan(kept)
    hazards = tuple(
        HazardSheet(h, initial_risk(h).value, residual_risk(h).value, needs_more(h)) for h in kept.document.hazards
    )
    points = tuple(_point(point, kept, checks) for point in kept.plan.points)
    return PlanSheet(kept, checks, points, envelope_of(kept), hazards)


def envelope_of(kept: KeptPlan, metric: bool = False) -> str:
    """Return how weight and balance move in the envelope of the airplane file, as SVG; "" where one is not known."""
    loading, start, end = kept.beliefs.loading, kept.plan.takeoff.fuel_m3, kept.plan.landing.fuel_m3
    if loading is None or not loading.envelope or start is None or end is None:
        return ""
    return _envelope_drawn(loading, tuple(sorted(kept.plan.flight.load_kg.items())), start, end, metric)


@lru_cache(maxsize=64)
def _envelope_drawn(
    loading: Loading, load_kg: tuple[tuple[str, float], ...], start_m3: float, end_m3: float, metric: bool
) -> str:
    return envelope_figure(loading, burn_path(loading, dict(load_kg), start_m3, end_m3), metric)


def _point(point: Point, kept: KeptPlan, checks: Sequence[Check]) -> PointSheet:
    own = tuple(c for c in checks if c.point == point.key)
    speeds = [c for c in own if c.unit == "kt" and c.limit is not None]
    limits = [ScaleMark(c.subject, c.limit or 0.0, "limit") for c in speeds if c.upper]
    least = [ScaleMark(_least_words(c), c.limit or 0.0, "least") for c in speeds if not c.upper]
    upper = [mark.speed_kt for mark in limits if mark.label != "VA" or point.method.key == "stall series"]
    return PointSheet(
        point,
        own,
        (*limits, *least, *_planned(point, kept)),
        max((mark.speed_kt for mark in least), default=None),
        min(upper, default=None),
        blocked(checks, point.key),
    )


def _least_words(check: Check) -> str:
    flaps = check.subject.removeprefix("the stall, ")
    return f"stop, {flaps}" if "Stop at" in check.sentence else f"1.1 × stall, {flaps}"


def _planned(point: Point, kept: KeptPlan) -> tuple[ScaleMark, ...]:
    try:
        phases = phases_of(point, kept.beliefs)
    except BadInputError:
        return ()
    found: dict[int, str] = {}
    for phase in phases:
        for speed in (phase.fastest_mps, phase.slowest_mps):
            if speed is not None:
                found.setdefault(round(speed / KNOT), phase.name)
    return tuple(ScaleMark(name, float(speed), "planned") for speed, name in found.items())


def matrix_rows(sheet: PlanSheet) -> list[tuple[str, list[tuple[str, list[str], list[str]]]]]:
    """Return the matrix: for each likelihood, for each severity its risk and the hazards before and after."""
    out = []
    for likelihood in LIKELIHOODS:
        cells = []
        for severity, risk in zip(SEVERITIES, MATRIX[likelihood], strict=True):
            hazards = sheet.kept.document.hazards
            before = [h.key for h in hazards if (h.likelihood, h.severity) == (likelihood, severity)]
            after = [h.key for h in hazards if (h.residual_likelihood, h.residual_severity) == (likelihood, severity)]
            cells.append((risk.value, before, after))
        out.append((likelihood, cells))
    return out


def knots_of(text: str) -> float | None:
    """Return a typed speed in knots; None where it cannot be read as one."""
    try:
        return parse_measured(text, "speed", "", "110 kt")[0] / KNOT
    except BadInputError:
        return None
