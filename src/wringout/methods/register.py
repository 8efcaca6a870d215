"""The methods there are: every module or folder of this package that offers a ``METHOD``, found by looking.

Adding a method is adding one file (or folder) beside this one; nothing is listed by hand.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from wringout import methods as package
from wringout.errors import BadInputError
from wringout.methods.types import Method


def found_methods(offered: Iterable[tuple[str, object]]) -> dict[str, Method]:
    """Return the methods among ``(module name, module)`` pairs by their key, in order of the keys.

    A module without ``METHOD`` is a helper and passed over. Raises TypeError for a ``METHOD`` that does not offer all
    that :class:`wringout.methods.types.Method` lists, or whose key is taken already.
    """
    found: dict[str, Method] = {}
    for name, module in offered:
        if not hasattr(module, "METHOD"):
            continue
        candidate = module.METHOD
        missing = [member for member in MEMBERS if not hasattr(candidate, member)]
        if missing:
            raise TypeError(f"the method in {name} does not offer {', '.join(missing)}")
        if candidate.key in found:
            raise TypeError(f"the key {candidate.key!r} of the method in {name} is taken already")
        found[candidate.key] = candidate
    return dict(sorted(found.items()))


MEMBERS = tuple(sorted({*Method.__annotations__, *(name for name in vars(Method) if not name.startswith("_"))}))
"""Names of everything a method offers."""


def _modules() -> Iterable[tuple[str, object]]:
    for info in pkgutil.iter_modules(package.__path__):
        name = f"{package.__name__}.{info.name}"
        if name != __name__:
            yield name, importlib.import_module(name)


METHODS: Mapping[str, Method] = MappingProxyType(found_methods(_modules()))
"""Every method by its key."""


def method(key: str) -> Method:
    """Return the method of that key, any case; raises BadInputError listing the keys there are."""
    wanted = " ".join(key.replace("-", " ").replace("_", " ").split()).lower()
    if wanted not in METHODS:
        raise BadInputError(f"{key!r} is not a method", "method", f"use one of: {', '.join(METHODS)}")
    return METHODS[wanted]
