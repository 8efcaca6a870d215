"""The chapters of the notebook, in the order of the work. One is shown once the file of its pages is there."""

from __future__ import annotations

from pathlib import Path

from wringout.web.routing import Tab

CHAPTERS = (
    Tab(10, "question", "Question", "/"),
    Tab(20, "airplane", "Airplane", "/airplane"),
    Tab(30, "plan", "Plan and cards", "/plan"),
    Tab(40, "flights", "Flights", "/flights"),
    Tab(50, "findings", "Findings", "/findings"),
    Tab(60, "techniques", "Techniques", "/techniques"),
    Tab(70, "handbooks", "Handbooks", "/handbooks"),
    Tab(80, "brief", "Brief", "/brief"),
    Tab(91, "register", "Handbook register", "/register", of_study=False),
    Tab(92, "fleet", "Fleet", "/fleet", of_study=False),
    Tab(93, "archives", "Archives", "/archives", of_study=False),
    Tab(94, "verify", "Verify", "/verify", of_study=False),
    Tab(95, "backups", "Back-ups", "/backups", of_study=False),
)
"""Those named here are in the line of chapters at once, before their files are loaded; a page's own ``TAB`` joins it
when its file is."""


def known_chapters() -> tuple[Tab, ...]:
    """Return the chapters whose pages exist, without loading them."""
    there = {path.stem for path in (Path(__file__).parent / "pages").glob("*.py")}
    return tuple(tab for tab in CHAPTERS if tab.key in there)
