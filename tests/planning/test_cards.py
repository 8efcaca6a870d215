"""Cards on paper: what stands on them, what is kept off them, and that the code leads to the address."""

from __future__ import annotations

import io
from collections.abc import Callable

import cv2
import numpy as np
import pikepdf
import pytest
import segno
from pypdf import PdfReader

from wringout.airplane.beliefs import Beliefs
from wringout.briefs.cards.content import CardLook, cards_content
from wringout.briefs.cards.envelope import envelope_figure
from wringout.briefs.cards.metric import metric_words
from wringout.briefs.cards.pdf import PAPERS, cards_pdf
from wringout.errors import BadInputError, LimitError
from wringout.methods.cautions import CAUTIONS
from wringout.planning.guard import guard
from wringout.planning.hazards import starter_hazards
from wringout.planning.loading import burn_path
from wringout.planning.plan import TestPlan
from wringout.services.planning.cards import print_cards
from wringout.services.planning.plans import KeptPlan

Make = Callable[..., TestPlan]
ADDRESS = "https://192.0.2.7:8443/capture/quillback/flight-1"


def content(plan: TestPlan, beliefs: Beliefs, look: CardLook | None = None) -> dict[str, object]:
    return cards_content(plan, beliefs, guard(plan, beliefs), plan.points, look or CardLook())


def kept(plan: TestPlan, beliefs: Beliefs) -> KeptPlan:
    return KeptPlan(None, "flight-1", 1, plan.document, beliefs, plan)  # type: ignore[arg-type]


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("night", [False, True])
def test_every_paper_holds_a_card_of_every_point(make: Make, beliefs: Beliefs, paper: str, night: bool) -> None:
    plan = make(("P1", "glide", {}), ("P2", "level deceleration", {}))
    data = cards_pdf(content(plan, beliefs, CardLook(night=night)), paper)
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert len(pdf.pages) >= 3
        assert b"pdfuaid:part" in pdf.Root.Metadata.read_bytes()  # ISO 14289-1, as Typst's own checks allow it
        assert pdf.Root.MarkInfo.Marked
        assert str(pdf.Root.Lang) == "en"
        box = [float(x) for x in pdf.pages[0].mediabox]
    assert (box[2] - box[0]) * 25.4 / 72 == pytest.approx(PAPERS[paper][0], abs=0.1)
    assert (box[3] - box[1]) * 25.4 / 72 == pytest.approx(PAPERS[paper][1], abs=0.1)


@pytest.mark.parametrize("night", [False, True])
def test_a_card_of_two_legs_stays_on_one_half_letter_sheet(make: Make, beliefs: Beliefs, night: bool) -> None:
    plan = make(("G1", "out and back", {}), ("G2", "out and back", {"entry speed": "115 kt"}))
    printed = PdfReader(io.BytesIO(cards_pdf(content(plan, beliefs, CardLook(night=night)), "half-letter")))
    texts = [page.extract_text() for page in printed.pages]
    for key in ("G1", "G2"):
        (whole,) = [text for text in texts if text.startswith(key)]
        assert "gear and flaps at the end" in whole


def test_cautions_and_deference_stand_on_the_cards(make: Make, beliefs: Beliefs) -> None:
    found = content(make(("P1", "glide", {})), beliefs)
    assert found["front"]["cautions"] == list(CAUTIONS)  # type: ignore[index]
    assert "approved manual" in str(found["deference"])
    assert "qualified instructor" in str(found["deference"])


def test_limits_of_the_point_stand_on_its_card(make: Make, beliefs: Beliefs) -> None:
    words = {"device": "flaps", "to": "full", "entry speed": "100 kt"}
    (card,) = content(make(("F1", "level deceleration", words)), beliefs)["cards"]  # type: ignore[misc]
    assert "VFE (full) 110 kt" in card["limits"]
    assert any("3,000 ft above ground" in line for line in card["limits"])
    assert any(line.startswith("stop at least") for line in card["limits"])


def test_a_point_beyond_a_limit_gets_no_card(make: Make, beliefs: Beliefs) -> None:
    plan = make(("P1", "glide", {"speeds": "75, 190 kt"}), ("P2", "glide", {}))
    printed = print_cards(kept(plan, beliefs))
    assert (printed.printed, printed.blocked) == (("P2",), ("P1",))
    with pytest.raises(LimitError, match="VNE"):
        print_cards(kept(plan, beliefs), only=("P1",))
    with pytest.raises(LimitError, match="reserve"):
        print_cards(kept(make(("P2", "glide", {}), fuel="10 gal"), beliefs))
    with pytest.raises(BadInputError, match="no points"):
        print_cards(kept(make(), beliefs))


def test_the_code_on_a_card_leads_to_the_address(make: Make, beliefs: Beliefs) -> None:
    """Read back by OpenCV's detector from the same drawing that is printed."""
    code = segno.make(ADDRESS, error="m", micro=False)
    pixels = np.array([[0 if dark else 255 for dark in row] for row in code.matrix_iter(scale=8, border=4)], np.uint8)
    assert cv2.QRCodeDetector().detectAndDecode(pixels)[0] == ADDRESS
    plan = make(("P1", "glide", {}))
    with_code = cards_pdf(content(plan, beliefs, CardLook(address=ADDRESS)), "a5")
    assert len(with_code) > len(cards_pdf(content(plan, beliefs), "a5"))


def test_nothing_a_user_types_is_read_as_markup(make: Make, beliefs: Beliefs) -> None:
    plan = make(("#evil[", "glide", {"flaps": "up"}))
    hazards = list(starter_hazards(["glide"]))
    document = plan.document.model_copy(update={"title": '#panic("x") $ * _ ] }', "hazards": hazards})
    changed = TestPlan(document, plan.flight, plan.points, plan.takeoff, plan.landing)
    assert cards_pdf(content(changed, beliefs), "a5").startswith(b"%PDF")


def test_the_same_plan_prints_the_same_bytes(make: Make, beliefs: Beliefs) -> None:
    plan = make(("P1", "glide", {}))
    assert cards_pdf(content(plan, beliefs), "a5") == cards_pdf(content(plan, beliefs), "a5")


@pytest.mark.parametrize(
    ("said", "metric"),
    [
        ("VFE (full) 110 kt", "VFE (full) 203 km/h"),
        ("within 10 kt of the stall speed", "within 19 km/h of the stall speed"),
        ("floor at least 3,000 ft above ground", "floor at least 915 m above ground"),
        ("Altitude more than 100 ft from entry", "Altitude more than 30 m from entry"),
        ("stop at least 54 kt (flaps full)", "stop at least 101 km/h (flaps full)"),
        ("75, 90, 115 kt", "138, 166, 212 km/h"),
        ("weight 2,763 lb", "weight 1,253 kg"),
        ("lose 1 kt/s", "lose 1.9 km/h each second"),
        ("altimeter 29.92 inHg, G1", "altimeter 1013 hPa, G1"),  # the standard atmosphere's 1013.25 hPa (ICAO Doc 7488)
        ("manifold pressure at most 29 inHg", "manifold pressure at most 29 inHg"),
        ("Hold altitude within 20 ft until", "Hold altitude within 6 m until"),
        ("every five seconds, as whole knots", "every five seconds, as whole km/h"),
    ],
)
def test_metric_words_never_make_a_limit_wider(said: str, metric: str) -> None:
    """1 kt is 1.852 km/h, 1 ft 0.3048 m, 1 lb 0.45359237 kg, exactly."""
    assert metric_words(said) == metric


def test_every_speed_of_a_metric_card_is_a_metric_one(make: Make, beliefs: Beliefs) -> None:
    plan = make(("C1", "climb", {"speeds": "75, 90, 115 kt"}))
    (card,) = content(plan, beliefs, CardLook(metric=True))["cards"]  # type: ignore[misc]
    (steady,) = [box for box in card["boxes"] if box["title"] == "Steady points"]  # type: ignore[index]
    assert steady["rows"] == ["138 km/h", "166 km/h", "212 km/h"]  # never rounded up


def test_the_envelope_is_drawn_with_both_ends_of_the_flight(make: Make, beliefs: Beliefs) -> None:
    plan = make(("P1", "glide", {}))
    assert beliefs.loading is not None
    path = burn_path(beliefs.loading, plan.flight.load_kg, plan.takeoff.fuel_m3 or 0.0, plan.landing.fuel_m3 or 0.0)
    assert path[0] == plan.takeoff.balance
    assert path[-1].mass_kg == pytest.approx(plan.landing.balance.mass_kg)  # type: ignore[union-attr]
    svg = envelope_figure(beliefs.loading, path)
    assert svg.startswith("<svg")
    assert "take-off" in svg
    assert "landing" in svg
    assert "lb" in svg
    assert "kg" in envelope_figure(beliefs.loading, path, metric=True)
    night = envelope_figure(beliefs.loading, path, night=True)
    assert "#d55e00" not in night.lower()
    assert "#009e73" not in night.lower()
    with pytest.raises(ValueError, match="no envelope"):
        envelope_figure(beliefs.loading, ())
