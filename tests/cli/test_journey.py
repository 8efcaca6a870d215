"""From an empty folder to a brief, as a user types it; and the ways it can go wrong on the way."""

from __future__ import annotations

import html
import json
import re
import shlex
from pathlib import Path

import pytest

from tests.cli.conftest import Desk, study_at
from tests.services.texts import AIRPLANE, BINARY, FLAP_RUN, GEAR_RUN, MOMENT, ODD_UNIT, RUNS, SWAPPED
from wringout.services.opening import open_studies
from wringout.services.publishing.brief_files import newest_brief


def test_from_an_empty_folder_to_a_brief_and_on_to_another_machine(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    assert "Next: wringout airplane put" in desk.ok("new", "Gear or flaps first?", "--question", "What first?")
    desk.ok("airplane", "put", desk.file("airplane.toml", AIRPLANE))
    taken = desk.ok("take-in", *(desk.file(name, text) for name, text in RUNS.items()))
    assert "Run G1: gear down." in taken
    assert "The study has 4 recordings and 4 runs in use." in taken
    assert "Next: wringout reduce" in desk.ok("show")

    reduced = desk.ok("reduce", "--draws", "400")
    first = reduced.splitlines()[0]
    assert first.startswith(("Flaps full cost ", "Whether flaps full or the gear"))
    assert "95 %" in first
    assert "Knots lost (not a drag)" in reduced
    assert "These runs say nothing of " in reduced
    assert desk.ok("findings").splitlines()[0] == first

    compared = desk.ok("compare", "--draws", "100")
    assert compared.startswith("With the attitude held: ")
    assert "Stated before flying" in compared
    assert "approved manual" in compared
    assert desk.ok("verdict").splitlines()[0] == compared.splitlines()[0]

    assert "came out again to the last digit" in desk.ok("brief", "--folder", str(tmp_path / "brief"))
    folder = tmp_path / "brief"
    assert sorted(path.name for path in folder.iterdir()) == ["brief.html", "brief.pdf", "gear-or-flaps-first.zip"]
    assert (folder / "brief.pdf").read_bytes().startswith(b"%PDF-")
    page = (folder / "brief.html").read_text(encoding="utf-8")
    shown = desk.json("show")
    assert shown["brief"] == str(folder / "brief.pdf")
    assert desk.json("export", str(tmp_path / "again.zip"))["sha256"] in page

    other = Desk(tmp_path / "other")
    other.folder.mkdir()
    imported = other.json("import", str(folder / "gear-or-flaps-first.zip"))
    assert imported["sha256"] in page
    again = other.json("findings")
    here = desk.json("findings")
    assert again == here
    other.ok("reduce", "--draws", "400")
    fresh = other.json("findings")
    assert {**fresh, "computed_at": ""} == {**here, "computed_at": ""}


def test_the_commands_printed_in_the_brief_compute_it_again(
    reduced: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done = reduced.json("brief", "--folder", str(tmp_path / "brief"))
    monkeypatch.chdir(tmp_path / "brief")
    page = html.unescape(Path("brief.html").read_text(encoding="utf-8"))
    printed = re.findall(r"wringout (--database again\.sqlite3 [^<\n]+)", page)
    assert [words.split()[2] for words in printed] == ["import", "reduce", "compare", "brief"]
    again = None
    for words in printed:
        again = Desk(Path()).json(*shlex.split(words))
    assert again["bundle_sha256"] == done["bundle_sha256"]
    assert again["reproduced"] is True


def test_brief_and_bundle_of_a_study_can_be_written_twice(reduced: Desk) -> None:
    folder = str(reduced.folder / "twice")
    first, second = reduced.json("brief", "--folder", folder), reduced.json("brief", "--folder", folder)
    assert first["bundle_sha256"] == second["bundle_sha256"]
    assert first["reproduced"] is second["reproduced"] is True
    assert not [path for path in Path(folder).iterdir() if path.name.startswith(".")]
    reduced.ok("brief", "--folder", str(reduced.folder / "elsewhere"))
    with open_studies(reduced.database, lambda: MOMENT) as store:
        newest = newest_brief(store, None)
    assert newest is not None
    assert {one.path.parent.name for one in newest.files} == {"elsewhere"}
    assert len({one.name for one in newest.files}) == len(newest.files) == 3


def test_a_brief_before_anything_was_compared_says_so(tmp_path: Path) -> None:
    desk = study_at(tmp_path, {"G1.csv": GEAR_RUN})
    desk.ok("reduce", "--draws", "400")
    said = desk.ok("brief", "--folder", str(tmp_path / "brief"))
    assert "It compares no techniques yet" in said


def test_a_changed_study_must_be_reduced_again_before_it_is_published(tmp_path: Path) -> None:
    desk = study_at(tmp_path, {"G1.csv": GEAR_RUN, "F1.csv": FLAP_RUN})
    desk.ok("reduce", "--draws", "400")
    desk.ok("run", "aside", "F1", "a gust front reached us")
    assert desk.ok("findings").startswith("The study has changed since this was computed")
    assert desk.json("findings")["current"] is False
    result = desk.run("brief", "--folder", str(tmp_path / "brief"))
    assert result.exit_code == 5
    assert "changed since it was reduced; reduce it again." in result.stderr
    assert not (tmp_path / "brief").exists()
    assert desk.run("compare").exit_code == 5
    desk.ok("run", "back", "F1")
    assert desk.json("findings")["current"] is True


def test_the_next_step_names_a_database_that_must_be_named_again(desk: Desk, tmp_path: Path) -> None:
    other = str(tmp_path / "other studies.db")
    assert f"Next: wringout airplane put my-airplane.toml --database '{other}'\n" in desk.ok(
        "new", "T", "--database", other
    )
    assert desk.ok("new", "T").endswith("Next: wringout airplane put my-airplane.toml\n")


@pytest.mark.parametrize(
    ("name", "data", "code", "words"),
    [
        ("empty.csv", b"", 3, "empty.csv"),
        ("photo.csv", BINARY, 3, "this is an image, not a table"),
        ("swapped.csv", SWAPPED.encode(), 3, "the columns look swapped"),
        ("odd.csv", ODD_UNIT.encode(), 3, "kt, mph or km/h would fit"),
        ("typo.csv", GEAR_RUN.replace("6000 ft", "6000 lb").encode(), 3, "'lb' is not a unit of length"),
        ("cut.csv", "\n".join(GEAR_RUN.splitlines()[:11]).encode(), 0, "Run G1: gear down."),
        ("gap.csv", GEAR_RUN.replace("0:26, 108\n0:32, 104\n0:38, 101\n", "").encode(), 0, "nothing is called for"),
        ("fast.csv", FLAP_RUN.replace(", 107", ", 119").encode(), 0, "VFE (full) is 110 kt and 119 kt was read"),
        ("heavy.csv", GEAR_RUN.replace("3000 lb", "3300 lb").encode(), 0, "above the maximum weight"),
    ],
)
def test_what_is_wrong_with_a_file_is_said_in_one_sentence(
    study: Desk, name: str, data: bytes, code: int, words: str
) -> None:
    result = study.run("take-in", study.file(name, data))
    said = result.stdout + result.stderr
    assert result.exit_code == code, said
    assert words in said
    assert "Traceback" not in said


def test_one_bad_file_does_not_keep_the_others_out(study: Desk) -> None:
    files = [study.file("a.csv", b""), str(study.folder / "missing.csv"), study.file("G1.csv", GEAR_RUN)]
    result = study.run("take-in", *files)
    assert result.exit_code == 3
    assert "there is no such file" in result.stderr
    assert "Run G1: gear down." in result.stdout
    told = study.run("take-in", *files, "--json")
    assert told.exit_code == 3
    found = json.loads(told.stdout)["files"]
    assert [item["error"] is None for item in found] == [False, False, True]
    assert found[2]["taken"]["already_in_study"] is True


def test_the_same_recording_twice_is_noticed(study: Desk) -> None:
    file = study.file("G1.csv", GEAR_RUN)
    study.ok("take-in", file)
    again = study.ok("take-in", file)
    assert "taken in before; nothing was stored twice" in again
    assert "It has the run G1 already." in again
    assert len(study.json("runs")["runs"]) == 1


def test_a_question_is_answered_from_the_command_line(study: Desk) -> None:
    asked = study.run("take-in", study.file("logger.csv", ODD_UNIT))
    assert asked.exit_code == 3
    assert '--confirm "ias=UNIT"' in asked.stdout
    study.ok("mapping", "confirm", "logger.csv", "ias=kt")
    units = {c["quantity"]: c["unit"] for c in study.json("recordings", "logger.csv")["read"]["channels"]}
    assert units["ias"] == "kt"


def test_a_mapping_is_proposed_saved_and_used(study: Desk) -> None:
    table = study.file("logger.csv", ODD_UNIT)
    proposed = json.loads(study.ok("mapping", "propose", table))
    for line in proposed["columns"]:
        if line["column"] == "ias":
            line.update(quantity="ias", unit="km/h", confirmed=True)
    saved = study.file("mine.json", json.dumps(proposed))
    study.ok("take-in", table, "--mapping", saved)
    assert study.json("recordings", "logger.csv")["mapping"]["columns"][1]["unit"] == "km/h"
    study.ok("mapping", "use", "logger.csv", saved)
    assert study.run("mapping", "use", "logger.csv", study.file("broken.json", "{")).exit_code == 3


def test_a_run_from_a_logger_with_its_own_columns(study: Desk) -> None:
    rows = ["time,IAS,Gear", "s,kt,"]
    speeds = [120, 120, 120, 119, 117, 115, 113, 112, 111, 110, 109, 108, 108, 107, 107]
    for i, speed in enumerate(speeds):
        rows.append(f"{4 * i},{speed},{'UP' if i < 2 else 'TRANSIT' if i < 4 else 'DOWN'}")
    header = "# method: level deceleration\n# altitude: 6000 ft\n# weight: 3000 lb\n"
    file = study.file("logger.csv", header + "\n".join(rows) + "\n")
    taken = study.run("take-in", file)
    assert taken.exit_code == 3
    assert "Next: wringout run add logger.csv --set marks=columns" in taken.stdout
    refused = study.run("run", "add", "logger.csv", "--set", "weight=2,900 lb", "--run", "L1")
    assert "wringout run add logger.csv --set 'weight=2,900 lb' --set marks=columns --run L1." in refused.stderr
    unnamed = study.file("unnamed.csv", "\n".join(rows) + "\n")
    assert "Next: wringout run propose unnamed.csv" in study.ok("take-in", unnamed)
    added = study.ok("run", "add", "logger.csv", "--set", "marks=columns", "--run", "L1")
    assert "Run L1 is added: gear down" in added


def test_a_study_that_cannot_be_reduced_says_so_with_its_own_code(study: Desk) -> None:
    result = study.run("reduce")
    assert result.exit_code == 6
    assert "no run is in use" in result.stderr


def test_a_card_and_a_card_beyond_a_limit(study: Desk) -> None:
    card = study.ok("card", "level deceleration", "device=gear", "entry speed=120 kt", "altitude=6000 ft")
    for part in ("Set up", "Fly", "Read", "Stop if", "Cautions", "qualified instructor", "approved manual"):
        assert part in card
    beyond = study.run("card", "level deceleration", "device=gear", "entry speed=140 kt")
    assert beyond.exit_code == 4
    assert beyond.stdout == ""
    assert "VLO 130 kt" in beyond.stderr
