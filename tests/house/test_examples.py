"""Every example in a docstring of the package gives the answer printed beside it."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

from tests.house.tree import ROOT

SOURCE = ROOT / "src"
WITH_EXAMPLES = sorted(
    ".".join(path.relative_to(SOURCE).with_suffix("").parts).removesuffix(".__init__")
    for path in (SOURCE / "wringout").rglob("*.py")
    if ">>>" in path.read_text(encoding="utf-8")
)


def test_there_are_examples() -> None:
    assert "wringout.errors" in WITH_EXAMPLES


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_are_true(name: str) -> None:
    module = importlib.import_module(name)
    done = doctest.testmod(module, optionflags=doctest.NORMALIZE_WHITESPACE)
    assert done.attempted > 0, f"{name} shows >>> but no docstring example was found"
    assert done.failed == 0


def test_a_false_example_is_noticed(tmp_path: Path) -> None:
    examples = doctest.DocTestParser().get_doctest(">>> 1 + 1\n3\n", {}, "planted", str(tmp_path), 0)
    runner = doctest.DocTestRunner(verbose=False)
    assert runner.run(examples, out=lambda _: None).failed == 1
