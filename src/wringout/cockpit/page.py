"""The page of taps in its three shapes: served, as one file that needs nothing else, and as a folder for any host.

The page itself stands in ``cockpit/files/`` as plain files. It works without this program: it keeps every tap in the
browser's own database and hands the log over as a file. What differs between the shapes is where the card comes from
and whether there is an address that takes the taps.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Mapping
from importlib import resources
from typing import Any

SCRIPTS = ("log.js", "handover.js", "card.js", "page.js")
"""The page's scripts in the order in which they lean on each other."""
STYLE = "capture.css"
PAGE = "index.html"
OTHERS = ("sw.js", "manifest.webmanifest", "icon.svg")

_IMPORT = re.compile(r'^import \{[^}]*\} from "\./[a-z]+\.js";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?function|class|const)", re.MULTILINE)
_CARD_PLACE = '<script id="card" type="application/json"></script>'


def page_file(name: str) -> bytes:
    """Return one of the page's own files; raises FileNotFoundError for any other name."""
    if name not in {*SCRIPTS, STYLE, PAGE, *OTHERS}:
        raise FileNotFoundError(name)
    return resources.files("wringout.cockpit").joinpath("files", name).read_bytes()


def page_with_card(card: Mapping[str, Any] | None) -> str:
    """Return the page that loads its files from beside it, with a card in it (None: a card for an unplanned flight)."""
    html = page_file(PAGE).decode()
    if card is None:
        return html
    return html.replace(_CARD_PLACE, f'<script id="card" type="application/json">{_json_in_html(card)}</script>')


def single_file(card: Mapping[str, Any] | None) -> str:
    """Return the page as one HTML file that needs no other and may reach no address, not even its own.

    Its content-security policy names the hashes of its one script and one style.
    """
    style = f"\n{page_file(STYLE).decode()}"
    script = f"\n{one_script()}"
    policy = (
        f"default-src 'none'; script-src '{_hash_source(script)}'; style-src '{_hash_source(style)}'; "
        "form-action 'none'; base-uri 'none'"
    )
    html = page_with_card(card)
    for line in (
        '<link rel="manifest" href="manifest.webmanifest">\n',
        '<link rel="icon" href="icon.svg" type="image/svg+xml">\n',
    ):
        html = html.replace(line, "")
    html = html.replace(f'<link rel="stylesheet" href="{STYLE}">', f"<style>{style}</style>")
    html = html.replace('<script type="module" src="page.js"></script>', f'<script type="module">{script}</script>')
    return html.replace(
        '<meta charset="utf-8">',
        f'<meta charset="utf-8">\n<meta http-equiv="Content-Security-Policy" content="{policy}">',
    )


def folder_files(card: Mapping[str, Any] | None) -> dict[str, bytes]:
    """Return the files of a folder that any host can serve over HTTPS, where the page can then be installed."""
    files = {name: page_file(name) for name in (*SCRIPTS, STYLE, *OTHERS)}
    return {PAGE: page_with_card(card).encode(), **files}


def one_script() -> str:
    """Return the page's scripts as one, in order, without the lines that tie them together as modules."""
    parts = [_EXPORT.sub("", _IMPORT.sub("", page_file(name).decode())) for name in SCRIPTS]
    return "\n".join(parts)


def _json_in_html(card: Mapping[str, Any]) -> str:
    """Return JSON that cannot end the element it stands in."""
    return json.dumps(card, ensure_ascii=False).replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


def _hash_source(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
