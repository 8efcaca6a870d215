"""The few functions of analysis the equations of motion need, as polynomials: a library call would stop vectorisation.

Each works in the precision of its argument, float32 or float64, and states its range and accuracy; tests hold them to
`math`. Outside the range nothing is promised.
"""

from __future__ import annotations

from wringout.techniques.compiling import inlined


@inlined
def sine(x: float) -> float:
    """Return sin x for ``|x| <= 1.2`` rad, to 2e-9: its power series to ``x^11``."""
    real = type(x)
    y = x * x
    inner = real(1.0 / 362880.0) - y * real(1.0 / 39916800.0)
    inner = real(-1.0 / 5040.0) + y * inner
    return x * (real(1.0) + y * (real(-1.0 / 6.0) + y * (real(1.0 / 120.0) + y * inner)))


@inlined
def cosine(x: float) -> float:
    """Return cos x for ``|x| <= 1.2`` rad, to 2e-10: its power series to ``x^12``."""
    real = type(x)
    y = x * x
    inner = real(-1.0 / 3628800.0) + y * real(1.0 / 479001600.0)
    inner = real(-1.0 / 720.0) + y * (real(1.0 / 40320.0) + y * inner)
    return real(1.0) + y * (real(-0.5) + y * (real(1.0 / 24.0) + y * inner))


@inlined
def arcsine(x: float) -> float:
    """Return asin x for ``|x| <= 0.5``, to 3e-10: a Chebyshev fit of ``asin(x) / x`` in the square of x."""
    real = type(x)
    y = x * x
    inner = real(0.01419902306) + y * real(0.03780700162)
    inner = real(0.04450531821) + y * (real(0.03188385851) + y * inner)
    return x * (real(1.0) + y * (real(0.1666665725) + y * (real(0.07500590702) + y * inner)))


@inlined
def power_of(ratio: float, exponent: float) -> float:
    """Return ``ratio ** exponent`` for ratio 0.4 to 2.2 and ``|exponent ln ratio| <= 0.7``, to 1e-7 relative.

    ``ln r = 2 artanh((r - 1) / (r + 1))`` and the exponential, both by their power series.
    """
    real = type(ratio)
    z = (ratio - real(1.0)) / (ratio + real(1.0))
    y = z * z
    inner = real(1.0 / 11.0) + y * (real(1.0 / 13.0) + y * real(1.0 / 15.0))
    inner = real(1.0 / 5.0) + y * (real(1.0 / 7.0) + y * (real(1.0 / 9.0) + y * inner))
    x = exponent * real(2.0) * z * (real(1.0) + y * (real(1.0 / 3.0) + y * inner))
    inner = real(1.0 / 720.0) + x * (real(1.0 / 5040.0) + x * real(1.0 / 40320.0))
    inner = real(1.0 / 6.0) + x * (real(1.0 / 24.0) + x * (real(1.0 / 120.0) + x * inner))
    return real(1.0) + x * (real(1.0) + x * (real(0.5) + x * inner))


@inlined
def disk_speed(speed: float, k: float) -> float:
    """Return the positive root u of ``u^2 (u - V) = k``: the flow through an ideal propeller disk, m/s.

    A guess from the cube root of k (one Halley step from a straight line), exact for V = 0 and for large V to first
    order, then two Newton steps. To 3e-6 relative for k from 300 to 60,000 m3/s3 and V from 5 to 150 m/s; a smaller k
    is a propeller that hardly pulls.
    """
    real = type(speed)
    line = real(8.0) + k * real(0.00085)
    cube = line * line * line
    root = line * (cube + real(2.0) * k) / (real(2.0) * cube + k)
    square = root * root
    u = speed + root * square / (square + speed * (real(2.0 / 3.0) * root + real(0.48) * speed))
    for _ in range(2):
        u -= (u * u * (u - speed) - k) / (u * (real(3.0) * u - real(2.0) * speed))
    return u
