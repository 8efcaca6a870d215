"""The one place that knows whether OpenCV, an optional part, is there."""

from __future__ import annotations

import importlib
from typing import Any

from wringout.errors import BadInputError


def missing_opencv() -> str:
    """Return the sentence that says what is missing to read an instrument; "" where nothing is."""
    try:
        opencv()
    except BadInputError as error:
        return str(error)
    return ""


def opencv() -> Any:
    """Return the module ``cv2``.

    Raises:
        BadInputError: it is not installed.
    """
    try:
        return importlib.import_module("cv2")
    except ImportError:
        raise BadInputError(
            "reading an instrument from video needs OpenCV, which is not installed",
            "",
            "install the extra; in the folder of the project: .venv/bin/python -m pip install -e '.[video]'",
        ) from None
