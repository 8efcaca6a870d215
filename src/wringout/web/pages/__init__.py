"""The pages, one file for each chapter. A file here with ``ROUTES`` is found by itself; ``TAB`` gives it a chapter."""

from __future__ import annotations

import importlib
import pkgutil
from types import ModuleType

from starlette.routing import BaseRoute

from wringout.web.routing import Tab


def page_modules() -> tuple[ModuleType, ...]:
    """Return every module of this package, by name."""
    names = sorted(found.name for found in pkgutil.iter_modules(__path__))
    return tuple(importlib.import_module(f"{__name__}.{name}") for name in names)


def all_routes() -> list[BaseRoute]:
    """Return the routes of all pages."""
    return [route for module in page_modules() for route in getattr(module, "ROUTES", ())]


def all_tabs() -> tuple[Tab, ...]:
    """Return all chapters, in the order of the work."""
    tabs = [module.TAB for module in page_modules() if hasattr(module, "TAB")]
    return tuple(sorted(tabs, key=lambda tab: (tab.order, tab.key)))
