"""Write the catalogue of messages that a translator starts from: `python tools/make_catalogue.py`.

Messages are those handed to ``tr``, ``said``, ``marked``, ``ntr`` and ``count`` in the briefs, and the texts of other
rooms that the briefs hand on: cautions, scores, numbers in words, and those steps of the lesson's test cards that hold
no number.
"""

from __future__ import annotations

import ast
import io
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import write_po

from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.briefs.readers.lesson import SHOWN_BY
from wringout.methods.cautions import CAUTIONS
from wringout.methods.register import method
from wringout.numerals import NEVER, NOT_KNOWN, amount
from wringout.techniques.scores import SCORES

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


def handed_on() -> dict[str, list[str]]:
    """Return the texts of other rooms that the briefs hand on, by where they come from."""
    airplane = ROOM / "services" / "demo_study" / "airplane.toml"
    beliefs = airplane_from_document(parse_airplane(airplane.read_text(encoding="utf-8")))
    cards = [method(key).card(beliefs, {}) for key in SHOWN_BY]
    steps = [step for c in cards for step in (*c.setup, *c.steps, *c.readings, *c.stop_conditions)]
    return {
        "cautions": list(CAUTIONS),
        "scores": [score.title for score in SCORES],
        "numbers": [*map(amount, range(11)), NOT_KNOWN, NEVER],
        "cards": [step for step in dict.fromkeys(steps) if not any(sign.isdigit() for sign in step)],
    }


if __name__ == "__main__":
    TEMPLATE.parent.mkdir(exist_ok=True)
    TEMPLATE.write_bytes(template())
