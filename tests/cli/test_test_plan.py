"""The commands about test plans, as a user meets them."""

from __future__ import annotations

from tests.cli.conftest import Desk
from tests.services.texts import AIRPLANE


def study(desk: Desk) -> None:
    desk.ok("new", "Gear or flaps", "--question", "What first?", "--name", "q")
    desk.ok("airplane", "put", desk.file("airplane.toml", AIRPLANE))


def test_from_proposal_to_cards(desk: Desk) -> None:
    study(desk)
    made = desk.json("test-plan", "propose", "--ground", "1500 ft", "--repeats", "1")
    assert made["kind"] == "test-plan"
    assert made["revision"] == 1
    keys = [p["key"] for p in made["plan"]["points"]]
    assert keys
    assert made["cautions"]
    text = desk.ok("test-plan", "show")
    file = desk.file("flight.toml", text.replace('title = "Gear or flaps"', 'title = "Second thoughts"'))
    assert desk.json("test-plan", "put", file)["revision"] == 2
    assert desk.run("test-plan", "put", file, "--revision", "1").exit_code != 0
    checked = desk.json("test-plan", "check")
    assert not checked["flight_blocked"]
    assert checked["checks"]
    assert "Cautions" in desk.ok("test-plan", "check", "--all")
    cards = desk.json("test-plan", "cards", "-o", str(desk.folder / "cards.pdf"))
    assert cards["printed"] == keys
    assert (desk.folder / "cards.pdf").read_bytes().startswith(b"%PDF")
    lessons = desk.json("test-plan", "next")["lessons"]
    shares = [one["share_of_variance"] for one in lessons]
    assert shares == sorted(shares, reverse=True)
    chance = desk.json("test-plan", "chance", "--trials", "4", "--draws", "50")["variants"][0]
    assert chance["decided"]["trials"] == 4
    assert 0.0 <= chance["decided"]["interval_95"][0] <= chance["decided"]["probability"]


def test_a_point_beyond_a_limit_is_said_and_gets_no_card(desk: Desk) -> None:
    study(desk)
    desk.ok("test-plan", "propose", "--repeats", "1")
    text = desk.ok("test-plan", "show")
    wrong = text.replace('"entry speed" = "', '"entry speed" = "9')
    desk.ok("test-plan", "put", desk.file("flight.toml", wrong))
    assert "No card is printed for" in desk.ok("test-plan", "check")
    refused = desk.run("test-plan", "cards", "-o", str(desk.folder / "cards.pdf"))
    assert refused.exit_code != 0
    assert "no card is printed" in refused.stderr
    assert not (desk.folder / "cards.pdf").exists()


def test_without_a_plan_the_next_step_is_said(desk: Desk) -> None:
    study(desk)
    assert "propose one first" in desk.run("test-plan", "show").stderr
