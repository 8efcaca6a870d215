"""The pages, one file for each chapter. A file here with ``ROUTES`` is found by itself; ``TAB`` gives it a chapter."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterable
from types import ModuleType

from starlette.routing import BaseRoute

from wringout.web.routing import Tab

FIRST = ("home", "household")
"""Loaded before the first answer; the others need the estimator and come while the first page is being read."""


def page_names() -> tuple[str, ...]:
    """Return the names of all page files."""
    return tuple(sorted(found.name for found in pkgutil.iter_modules(__path__)))


def load(names: Iterable[str]) -> tuple[ModuleType, ...]:
    """Return page files by name, loaded."""
    return tuple(importlib.import_module(f"{__name__}.{name}") for name in names)


def routes_of(modules: Iterable[ModuleType]) -> list[BaseRoute]:
    """Return the routes of page files."""
    return [route for module in modules for route in getattr(module, "ROUTES", ())]


def tabs_of(modules: Iterable[ModuleType]) -> tuple[Tab, ...]:
    """Return the chapters that page files open."""
    return tuple(module.TAB for module in modules if hasattr(module, "TAB"))
