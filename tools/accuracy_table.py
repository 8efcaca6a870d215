"""Measure how near the answers come to an airplane nobody here wrote, and put the tables into docs/accuracy.md.

Usage: ``python tools/accuracy_table.py`` (about ten minutes) or, with few repeats and printed only,
``python tools/accuracy_table.py --quick``; names of tables, such as ``ranks``, measure these alone. Every number
between the markers of the page is made here; the words around them are not.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))  # the trials live beside the tests

from tests.accuracy import calibration  # noqa: E402
from tests.accuracy import outside_airplane as trial  # noqa: E402
from tests.accuracy import test_certified_fits as certified  # noqa: E402
from tests.accuracy import test_published_flight as published  # noqa: E402
from tests.accuracy.certified_fits import DATA_SETS  # noqa: E402
from tests.outside.flight_dynamics import Device  # noqa: E402

PAGE = ROOT / "docs" / "accuracy.md"
PARTS = ("areas", "bar", "exact", "slips", "published", "certified", "ranks")
"""Names of the tables; each stands between ``<!-- measured: name -->`` and ``<!-- end -->``."""
RANK_REPEATS = 600

GLIDE = 'best_glide = { ratio = "11.6 ± 0.35", speed = "87 ± 2.5 kt", weight = "2770 lb" }'
GLIDES = """\
clean_area = "5.40 ± 0.11 ft2"
span_efficiency = "0.95 ± 0.02"
clean_slope = "4.5 ± 0.3 ft2"
"""
"""Fitted to JSBSim's clean polar at 80, 87, 95, 105, 115 and 125 kt, within 0.8 %."""

SLIPS: tuple[tuple[str, trial.Slip], ...] = (
    ("nothing", trial.NO_SLIP),
    ("device taken as out at once, nothing timed", trial.Slip(at_once=True)),
    ("mark 2 s late", trial.Slip(mark_late_s=2.0)),
    ("mark 2 s early", trial.Slip(mark_late_s=-2.0)),
    ("every mark off by 0.5 s (standard deviation)", trial.Slip(mark_scatter_s=0.5)),
    ("dial 2 kt high", trial.Slip(bias_kt=2.0)),
    ("dial 2 kt low", trial.Slip(bias_kt=-2.0)),
    ("weight stated 3 % high", trial.Slip(weight_share=1.03)),
)


def _percent(values: Iterable[float], *, signed: bool = False) -> str:
    return " / ".join(f"{100.0 * x:{'+' if signed else ''}.1f}" for x in values)


def _say(words: str) -> None:
    print(words, file=sys.stderr, flush=True)


def areas_table() -> list[str]:
    """Return JSBSim's own areas at the speeds everything is compared at."""
    lines = ["| device | speeds, kt | JSBSim's own area there, ft² |", "| --- | --- | --- |"]
    for device in trial.DEVICES:
        speeds, truth = trial.speeds_and_truth(device)
        lines.append(
            f"| {device} | {' / '.join(f'{s:.0f}' for s in speeds)} | {' / '.join(f'{a:.2f}' for a in truth)} |"
        )
    return lines


def bar_table(one: int, three: int) -> list[str]:
    """Return errors and coverage against the bar."""
    lines = [
        "| flown | device | repeats | RMS error, % | mean error, % | 95 % interval holds truth, % | half width, % |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    cases = (
        ("one run for each device", trial.ENTRIES_ONE, one, trial.AIRPLANE, trial.ALTITUDE_FT),
        ("three runs for each device", trial.ENTRIES_THREE, three, trial.AIRPLANE, trial.ALTITUDE_FT),
        ("three runs, clean polar from glides", trial.ENTRIES_THREE, three, _with_glides(), trial.ALTITUDE_FT),
        ("one gear run alone", _only("gear"), one, trial.AIRPLANE, trial.ALTITUDE_FT),
        ("one flap run alone", _only("flaps"), one, trial.AIRPLANE, trial.ALTITUDE_FT),
        ("one run for each, 7,000 ft, over rated rpm", trial.ENTRIES_ONE, one, trial.AIRPLANE, 7000.0),
    )
    for words, entries, repeats, airplane, altitude_ft in cases:
        _say(f"{words}: {repeats} repeats")
        found = trial.trials(entries, range(repeats), airplane=airplane, altitude_ft=altitude_ft)
        for device, t in found.items():
            if not entries[device]:
                continue
            held = " / ".join(f"{100.0 * x:.0f}" for x in t.coverage)
            lines.append(
                f"| {words} | {device} | {repeats} | {_percent(t.rms)} | {_percent(t.bias, signed=True)} | {held} "
                f"| {_percent(t.half_width)} |"
            )
    return lines


def slips_table(repeats: int) -> list[str]:
    """Return what happens to the mean error when something is done wrong, one run for each device."""
    lines = ["| done wrong | gear, mean error, % | full flaps, mean error, % |", "| --- | --- | --- |"]
    for words, slip in SLIPS:
        _say(f"{words}: {repeats} repeats")
        found = trial.trials(trial.ENTRIES_ONE, range(repeats), slip)
        means = [_percent(found[device].bias, signed=True) for device in trial.DEVICES]
        lines.append(f"| {words} | {means[0]} | {means[1]} |")
    return lines


def exact_table() -> list[str]:
    """Return what error is left when nothing is read wrongly at all: the model's own."""
    lines = ["| read without any error | gear, error, % | full flaps, error, % |", "| --- | --- | --- |"]
    for words, entries, airplane in (
        ("one run for each device", trial.ENTRIES_ONE, trial.AIRPLANE),
        ("three runs for each device", trial.ENTRIES_THREE, trial.AIRPLANE),
        ("three runs, clean polar from glides", trial.ENTRIES_THREE, _with_glides()),
    ):
        found = trial.trials(entries, (0,), trial.Slip(exact=True), airplane)
        means = [_percent(found[device].bias, signed=True) for device in trial.DEVICES]
        lines.append(f"| {words} | {means[0]} | {means[1]} |")
    return lines


def _only(device: Device) -> dict[Device, tuple[float, ...]]:
    return {other: trial.ENTRIES_ONE[other] if other == device else () for other in trial.DEVICES}


def published_table() -> list[str]:
    """Return the published areas beside those found from runs made of them."""
    medians, limits = published.recovered()
    seeds = " | ".join(f"found, seed {seed}, ft² (95 %)" for seed in published.SEEDS)
    lines = [f"| area added | published, ft² | {seeds} |", "| --- | --- |" + " --- |" * len(published.SEEDS)]
    for i, (words, truth) in enumerate(published.PUBLISHED.items()):
        found = [
            f"{medians[j, i]:.2f} ({limits[j, i, 0]:.2f} to {limits[j, i, 1]:.2f})" for j in range(len(published.SEEDS))
        ]
        lines.append(f"| {words} | {truth:.2f} | {' | '.join(found)} |")
    return lines


def certified_table() -> list[str]:
    """Return how many digits of NIST's certified answers the solver of the joint fit gives, near and far start."""
    lines = [
        "| data set | digits of values, near / far | digits of standard errors, near / far |",
        "| --- | --- | --- |",
    ]
    for data in DATA_SETS:
        digits = []
        for start in reversed(data.starts):
            values, errors, scatter = certified.solved(data, start)
            fails = scatter > 1.01 * data.residual_sd
            digits.append(
                ("not found", "not found")
                if fails
                else (
                    f"{certified.matching_digits(values, data.values):.1f}",
                    f"{certified.matching_digits(errors, data.errors):.1f}",
                )
            )
        lines.append(f"| {data.name} | {digits[0][0]} / {digits[1][0]} | {digits[0][1]} / {digits[1][1]} |")
    return lines


def ranks_table(repeats: int) -> list[str]:
    """Return how uniform the places of truths among posterior draws are, and what all quantities say together."""
    found = calibration.uniformity(calibration.ranks(repeats))
    lines = [
        f"| quantity or parameter | truths in each tenth of the draws, {repeats} airplanes | p, chi square | "
        "p, Kolmogorov-Smirnov | in 50 % interval | in 95 % interval |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    lines += [
        f"| {one.quantity} | {' '.join(str(n) for n in one.counts)} | {one.chi_square_p:.3f} | "
        f"{one.kolmogorov_p:.3f} | {100 * one.inside_half:.0f} % | {100 * one.inside_most:.0f} % |"
        for one in found
    ]
    p, tests = calibration.together(found), 2 * len(found)
    lines += ["", f"All together, the least of these {tests} p values times {tests} (Bonferroni): **p = {p:.2f}**."]
    return lines


def written_into(page: str, tables: dict[str, list[str]]) -> str:
    """Return the page with every table put between its markers; raises ValueError where a marker is missing."""
    for name, lines in tables.items():
        begin, end = f"<!-- measured: {name} -->", "<!-- end -->"
        before, found, rest = page.partition(begin)
        _, closed, after = rest.partition(end)
        if not (found and closed):
            raise ValueError(f"{PAGE.name} has no place for {name}: write {begin} and {end}")
        page = "\n".join([f"{before}{begin}", "", *lines, "", f"{end}{after}"])
    return page


def _with_glides() -> str:
    if GLIDE not in trial.AIRPLANE:
        raise ValueError("the best glide of the airplane is not the one written here")
    return trial.AIRPLANE.replace(GLIDE + "\n", GLIDES)


def main(arguments: Sequence[str]) -> int:
    """Measure, print, and unless it is quick write into the page; return the exit code."""
    quick = "--quick" in arguments
    one, three, slip = (4, 2, 2) if quick else (100, 40, 40)
    makers: dict[str, Callable[[], list[str]]] = {
        "areas": areas_table,
        "bar": lambda: bar_table(one, three),
        "exact": exact_table,
        "slips": lambda: slips_table(slip),
        "published": published_table,
        "certified": certified_table,
        "ranks": lambda: ranks_table(20 if quick else RANK_REPEATS),
    }
    wanted = [name for name in arguments if name in PARTS] or list(PARTS)
    tables = {name: makers[name]() for name in wanted}
    print("\n\n".join("\n".join(lines) for lines in tables.values()))
    if not quick:
        PAGE.write_text(written_into(PAGE.read_text(encoding="utf-8"), tables), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
