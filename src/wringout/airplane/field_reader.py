"""Reads the fields of one airplane file, so that every complaint names the file and the field."""

from __future__ import annotations

from wringout.airplane.distribution import Kind, Prior
from wringout.airplane.quantity import parse_measured
from wringout.errors import BadInputError

FILE_SAYS = "airplane file"


class FieldReader:
    """Reads quantities of one file, so that every complaint names the file and the field."""

    def __init__(self, name: str) -> None:
        self.name = name

    def where(self, field: str) -> str:
        """Return the file and field, for a complaint."""
        return f"{self.name}, {field}"

    def measured(self, text: object, dimension: str, field: str, example: str) -> tuple[float, float | None]:
        """Read a value with its spread, SI; the spread is None when none is written."""
        return parse_measured(text, dimension, self.where(field), example)

    def positive(self, text: object, dimension: str, field: str, example: str) -> float:
        """Read a value above zero, SI."""
        value, _ = self.measured(text, dimension, field, example)
        if value <= 0.0:
            raise BadInputError(f"{text!r} is not above zero", self.where(field), f'write "{example}"')
        return value

    def not_negative(self, text: object, dimension: str, field: str, example: str) -> float:
        """Read a value of zero or more, SI."""
        value, _ = self.measured(text, dimension, field, example)
        if value < 0.0:
            raise BadInputError(f"{text!r} is negative", self.where(field), f'write "{example}"')
        return value

    def efficiency(self, text: object, field: str, example: str, default_share: float) -> Prior:
        """Read a belief in a ratio between 0 and 1."""
        prior = self.prior(text, "number", field, example, "lognormal", default_share)
        if prior.value > 1.0:
            raise BadInputError(f"{text!r} is more than 1", self.where(field), f'write "{example}"')
        return prior

    def optional(self, text: object | None, dimension: str, field: str, example: str) -> float | None:
        """Read a value above zero, SI, or pass None on."""
        return None if text is None else self.positive(text, dimension, field, example)

    def prior(
        self, text: object, dimension: str, field: str, example: str, kind: Kind, default_share: float = 0.1
    ) -> Prior:
        """Read a belief; without a stated spread it is ``default_share`` of the value."""
        value, sd = self.measured(text, dimension, field, example)
        if kind == "lognormal" and value <= 0.0:
            raise BadInputError(f"{text!r} is not above zero", self.where(field), f'write "{example}"')
        width = sd if sd is not None else abs(value) * default_share
        return Prior(value, max(width, 1e-9 * max(abs(value), 1.0)), kind, FILE_SAYS)
