"""An airplane file from a handbook, and the blocks of an airspeed calibration for it, at the command line."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from tests.cli.conftest import Desk, study_at
from tests.services.every_method import LEGS
from tests.services.texts import AIRPLANE
from wringout.airplane.document import parse_airplane

PAGE = (Path(__file__).parents[2] / "docs" / "handbook.md").read_text(encoding="utf-8")
HANDBOOK = re.findall(r"```toml handbook\.toml\n(.*?)```", PAGE, re.DOTALL)[0]
IMPOSSIBLE = HANDBOOK.replace('rate = "1050 ft/min"', 'rate = "1950 ft/min"')
"""A climb that would take more than the engine's power."""


def test_an_airplane_nobody_has_tested_begins_with_its_handbook(desk: Desk) -> None:
    output = desk.folder / "my-airplane.toml"
    said = desk.ok("airplane", "from-handbook", desk.file("handbook.toml", HANDBOOK), "-o", str(output))
    assert said.splitlines()[0] == (
        "Quillback 230 (invented): no two of the printed figures contradict each other (16 were compared)."
    )
    assert parse_airplane(output.read_text(encoding="utf-8")).name == "Quillback 230 (invented)"
    desk.ok("new", "Study")
    assert "kept as version 1" in desk.ok("airplane", "put", str(output))


def test_what_contradicts_is_said_with_its_size(desk: Desk) -> None:
    file = desk.file("handbook.toml", IMPOSSIBLE)
    result = desk.run("airplane", "from-handbook", file)
    assert result.exit_code == 0
    assert tomllib.loads(result.stdout)["format"] == "wringout airplane, version 1"
    lines = result.stderr.splitlines()
    assert re.fullmatch(r".*: the printed figures contradict each other in \d+ places of 16\.", lines[0])
    assert any("1,950 ft/min" in line and re.search(r"\d\.\d sigma", line) for line in lines[1:])
    found = desk.json("airplane", "from-handbook", file)
    assert [check["sentence"] for check in found["contradictions"]] == lines[1:]
    assert all(check["sigma"] is None or check["sigma"] >= 2.0 for check in found["contradictions"])
    assert found["file"] is None
    assert found["toml"] == result.stdout


def test_an_airplane_file_is_never_written_over(desk: Desk) -> None:
    mine = desk.file("my-airplane.toml", "mine")
    result = desk.run("airplane", "from-handbook", desk.file("handbook.toml", HANDBOOK), "-o", mine)
    assert result.exit_code == 3
    assert "there is a file of this name already; choose another name." in result.stderr
    assert Path(mine).read_text() == "mine"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "the file is empty; write a handbook file as docs/handbook.md shows"),
        ("x = [", "handbook.toml"),
        (HANDBOOK.replace('ratio = "9.4"', 'ratio = "94"'), "handbook.toml, glide.ratio"),
    ],
)
def test_a_handbook_that_cannot_be_used_is_one_sentence(desk: Desk, text: str, words: str) -> None:
    result = desk.run("airplane", "from-handbook", desk.file("handbook.toml", text))
    assert result.exit_code == 3
    assert words in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


def test_a_calibration_is_printed_for_the_airplane_file(tmp_path: Path) -> None:
    desk = study_at(tmp_path, {"legs.csv": LEGS})
    found = desk.json("calibration")
    assert [round(point["indicated"]) for point in found["points"]] == [80, 100, 125]
    for point in found["points"]:
        low, high = point["interval_95"]
        # The legs were made with the demo airplane's own errors: +1, 0 and -0.625 kt, interpolated in its file.
        true = {80: 1.0, 100: 0.0, 125: -0.625}[round(point["indicated"])]
        assert low < true < high
    toml = desk.ok("calibration", "--toml")
    assert toml == found["toml"]
    block = tomllib.loads(toml)["instrument"]["position_error"][0]
    assert (block["flaps"], block["gear"], len(block["indicated"])) == ("up", "up", 3)
    said = desk.ok("calibration")
    assert said.splitlines()[0].startswith(("The airspeed indicator shows up to", "No error of the airspeed system"))
    assert toml in said
    head, _, rest = AIRPLANE.partition("[[instrument.position_error]]")
    assert "kept as version 2" in desk.ok(
        "airplane", "put", desk.file("again.toml", head + toml + "\n[loading]" + rest.partition("[loading]")[2])
    )


def test_a_study_without_calibrations_says_so(tmp_path: Path) -> None:
    result = study_at(tmp_path, {}).run("calibration")
    assert result.exit_code == 6
    assert (
        "no airspeed calibration is in use yet; take in legs at three or more headings first." in result.stderr.lower()
    )
