"""Commands that read and fly printed orders: ``register airplane``, ``register read``, ``register agree``."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wringout.briefs.metric_words import title_in_metric
from wringout.cli import page
from wringout.cli.figures import sentence, sentences
from wringout.cli.files import read_whole
from wringout.cli.options import Wanted, now, shared

if TYPE_CHECKING:
    from wringout.handbooks.agreement import Variant
    from wringout.handbooks.entry import Entry
    from wringout.services.register.printed_orders import FlyingOptions

ON = click.option("--on", metavar="DATE", help="The day, as 1998-06-15. Default: today.")
FAMILY = click.option("--family", default="", help="The airplane family, where a model's name is used in several.")


def the_day(text: str | None) -> date:
    """Return the day an option names, or today."""
    from wringout.services.register.entries import parse_date

    return now().date() if text is None else parse_date(text, "--on")


def holds_sentence(entry: Entry) -> str:
    """Return what an entry prints, in a sentence."""
    from wringout.services.register.entries import steps_text

    section = f", {entry.section}" if entry.section else ""
    printed = "prints no order" if entry.prints_none else f"prints “{steps_text(entry.steps)}”"
    return f"{entry.name}{section}: {printed}."


@click.command("airplane")
@shared(study=False)
@click.argument("family")
@click.argument("model")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--from-study", default="", help="Short name of a study whose reduction is flown in place of beliefs.")
def airplane_command(wanted: Wanted, family: str, model: str, file: Path, from_study: str) -> None:
    """Give a MODEL of the register its airplane FILE, so that its printed order can be flown.

    \b
    Example:
      wringout register airplane Quillback "Quillback 230" my-airplane.toml
    """
    from wringout.services.airplane.airplanes import LONGEST_AIRPLANE_BYTES
    from wringout.services.register.printed_orders import put_variant

    data = read_whole(file, LONGEST_AIRPLANE_BYTES)
    with wanted.open() as store:
        name = put_variant(store, family, model, data, file.name, from_study)
    if wanted.as_json:
        page.document("variant", None, {"family": family, "model": model, "airplane": name})
        return
    page.say(f"{name} is the airplane of {model}.")


_DRAWS = click.option("--draws", type=int, help="Airplanes drawn from what is believed. Default: 400.")
_SEED = click.option("--seed", type=int, help="Seed of the draws. Default: 1.")


def _options(draws: int | None, seed: int | None) -> FlyingOptions:
    from wringout.services.register.printed_orders import DRAWS, SEED, FlyingOptions

    return FlyingOptions(DRAWS if draws is None else draws, SEED if seed is None else seed)


@click.command("read")
@shared(study=False, units=True)
@click.argument("model")
@ON
@FAMILY
@_DRAWS
@_SEED
def read_command(wanted: Wanted, model: str, on: str | None, family: str, draws: int | None, seed: int | None) -> None:
    """Read a MODEL's printed order as something to fly, and fly it beside the best found and the general order.

    What the words leave open is listed, and each way of reading them is flown.

    \b
    Example:
      wringout register read "Quillback 260T"
    """
    from wringout.services.register.documents import CAUTIONS, variant_document
    from wringout.services.register.printed_orders import read_printed

    with wanted.open(create=False) as store, page.progress("Flying") as report:
        found = read_printed(store, model, the_day(on), family, _options(draws, seed), report)
    if wanted.as_json:
        page.document("printed orders", None, {"variants": [variant_document(item) for item in found]})
        return
    for variant in found:
        _say_variant(variant, wanted.metric)
    page.heading("Cautions")
    page.items(list(CAUTIONS), "!")


def _say_variant(variant: Variant, metric: bool) -> None:
    from wringout.services.register.documents import GENERAL_SOURCE

    page.say(holds_sentence(variant.entry))
    if variant.problem:
        page.say(f"Not flown: {variant.problem}.")
    if variant.readings is not None:
        page.heading("What the words leave open")
        page.items(sentences([*variant.readings.doubts, *variant.readings.not_flown], metric) or ["Nothing."])
    if variant.flown is None:
        return
    page.say("", sentence(variant.flown.threshold, metric))
    for result in variant.flown.laws:
        page.heading(f"A pilot who flies “{result.law}”")
        best = "No order is acceptable." if result.best is None else f"Best found: {result.best.title}."
        page.items(
            sentences(
                dict.fromkeys(
                    [
                        best,
                        *(item.sentence for item in result.against_printed),
                        *(
                            f"General order of the training handbooks: {item.sentence}"
                            for item in result.against_general
                        ),
                        *(order.sentence for order in result.printed if result.best is None),
                    ]
                ),
                metric,
            )
        )
    page.say("", f"The general order: {GENERAL_SOURCE}.")


@click.command("agree")
@shared(study=False, units=True)
@click.argument("family")
@ON
@_DRAWS
@_SEED
def agree_command(wanted: Wanted, family: str, on: str | None, draws: int | None, seed: int | None) -> None:
    """Compare the printed orders of a FAMILY with each other and with the best found, and explain what stands out.

    \b
    Example:
      wringout register agree "Quillback (invented)"
    """
    from wringout.services.register.documents import CAUTIONS, agreement_document
    from wringout.services.register.printed_orders import family_agreement

    with wanted.open(create=False) as store, page.progress("Flying") as report:
        found, variants = family_agreement(store, family, the_day(on), _options(draws, seed), report)
    if wanted.as_json:
        page.document("agreement", None, {"family": family, **agreement_document(found, variants)})
        return
    rows = [
        (row.model, row.serials, row.printed, _favoured(row.favoured, wanted.metric), row.standing)
        for row in found.rows
    ]
    page.table(("model", "serials", "printed", "best found", "standing"), rows)
    page.heading("In words")
    page.items(sentences([row.sentence for row in found.rows], wanted.metric))
    page.heading("What stands out")
    unlike = [f"{item.sentence} {item.ask}" for item in found.anomalies]
    page.items(sentences(unlike, wanted.metric) or ["Nothing."])
    page.heading("Cautions")
    page.items(list(CAUTIONS), "!")


def _favoured(favoured: Iterable[tuple[str, str]], metric: bool) -> str:
    return "; ".join(f"{law}: {title_in_metric(title) if metric else title}" for law, title in favoured)
