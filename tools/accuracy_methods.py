"""Measure every method on three airplanes nobody here wrote, and write the tables into docs/accuracy-methods.md.

Usage: ``python tools/accuracy_methods.py`` (an hour on one core); with ``--quick`` two repeats of each, printed only.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.accuracy.outside_programme import PROGRAMMES
from tests.accuracy.outside_trials import (
    ACCELERATIONS,
    CLIMBS,
    GLIDES,
    STALLS,
    Campaign,
    Outcome,
    outcomes,
    repeat,
)

PAGE = Path(__file__).parents[1] / "docs" / "accuracy-methods.md"
BEGIN, END = "<!-- measured by tools/accuracy_methods.py -->", "<!-- end of what was measured -->"
GEAR, FLAPS = ("gear",), ("gear", "half", "full")
BARS = {"runs": "5 %", "pairs": "3 %", "CD0": "5 %", "k": "5 %", "stall": "1 kt", "best": "3 kt"}


@dataclass(frozen=True, slots=True)
class Case:
    """One campaign on one airplane in still air (``severity`` 0) or in gusts, and how often it is repeated."""

    model: str
    words: str
    campaign: Campaign
    severity: int
    repeats: int

    @property
    def key(self) -> str:
        """Short name."""
        return f"{self.model}, {self.words}, {'rough' if self.severity else 'still'}"


def cases(many: int = 40, some: int = 20) -> list[Case]:
    """Return everything that is measured; ``many`` repeats of what is quick or needed for coverage, else ``some``."""
    out: list[Case] = []
    for severity in (0, 1):
        for model in PROGRAMMES:
            out += [
                Case(model, "five glides", GLIDES, severity, many),
                Case(model, "stalls", STALLS, severity, many),
                Case(model, "climbs", CLIMBS, severity, many),
            ]
        for model, devices in (("L17", FLAPS), ("pc7", FLAPS), ("c310", GEAR)):
            pairs = FLAPS if model == "L17" else GEAR
            out += [
                Case(model, "three runs", Campaign(runs=3, devices=devices), severity, some),
                Case(model, "three pairs", Campaign(pairs=3, devices=pairs), severity, some),
            ]
        for model, devices in (("L17", FLAPS), ("pc7", FLAPS), ("c310", GEAR)):
            whole = Campaign(runs=3, glides=True, stalls=True, climbs=True, devices=devices)
            out.append(Case(model, "all together", whole, severity, many))
    return [*out, *(Case(model, "level acceleration", ACCELERATIONS, 0, some) for model in PROGRAMMES)]


def _bar(case: Case, name: str) -> str:
    first = name.split()[0]
    if first in ("gear", "half", "full"):
        return BARS["pairs" if "pairs" in case.words else "runs"]
    return BARS[first]


def _row(case: Case, outcome: Outcome) -> str:
    unit = " %" if outcome.unit == "%" else f" {outcome.unit}"
    truth = f"{outcome.truth:.4f}" if outcome.name in ("CD0", "k") else f"{outcome.truth:.2f}"
    bar = _bar(case, outcome.name)
    verdict = "met" if outcome.rms < float(bar.split()[0]) else "**missed**"
    sizes = f"{outcome.rms:.1f}{unit} | {outcome.bias:+.1f}{unit} | {outcome.half_width:.1f}{unit}"
    return f"| {outcome.name} | {truth} | {sizes} | {100.0 * outcome.held:.0f} | {bar}, {verdict} |"


def table(case: Case, found: Sequence[Outcome]) -> list[str]:
    """Return the table of one case, with its heading."""
    held = float(np.mean([outcome.held for outcome in found]))
    return [
        f"**{case.key}** ({found[0].value.size} repeats; over all rows {100.0 * held:.0f} % of the intervals hold)",
        "",
        "| quantity | truth | RMS error | mean error | 95 % half width | holds truth, % | bar |",
        "| --- | --- | --- | --- | --- | --- | --- |",
        *(_row(case, outcome) for outcome in found),
        "",
    ]


def measured(case: Case) -> list[Outcome]:
    """Fly, read off and reduce every repeat of a case."""
    programme = PROGRAMMES[case.model]
    return outcomes(
        programme,
        case.campaign,
        [repeat(programme, case.campaign, seed, case.severity) for seed in range(1, case.repeats + 1)],
    )


def write(lines: Iterable[str], page: Path = PAGE) -> None:
    """Put the tables between the markers of the page."""
    before, _, rest = page.read_text(encoding="utf-8").partition(BEGIN)
    _, _, after = rest.partition(END)
    page.write_text(f"{before}{BEGIN}\n\n" + "\n".join(lines) + f"\n{END}{after}", encoding="utf-8")


def main(arguments: Sequence[str]) -> int:
    """Measure and print, and unless it is quick write into the page; return the exit code."""
    quick = "--quick" in arguments
    lines: list[str] = []
    for case in cases(2, 2) if quick else cases():
        print(case.key, file=sys.stderr, flush=True)
        lines += table(case, measured(case))
    print("\n".join(lines))
    if not quick:
        write(lines)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
