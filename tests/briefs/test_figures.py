"""Figures: well-formed, always the same, in the house's colours and fonts, and told apart without colour."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.briefs import study
from wringout.briefs.document import Document, Drawing, every_block
from wringout.briefs.evidence import gather
from wringout.briefs.figures.areas import curves_figure
from wringout.briefs.figures.fleet import FleetFigure, FleetRow, forest_figure
from wringout.briefs.figures.parts import apart
from wringout.briefs.figures.run_fit import run_figure
from wringout.briefs.figures.spark import spark_of
from wringout.briefs.house_style import COLOURS, FLAPS, FONT_FOLDER, GEAR, INK, MARGIN, PAPER, SANS, WIDTH_IN, themed
from wringout.briefs.numbers import MINUS
from wringout.briefs.story.build import build_document

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def document() -> Document:
    return build_document(study.content())


def drawings(document: Document) -> dict[str, Drawing]:
    return {b.name: b for section in document.sections for b in every_block(section.blocks) if isinstance(b, Drawing)}


def test_every_figure_is_well_formed_and_speaks(document: Document) -> None:
    found = drawings(document)
    assert {"areas", "curves", "forest-0", "lost-0", "stalls", "travel", "knots", "beliefs"} <= set(found)
    assert {"chart-verdict-hold-attitude", "time-verdict-hold-attitude"} <= set(found)
    ids: list[str] = []
    for drawing in found.values():
        root = ElementTree.fromstring(drawing.svg)  # noqa: S314 - our own drawing
        assert root.tag == f"{SVG}svg"
        assert len(drawing.spoken) > 20
        ids += [e.get("id", "") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids)), "inner ids stay apart when figures share a page"


def test_figures_carry_no_date_no_tool_and_only_the_house_fonts_and_colours(document: Document) -> None:
    for drawing in drawings(document).values():
        assert "metadata" not in drawing.svg
        assert not re.search(r"20\d\d-\d\d-\d\d", drawing.svg)
        families = set(re.findall(r"font(?:-family)?:[^;\"]*?'([^']+)'", drawing.svg))
        assert families <= {SANS, "DejaVu Sans"}
        assert SANS in families
        assert set(re.findall(r"#[0-9a-fA-F]{6}\b", drawing.svg)) <= set(COLOURS.values())


def test_figures_are_the_same_however_often_drawn(document: Document) -> None:
    again = drawings(build_document(study.content()))
    assert {name: d.svg for name, d in drawings(document).items()} == {name: d.svg for name, d in again.items()}


def test_axis_titles_carry_units(document: Document) -> None:
    text = {name: " ".join(ElementTree.fromstring(d.svg).itertext()) for name, d in drawings(document).items()}  # noqa: S314
    assert "drag area added, ft²" in text["curves"]
    assert "calibrated airspeed, kt" in text["curves"]
    assert "indicated airspeed, kt" in text["run-1"]
    assert "time from the first reading, s" in text["run-1"]
    assert "stall speed, calibrated, kt" in text["stalls"]
    assert "flap angle, degrees" in text["stalls"]
    assert "speed lost (not a drag), kt" in text["lost-0"]
    for words in ("height, ft", "airspeed, kt", "V/Vs", "gear, %", "flaps, °", "least accepted 1.10"):
        assert words in text["time-verdict-hold-attitude"]
    assert "too small to matter: under 25" in text["chart-verdict-hold-attitude"]


def test_a_flagged_reading_is_shown_with_its_reason() -> None:
    evidence = gather(study.content())
    run = evidence.runs["F2"]
    (flag,) = run.flags
    svg = run_figure(evidence, run)
    assert f"row {flag.row}:" in svg
    assert "kept, given almost no weight" in svg
    assert run_figure(evidence, evidence.runs["G1"]).count("kept, given") == 0
    assert "<path d=" in spark_of(run)


def test_devices_are_told_apart_without_colour() -> None:
    evidence = gather(study.content())
    svg = curves_figure(evidence, evidence.content.reduction.curves)
    half = [p for p in re.findall(r'<path [^>]*style="([^"]*)"', svg) if FLAPS in p and "stroke-width: 1.8" in p]
    assert len(half) == 2
    assert len({("stroke-dasharray" in style) for style in half}) == 2
    for curve in evidence.content.reduction.curves:
        assert f">{curve.label}<" in svg, "names stand at the lines"


def luminance(colour: str) -> float:
    """Return relative luminance (WCAG 2.2 definition)."""
    channels = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return float(np.dot(linear, (0.2126, 0.7152, 0.0722)))


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize(("prediction", "arrows"), [((1.2, 8.8), 0), ((-5.3, 15.0), 2), ((3.0, 40.0), 1)])
def test_the_next_airplanes_range_stays_on_the_plot_and_keeps_its_numbers(
    prediction: tuple[float, float], arrows: int
) -> None:
    rows = [FleetRow("one", 4.0, 0.4, False), FleetRow("two", 5.4, 0.14, False), FleetRow("three", 5.0, 0.4, True)]
    shown = FleetFigure("drag area of gear", "ft²", "gear", rows, 4.8, (3.0, 6.7), prediction)
    svg = forest_figure(shown)
    places = 0 if arrows else 1
    least = f"{MINUS if prediction[0] < 0 else ''}{abs(prediction[0]):.{places}f}"
    assert f">{least} to {prediction[1]:.{places}f}<" in svg
    dashed = re.findall(
        r'<path d="M ([\d.]+) [\d.]+ L ([\d.]+) [^"]*"[^>]*stroke-dasharray[^>]*>', " ".join(svg.split())
    )
    left, right = (float(x) for x in dashed[-1])
    low, high = 72.0 * 1.6, 72.0 * (WIDTH_IN - 1.2)
    assert low < left < right < high, "inside the frame"
    assert len(re.findall(r"<use ", svg.split("next airplane")[0])) >= 3
    inside = (left - low) / (high - low), (high - right) / (high - low)
    assert sum(edge < 0.03 for edge in inside) == arrows


def test_text_can_be_read_and_devices_differ_in_grey() -> None:
    assert contrast(INK, PAPER) >= 7.0  # WCAG 2.2, 1.4.6 enhanced
    assert contrast(COLOURS["quiet"], PAPER) >= 4.5  # WCAG 2.2, 1.4.3
    assert contrast(FLAPS, PAPER) >= 3.0  # WCAG 2.2, 1.4.11
    assert contrast(MARGIN, PAPER) >= 3.0
    assert contrast(GEAR, FLAPS) >= 2.0, "told apart on a grey printer"


def test_the_colours_are_the_published_set() -> None:
    # Okabe and Ito, "Color Universal Design" (2008): orange 230 159 0, blue 0 114 178, bluish green 0 158 115,
    # vermilion 213 94 0
    assert (GEAR, FLAPS, COLOURS["power"], MARGIN) == ("#e69f00", "#0072b2", "#009e73", "#d55e00")


def test_night_colours_replace_every_day_colour() -> None:
    assert themed(f'<path stroke="{INK}" fill="{GEAR}"/>') == (
        f'<path stroke="var(--ink,{INK})" fill="var(--gear,{GEAR})"/>'
    )


@given(st.lists(st.floats(0.0, 100.0), min_size=1, max_size=8))
def test_labels_stand_apart_in_their_order(places: list[float]) -> None:
    moved = apart(places, 8.0, 0.0, 100.0)
    order = np.argsort(np.asarray(places), kind="stable")
    steps = np.diff(np.asarray(moved)[order])
    assert np.all(steps >= 8.0 - 0.2)
    if all(abs(a - b) >= 8.0 for i, a in enumerate(places) for b in places[:i]):
        assert moved == pytest.approx(places)


def test_every_font_has_its_licence_beside_it() -> None:
    fonts = [path.stem for path in FONT_FOLDER.glob("*.ttf")]
    assert len(fonts) == 5
    for stem in fonts:
        licence = FONT_FOLDER / f"LICENSE-{stem.partition('-')[0]}.txt"
        assert "SIL Open Font License, Version 1.1" in licence.read_text(encoding="utf-8")
        assert (FONT_FOLDER / f"{stem}.woff2").read_bytes().startswith(b"wOF2")
