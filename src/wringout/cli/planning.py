"""Commands about test plans: ``test-plan propose``, ``show``, ``put``, ``check``, ``chance``, ``next``, ``cards``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wringout.cli import page
from wringout.cli.figures import counted
from wringout.cli.files import read_whole
from wringout.cli.options import Wanted, shared
from wringout.cli.ways import Told

if TYPE_CHECKING:
    from wringout.planning.checks import Check
    from wringout.planning.deciding import Contest

Json = dict[str, Any]
_KEY = click.option("--flight", "key", default="flight-1", show_default=True, help="Which flight of the study.")
_TRIALS = click.option("--trials", type=int, default=60, show_default=True, help="How often the plan is flown.")
_DRAWS = click.option("--draws", type=int, default=200, show_default=True, help="Posterior draws of each flight.")
_SEED = click.option("--seed", type=int, default=1, show_default=True, help="Of airplanes, noise and draws.")


@click.group("test-plan")
def test_plan_command() -> None:
    """Plan a flight that can decide the study's question, hold it against limits, and print its cards."""


@test_plan_command.command("propose")
@shared()
@_KEY
@click.option("--repeats", type=click.IntRange(1, 8), default=2, show_default=True, help="Of each device's run.")
@click.option(
    "--altitude", help="Pressure altitude of the points. Default: 2,500 ft above the floor, at least 5,000 ft."
)
@click.option("--ground", default="0 ft", show_default=True, help="Elevation of the ground below.")
@click.option(
    "--recording",
    type=click.Choice(["called", "logger"]),
    default="called",
    show_default=True,
    help="How the runs are read.",
)
@click.option("--seed", type=int, default=1, show_default=True, help="Of draws from what is believed.")
def propose(
    wanted: Wanted, key: str, repeats: int, altitude: str | None, ground: str, recording: str, seed: int
) -> None:
    """Propose the points of a flight, in the order to fly them, and keep them as the study's test plan.

    Kinds of points that would hardly change the answer are left out. Passes go forward and backward in turn, so that
    fuel burn falls on all kinds alike, and the first point is flown again at the end. Then edit it: show, correct, put.

    \b
    Examples:
      wringout test-plan propose --ground "1500 ft"
      wringout test-plan show > flight.toml; wringout test-plan put flight.toml
    """
    from wringout.services.planning.documents import lesson_document, plan_document
    from wringout.services.planning.plans import kept_or_none, propose_plan, wishes_of

    with wanted.open(create=False) as store:
        old = kept_or_none(store, wanted.study, key)
        flight, wishes = wishes_of(old, repeats, altitude, ground, recording)
        found = propose_plan(store, wanted.study, flight, wishes, key, seed)
    if wanted.as_json:
        body = plan_document(found.kept)
        body["lessons"] = [lesson_document(one, found.score) for one in found.lessons]
        body["left_out"] = list(found.left_out)
        page.document("test-plan", found.kept.study.slug, body)
        return
    points = found.kept.document.points
    page.say(f"{counted(len(points), 'point')} proposed and kept as {key}, revision {found.kept.revision}.")
    page.table(("point", "method", "words"), [(p.key, p.method, _words(p.words)) for p in points])
    page.heading("What each kind of point would take away from the doubt about the answer, flown by itself")
    page.table(("kind", ">share of variance"), [(one.key, f"{100 * one.share:.0f} %") for one in found.lessons])
    if found.left_out:
        page.say(f"Left out, since they would hardly change the answer: {', '.join(found.left_out)}.")
    _cautions(plan_document(found.kept))


def _words(words: dict[str, str]) -> str:
    return ", ".join(f"{key} {value}" for key, value in words.items())


def _cautions(body: Json) -> None:
    page.heading("Cautions")
    page.items(body["cautions"], "!")


@test_plan_command.command("show")
@shared()
@_KEY
def show(wanted: Wanted, key: str) -> None:
    """Print a test plan as TOML, to correct and put back.

    \b
    Example:
      wringout test-plan show > flight.toml
    """
    from wringout.services.planning.documents import plan_document
    from wringout.services.planning.plans import kept_plan, plan_toml

    with wanted.open(create=False) as store:
        kept = kept_plan(store, wanted.study, key)
    if wanted.as_json:
        page.document("test-plan", kept.study.slug, plan_document(kept))
        return
    page.raw(plan_toml(kept.document))


@test_plan_command.command("put")
@shared()
@_KEY
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--revision", type=int, help="Refuse if the kept plan is not this revision any more.")
def put(wanted: Wanted, key: str, file: Path, revision: int | None) -> None:
    """Keep a corrected test plan as the next revision; earlier ones stay.

    \b
    Example:
      wringout test-plan put flight.toml
    """
    from wringout.services.planning.documents import plan_document
    from wringout.services.planning.plans import LONGEST_PLAN_BYTES, check_plan, keep_plan, read_test_plan

    document = read_test_plan(read_whole(file, LONGEST_PLAN_BYTES), file.name)
    with wanted.open(create=False) as store:
        kept = keep_plan(store, wanted.study, document, key, revision)
    if wanted.as_json:
        page.document("test-plan", kept.study.slug, plan_document(kept))
        return
    page.say(f"Kept as {key}, revision {kept.revision}: {counted(len(kept.document.points), 'point')}.")
    _tell_checks(check_plan(kept), held=False)
    _cautions(plan_document(kept))


@test_plan_command.command("check")
@shared()
@_KEY
@click.option("--all", "held", is_flag=True, help="Show the checks that are held too.")
def check(wanted: Wanted, key: str, held: bool) -> None:
    """Hold a test plan against the airplane's limits, weight and balance, floor, engine limits and daylight.

    A violated limit blocks the card of its point until it is changed; a thin margin warns.

    \b
    Example:
      wringout test-plan check --all
    """
    from wringout.services.planning.documents import checks_document
    from wringout.services.planning.plans import check_plan, kept_plan

    with wanted.open(create=False) as store:
        kept = kept_plan(store, wanted.study, key)
    checks = check_plan(kept)
    body = checks_document(kept, checks)
    if wanted.as_json:
        page.document("test-plan-check", kept.study.slug, body)
        return
    if body["flight_blocked"]:
        page.say("A limit of the whole flight is violated: no card is printed until it is changed.")
    elif body["blocked"]:
        page.say(f"No card is printed for {', '.join(body['blocked'])} until it is changed.")
    else:
        page.say("No stated limit is violated; what is not stated was not checked.")
    _tell_checks(checks, held)
    complaints = [f"{r['key']}: {r['complaint']}" for r in _risks(kept) if r["complaint"]]
    page.items(complaints, "!")
    _cautions(body)


def _risks(kept: Any) -> list[Json]:
    from wringout.services.planning.documents import plan_document

    risks: list[Json] = plan_document(kept)["risks"]
    return risks


def _tell_checks(checks: tuple[Check, ...], held: bool) -> None:
    rows = [(c.point or "flight", c.level.value, c.sentence) for c in checks if held or c.level.value != "held"]
    if rows:
        page.table(("point", "", ""), rows)


@test_plan_command.command("chance")
@shared()
@_KEY
@_TRIALS
@_DRAWS
@_SEED
@click.option("--compare", is_flag=True, help="Also not flown, with other repeats, a logger, in rough air.")
def chance(wanted: Wanted, key: str, trials: int, draws: int, seed: int, compare: bool) -> None:
    """Say how probable it is that the plan decides the question, by flying it many times on the computer.

    Airplanes are drawn from what is believed now (from the airplane file alone where the plan's question says
    knowing = "beliefs only"); their runs are simulated, reduced together with those flown already,
    and the verdict is taken each time. The ceiling is how often the question is decided with the airplane known
    exactly: no number of runs comes above it. How long it may take, and each way's answer, are told on the way.

    \b
    Examples:
      wringout test-plan chance
      wringout test-plan chance --compare --trials 100
    """
    from wringout.services.planning.chance_words import chance_sentences
    from wringout.services.planning.documents import variants_document
    from wringout.services.planning.plans import VARIANTS, Asked, plan_variants

    titles = VARIANTS if compare else VARIANTS[:1]
    with wanted.open(create=False) as store, page.progress("Flying the plan") as report:
        told = Told(report, len(titles), trials)
        asked = Asked(trials, draws, seed)
        kept, contest, found = plan_variants(store, wanted.study, key, asked, titles, told.progress, each=told.variant)
    body = variants_document(kept, contest, found)
    if wanted.as_json:
        page.document("test-plan-chance", kept.study.slug, body)
        return
    _tell_question(contest)
    page.table(
        ("", ">runs", ">decides", ">95 %", ">wrong", ">ceiling"),
        [
            (
                v["title"],
                str(v["runs"]),
                _per_cent(v["decided"]["probability"]),
                " to ".join(_per_cent(x) for x in v["decided"]["interval_95"]),
                _per_cent(v["wrong"]["probability"]),
                _per_cent(v["ceiling"]["probability"]),
            )
            for v in body["variants"]
        ],
    )
    said = body["variants"][0]["said"]
    page.say(
        f"As planned, of {trials} flights: first favoured {said['first']}, second favoured {said['second']}, alike "
        f"{said['alike']}, a margin broken {said['not_acceptable']}, undecided {said['undecided']}. Seed {seed}.",
        *chance_sentences(body["variants"], bool(body["question"]["law"])),
    )
    _cautions(body)


def _tell_question(contest: Contest) -> None:
    from wringout.services.planning.chance_words import question_sentence
    from wringout.services.planning.documents import contest_document

    page.say(question_sentence(contest_document(contest)))


def _per_cent(share: float) -> str:
    return f"{100 * share:.0f} %"


@test_plan_command.command("next")
@shared()
@_KEY
@_SEED
def next_command(wanted: Wanted, key: str, seed: int) -> None:
    """Say which kind of point of the plan teaches most next, after the runs in use.

    \b
    Example:
      wringout test-plan next
    """
    from wringout.services.planning.documents import lessons_document
    from wringout.services.planning.plans import next_runs

    with wanted.open(create=False) as store:
        kept, contest, found = next_runs(store, wanted.study, key, seed)
    body = lessons_document(kept, contest, found)
    if wanted.as_json:
        page.document("test-plan-next", kept.study.slug, body)
        return
    _tell_question(contest)
    rows = [
        (
            one["point"],
            _per_cent(one["share_of_variance"]),
            f"{one['sd_before']:.1f}",
            f"{one['sd_after']:.1f}",
            one["unit"],
        )
        for one in body["lessons"]
    ]
    page.table(("one more like", ">takes away of the variance", ">sd now", ">sd after", ""), rows)


@test_plan_command.command("cards")
@shared(units=True)
@_KEY
@click.option("-o", "--output", type=click.Path(path_type=Path), required=True, help="The PDF to write.")
@click.option("--paper", type=click.Choice(["a5", "half-letter", "a4", "letter"]), default="a5", help="Default: a5.")
@click.option("--night", is_flag=True, help="To be read under red light: black, bold and thick lines only.")
@click.option("--address", default="", help="Address of the flight's capture page, printed as a QR code.")
@click.option("--point", "points", multiple=True, help="Only this point; may be repeated.")
def cards(
    wanted: Wanted, key: str, output: Path, paper: str, night: bool, address: str, points: tuple[str, ...]
) -> None:
    """Print the cards of a test plan as PDF, one point a card.

    In front stand the flight card with go/no-go list and weight and balance, and the hazards. Points beyond a limit get
    no card.

    \b
    Examples:
      wringout test-plan cards -o cards.pdf
      wringout test-plan cards -o night.pdf --night --paper half-letter --point G1
    """
    from wringout.services.planning.cards import look_of, print_cards, write_cards
    from wringout.services.planning.plans import kept_plan

    with wanted.open(create=False) as store:
        kept = kept_plan(store, wanted.study, key)
    printed = print_cards(kept, paper, look_of(wanted.metric, night, address), points)
    write_cards(printed, output)
    if wanted.as_json:
        body = {"key": key, "file": str(output), "printed": list(printed.printed), "blocked": list(printed.blocked)}
        page.document("test-plan-cards", kept.study.slug, body)
        return
    page.say(f"Cards of {counted(len(printed.printed), 'point')} written to {output}.")
    if printed.blocked:
        page.say(f"No card for {', '.join(printed.blocked)}: beyond a limit; see wringout test-plan check.")
