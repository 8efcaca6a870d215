"""Test cards as a PDF set by Typst: knee-board or full page, by day or to be read under red light.

What users typed reaches Typst only as strings in a JSON file; nothing of it is ever read as markup.
"""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any, Final

import segno
import typst

from wringout.briefs.pdf import STANDARD
from wringout.briefs.pdf import _fonts as vendored_fonts
from wringout.errors import BadInputError

_TEMPLATE: Final = Path(__file__).parent.parent / "templates" / "cards.typ"
PAPERS: Final[dict[str, tuple[float, float]]] = {
    "a5": (148.0, 210.0),
    "half-letter": (139.7, 215.9),
    "a4": (210.0, 297.0),
    "letter": (215.9, 279.4),
}
"""Width and height of each paper, mm (ISO 216; half of and whole ANSI A)."""
KNEE_BOARD: Final = frozenset({"a5", "half-letter"})


def cards_pdf(content: dict[str, Any], paper: str) -> bytes:
    """Return the cards as PDF; the same content gives the same bytes.

    Raises:
        BadInputError: a paper there is not, or an address too long for a QR code.
    """
    if paper not in PAPERS:
        raise BadInputError(f"{paper!r} is no paper for cards", "paper", f"use one of: {', '.join(PAPERS)}")
    files: dict[str, bytes] = {"main.typ": _TEMPLATE.read_bytes()}
    data = dict(content)
    envelope = str(data.pop("envelope"))
    data |= {
        "width": PAPERS[paper][0],
        "height": PAPERS[paper][1],
        "small": paper in KNEE_BOARD,
        "qr": _qr(str(data["address"]), files),
        "envelope": "",
    }
    if envelope:
        files["/envelope.svg"] = envelope.encode("utf-8")
        data["envelope"] = "/envelope.svg"
    files["/cards.json"] = json.dumps(data, ensure_ascii=False, sort_keys=True).encode("utf-8")
    made = typst.compile(  # type: ignore[call-overload]  # its annotations leave out the mapping of files
        files, font_paths=vendored_fonts(), ignore_system_fonts=True, format="pdf", pdf_standards=STANDARD, timestamp=0
    )
    return bytes(made)


def _qr(address: str, files: dict[str, bytes]) -> str:
    """Put the QR code of an address among the files, error correction M; "" where there is no address."""
    if not address:
        return ""
    try:
        code = segno.make(address, error="m", micro=False)
    except segno.DataOverflowError:
        raise BadInputError(f"the address has {len(address):,} characters", "address", "use a shorter one") from None
    out = io.BytesIO()
    code.save(out, kind="svg", border=2, xmldecl=False, svgns=True, dark="#000000", light="#ffffff")
    files["/qr.svg"] = out.getvalue()
    return "/qr.svg"
