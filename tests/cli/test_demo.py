"""The bundled study, worked as the command does it, without a terminal; running it again changes nothing."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from wringout.cli.main import cli


def demo(folder: Path, *more: str) -> str:
    result = CliRunner().invoke(cli, ["demo", "--folder", str(folder), *more])
    assert result.exit_code == 0, result.stderr
    return result.stdout


NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    folder = tmp_path_factory.mktemp("demo") / "deep" / "er"
    return folder, demo(folder)


def test_it_says_what_it_found_and_where_everything_is(shown: tuple[Path, str]) -> None:
    folder, said = shown
    for name in ("brief/brief.html", "brief/brief.pdf", "brief/quillback-go-around.zip", "study.db"):
        assert (folder / name).is_file()
        assert str(folder / name) in said
    for words in ("invented", "Question: ", "times the drag of the gear", "With the attitude held", "approved manual"):
        assert words in said


def test_the_front_page_quotes_what_it_says(shown: tuple[Path, str]) -> None:
    """Word for word; numbers to one in the last digit printed, by which processors and libraries may differ."""
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    quoted = readme.partition("`make demo` says:\n\n```text\n")[2].partition("```")[0].splitlines()
    said = [line for line in shown[1].splitlines() if line.startswith("- ")][: len(quoted)]
    assert len(quoted) == 4
    assert [NUMBER.sub("#", line) for line in said] == [NUMBER.sub("#", line) for line in quoted]
    for now, then in zip(NUMBER.findall("\n".join(said)), NUMBER.findall("\n".join(quoted)), strict=True):
        last = 10.0 ** -len(then.partition(".")[2])
        assert abs(float(now.replace(",", "")) - float(then.replace(",", ""))) < 1.5 * last


def test_running_it_again_changes_nothing(shown: tuple[Path, str]) -> None:
    folder, said = shown
    runner = CliRunner()

    def reading(*words: str) -> object:
        return json.loads(runner.invoke(cli, [*words, "--json", "--database", str(folder / "study.db")]).stdout)

    before = [reading(word) for word in ("history", "findings", "verdict", "runs", "recordings")]
    page = (folder / "brief" / "brief.html").read_text(encoding="utf-8")
    again = json.loads(demo(folder, "--json"))
    assert [reading(word) for word in ("history", "findings", "verdict", "runs", "recordings")] == before
    assert all(arrival["already_in_study"] for arrival in again["arrivals"])
    assert again["findings"]["answer"] in said
    assert again["brief"]["bundle_sha256"] in page
    assert again["brief"]["reproduced"] is True
