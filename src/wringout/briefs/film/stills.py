"""Figures of a brief at 16 by 9 on a transparent ground, as SVG with its letters drawn, and as PNG."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass

import typst

from wringout.briefs.content import BriefContent
from wringout.briefs.document import Drawing, text_of
from wringout.briefs.evidence import gather
from wringout.briefs.film.palette import recoloured
from wringout.briefs.house_style import outlined
from wringout.briefs.readers import pictures
from wringout.briefs.story.verdicts import judge_all

WIDE, TALL, EDGE = 1920, 1080, 90


@dataclass(frozen=True, slots=True)
class Still:
    """A figure at 16 by 9: its name, its SVG, and what it shows in words."""

    name: str
    svg: str
    spoken: str


def stills(content: BriefContent, dark: bool = False) -> tuple[Still, ...]:
    """Return the figures a talk shows, each on a transparent ground of 16 by 9."""
    with outlined():
        return tuple(Still(d.name, widescreen(recoloured(d.svg, dark)), text_of(d.caption)) for d in _drawn(content))


def _drawn(content: BriefContent) -> Iterator[Drawing]:
    evidence = gather(content)
    judgements = judge_all(evidence)
    for i, one in enumerate(judgements, 1):
        yield pictures.verdict_picture(evidence, one, f"orders-{i}")
    found = [
        pictures.drag_picture(evidence, "drag"),
        pictures.curves_picture(evidence, "drag-over-speed"),
        pictures.stall_picture(evidence, "stalls"),
        *(pictures.time_picture(evidence, one, f"in-time-{i}") for i, one in enumerate(judgements, 1)),
    ]
    yield from (drawing for drawing in found if drawing is not None)


_HEAD = re.compile(r'<svg [^>]*?viewBox="0 0 ([\d.]+) ([\d.]+)"[^>]*>')


def widescreen(svg: str) -> str:
    """Return an SVG set as large as it fits into a frame of 16 by 9, nothing behind it.

    Raises:
        ValueError: it does not say its size.
    """
    head = _HEAD.match(svg)
    if head is None:
        raise ValueError("the drawing does not say its size")
    width, height = float(head.group(1)), float(head.group(2))
    scale = min((WIDE - 2 * EDGE) / width, (TALL - 2 * EDGE) / height)
    across, down = scale * width, scale * height
    inner = (
        f'<svg x="{0.5 * (WIDE - across):.2f}" y="{0.5 * (TALL - down):.2f}" width="{across:.2f}" height="{down:.2f}" '
        f'viewBox="0 0 {head.group(1)} {head.group(2)}">'
    )
    outer = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="{WIDE}" '
        f'height="{TALL}" viewBox="0 0 {WIDE} {TALL}">'
    )
    return f"{outer}\n{inner}{svg[head.end() :]}\n</svg>\n"


_PAGE = """#let d = json("/still.json")
#set page(width: 960pt, height: 540pt, margin: 0pt, fill: none)
#image("/still.svg", width: 960pt, height: 540pt, alt: d.spoken)
"""


def png_of(still: Still) -> bytes:
    """Return a still as PNG of 1920 by 1080 pixels with a transparent ground."""
    files = {
        "main.typ": _PAGE.encode(),
        "/still.svg": still.svg.encode("utf-8"),
        "/still.json": json.dumps({"spoken": still.spoken}).encode(),
    }
    return bytes(typst.compile(files, format="png", ppi=144.0))  # type: ignore[call-overload]  # as in pdf.py
