"""Everything the command line does can be done in a browser: each command and option has its page, or a reason why not.

The table is held against the commands themselves, the routes of the pages and the fields of their forms, so that a new
command or option asks for its place.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import click
import pytest
from starlette.routing import Route

from wringout.cli.main import cli
from wringout.web.pages import load, page_names, routes_of
from wringout.web.rendering import FOLDER


@dataclass(frozen=True)
class At:
    """A page by the path of its route, and the field or link of its template in which an option is said."""

    path: str
    field: str = ""


@dataclass(frozen=True)
class Why:
    """Why there is no page."""

    reason: str


S = "/studies/{slug}"
SHARED = {
    "--database": "the workbench is opened on one database",
    "--study": "the page stands in its study",
    "--json": "for programs; a page hands out CSV, Parquet, TOML or a bundle to a reader",
    "--debug": "for whoever mends the program; the terminal shows it",
    "--units": "one switch at the head of every page, kept by the browser; tests/web/test_units.py walks all of them",
    "--help": "the page says it itself",
    "--version": "of the program; every brief prints it",
}
"""Options that many commands share, and why a page does not ask for them."""
SEEDED = Why("the usual seed and draws; another one is for repeating a figure at the prompt")
FOLDER_ASKED = Why("a browser keeps what is downloaded where its user says")
IN_PLACE = Why("the page writes a new file or asks first, so nothing is replaced unasked")
OF_THE_PLAN = Why("the study's own plan is used, which is edited under techniques")

PAGES: dict[str, tuple[At | Why, dict[str, At | Why]]] = {
    "demo": (At("/demonstration"), {"--folder": FOLDER_ASKED}),
    "open": (
        Why("it opens the pages"),
        {
            "--port": Why("said before there is a page"),
            "--share": At("/pair"),
            "--no-browser": Why("said before there is a page"),
        },
    ),
    "new": (
        At("/studies"),
        {
            "--question": At("/studies", "question"),
            "--name": At("/studies", "name"),
            "--score": At(f"{S}/difference", "score"),
            "--difference": At("/studies", "smallest"),
            "--invented": At("/studies", "invented"),
        },
    ),
    "studies": (At("/"), {}),
    "show": (At(f"{S}/"), {}),
    "history": (At(f"{S}/history"), {}),
    "airplane from-handbook": (At(f"{S}/airplane/handbook", "text"), {"--output": At(f"{S}/airplane/file", "text")}),
    "airplane put": (At(f"{S}/airplane/file", "file"), {}),
    "airplane show": (
        At(f"{S}/airplane"),
        {
            "--version": At(f"{S}/airplane/versions", "version"),
            "--toml": At(f"{S}/airplane/versions/{{version}}.toml"),
        },
    ),
    "methods": (At(f"{S}/methods"), {}),
    "card": (At(f"{S}/methods", "words"), {}),
    "test-plan cards": (
        At(f"{S}/plan/{{plan}}/cards.pdf"),
        {
            "--flight": At(f"{S}/plan"),
            "--output": FOLDER_ASKED,
            "--paper": At(f"{S}/plan/{{plan}}/cards.pdf", "paper"),
            "--night": At(f"{S}/plan/{{plan}}/cards.pdf", "light"),
            "--address": Why("the workbench knows its own address, and prints it where another device can reach it"),
            "--point": At(f"{S}/plan/{{plan}}/cards.pdf", "point"),
        },
    ),
    "test-plan chance": (
        At(f"{S}/plan/{{plan}}/chance"),
        {
            "--flight": At(f"{S}/plan"),
            "--trials": At(f"{S}/plan/{{plan}}/chance", "trials"),
            "--draws": SEEDED,
            "--seed": SEEDED,
            "--compare": At(f"{S}/plan/{{plan}}/chance", "way"),
        },
    ),
    "test-plan check": (
        At(f"{S}/plan"),
        {"--flight": At(f"{S}/plan"), "--all": Why("limits that are held are folded on the page")},
    ),
    "test-plan next": (At(f"{S}/plan"), {"--flight": At(f"{S}/plan"), "--seed": SEEDED}),
    "test-plan propose": (
        At(f"{S}/plan/propose"),
        {
            "--flight": At(f"{S}/plan/propose", "flight"),
            "--repeats": At(f"{S}/plan/propose", "repeats"),
            "--altitude": At(f"{S}/plan/propose", "altitude"),
            "--ground": At(f"{S}/plan/propose", "ground"),
            "--recording": At(f"{S}/plan/propose", "recording"),
            "--seed": SEEDED,
        },
    ),
    "test-plan put": (
        At(f"{S}/plan/{{plan}}/text", "text"),
        {"--flight": At(f"{S}/plan"), "--revision": At(f"{S}/plan/{{plan}}/text", "revision")},
    ),
    "test-plan show": (At(f"{S}/plan"), {"--flight": At(f"{S}/plan")}),
    "taps close": (At(f"{S}/capture/{{flight}}/close"), {}),
    "taps list": (At(f"{S}/capture"), {}),
    "taps page": (
        At(f"{S}/capture/{{flight}}/page.html"),
        {"--flight": At(f"{S}/capture", "flight"), "--folder": At(f"{S}/capture/{{flight}}/folder.zip")},
    ),
    "taps take-in": (At(f"{S}/capture", "logs"), {}),
    "take-in": (
        At(f"{S}/recordings", "recordings"),
        {
            "--mapping": At(f"{S}/recordings/{{sha256}}/mapping", "mapping"),
            "--confirm": At(f"{S}/recordings/{{sha256}}/mapping"),
            "--set": At(f"{S}/recordings", "setup"),
            "--run": At(f"{S}/recordings/{{sha256}}/runs", "key"),
            "--no-run": Why("a run that was made at once is set aside or undone on its page"),
        },
    ),
    "recordings": (At(f"{S}/recordings/{{sha256}}"), {"--rows": At(f"{S}/recordings/{{sha256}}/rows")}),
    "mapping confirm": (At(f"{S}/recordings/{{sha256}}/mapping"), {}),
    "mapping propose": (At(f"{S}/recordings/{{sha256}}"), {}),
    "mapping use": (At(f"{S}/recordings/{{sha256}}/mapping", "mapping"), {}),
    "captions list": (At(f"{S}/recordings/{{sha256}}/captions"), {}),
    "captions listen": (
        At(f"{S}/captions/listen", "sound"),
        {
            "--out": Why("the captions are kept with the study, and its bundle holds them"),
            "--name": Why("the captions carry the sound's name"),
        },
    ),
    "captions no": (At(f"{S}/recordings/{{sha256}}/captions/phrases/{{key}}", "answer"), {}),
    "captions readings": (
        At(f"{S}/recordings/{{sha256}}/captions/keep"),
        {
            "--set": At(f"{S}/recordings/{{sha256}}/captions/keep", "setup"),
            "--name": At(f"{S}/recordings/{{sha256}}/captions/keep", "name"),
        },
    ),
    "captions yes": (
        At(f"{S}/recordings/{{sha256}}/captions/phrases/{{key}}", "answer"),
        {"--likely": At(f"{S}/recordings/{{sha256}}/captions/likely")},
    ),
    "instrument frame": (
        At(f"{S}/recordings/{{sha256}}/clip/picture.jpg"),
        {"--at": At(f"{S}/recordings/{{sha256}}/clip", "at"), "--out": FOLDER_ASKED},
    ),
    "instrument read": (
        At(f"{S}/recordings/{{sha256}}/clip/read"),
        {
            "--dial": At(f"{S}/recordings/{{sha256}}/clip", "kind"),
            "--out": Why("the table is kept as a recording of the study"),
            "--take-in": At(f"{S}/recordings/{{sha256}}/clip/keep"),
            "--rate": At(f"{S}/recordings/{{sha256}}/clip/read", "rate"),
            "--confidence": At(f"{S}/recordings/{{sha256}}/clip/read", "least"),
            "--marked-at": At(f"{S}/recordings/{{sha256}}/clip", "at"),
        },
    ),
    "clocks align": (At(f"{S}/clocks/keep"), {"--name": At(f"{S}/clocks/keep", "name")}),
    "clocks compare": (At(f"{S}/clocks/look"), {}),
    "clocks join": (At(f"{S}/clocks/join", "part"), {"--name": At(f"{S}/clocks/join", "name")}),
    "runs": (At(f"{S}/flights"), {}),
    "run accept": (
        At(f"{S}/recordings/{{sha}}/strip/suggestions/{{number}}/accept"),
        {
            "--method": At(f"{S}/recordings/{{sha}}/strip", "method"),
            "--set": At(f"{S}/recordings/{{sha}}/strip", "words"),
            "--run": At(f"{S}/recordings/{{sha}}/strip", "key"),
        },
    ),
    "run add": (
        At(f"{S}/recordings/{{sha}}/strip/runs"),
        {
            "--method": At(f"{S}/recordings/{{sha256}}/runs", "method"),
            "--from": At(f"{S}/recordings/{{sha}}/strip/runs", "from_s"),
            "--to": At(f"{S}/recordings/{{sha}}/strip/runs", "to_s"),
            "--set": At(f"{S}/recordings/{{sha256}}/runs", "setup"),
            "--run": At(f"{S}/recordings/{{sha256}}/runs", "key"),
        },
    ),
    "run aside": (At(f"{S}/runs/{{key}}/aside", "reason"), {}),
    "run back": (At(f"{S}/runs/{{key}}/back"), {}),
    "run decline": (At(f"{S}/recordings/{{sha}}/strip/suggestions/{{number}}/turn-down", "reason"), {}),
    "run propose": (At(f"{S}/recordings/{{sha}}/strip"), {"--all": Why("the strip shows every movement of its own")}),
    "run show": (At(f"{S}/runs/{{key}}"), {}),
    "reduce": (
        At(f"{S}/reduce"),
        {
            "--draws": At(f"{S}/reduce", "draws"),
            "--seed": At(f"{S}/reduce", "seed"),
            "--second-opinion": At(f"{S}/reduce", "second"),
        },
    ),
    "findings": (At(f"{S}/findings"), {"--diagnostics": At(f"{S}/diagnostics")}),
    "calibration": (At(f"{S}/calibration"), {"--toml": At(f"{S}/calibration")}),
    "plan": (At(f"{S}/techniques"), {"--procedure": At(f"{S}/techniques", "procedure")}),
    "compare": (
        At(f"{S}/techniques"),
        {
            "--plan": At(f"{S}/techniques", "plan"),
            "--draws": At(f"{S}/techniques", "draws"),
            "--seed": At(f"{S}/techniques", "seed"),
        },
    ),
    "verdict": (At(f"{S}/techniques"), {}),
    "map": (
        At(f"{S}/techniques/map"),
        {
            **dict.fromkeys(
                ("--weight", "--density-altitude", "--entry-speed", "--gear-transit", "--flap-transit", "--delay"),
                At(f"{S}/techniques/map"),
            ),
            "--law": At(f"{S}/techniques/map", "law"),
            "--order": At(f"{S}/techniques/map", "order"),
            "--with-search": At(f"{S}/techniques/map"),
            "--plan": OF_THE_PLAN,
            "--draws": At(f"{S}/techniques/map", "draws"),
            "--seed": SEEDED,
            "--cluster": Why("other machines are set up at a terminal"),
            "--last": At(f"{S}/techniques/map"),
            "--figure": At(f"{S}/techniques/map/{{key}}/map.svg"),
        },
    ),
    "search": (
        At(f"{S}/techniques/search"),
        {
            **dict.fromkeys(
                ("--weight", "--density-altitude", "--entry-speed", "--gear-transit", "--flap-transit", "--delay"),
                At(f"{S}/techniques/search"),
            ),
            "--law": At(f"{S}/techniques/search", "law"),
            "--stops": At(f"{S}/techniques/search", "stops"),
            "--plan": OF_THE_PLAN,
            "--draws": At(f"{S}/techniques/search", "draws"),
            "--seed": SEEDED,
        },
    ),
    "landing-climb": (At(f"{S}/techniques"), {}),
    "register agree": (
        At(f"{S}/handbooks", "family"),
        {"--on": Why("the page reads handbooks as they hold today"), "--draws": SEEDED, "--seed": SEEDED},
    ),
    "register airplane": (At("/register/airplanes", "file"), {"--from-study": At("/register/airplanes", "study")}),
    "register attach": (At("/register/entries/{key}/attach"), {}),
    "register check": (At("/register/check"), {"--on": At("/register/check", "on")}),
    "register export": (At("/register/register.csv"), {"--replace": IN_PLACE}),
    "register holds": (
        At("/register/holds", "serial"),
        {"--on": At("/register/holds", "on"), "--family": At("/register/holds", "family")},
    ),
    "register import": (At("/register/import"), {"--good-rows": At("/register/import")}),
    "register list": (
        At("/register", "q"),
        {"--model": At("/register", "q"), "--family": At("/register", "q")},
    ),
    "register put": (At("/register/new"), {"--key": At("/register/entries/{key}")}),
    "register read": (
        At(f"{S}/handbooks"),
        {
            "--on": Why("the page reads handbooks as they hold today"),
            "--family": At(f"{S}/handbooks", "family"),
            "--draws": SEEDED,
            "--seed": SEEDED,
        },
    ),
    "register remove": (At("/register/entries/{key}/remove"), {}),
    "register show": (At("/register/entries/{key}"), {}),
    "fleet collect": (
        At("/fleet/collect", "study"),
        {f"--{name}": At("/fleet/collect", name) for name in ("family", "model", "airplane", "pilot")},
    ),
    "fleet conflicts": (
        At("/fleet"),
        {"--ours": At("/fleet/conflicts/{key}", "take"), "--theirs": At("/fleet/conflicts/{key}", "take")},
    ),
    "fleet demo": (At("/register/invented"), {}),
    "fleet export": (
        At("/fleet/export"),
        {"--keep": At("/fleet/export", "keep"), "--model": At("/fleet/export", "model"), "--replace": IN_PLACE},
    ),
    "fleet list": (At("/fleet"), {"--model": At("/fleet/pooled")}),
    "fleet merge": (At("/fleet/merge", "file"), {}),
    "fleet pool": (At("/fleet/pooled"), {"--estimator": At("/fleet/pooled", "estimator")}),
    "archives scan": (
        At("/archives", "folder"),
        {
            "--output": Why("the tables lie beside the database, and finds are handed out as Parquet or CSV"),
            "--processes": Why("work of the workbench has one process, so that pages stay quick"),
            "--cluster": Why("other machines are set up at a terminal"),
        },
    ),
    "archives show": (At("/archives/{key}"), {}),
    "brief": (At(f"{S}/brief"), {"--folder": FOLDER_ASKED, "--for": At(f"{S}/brief", "for")}),
    "video": (
        At(f"{S}/brief/video", "recording"),
        {
            "--folder": FOLDER_ASKED,
            "--begins": At(f"{S}/brief/video", "begins"),
            "--seconds": At(f"{S}/brief/video", "seconds"),
            "--fps": At(f"{S}/brief/video", "fps"),
            "--height": At(f"{S}/brief/video", "height"),
            "--dark": At(f"{S}/brief/video", "dark"),
            "--frames": At(f"{S}/brief/video", "pictures"),
            "--no-figures": At(f"{S}/brief/video", "bare"),
        },
    ),
    "export": (
        At(f"{S}/bundle"),
        {"--replace": IN_PLACE, "--list": At(f"{S}/bundle"), "--with-private": At(f"{S}/bundle", "private")},
    ),
    "import": (At("/bundles", "bundle"), {}),
    "verify": (
        At("/verify", "bundle"),
        {"--sha256": At("/verify", "hash"), "--tolerance": At("/verify", "tolerance")},
    ),
    "undo": (At(f"{S}/undo", "edit"), {}),
    "redo": (At(f"{S}/redo", "edit"), {}),
    "backup": (At("/backups"), {"--replace": IN_PLACE}),
    "restore": (At("/backups/{name}/restore"), {"--replace": At("/backups/{name}/restore", "sentence")}),
    "rescue": (Why("a damaged database opens as a page of its own (wringout.web.rescue)"), {}),
    "completion": (Why("it completes commands in a terminal"), {}),
}


def commands(group: click.Group, before: tuple[str, ...] = ()) -> Iterator[tuple[str, click.Command]]:
    """Yield every command of the command line by its whole name."""
    context = click.Context(group)
    for name in group.list_commands(context):
        found = group.get_command(context, name)
        assert found is not None
        if isinstance(found, click.Group) and not isinstance(found, type(cli)):
            yield from commands(found, (*before, name))
        else:
            yield " ".join((*before, name)), found


COMMANDS = dict(commands(cli))
MODULES = load(page_names())
ROUTES = {route.path for route in routes_of(MODULES) if isinstance(route, Route)}


@cache
def forms_of(path: str) -> str:
    """Return the templates, with all they include, of the file that a route stands in, and the scripts of pages."""
    own = [module for module in MODULES if any(getattr(route, "path", "") == path for route in module.ROUTES)]
    source = "".join(inspect.getsource(module) for module in own)
    for name in re.findall(r"from wringout\.web\.pages import (\w+)", source):
        source += inspect.getsource(load((name,))[0])
    waiting, seen = set(re.findall(r'"(\w+\.html)"', source)), set[str]()
    while waiting - seen:
        name = (waiting - seen).pop()
        seen.add(name)
        waiting |= set(re.findall(r'"(\w+\.html)"', (FOLDER / "templates" / name).read_text()))
    scripts = (FOLDER / "static").glob("*.js")
    return "\n".join(
        [*((FOLDER / "templates" / name).read_text() for name in seen), *(one.read_text() for one in scripts)]
    )


def missing(place: At | Why) -> str:
    """Return what is not there of a place that is named; "" where all of it is."""
    if isinstance(place, Why):
        return "" if len(place.reason) > 10 else "a reason"
    if place.path not in ROUTES:
        return f"the route {place.path}"
    named = rf'name="(f:)?{re.escape(place.field)}"'
    return "" if not place.field or re.search(named, forms_of(place.path)) else f"a field called {place.field}"


def test_the_table_names_the_commands_there_are() -> None:
    assert set(PAGES) == set(COMMANDS)


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_a_command_and_each_of_its_options_have_a_page(name: str) -> None:
    place, options = PAGES[name]
    assert not missing(place), f"{name}: {missing(place)}"
    asked = {
        max(option.opts, key=len)
        for option in COMMANDS[name].params
        if isinstance(option, click.Option) and not ({*option.opts} & set(SHARED) - set(options))
    }
    assert set(options) == asked
    for option, where in options.items():
        assert not missing(where), f"{name} {option}: {missing(where)}"


def test_a_command_without_a_page_would_be_seen() -> None:
    assert missing(At("/nowhere")) == "the route /nowhere"
    assert missing(At("/verify", "no-such-field"))
