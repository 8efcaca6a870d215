"""Write the catalogue of messages that a translator starts from: `python tools/make_catalogue.py`.

Messages are those handed to ``tr``, ``said``, ``marked``, ``ntr`` and ``count`` in the briefs, and texts of other rooms
that the briefs hand on: scores, pilot laws, numbers in words. What other rooms say of a study stands under a context of
its own, as the bundled study, the cautions and the cards of a lesson say it: numbers are ``{1}``, ``{2}``, names of
flap settings ``{a}``, ``{b}``.
"""

from __future__ import annotations

import ast
import gettext
import io
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import write_po

from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.briefs.cards.metric import metric_words
from wringout.briefs.catalogue import TOLD, skeleton, spoken_in
from wringout.briefs.readers.lesson import SHOWN_BY
from wringout.briefs.story.build import build_document
from wringout.methods.cautions import CAUTIONS
from wringout.methods.register import method
from wringout.numerals import NEVER, NOT_KNOWN, amount
from wringout.services.demonstration import take_in_demonstration
from wringout.services.findings.reduce import reduce_study
from wringout.services.matchups.compare import compare_techniques
from wringout.services.opening import open_studies
from wringout.services.publishing.publish import brief_content
from wringout.techniques.flying.scores import SCORES
from wringout.techniques.stated.types import Law

ROOM = Path(__file__).resolve().parents[1] / "src" / "wringout"
SOURCE = ROOM / "briefs"
TEMPLATE = SOURCE / "locale" / "wringout.pot"
Message = str | tuple[str, str]


def template() -> bytes:
    """Return the catalogue as the bytes of a .pot file, the same for the same code."""
    catalogue = Catalog(project="wringout", version="1", header_comment="# Messages of the briefs of wringout.")
    for path in sorted(SOURCE.rglob("*.py")):
        for message in sorted(set(messages(path.read_text(encoding="utf-8"))), key=str):
            catalogue.add(message, locations=[(path.relative_to(SOURCE).as_posix(), 0)])
    for where, texts in handed_on().items():
        for text in texts:
            catalogue.add(text, locations=[(where, 0)])
    for text in told():
        catalogue.add(text, locations=[("told", 0)], context=TOLD)
    stream = io.BytesIO()
    write_po(stream, catalogue, omit_header=True, sort_by_file=True, include_lineno=False)
    return stream.getvalue()


def messages(source: str) -> Iterator[Message]:
    """Yield the messages of a module: a text, or a text with its plural."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
            continue
        given = [one.value if isinstance(one, ast.Constant) else None for one in node.args]
        texts = [one for one in given if isinstance(one, str)]
        match node.func.id:
            case "tr" | "said" | "marked" if given and isinstance(given[0], str):
                yield given[0]
            case "ntr" if len(texts) >= 2:
                yield texts[0], texts[1]
            case "count" if texts:
                yield texts[0], texts[1] if len(texts) > 1 else f"{texts[0]}s"


class Heard(gettext.NullTranslations):
    """English that remembers what was told by other rooms."""

    def __init__(self) -> None:
        super().__init__()
        self.told: set[str] = set()

    def pgettext(self, context: str, message: str) -> str:
        """Remember a message."""
        if context == TOLD and any(sign.isalpha() for sign in message.replace("{a}", "").replace("{b}", "")):
            self.told.add(message)
        return message


def told() -> list[str]:
    """Return what other rooms say in the briefs of the bundled study, in either units."""
    heard = Heard()
    with tempfile.TemporaryDirectory() as folder, open_studies(Path(folder) / "study.db", _now) as store:
        study = take_in_demonstration(store)
        reduced = reduce_study(store, study.slug)
        compared = compare_techniques(store, study.slug)
        with store.reading() as view, spoken_in(heard):
            content = brief_content(view, study, reduced, compared, "study.zip", "", _now(), "aviation")
            for units in ("aviation", "metric"):
                build_document(replace(content, units=units))
    return sorted(heard.told | {skeleton(said)[0] for text in limiting() for said in (text, metric_words(text))})


def limiting() -> list[str]:
    """Return the cautions, and the steps of the cards that a lesson can hold."""
    airplane = ROOM / "services" / "demo_study" / "airplane.toml"
    beliefs = airplane_from_document(parse_airplane(airplane.read_text(encoding="utf-8")))
    cards = [method(key).card(beliefs, {}) for key in SHOWN_BY]
    return [*CAUTIONS, *(step for c in cards for step in (*c.setup, *c.steps, *c.readings, *c.stop_conditions))]


def _now() -> datetime:
    return datetime(2026, 1, 1, tzinfo=UTC)


def handed_on() -> dict[str, list[str]]:
    """Return the texts of other rooms that the briefs hand on, by where they come from."""
    return {
        "laws": [str(law) for law in Law],
        "scores": [score.title for score in SCORES],
        "numbers": [*map(amount, range(11)), NOT_KNOWN, NEVER],
    }


if __name__ == "__main__":
    TEMPLATE.parent.mkdir(exist_ok=True)
    TEMPLATE.write_bytes(template())
