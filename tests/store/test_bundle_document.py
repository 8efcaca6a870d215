"""The page that describes the bundle says what the code does."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from tests.store.packing import full_bundle, unpacked
from wringout.store import bundle_format as form

PAGE = (Path(__file__).parents[2] / "docs" / "bundle.md").read_text(encoding="utf-8")


def section(title: str) -> str:
    return PAGE.split(f"\n## {title}\n", 1)[1].split("\n## ", 1)[0]


def fields_named_in(text: str) -> set[str]:
    """Return the fields named in the first column of a section's table."""
    rows = re.findall(r"^\| (`[^|]+) \|", text, re.MULTILINE)
    return {name for row in rows for name in re.findall(r"`([^`]+)`", row)}


@pytest.mark.parametrize(
    ("title", "model"),
    [
        ("`recordings.json`", form.RecordingEntry),
        ("`runs.json`", form.RunEntry),
        ("`results/*.json`", form.ResultEntry),
        ("`documents/<kind>/<key>.jsonl`", form.DocumentLine),
        ("`taps.jsonl`", form.TapLine),
    ],
)
def test_every_field_of_a_document_is_described(title: str, model: type[form.Strict]) -> None:
    assert fields_named_in(section(title)) == set(model.model_fields)


def test_every_field_of_the_manifest_is_described() -> None:
    study = {f"study.{name}" for name in form.StudyEntry.model_fields}
    named = fields_named_in(section("`bundle.toml`"))
    assert named == (set(form.Manifest.model_fields) - {"study"}) | study
    for model in (form.AirplaneEntry, form.FileEntry):
        assert all(f"`{name}`" in section("`bundle.toml`") for name in model.model_fields)


def test_the_example_is_a_manifest() -> None:
    example = re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    assert example is not None
    manifest = form.read_manifest(example[1].encode())
    assert tomllib.loads(form.manifest_bytes(manifest).decode()) == tomllib.loads(example[1])


def test_every_file_is_described(tmp_path: Path) -> None:
    patterns = fields_named_in(section("Files"))
    shapes = [re.escape(name).replace("0001", r"\d{4}").replace("<sha256>", "[0-9a-f]{64}") for name in patterns]
    shapes = [
        shape.replace("<name>", "[^/]+")
        .replace("<kind>", "[^/]+")
        .replace("<key>", "[^/]+")
        .replace("reduction", "(reduction|matchup)")
        for shape in shapes
    ]
    for path in unpacked(full_bundle(tmp_path)):
        assert any(re.fullmatch(shape, path) for shape in shapes), path


def test_the_limits_are_the_ones_described() -> None:
    limits, text = form.LIMITS, " ".join(section("Taking a bundle in").split())
    for words in (
        f"more than {limits.files:,} files, {limits.runs:,} runs or {limits.edits:,} edits",
        f"{limits.revisions:,} revisions of documents or {limits.taps:,} taps",
        f"unpacks to more than {limits.total_bytes / 2**30:.0f} GiB",
        f"a file above {limits.ratio_from_bytes / 2**10:.0f} KiB",
        f"above {limits.total_ratio_from_bytes / 2**20:.0f} MiB) unpacks to more than {limits.ratio} times its size",
        f"{limits.manifest_bytes / 2**20:.0f} MiB for `bundle.toml`",
        f"{limits.document_bytes / 2**20:.0f} MiB for a JSON or TOML file",
        f"{limits.history_bytes / 2**20:.0f} MiB for `history.csv` or JSON Lines",
        f"{limits.draws_bytes / 2**20:.0f} MiB for draws",
        f"{limits.recording_bytes / 2**20:.0f} MiB for a recording",
    ):
        assert words in text


def test_the_version_is_the_one_described() -> None:
    assert f"This page describes **version {form.VERSION}**" in " ".join(PAGE.split())
