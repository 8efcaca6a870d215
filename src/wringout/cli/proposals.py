"""Commands that look for runs in a log: ``run propose``, ``run accept``, ``run decline``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from wringout.cli import page
from wringout.cli.figures import counted
from wringout.cli.options import Wanted, shared, words_of

if TYPE_CHECKING:
    from wringout.services.flights.proposals import OfferedRun


@click.command("propose")
@shared()
@click.argument("recording")
@click.option("--all", "everything", is_flag=True, help="Show configuration changes that belong to no run as well.")
def propose_command(wanted: Wanted, recording: str, everything: bool) -> None:
    """Look for runs in an unlabelled log of the study: what was probably flown, from when to when, and why.

    Nothing is used until it is accepted with 'wringout run accept'.

    \b
    Examples:
      wringout run propose logger.csv
      wringout run propose logger.csv --all --json
    """
    from wringout.services.flights.proposals import CONFIGURATION_CHANGE, offered_runs, proposal_document
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        offered = offered_runs(store, study, recording)
    shown = [one for one in offered if everything or one.found.kind != CONFIGURATION_CHANGE]
    if wanted.as_json:
        page.document("proposals", study, {"proposals": [proposal_document(one) for one in shown]})
        return
    if not shown:
        page.say("Nothing in it looks like a run.")
        return
    hidden = len(offered) - len(shown)
    page.say(f"{counted(len(shown), 'stretch looks', 'stretches look')} like something flown on purpose.")
    page.table((">no.", "looks like", ">from, s", ">to, s", "configuration", "state"), [_row(one) for one in shown])
    page.items([f"{one.number}: {one.found.why}" for one in shown], "  -")
    if hidden:
        page.say(f"{hidden} movements of gear or flaps belong to none of them; --all shows them.")
    page.say(wanted.next_step(f'wringout run accept "{recording}" {shown[0].number}'))


def _row(one: OfferedRun) -> tuple[str, ...]:
    state = f"accepted as {one.run}" if one.run else one.state
    if one.overlapping and not one.run:
        state += f", overlaps {', '.join(one.overlapping)}"
    found = one.found
    return str(one.number), found.kind, f"{found.from_s:.0f}", f"{found.to_s:.0f}", found.configuration, state


@click.command("accept")
@shared()
@click.argument("recording")
@click.argument("number", type=int)
@click.option("--method", metavar="METHOD", help="Another flight-test method than the proposal's.")
@click.option("--set", "pairs", multiple=True, metavar="KEY=VALUE", help="A set-up word; repeatable.")
@click.option("--run", "key", metavar="KEY", help="Short name of the run. Default: chosen, such as G1.")
def accept_command(
    wanted: Wanted, recording: str, number: int, method: str | None, pairs: tuple[str, ...], key: str | None
) -> None:
    """Make a run of proposal NUMBER of a RECORDING.

    \b
    Example:
      wringout run accept logger.csv 3 --set "weight=2,900 lb"
    """
    from wringout.services.flights.documents import run_document
    from wringout.services.flights.proposals import accept_proposal
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        run = accept_proposal(store, study, recording, number, method, words_of(pairs, "--set"), key)
    if wanted.as_json:
        page.document("run", study, run_document(run))
        return
    page.say(f"Proposal {number} is run {run.stored.key}: {run.title}.", wanted.next_step("wringout reduce"))


@click.command("decline")
@shared()
@click.argument("recording")
@click.argument("number", type=int)
@click.argument("reason", default="")
def decline_command(wanted: Wanted, recording: str, number: int, reason: str) -> None:
    """Turn down proposal NUMBER of a RECORDING, with an optional REASON; it stays in the list.

    \b
    Example:
      wringout run decline logger.csv 4 "traffic, not a test"
    """
    from wringout.services.flights.proposals import proposal_document, turn_down_proposal
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        one = turn_down_proposal(store, study, recording, number, reason)
    if wanted.as_json:
        page.document("proposal", study, dict(proposal_document(one)))
        return
    page.say(f"Proposal {number} ({one.found.kind}) is turned down; it can still be accepted.")
