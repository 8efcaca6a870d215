"""Commands about what to fly: ``methods``, ``card``."""

from __future__ import annotations

from collections.abc import Iterable

import click

from wringout.cli import page
from wringout.cli.figures import cautions
from wringout.cli.options import Wanted, shared, words_of


@click.command("methods")
@shared(study=False, database=False)
def methods_command(wanted: Wanted) -> None:
    """List the flight-test methods.

    \b
    Example:
      wringout methods
    """
    from wringout.services.planning.single_cards import method_documents

    found = method_documents()
    if wanted.as_json:
        page.document("methods", None, {"methods": found})
        return
    page.say(f"{len(found)} methods; print the card of one with: wringout card METHOD")
    page.table(("method", "reads"), [(item["key"], item["observed_unit"]) for item in found])


@click.command("card")
@shared(units=True)
@click.argument("method")
@click.argument("words", nargs=-1, metavar="[KEY=VALUE]...")
def card_command(wanted: Wanted, method: str, words: tuple[str, ...]) -> None:
    """Print the test card of a METHOD, held against the airplane's limits.

    A point beyond a limit is refused. Words: device, to, entry speed, altitude (level deceleration, out and back);
    flaps, height above ground, weight, entry speed (stall series); device, speed, altitude (transit timing); speeds,
    flaps, gear, power, altitude (glide, climb, level acceleration, level power); speed, flaps, gear, altitude (airspeed
    calibration); from speed, to speed, flaps, gear, power (slow down); techniques, entry speed, hard deck, hard deck
    above ground (go-around pairs).

    \b
    Examples:
      wringout card "level deceleration" device=gear "entry speed=120 kt" "altitude=7000 ft"
      wringout card "stall series" "height above ground=5000 ft"
    """
    from wringout.services.planning.single_cards import card_document, plan_point
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        point = plan_point(store, study, method, words_of(words, "card"))
    card = point.card
    if wanted.as_json:
        body = {"airplane": point.airplane, **card_document(card, list(point.notices))}
        page.document("card", study, body)
        return

    def said(texts: Iterable[str]) -> list[str]:
        return cautions(texts, wanted.metric)

    page.say(f"{card.title}: {point.airplane}", *said([card.purpose]))
    page.items(said(notice.sentence for notice in point.notices), "!")
    for title, lines in (("Set up", card.setup), ("Read", card.readings), ("Stop if", card.stop_conditions)):
        if title == "Read":
            page.heading("Fly")
            for number, step in enumerate(card.steps, start=1):
                page.items(said([step]), f"{number}.")
        page.heading(title)
        page.items(said(lines))
    page.heading("Cautions")
    page.items(said(card.cautions), "!")
