"""Words and drawings as pages print them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime

from markupsafe import Markup

_STYLE_BLOCK = re.compile(r"<style\b.*?</style>|<defs>\s*</defs>", re.DOTALL)
_STYLE = re.compile(r'style="([^"]*)"')
_FONT = re.compile(r"^(?:(?P<weight>\d{3}|bold|italic)\s+)?(?P<size>[\d.]+px)\s+(?P<family>.+)$")


def sentence(text: str) -> str:
    """Return a text with a capital at its front and a full stop at its end."""
    plain = " ".join(str(text).split())
    if not plain:
        return ""
    return plain[:1].upper() + plain[1:] + ("" if plain.endswith((".", "?", ":")) else ".")


def day(stamp: str) -> str:
    """Return a kept time stamp as a day and a minute, such as "5 May 2026, 14:02 UTC"; "" stays empty."""
    if not stamp:
        return ""
    moment = datetime.fromisoformat(stamp)
    return f"{moment.day} {moment:%B %Y, %H:%M} UTC"


def size(count_bytes: int) -> str:
    """Return a number of bytes as a reader says it."""
    for unit, step in (("MB", 1 << 20), ("kB", 1 << 10)):
        if count_bytes >= step:
            return f"{count_bytes / step:.1f} {unit}"
    return f"{count_bytes} bytes"


def spark(observed: Sequence[float], fitted: Sequence[float], width: float = 46.0, height: float = 18.0) -> Markup:
    """Return readings as dots with the fit through them as a line, small enough for the margin or as large as asked."""
    values = [float(v) for v in (*observed, *fitted)]
    if len(observed) < 2 or len(observed) != len(fitted):
        return Markup("")
    low, span = min(values), (max(values) - min(values)) or 1.0
    pad, step = 2.0, (width - 4.0) / (len(observed) - 1)

    def y(value: float) -> float:
        return pad + (height - 2.0 * pad) * (1.0 - (value - low) / span)

    dots = "".join(
        f'<circle cx="{pad + i * step:.1f}" cy="{y(float(v)):.1f}" r="0.9" class="spot"/>'
        for i, v in enumerate(observed)
    )
    line = " ".join(f"{pad + i * step:.1f},{y(float(v)):.1f}" for i, v in enumerate(fitted))
    return Markup(  # noqa: S704  numbers only
        f'<svg viewBox="0 0 {width:g} {height:g}" aria-hidden="true">'
        f'<polyline points="{line}" class="thing" stroke-width="1"/>{dots}</svg>'
    )


def inline_svg(svg: str, spoken: str) -> Markup:
    """Return one of the house's own figures fit to stand in a page that allows no inline style.

    Styles become presentation attributes, which say the same; colours stay variables of the theme. ``spoken`` is what
    it shows, in words.
    """
    plain = _STYLE.sub(lambda found: _attributes(found.group(1)), _STYLE_BLOCK.sub("", svg))
    label = Markup("{}").format(spoken)  # escaped
    return Markup(plain.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1))  # noqa: S704


def _attributes(style: str) -> str:
    found = []
    for part in style.split(";"):
        name, _, value = (piece.strip() for piece in part.partition(":"))
        if not name:
            continue
        if name == "font" and (font := _FONT.match(value)):
            family = font["family"].replace('"', "'")
            found.append(f'font-size="{font["size"]}" font-family="{family}"')
            if font["weight"]:
                found.append(f'font-weight="{font["weight"]}"')
        elif name != "font":
            found.append(f'{name}="{value}"')
    return " ".join(found)
