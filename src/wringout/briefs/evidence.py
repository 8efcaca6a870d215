"""Where numbers come from: the study's runs looked up by key, with their fit, report and places in the brief."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wringout.briefs.cards.metric import metric_words
from wringout.briefs.catalogue import foreign
from wringout.briefs.content import BriefContent
from wringout.briefs.numbers import Scale, Shown, quantity, scale_of, shown
from wringout.briefs.other_rooms import settings_of, teller, told
from wringout.estimate.findings import Finding
from wringout.estimate.fit import Flag, RunFit
from wringout.estimate.strengths import RunReport
from wringout.methods.types import FloatArray, Method
from wringout.recordings.types import Device


@dataclass(frozen=True, slots=True)
class RunEvidence:
    """One run: as flown, as fitted, as reported; ``number`` counts from 1."""

    number: int
    run: Any
    method: Method
    fit: RunFit
    report: RunReport
    flags: tuple[Flag, ...]

    @property
    def key(self) -> str:
        """The run's short name."""
        return str(self.run.key)

    @property
    def title(self) -> str:
        """What was flown."""
        return self.report.title

    @property
    def anchor(self) -> str:
        """Where the run's figure stands."""
        return f"run-{self.number}"

    @property
    def rows_anchor(self) -> str:
        """Where the run's rows stand."""
        return f"rows-{self.number}"

    def row_anchor(self, index: int) -> str:
        """Where one reading stands."""
        return f"row-{self.number}-{index + 1}"

    @property
    def times_s(self) -> FloatArray | None:
        """Time of each reading, s; None for a run whose readings have no times."""
        times = getattr(self.run, "time_s", None)
        return times if times is not None and bool(np.isfinite(times).all()) else None

    @property
    def device(self) -> Device | None:
        """The device that moved first; None for a run without moves."""
        moves = getattr(self.run, "moves", ())
        return moves[0].device if moves else None


@dataclass(frozen=True, slots=True)
class Evidence:
    """A brief's content with its runs by key, and the scales of its units."""

    content: BriefContent
    runs: Mapping[str, RunEvidence]

    @property
    def fitted(self) -> tuple[RunEvidence, ...]:
        """The runs that the joint fit takes; go-arounds in pairs are not among them."""
        return tuple(run for run in self.runs.values() if run.fit.observed.size)

    def of(self, keys: Sequence[str]) -> tuple[RunEvidence, ...]:
        """Return the runs of these keys, each once, in the order of the study."""
        wanted = set(keys)
        return tuple(run for key, run in self.runs.items() if key in wanted)

    def by_method(self, method: str) -> tuple[RunEvidence, ...]:
        """Return the runs of a method."""
        return tuple(run for run in self.runs.values() if run.method.key == method)

    def scale(self, unit: str) -> Scale:
        """Return how SI values of a unit are printed in this brief."""
        return scale_of(unit, self.content.units)

    def show(self, finding: Finding) -> Shown:
        """Return a finding rounded, with its intervals."""
        scale = Scale(0.01, "%") if finding.key.startswith("share.") else self.scale(finding.unit)
        return shown(finding.value, finding.half, finding.most, scale)

    def told(self, text: str) -> str:
        """Return what another room says, in the units and the language of this brief."""
        reduction = self.content.reduction
        return teller(self.content.units, settings_of(reduction.beliefs) if reduction else ())(text)

    def limited(self, text: str) -> str:
        """Return a caution or a step of a card likewise; what it limits never comes out wider."""
        return foreign(metric_words(text) if self.content.units == "metric" else text)

    def stated(self, si: float, unit: str, places: int = 0) -> str:
        """Return a stated quantity with its unit."""
        return quantity(si, self.scale(unit), places)

    def finding(self, key: str) -> Finding | None:
        """Return the finding of that key, or None."""
        for finding in self.content.reduction.findings:
            if finding.key == key:
                return finding
        return None

    def findings(self, start: str) -> tuple[Finding, ...]:
        """Return the findings whose key starts so."""
        return tuple(f for f in self.content.reduction.findings if f.key.startswith(start))


def gather(content: BriefContent) -> Evidence:
    """Return the evidence of a brief, all that other rooms say in it in its units and language."""
    content = told(content)
    reduction = content.reduction
    runs = {}
    for i, (posed, fit, report) in enumerate(
        zip(reduction.joint.problem.runs, reduction.joint.runs, reduction.reports, strict=True), start=1
    ):
        flags = tuple(flag for flag in reduction.flags if flag.run == fit.key)
        runs[fit.key] = RunEvidence(i, posed.run, posed.method, fit, report, flags)
    return Evidence(content, runs)


def slug(text: str) -> str:
    """Return text as an anchor: lower-case letters, digits and hyphens."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "x"


def finding_anchor(key: str) -> str:
    """Return where a finding is said: its own sentence or row, or the figure or sentence it shares with others."""
    if key.startswith("area.") and not key.endswith(".middle"):
        return "figure-areas"
    if key.startswith("cl_max."):
        key = f"stall.{key.removeprefix('cl_max.')}"
    return f"finding-{slug('share.lift' if key == 'share.drag' else key)}"
