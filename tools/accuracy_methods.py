"""Measure every method and the technique engine on airplanes nobody here wrote; write docs/accuracy-methods.md.

Usage: ``python tools/accuracy_methods.py [part ...]`` with parts ``still``, ``bound`` (of the rows that miss their bar
there), ``hasty``, ``rough`` and ``orders`` (all of them when none is named: about an hour on one core); with
``--quick`` two repeats of each, printed only. Every number between the markers of the page is made here; the words
around them are not.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))  # the trials live beside the tests

from tests.accuracy import outside_clean_up as clean_up
from tests.accuracy.outside_bound import least_errors
from tests.accuracy.outside_programme import HASTY, PROGRAMMES, STEADY, Hand, exact_crew
from tests.accuracy.outside_trials import (
    ACCELERATIONS,
    CLIMBS,
    GLIDES,
    GLIDES_KNOWN,
    STALLS,
    Campaign,
    Outcome,
    outcomes,
    reduced,
    repeat,
)
from tests.outside.clean_up import Pitch

PAGE = Path(__file__).parents[1] / "docs" / "accuracy-methods.md"
GEAR, FLAPS = ("gear",), ("gear", "half", "full")
DEVICES = {"L17": FLAPS, "pc7": FLAPS, "c310": GEAR}
PAIRED = {"L17": FLAPS, "pc7": GEAR, "c310": GEAR}
BARS = {"runs": 5.0, "pairs": 3.0, "CD0": 5.0, "k": 5.0, "stall": 1.0, "best": 3.0}
MANY, HASTILY, ROUGH, QUICK = 40, 20, 16, 2
PITCHES: tuple[Pitch, ...] = ("speed", "attitude")


@dataclass(frozen=True, slots=True)
class Case:
    """One campaign on one airplane; ``severity`` 0 is still air, 1 light turbulence; ``hand`` reads it."""

    model: str
    words: str
    campaign: Campaign
    severity: int = 0
    hand: Hand = STEADY


def cases(model: str, severity: int, hand: Hand = STEADY) -> list[Case]:
    """Return what is flown with one airplane."""
    if hand is not STEADY:
        flown = {
            "three runs": Campaign(runs=3, devices=DEVICES[model]),
            "three pairs": Campaign(pairs=3, devices=PAIRED[model]),
        }
    elif severity:
        flown = {"three runs": Campaign(runs=3, devices=GEAR), "three pairs": Campaign(pairs=3, devices=GEAR)}
        flown |= {"five glides, thrust known": GLIDES_KNOWN}
    else:
        everything = Campaign(3, glides=True, stalls=True, climbs=True, devices=DEVICES[model])
        flown = {
            "three runs": Campaign(runs=3, devices=DEVICES[model]),
            "three pairs": Campaign(pairs=3, devices=PAIRED[model]),
            "six pairs": Campaign(pairs=6, devices=PAIRED[model]),
            "five glides": GLIDES,
            "five glides, thrust known": GLIDES_KNOWN,
            "three stalls of each": STALLS,
            "five climbs": CLIMBS,
            "a level acceleration": ACCELERATIONS,
            "runs, glides, stalls, climbs": everything,
        }
    return [Case(model, words, campaign, severity, hand) for words, campaign in flown.items()]


def bar_of(case: Case, name: str) -> float:
    """Return the bar of a quantity, in per cent or knots."""
    first = name.split()[0]
    if first in FLAPS:
        return BARS["pairs" if "pairs" in case.words else "runs"]
    return BARS[first]


def row(case: Case, found: Outcome, exact: float) -> str:
    """Return one row of a table; ``exact`` is what is found when nothing is read wrongly."""
    unit = " %" if found.unit == "%" else " kt"
    truth = f"{found.truth:.4f}" if found.name in ("CD0", "k") else f"{found.truth:.2f}"
    bar = bar_of(case, found.name)
    verdict = "met" if found.rms < bar else "**missed**"
    left = (exact / found.truth - 1.0) * 100.0 if found.unit == "%" else exact - found.truth
    sizes = f"{found.rms:.1f} | {found.bias:+.1f} | {left:+.1f} | {found.half_width:.1f}{unit}"
    return f"| {case.words} | {found.name} | {truth} | {sizes} | {100.0 * found.held:.0f} | {bar:g}{unit}, {verdict} |"


def methods_table(severity: int, repeats: int, hand: Hand = STEADY) -> list[str]:
    """Return one table for each airplane, and how many intervals hold over everything."""
    lines: list[str] = []
    held: list[float] = []
    for model, programme in PROGRAMMES.items():
        lines += [
            f"**{model}**, {repeats} repeats",
            "",
            "| flown | quantity | truth | RMS error | mean error | read exactly | 95 % half width | holds, % | bar |",
            "| --- | --- | --- | --- | --- | --- | --- | --- | --- |",
        ]
        for case in cases(model, severity, hand):
            print(f"{model}, {case.words}, {'rough' if severity else 'still'}, {hand}", file=sys.stderr, flush=True)
            made = [repeat(programme, case.campaign, seed, severity, hand) for seed in range(1, repeats + 1)]
            exact = reduced(programme, case.campaign, exact_crew(hand))
            found = outcomes(programme, case.campaign, made)
            held += [outcome.held for outcome in found]
            lines += [row(case, outcome, exact[outcome.name][0]) for outcome in found]
        lines.append("")
    lines.append(
        f"Over all {len(held)} rows and {repeats} repeats, {100.0 * float(np.mean(held)):.0f} % of the 95 % intervals "
        f"hold the truth; the bar is 90 to 99 %."
    )
    return lines


def missed(page: str, model: str) -> list[list[str]]:
    """Return the cells of the rows in still air that miss their bar, as the page has them."""
    _, _, rest = page.partition("<!-- measured: still -->")
    still, _, _ = rest.partition("<!-- end -->")
    _, _, own = still.partition(f"**{model}**")
    table, _, _ = own.partition("\n**")
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines() if "missed" in line]


def bound_table() -> list[str]:
    """Return, for every row that misses its bar, what its readings allow at best beside what was found."""
    lines = [
        "| airplane | flown | quantity | bar | RMS error | mean error | readings allow | within reach |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    page = PAGE.read_text(encoding="utf-8")
    for model in PROGRAMMES:
        by_words = {case.words: case for case in cases(model, 0)}
        for words, name, _, rms, mean, *_ in missed(page, model):
            case = by_words[words]
            least, bar = least_errors(model, case.campaign)[_fitted(name)], bar_of(case, name)
            unit = "kt" if name.startswith(("best", "stall")) else "%"
            verdict = "yes" if least < bar else "**no**"
            lines.append(
                f"| {model} | {words} | {name} | {bar:g} {unit} | {rms} | {mean} | {least:.1f} {unit} | {verdict} |"
            )
    return lines


def _fitted(name: str) -> str:
    """Return the quantity without the way it was found."""
    return name.partition(",")[0]


def orders_table(*, quick: bool) -> list[str]:
    """Return heights after 30 s by order, both pitch laws side by side, and how the rankings agree."""
    lines: list[str] = []
    for model in clean_up.SETTINGS if not quick else ["L17"]:
        by_law = {pitch: {o.title: o for o in clean_up.compared(model, pitch)} for pitch in PITCHES}
        lines += [
            f"**{model}**, height gained 30 s after the decision, ft",
            "",
            "| order | hold speed: JSBSim | engine | off | hold attitude: JSBSim | engine | off |",
            "| --- | --- | --- | --- | --- | --- | --- |",
        ]
        for title, first in by_law["speed"].items():
            cells = [
                f"{o.outside_ft:.0f} | {o.engine_ft:.0f} | {o.engine_ft - o.outside_ft:+.0f} ft, {100.0 * o.off:+.0f} %"
                for o in (first, by_law["attitude"][title])
            ]
            lines.append(f"| {title} | {' | '.join(cells)} |")
        lines.append("")
        for pitch in PITCHES:
            lines += [clean_up_sentence(f"Holding {pitch}", tuple(by_law[pitch].values())), ""]
    return lines[:-1]


def clean_up_sentence(words: str, found: tuple[clean_up.Order, ...]) -> str:
    """Return how the rankings and the heights of one airplane and law agree."""
    wrong, counted = len(clean_up.disagreements(found)), clean_up.counted(found)
    high = [o for o in found if abs(o.outside_ft) >= clean_up.LOW_FT]
    low = [o for o in found if abs(o.outside_ft) < clean_up.LOW_FT]
    worst = max(abs(o.off) for o in high)
    near = f", of the {len(low)} nearer to zero within {max(abs(o.error_ft) for o in low):.0f} ft" if low else ""
    return (
        f"{words}: of {counted} pairs of orders that differ by more than {clean_up.MATTERS_FT:g} ft, the engine puts "
        f"{wrong} the other way round; heights of {clean_up.LOW_FT:.0f} ft and more agree within "
        f"{100.0 * worst:.0f} % ({len(high)} of {len(found)} orders){near}."
    )


PARTS: dict[str, Callable[[bool], list[str]]] = {
    "still": lambda quick: methods_table(0, QUICK if quick else MANY),
    "bound": lambda _: bound_table(),
    "hasty": lambda quick: methods_table(0, QUICK if quick else HASTILY, HASTY),
    "rough": lambda quick: methods_table(1, QUICK if quick else ROUGH),
    "orders": lambda quick: orders_table(quick=quick),
}


def written_into(page: str, name: str, lines: Sequence[str]) -> str:
    """Return the page with a part put between its markers; raises ValueError where a marker is missing."""
    begin, end = f"<!-- measured: {name} -->", "<!-- end -->"
    before, found, rest = page.partition(begin)
    _, closed, after = rest.partition(end)
    if not (found and closed):
        raise ValueError(f"{PAGE.name} has no place for {name}: write {begin} and {end}")
    return "\n".join([f"{before}{begin}", "", *lines, "", f"{end}{after}"])


def main(arguments: Sequence[str]) -> int:
    """Measure, print, and unless it is quick write into the page; return the exit code."""
    quick = "--quick" in arguments
    wanted = [a for a in arguments if not a.startswith("--")] or list(PARTS)
    if unknown := [name for name in wanted if name not in PARTS]:
        print(f"{unknown[0]} is no part; there are {', '.join(PARTS)}", file=sys.stderr)
        return 2
    for name in wanted:
        lines = PARTS[name](quick)
        print("\n".join(lines), flush=True)
        if not quick:
            PAGE.write_text(written_into(PAGE.read_text(encoding="utf-8"), name, lines), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
