"""The one rounding rule: a value and its uncertainty rounded together."""

from __future__ import annotations

import math
from decimal import Decimal

from wringout.errors import BadInputError


def round_with_uncertainty(value: float, uncertainty: float) -> tuple[str, str]:
    """Round a value and its standard uncertainty together, by the rule of the Particle Data Group.

    If the three leading digits of the uncertainty lie between 100 and 354, it is given to two digits; between
    355 and 949, to one digit; between 950 and 999, it is rounded up to 1000 and given to two digits. The
    value is rounded to the same decimal place.

    Args:
        value: in any unit, finite.
        uncertainty: in the same unit, finite, not negative. Zero leaves the value as it is and gives ``"0"``.

    Returns:
        Value and uncertainty as decimal numbers, never in powers of ten.

    Raises:
        BadInputError: either number is not finite, or the uncertainty is negative.

    Example:
        >>> round_with_uncertainty(0.827, 0.119)
        ('0.83', '0.12')
        >>> round_with_uncertainty(0.827, 0.367)
        ('0.8', '0.4')

    References:
        Particle Data Group, Review of Particle Physics, Introduction, section 5.3 "Rounding" (2018: Physical
        Review D 98, 030001). Both examples are its own, from memory.
    """
    if not (math.isfinite(value) and math.isfinite(uncertainty)) or uncertainty < 0.0:
        raise BadInputError(
            f"{value!r} with uncertainty {uncertainty!r} cannot be rounded",
            expected="both must be finite and the uncertainty not negative",
        )
    if uncertainty == 0.0:
        return f"{Decimal(repr(float(value))):f}", "0"
    exact = Decimal(repr(float(uncertainty)))
    exponent = exact.adjusted()
    leading = int(exact.scaleb(2 - exponent))
    if leading >= 950:
        exact, place = Decimal(1).scaleb(exponent + 1), exponent
    else:
        place = exponent - 1 if leading <= 354 else exponent
    return _at_place(Decimal(repr(float(value))), place), _at_place(exact, place)


def _at_place(number: Decimal, place: int) -> str:
    """Write a decimal number rounded (half to even) to the power of ten `place`."""
    if place > 0:
        return str(int(f"{number.scaleb(-place):.0f}") * 10**place)
    text = f"{number:.{-place}f}"
    return text if text.strip("-0.") else text.lstrip("-")
