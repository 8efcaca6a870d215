"""Write the catalogue of messages that a translator starts from: `python tools/make_catalogue.py`.

Messages are those handed to ``tr`` and ``ntr`` in the briefs, and the texts of other rooms that the briefs hand on.
"""

from __future__ import annotations

import io
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import write_po

from wringout.methods.cautions import CAUTIONS
from wringout.techniques.scores import SCORES

SOURCE = Path(__file__).resolve().parents[1] / "src" / "wringout" / "briefs"
TEMPLATE = SOURCE / "locale" / "wringout.pot"


def template() -> bytes:
    """Return the catalogue as the bytes of a .pot file, the same for the same code."""
    catalogue = Catalog(project="wringout", version="1", header_comment="# Messages of the briefs of wringout.")
    found = extract_from_dir(str(SOURCE), [("**.py", "python")], keywords={"tr": None, "ntr": (1, 2)})
    for name, _, message, _, _ in sorted(found, key=lambda item: (item[0], str(item[2]))):
        catalogue.add(message, locations=[(name, 0)])
    for caution in CAUTIONS:
        catalogue.add(caution, locations=[("cautions", 0)])
    for score in SCORES:
        catalogue.add(score.title, locations=[("scores", 0)])
    stream = io.BytesIO()
    write_po(stream, catalogue, omit_header=True, sort_by_file=True, include_lineno=False)
    return stream.getvalue()


if __name__ == "__main__":
    TEMPLATE.parent.mkdir(exist_ok=True)
    TEMPLATE.write_bytes(template())
