"""Refusals and hints on pages name fields and links of pages, never a command or an option of the prompt."""

from __future__ import annotations

import ast
import html
import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from starlette.testclient import TestClient

import wringout
from tests.services.texts import AIRPLANE
from tests.web.beside import beside, clock, token
from wringout.advice import Way, set_up_word, worded
from wringout.cli import page as prompt
from wringout.cli.main import cli
from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.opening import open_studies
from wringout.services.study.studies import make_study
from wringout.web.wording import WORDING

AT = "/studies/gear-or-flaps"
METHOD = "# method: level deceleration\n# altitude: 6000 ft\n# weight: 3000 lb\n"
SECONDS = range(0, 60, 4)
OWN_COLUMNS = "time,IAS,Gear\ns,kt,\n" + "".join(f"{t},{120 - t / 4},{'UP' if t < 8 else 'DOWN'}\n" for t in SECONDS)
FAST = "time,IAS,mark\ns,kt,\n0,120,gear down\n" + "".join(f"{t},{120 - t / 600:g},\n" for t in range(1, 24000))
BAD = {
    "no marks but columns of its own": METHOD + OWN_COLUMNS,
    "no method": OWN_COLUMNS,
    "a method nobody knows": "# method: looping\n" + OWN_COLUMNS,
    "too many readings": METHOD + FAST,
    "no weight": METHOD.replace("weight: 3000 lb", "marks: columns") + OWN_COLUMNS,
    "no power": "# method: level acceleration\n# altitude: 6000 ft\n# weight: 3000 lb\n" + OWN_COLUMNS,
    "fuel and no weight": METHOD.replace("weight: 3000 lb", "load: front seats 300 lb") + OWN_COLUMNS,
    "fuel burned unknown": METHOD.replace("weight", "start weight") + OWN_COLUMNS,
    "unknown columns": "Time,EGT,CHT\ns,degF,degF\n0,1390,380\n1,1391,381\n",
    "no time": "IAS,RPM,OAT\nkt,rpm,C\n120,2400,8\n119,2400,9\n",
    "no names": "# kind: logger\n0,120,2400,8,7\n1,119,2400,8,7\n2,118,2400,8,7\n",
    "a speed of no kind": "time;speed;altitude\ns;kt;ft\n0;120;6000\n1;119;6000\n2;118;6000\n",
    "two of one kind": "time;IAS;IAS\ns;kt;kt\n0;120;110\n1;119;109\n2;118;108\n",
    "a wrong unit": "time;ias;altitude\ns;m/s;m\n0;238,5;2100\n1;239;2101\n2;240;2101\n",
    "no unit": "time;IAS;altitude\ns;;m\n0;0.5;2100\n1;0.6;2101\n2;0.7;2101\n",
    "a unit of something else": "time;IAS;altitude\ns;ft;m\n0;120;2100\n1;119;2101\n2;118;2101\n",
    "no speed to look for runs by": "time,altitude,RPM\ns,ft,rpm\n" + "".join(f"{t},6000,2400\n" for t in range(40)),
    "minutes without a unit": "time,IAS,RPM\n,kt,rpm\n0,120,2400\n60,118,2400\n120,117,2400\n180,116,2400\n",
    "swapped columns": "120, 0\n117, 6\n113, 12\n110, 18\n",
    "a gap": METHOD + "time,IAS\ns,kt\n0,120\n1,119\n2,118\n400,90\n401,89\n",
    "cut short": METHOD + "time, speed, mark\n0:00, 121\n0:06, 121, gear down\n0:14, 1",
    "legs that scatter": "# method: airspeed calibration\ntime,IAS,GS,track,altitude,OAT\ns,kt,kt,deg,ft,C\n"
    + "".join(f"{t},{90 + t},{110 + t},{3 * t},6000,5\n" for t in range(60)),
    "a stall without flaps": "# method: stall series\n# altitude: 6000 ft\n# weight: 3000 lb\ntime,IAS\ns,kt\n"
    + "".join(f"{t},{80 - t if t < 28 else 52 + 4 * (t - 28)}\n" for t in range(40)),
    "nothing": " ",
    "a picture": "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00",
}
COMMANDS = "|".join(cli.list_commands(click.Context(cli)))
OF_THE_PROMPT = re.compile(rf"(?<![\w-])--[a-z]|\b[Ww]ringout (?:{COMMANDS})\b(?!,)|\bset \"|\w=\w|[A-Z]{{3,}}=")
"""An option, a command, or what stands behind ``--set`` and ``--confirm``."""
KEPT = {
    "services/publishing/publish.py": "a brief prints the commands with which anybody computes it again",
    "briefs/readers/slides.py": "a slide names the command with which anybody computes it again",
    "web/serving.py": "told at the prompt, before there is a page",
}


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    database = tmp_path_factory.mktemp("wording") / "studies.db"
    with open_studies(database, clock) as store:
        make_study(store, "Gear or flaps", "Which costs more?", {"smallest": "25 ft"}, invented=True)
        put_airplane_file(store, None, AIRPLANE.encode(), "airplane.toml")
    with beside(database) as opened:
        yield opened


def words_on(text: str) -> str:
    """Return what a reader sees of a page: no drawings, no document in a field, no tags."""
    shown = re.sub(r"<(svg|textarea|script|head)\b.*?</\1>", " ", text, flags=re.DOTALL)
    plain = re.sub(r"'\S+=\S+'", " ", html.unescape(re.sub(r"<[^>]+>", " ", shown)))  # what was typed is quoted
    return " ".join(plain.split())


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_is_refused_in_words_of_the_page(client: TestClient, name: str) -> None:
    form = {"form-token": token(client)}
    files = {"recordings": (f"{name.replace(' ', '-')}.csv", BAD[name].encode("latin-1"))}
    taken = client.post(f"{AT}/recordings", data=form, files=files).text
    (recording,) = re.findall(rf'<li><a href="({AT}/recordings/\w+)">', taken)
    pages = [taken, client.get(recording).text, client.get(f"{recording}/strip").text]
    methods = ("", "level deceleration", "airspeed calibration", "level acceleration", "stall series")
    asked = re.findall(r'name="(a:[^"]*)"', pages[1]) or ["a:nothing"]
    tried = [(f"{recording}/runs", {"method": method}) for method in methods]
    tried += [(f"{recording}/mapping", dict.fromkeys(asked, said)) for said in ("furlong", "ias", "IAS=kt", "ft")]
    tried += [(f"{recording}/mapping", {"mapping": "{"})]
    pages += [client.post(at, data=form | typed).text for at, typed in tried]
    look = {"from_s": 0, "to_s": 30, "method": "level deceleration", "words": ""}
    pages.append(client.post(f"{recording}/strip/look", json=look).text)
    for said in map(words_on, pages):
        assert not OF_THE_PROMPT.search(said), said
    if name in NAMED:
        assert NAMED[name] in words_on(taken) + words_on(pages[1])


NAMED = {
    "no marks but columns of its own": "write “marks: columns” among the set-up words",
    "no weight": "write “weight: 3000 lb” among the set-up words",
    "no method": "Make a run of it",
    "no time": "say what its columns are on the recording's page, in its mapping",
    "too many readings": "choose the start and the end of the stretch on its strip chart",
}
"""The field or the link that a page names."""


def test_what_a_page_names_is_there(client: TestClient) -> None:
    """The set-up words, the mapping of a table without a time, and the form of a run stand on the recording's page."""
    form, files = {"form-token": token(client)}, {"recordings": ("untimed.csv", BAD["no time"].encode())}
    taken = client.post(f"{AT}/recordings", data=form, files=files).text
    at = re.findall(rf'<li><a href="({AT}/recordings/\w+)">', taken)[0]
    page = client.get(at).text
    found = re.search(r'<textarea[^>]*name="mapping"[^>]*>(.*?)</textarea>', page, re.DOTALL)
    assert found is not None
    mapping = (
        html.unescape(found[1]).replace('"quantity": "oat"', '"quantity": "time"').replace('"unit": "C"', '"unit": "s"')
    )
    read = client.post(f"{at}/mapping", data=form | {"mapping": mapping}).text
    assert "Make a run of it" in read
    assert "Set-up words that the file does not carry" in read


def test_both_faces_word_every_way() -> None:
    for way in Way:
        assert OF_THE_PROMPT.search(worded(f"it is so, or {way}.", WORDING)) is None
        assert way in WORDING.ways
        assert way in prompt.WORDING.ways
    hint = set_up_word("weight: 3000 lb")
    assert worded(f"the weight is missing; {hint}", WORDING).endswith("write “weight: 3000 lb” among the set-up words")
    assert worded(hint, prompt.WORDING) == 'add the line "# weight: 3000 lb"'
    assert '--set "marks=columns"' in worded(Way.OWN_MARKS, prompt.WORDING)


def test_only_the_prompt_writes_options() -> None:
    """No text outside the command line names an option or a command, but for the few that are meant to."""
    root = Path(wringout.__file__).parent
    option = re.compile(rf"(?:^|\s)--[a-z]+\b(?!\))|['\s]wringout (?:{COMMANDS})\b(?!,)|set \"")
    found = []
    for path in sorted(root.rglob("*.py")):
        name = path.relative_to(root).as_posix()
        if not name.startswith("cli/") and name not in KEPT:
            tree = ast.parse(path.read_text(encoding="utf-8"))
            told = {id(one.value) for one in ast.walk(tree) if isinstance(one, ast.Expr)}
            texts = [one for one in ast.walk(tree) if isinstance(one, ast.Constant) and id(one) not in told]
            found += [
                f"{name}: {one.value}" for one in texts if isinstance(one.value, str) and option.search(one.value)
            ]
    assert not found, found
