"""The commands about many conditions and many techniques, as a user meets them."""

from __future__ import annotations

from tests.cli.conftest import Desk

RANGES = ("--weight", "2,600 to 3,000 lb in 3", "--delay", "1 to 5 s in 2", "--draws", "100")


def test_a_map_is_flown_told_drawn_and_kept(reduced: Desk) -> None:
    figure = reduced.folder / "map.svg"
    said = reduced.ok("map", *RANGES, "--figure", str(figure))
    assert said.index("margin") < said.index("Levelling first, then climbing")
    assert "pilot delay / weight, lb" in said
    assert "The run to fly next" in said or "No flight would take" in said
    assert "Cautions" in said
    assert figure.read_text(encoding="utf-8").startswith("<svg")
    kept = reduced.json("map", *RANGES)
    assert (kept["kind"], kept["key"], kept["revision"], kept["current"]) == ("map", "weight-delay-level", 1, True)
    assert len(kept["cells"]) == 6
    assert kept["axes"][0] == {"condition": "weight", "unit": "lb", "values": [2600.0, 2800.0, 3000.0]}
    shown = reduced.json("map", "--last")
    assert [one["key"] for one in shown["maps"]] == ["weight-delay-level"]
    assert shown["maps"][0]["cells"] == kept["cells"]


def test_the_best_reachable_is_said_with_the_known_orders_beside_it(reduced: Desk) -> None:
    said = reduced.ok("search", "--stops", "1", "--draws", "100", "--weight", "2,900 lb")
    assert "best reachable technique found is" in said
    assert "pause before it" in said
    kept = reduced.json("search", "--stops", "1", "--draws", "100", "--weight", "2,900 lb")
    assert kept["held"] == [{"condition": "weight", "value": 2900.0, "unit": "lb"}]
    behind = [one["behind_by"] for one in kept["orders"]]
    assert behind == sorted(behind)


def test_what_cannot_be_flown_is_one_sentence(reduced: Desk) -> None:
    for words, sentence in (
        (("map", "--weight", "2,900 lb", "--draws", "100"), "a map needs two conditions that vary"),
        (("map", *RANGES, "--delay", "1 to 5 lb"), "map, pilot delay: 'lb' is not a unit of time"),
        (("map", *RANGES, "--order", "wings-up"), "'wings-up' is no order of this plan"),
        (("search", "--delay", "1 to 5 s"), "a range is written where one value is wanted"),
    ):
        refused = reduced.run(*words)
        assert refused.exit_code != 0
        assert sentence in refused.stderr
        assert refused.stderr.strip().count("\n") == 0


def test_the_climb_in_the_landing_configuration_is_set_beside_the_regulations(reduced: Desk) -> None:
    said = reduced.ok("landing-climb")
    assert "3.3 % is asked by 14 CFR 23.77(a)" in said
    assert "no showing of compliance" in said
    body = reduced.json("landing-climb")
    low, high = body["gradient_percent"]["interval_95"]
    assert low < body["gradient_percent"]["median"] < high
    assert body["requirements"][0]["share_above"] <= body["requirements"][1]["share_above"]
