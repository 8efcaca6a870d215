"""The running workbench: its settings, its open store, its work in the background."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from wringout.services.opening import Store
from wringout.web.jobs import Jobs
from wringout.web.settings import Settings


@dataclass(frozen=True, slots=True)
class Site:
    """What every page reaches through its request."""

    settings: Settings
    store: Store
    jobs: Jobs

    @property
    def database(self) -> Path:
        """The database file, for work in another process."""
        return self.store.place.database

    def brief_folder(self, slug: str) -> Path:
        """Return where a study's brief and bundle are written."""
        base = self.settings.briefs or self.database.parent / "briefs"
        return base / slug
