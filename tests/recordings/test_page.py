"""docs/recordings.md tells the truth: every example on it reads as the page says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.recordings.summary import reads_as
from wringout.recordings.columns.mapping import QUANTITIES, mapping_from_json
from wringout.recordings.marks import read_mark
from wringout.recordings.types import Device, EventKind

PAGE = (Path(__file__).parents[2] / "docs" / "recordings.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```(\w+) ([\w.-]+)\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
EXAMPLES = [
    (name, text, BLOCKS[i + 1][2])
    for i, (_, name, text) in enumerate(BLOCKS)
    if name.endswith((".csv", ".txt", ".taps")) and BLOCKS[i + 1][1] == "reads"
]


def test_the_page_has_all_its_examples() -> None:
    assert len(EXAMPLES) == sum(name.endswith((".csv", ".txt", ".taps")) for _, name, _ in BLOCKS) >= 8
    assert sum(name == "reads" for _, name, _ in BLOCKS) == len(EXAMPLES) + 1  # one more is read with the mapping


@pytest.mark.parametrize(("name", "text", "expected"), EXAMPLES, ids=[name for name, _, _ in EXAMPLES])
def test_an_example_reads_as_shown(name: str, text: str, expected: str) -> None:
    assert reads_as(text.encode(), name) == expected.splitlines()


def test_the_mapping_on_the_page_answers_the_question() -> None:
    names = [name for _, name, _ in BLOCKS]
    mapping = mapping_from_json(BLOCKS[names.index("mapping")][2])
    text = BLOCKS[names.index("odd-unit.csv")][2]
    expected = BLOCKS[names.index("mapping") + 1][2]
    assert reads_as(text.encode(), "odd-unit.csv", mapping) == expected.splitlines()


def test_every_quantity_is_on_the_page() -> None:
    table = PAGE.split("<!-- quantities -->")[1].split("<!-- /quantities -->")[0]
    rows = [f"| `{q.name}` | {q.dimension} | {', '.join(q.names[:3])} |" for q in QUANTITIES.values()]
    assert table.strip().splitlines()[2:] == rows


MEANINGS = {
    "gear handle moved to down": (EventKind.SELECTED, Device.GEAR),
    "gear arrived down": (EventKind.ARRIVED, Device.GEAR),
    "gear handle moved to up": (EventKind.SELECTED, Device.GEAR),
    "gear arrived up": (EventKind.ARRIVED, Device.GEAR),
    "flap handle moved to that setting": (EventKind.SELECTED, Device.FLAPS),
    "flaps arrived": (EventKind.ARRIVED, Device.FLAPS),
    "the speed was called stable": (EventKind.STABLE, None),
    "power was set": (EventKind.POWER, None),
}


def test_the_words_of_marks_mean_what_the_page_says() -> None:
    section = PAGE.split("### The words of a mark")[1].split("\n\n")[1]
    checked = 0
    for row in section.splitlines()[2:]:
        written, meaning = (cell.strip() for cell in row.strip("|").split("|"))
        for labels, said in zip(written.split(";"), meaning.split(";"), strict=False):
            wanted = MEANINGS.get(said.strip())
            for label in labels.split(",") if wanted else []:
                event = read_mark(label)
                assert (event.kind, event.device) == wanted, label
                checked += 1
    assert checked >= 25
