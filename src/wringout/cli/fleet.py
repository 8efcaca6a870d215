"""Commands about many airplanes together: ``fleet demo``, ``collect``, ``list``, ``pool``, ``export``, ``merge`` ..."""

from __future__ import annotations

from pathlib import Path

import click

from wringout.cli import codes, page
from wringout.cli.figures import in_units, sentence, sentences, unit_name
from wringout.cli.files import read_whole
from wringout.cli.options import Wanted, shared


@click.group("fleet")
def fleet_command() -> None:
    """Pool the findings of many studies and airplanes, and share the library without personal data."""


@fleet_command.command("demo")
@shared(study=False)
def demo_command(wanted: Wanted) -> None:
    """Put the invented fleet into the library: five variants, their handbooks, findings for three of them.

    \b
    Example:
      wringout fleet demo --database demo/study.db
    """
    from wringout.services.fleet_demonstration import put_demo_fleet

    with wanted.open() as store:
        done = put_demo_fleet(store)
    if wanted.as_json:
        body = {"family": done.family, "models": list(done.models), "entries": done.entries, "findings": done.findings}
        page.document("fleet demo", None, body)
        return
    page.say(
        f"The family {done.family} is in the library: {len(done.models)} variants, {done.entries} entries and "
        f"{done.findings} findings new or changed. All of it is invented.",
        wanted.next_step(f'wringout register agree "{done.family}"'),
        wanted.next_step('wringout fleet pool "Quillback 230" area.gear.middle'),
    )


@fleet_command.command("collect")
@shared()
@click.option("--family", required=True, help="The airplane family, as the register names it.")
@click.option("--model", required=True, help="The model.")
@click.option("--airplane", required=True, help="Which airplane it was, such as its serial.")
@click.option("--pilot", required=True, help="Who flew it; any name that is always the same.")
def collect_command(wanted: Wanted, family: str, model: str, airplane: str, pilot: str) -> None:
    """Take the findings of a study's reduction into the library.

    The names of airplane and pilot stay here; an export replaces them.

    \b
    Example:
      wringout fleet collect --family Quillback --model "Quillback 230" --airplane 1205 --pilot "me"
    """
    from wringout.services.fleet.findings import collect

    with wanted.open(create=False) as store:
        found = collect(store, wanted.study, family, model, airplane, pilot)
    if wanted.as_json:
        page.document("fleet collect", None, {"findings": [item.quantity for item in found]})
        return
    page.say(f"{len(found)} findings of {airplane} are in the library.", wanted.next_step("wringout fleet list"))


@fleet_command.command("list")
@shared(study=False)
@click.option("--model", default="", help="Only this model.")
def list_command(wanted: Wanted, model: str) -> None:
    """List the findings of the library.

    \b
    Example:
      wringout fleet list --model "Quillback 230"
    """
    from wringout.services.fleet.findings import list_findings

    with wanted.open(create=False) as store:
        found = list_findings(store, model)
    if wanted.as_json:
        body = [
            {
                "key": f.key,
                "model": f.model,
                "quantity": f.quantity,
                "label": f.label,
                "value": f.value,
                "standard_uncertainty": f.standard_uncertainty,
                "unit": f.unit,
                "airplane": f.airplane,
                "pilot": f.pilot,
                "made_on": f.made_on,
                "invented": f.invented,
                "source": dict(f.source),
            }
            for f in found
        ]
        page.document("fleet findings", None, {"findings": body})
        return
    page.say(f"{len(found)} {'finding' if len(found) == 1 else 'findings'}.")
    rows = [
        (f.model, f.quantity, f"{f.value:.3g}", f"{f.standard_uncertainty:.2g}", f.unit, f.airplane, f.pilot)
        for f in found
    ]
    page.table(("model", "quantity", ">value", ">uncertainty", "unit", "airplane", "pilot"), rows)


@fleet_command.command("pool")
@shared(study=False, units=True)
@click.argument("model")
@click.argument("quantity", required=False)
@click.option(
    "--estimator",
    type=click.Choice(["reml", "dersimonian-laird", "paule-mandel"]),
    default="reml",
    show_default=True,
    help="How the scatter between airplanes is estimated.",
)
def pool_command(wanted: Wanted, model: str, quantity: str | None, estimator: str) -> None:
    """Pool a QUANTITY over the airplanes of a MODEL; without QUANTITY, say what can be pooled.

    \b
    Examples:
      wringout fleet pool "Quillback 230"
      wringout fleet pool "Quillback 230" area.gear.middle
    """
    from wringout.services.fleet.findings import quantities
    from wringout.services.fleet.pooling import Estimator, pool_findings, pooled_document

    chosen = {
        "reml": Estimator.REML,
        "dersimonian-laird": Estimator.DERSIMONIAN_LAIRD,
        "paule-mandel": Estimator.PAULE_MANDEL,
    }[estimator]
    with wanted.open(create=False) as store:
        if quantity is None:
            _say_quantities(wanted, model, quantities(store))
            return
        found = pool_findings(store, model, quantity, chosen)
    document = pooled_document(found)
    if wanted.as_json:
        page.document("pooled finding", None, document)
        return
    unit = document["unit"]
    places = 3 if wanted.metric and unit == "ft2" else 2

    def shown(value: float) -> str:
        return f"{in_units(value, unit, wanted.metric):.{places}f}"

    page.say(sentence(found.answer, wanted.metric))
    rows = [
        (
            row["airplane"],
            shown(row["value"]),
            f"{shown(row['interval_95'][0])} to {shown(row['interval_95'][1])}",
            f"{100.0 * row['weight']:.0f} %",
            shown(row["shrunk"]["value"]),
            "" if row["outlier"] is None else f"{row['outlier']['z']:.1f}",
        )
        for row in document["forest"]
    ]
    columns = ("airplane", f">value, {unit_name(unit, wanted.metric)}", ">95 % interval", ">weight")
    page.table((*columns, ">drawn to the mean", ">off by (sigma)"), rows)
    page.heading("To keep in mind")
    page.items(sentences(found.remarks, wanted.metric))


def _say_quantities(wanted: Wanted, model: str, known: tuple[tuple[str, str, str, int], ...]) -> None:
    own = [item for item in known if item[0].casefold() == model.strip().casefold()]
    if wanted.as_json:
        body = [{"quantity": q, "label": label, "airplanes": count} for _, q, label, count in own]
        page.document("fleet quantities", None, {"model": model, "quantities": body})
        return
    page.say(f"{len(own)} quantities of {model} can be pooled.")
    page.table(("quantity", "what it is", ">airplanes"), [(q, label, str(count)) for _, q, label, count in own])


@fleet_command.command("export")
@shared(study=False)
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--keep", multiple=True, metavar="KIND", help="Pass on as is: airplanes, pilots, studies, days, notes.")
@click.option("--model", default="", help="Only what is of this model.")
@click.option("--replace", is_flag=True, help="Replace the file if it exists.")
def export_command(wanted: Wanted, file: Path, keep: tuple[str, ...], model: str, replace: bool) -> None:
    """Write register, airplanes and findings for other members, without personal data, and say what was taken out.

    \b
    Examples:
      wringout fleet export our-fleet.json
      wringout fleet export our-fleet.json --keep airplanes
    """
    from wringout.services.fleet.sharing import export_fleet
    from wringout.services.texts_written import write_text

    with wanted.open(create=False) as store:
        done = export_fleet(store, keep, model)
    write_text(file, done.text, replace)
    if wanted.as_json:
        page.document("fleet export", None, {"file": str(file), **done.counts, "removed": list(done.removed)})
        return
    names = {"register": "entries of the register", "variants": "airplanes", "findings": "findings"}
    counts = ", ".join(f"{count} {names[name]}" for name, count in done.counts.items())
    page.say(f"{file} is written: {counts}.")
    page.heading("Taken out")
    page.table(
        ("what", ">how many", "in its place"),
        [(item["what"], str(item["count"]), item["instead"]) for item in done.removed],
    )
    page.say("", "Read the file before you pass it on: no program finds every name in a text.")


@fleet_command.command("merge")
@shared(study=False)
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
def merge_command(wanted: Wanted, files: tuple[Path, ...]) -> None:
    """Merge members' FILES into the library. What differs from what is here is kept as a conflict to be looked at.

    \b
    Example:
      wringout fleet merge theirs.json
    """
    from wringout.services.fleet.sharing import LONGEST_FLEET_BYTES, merge_fleet

    with wanted.open() as store:
        done = [merge_fleet(store, read_whole(path, LONGEST_FLEET_BYTES), path.name) for path in files]
    if wanted.as_json:
        body = [
            {
                "file": item.name,
                "sha256": item.sha256,
                "new": item.new,
                "same": item.same,
                "conflicts": list(item.conflicts),
                "errors": [str(error) for error in item.errors],
            }
            for item in done
        ]
        page.document("fleet merge", None, {"files": body})
    else:
        for item in done:
            for error in item.errors:
                page.complain(str(error))
            page.say(
                f"{item.name}: nothing is kept."
                if item.errors
                else f"{item.name}: {item.new} new, {item.same} known already, {len(item.conflicts)} in conflict."
            )
        if any(item.conflicts for item in done):
            page.say(wanted.next_step("wringout fleet conflicts"))
    if any(item.errors for item in done):
        raise click.exceptions.Exit(codes.BAD_INPUT)


@fleet_command.command("conflicts")
@shared(study=False)
@click.option("--ours", metavar="KEY", help="Settle this conflict: ours stays.")
@click.option("--theirs", metavar="KEY", help="Settle this conflict: theirs is taken; ours stays in the history.")
def conflicts_command(wanted: Wanted, ours: str | None, theirs: str | None) -> None:
    """List what differs between the library and what was merged, or settle one conflict.

    \b
    Examples:
      wringout fleet conflicts
      wringout fleet conflicts --theirs handbook-3fa94c01d2a4b6c8-9e3b7a10
    """
    from wringout.services.fleet.sharing import list_conflicts, resolve_conflict

    with wanted.open(create=False) as store:
        for key, take in ((ours, False), (theirs, True)):
            if key is not None:
                resolve_conflict(store, key, take)
        found = list_conflicts(store)
    if wanted.as_json:
        body = [
            {
                "key": item.key,
                "kind": item.kind,
                "fields": list(item.fields),
                "ours": dict(item.ours),
                "theirs": dict(item.theirs),
                "from": dict(item.origin),
            }
            for item in found
        ]
        page.document("fleet conflicts", None, {"conflicts": body})
        return
    page.say(f"{len(found)} {'conflict' if len(found) == 1 else 'conflicts'}.")
    rows = [
        (item.key, name, str(item.ours.get(name, "")), str(item.theirs.get(name, "")), str(item.origin.get("file", "")))
        for item in found
        for name in item.fields
    ]
    page.table(("key", "field", "ours", "theirs", "from"), rows)
