"""The commands about test plans, as a user meets them."""

from __future__ import annotations

from unittest.mock import patch

from tests.cli.conftest import Desk
from tests.services.texts import AIRPLANE
from wringout.cli.ways import Told
from wringout.services.matchups.plans import checked_plan


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


def test_long_work_says_how_long_and_what_each_way_decides_without_a_terminal() -> None:
    said: list[str] = []
    moments = iter((0.0, 2.0, 6.0, 7.0, 120.0, 240.0))
    told = Told(lambda *_: None, ways=2, trials=60, clock=lambda: next(moments), say=said.append)
    for share in (0.01, 0.05, 0.06):
        told.progress(share, "as planned")
    told.each("as planned", 0.5, 0.37, 0.63)
    told.each("not flown", 0.2, 0.1, 0.3)
    assert said == [
        "60 flights in each of 2 ways: about 2 min to go.",  # 6 s for 5 %: 114 s
        "1 of 2, as planned: decides 50 % (37 to 63 %); about 2 min to go.",
        "2 of 2, not flown: decides 20 % (10 to 30 %).",
    ]


def test_a_plan_for_a_procedure_that_flies_its_own_pitch_names_it_instead_of_a_pilot_law(desk: Desk) -> None:
    desk.ok("new", "Glide", "--question", "Which glides?", "--score", "end_distance", "--difference", "100 ft")
    desk.ok("airplane", "put", desk.file("airplane.toml", AIRPLANE))
    desk.ok("test-plan", "propose", "--repeats", "1")
    plan = checked_plan({"situation": {"procedure": "loss of power on approach"}}, "plan")
    with patch("wringout.services.planning.question.last_plan", return_value=plan):
        said = desk.ok("test-plan", "next")
        question = desk.json("test-plan", "next")["question"]
    assert said.startswith("Loss of power on approach: “")
    assert "hold speed" not in said
    assert (question["procedure"], question["law"]) == ("Loss of power on approach", "")
