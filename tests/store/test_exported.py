from __future__ import annotations

import inspect

import wringout.store as kept


def test_what_is_public_is_listed_and_there() -> None:
    public = {name for name, value in vars(kept).items() if not name.startswith("_") and not hasattr(value, "__path__")}
    modules = {name for name in public if type(getattr(kept, name)).__name__ == "module"}
    assert sorted(public - modules) == sorted(kept.__all__)
    assert [
        name for name in kept.__all__ if inspect.isroutine(getattr(kept, name)) and not getattr(kept, name).__doc__
    ] == []
