"""What a page shows of figures, apart from what stands in its fields, and which of them are in units of the trade."""

from __future__ import annotations

import re
from html.parser import HTMLParser

TRADE = r"(?:kts?|ft²|ft2|ft/min|ft|lbf|lb|hp|NM|gal/h|gal|inHg|kt/s)"
FIGURE = re.compile(rf"\d\s*{TRADE}(?![\w²/])|(?:^|[,(]\s?){TRADE}\)?$|\d in(?= at \d| inside| aft|[.,;)]|$)")
"""A number in a unit of the trade, or such a unit at the end of a title, as in "speed, kt" or "altitude (ft)"."""
STAYS = {
    "29 inHg": "manifold pressure, which stays in inches as its gauge does",
    "power untouched (inHg)": "the same gauge",
}
PAIR = re.compile(
    rf"(?<![\w.,])\d[\d,]*(?:\.\d+)?(?![,.]?\d)(?!\s*(?:%|s\b|°|min|deg|in\b|{TRADE}))"
    rf"(?! (?:to|and|or|±|at) |\u00a0to\u00a0|, \d)[^\d.“”][^\d“”]{{0,8}}\d[\d,]*(?:\.\d+)?[\s\u00a0]{TRADE}(?![\w²/])"
)
"""A number that shares the unit of the next one by other words than the converter knows, and would be left behind."""
VOID = {"input", "br", "meta", "link", "img", "hr", "wbr", "source", "col"}
TYPED = {"bdi", "q", "textarea", "title", "script", "style", "code"}


class Seen(HTMLParser):
    """What a page shows: its texts and the words in place of drawings, and apart from these what stands in fields."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[tuple[str, bool]] = []
        self.words: list[str] = []
        self.fields: list[str] = []
        self.feed(page)

    @property
    def kept(self) -> bool:
        return any(keeps for _, keeps in self.open)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        as_read = "data-as-read" in given
        if tag == "input" and given.get("type") != "range":
            self.fields.append(f"{given.get('name')}={given.get('value')}")
        if not (self.kept or as_read):
            names = ("title", "aria-label", "aria-valuetext", "placeholder", "data-of")
            self.words += [str(given[name]) for name in names if given.get(name)]
        if tag not in VOID:
            self.open.append((tag, as_read or tag in TYPED))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        del tag, attrs

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1][0] == "textarea":
            self.fields.append(data)
        if not self.kept and data.strip():
            self.words.append(" ".join(data.split()))


def trade_left(page: str) -> list[str]:
    """Return what a page says in units of the trade, but for somebody's words and what stays for a stated reason."""
    left = []
    for words in Seen(page).words:
        own = re.sub(r"“[^”]*”|(?<!\w)'[^']*'(?!\w)", "", words)
        for stays in STAYS:
            own = own.replace(stays, "")
        if FIGURE.search(own):
            left.append(words)
    return left
