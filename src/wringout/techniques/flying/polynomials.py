"""The few functions of analysis the equations of motion need, as polynomials: a library call would stop vectorisation.

Each works in the precision of its argument, float32 or float64, and states its range and accuracy; tests hold them to
`math`. Outside the range nothing is promised. Coefficients are minimax fits over the range; a division takes a vector
unit as long as ten products, so there are as few of them as can be.
"""

from __future__ import annotations

from typing import NamedTuple

from wringout.techniques.flying.compiling import inlined


@inlined
def sine(x: float) -> float:
    """Return sin x for ``|x| <= 1.2`` rad, to 4e-10."""
    real = type(x)
    y = x * x
    inner = real(0.00833327335198) + y * (real(-0.000198298194395) + y * real(2.66581754957e-06))
    return x * (real(0.999999999666) + y * (real(-0.166666655566) + y * inner))


@inlined
def cosine(x: float) -> float:
    """Return cos x for ``|x| <= 1.2`` rad, to 4e-9."""
    real = type(x)
    y = x * x
    inner = real(0.0416660416246) + y * (real(-0.00138766928209) + y * real(2.38274507636e-05))
    return real(0.999999996775) + y * (real(-0.49999988777) + y * inner)


@inlined
def arcsine(x: float) -> float:
    """Return asin x for ``|x| <= 0.5``, to 5e-8."""
    real = type(x)
    y = x * x
    low, high = real(1.0000000795) + y * real(0.166651301878), real(0.0754715320224) + y * real(0.039677895755)
    z = y * y
    return x * (low + z * (high + z * real(0.0505920246971)))


@inlined
def power_series(exponent: float) -> tuple[float, float, float, float, float, float, float, float]:
    """Return the coefficients, from the first power on, of ``r ** exponent`` in ``z = (r - 1) / (r + 1)``.

    ``((1 + z) / (1 - z))^n`` solves ``(1 - z^2) f' = 2 n f``, so ``(k + 1) c_(k+1) = 2 n c_k + (k - 1) c_(k-1)``.
    """
    twice = 2.0 * exponent
    c1 = twice
    c2 = twice * c1 / 2.0
    c3 = (twice * c2 + c1) / 3.0
    c4 = (twice * c3 + 2.0 * c2) / 4.0
    c5 = (twice * c4 + 3.0 * c3) / 5.0
    c6 = (twice * c5 + 4.0 * c4) / 6.0
    c7 = (twice * c6 + 5.0 * c5) / 7.0
    return c1, c2, c3, c4, c5, c6, c7, (twice * c7 + 6.0 * c6) / 8.0


@inlined
def disk_share(load: float) -> float:
    """Return the root z of ``load z^3 + z = 1`` for load 0 to 480, to 2e-6 relative.

    With ``u^2 (u - V) = k``, the flow u through an ideal propeller disk at speed V, z is V / u, the load ``k / V^3``.
    A rational guess p / q to 1.3 per cent and one Halley step, written over their common denominator.
    """
    real = type(load)
    p = real(1.0) + load * (real(0.78822) + load * real(0.016424))
    q = (real(1.0) + load * real(1.5717)) + load * load * (real(0.096463) + load * real(0.00010406))
    left, square = load * p, q * q
    value = left * p * p + (p - q) * square
    slope = real(3.0) * left * p + square
    below = slope * slope - real(3.0) * left * value
    return (p * below - value * slope) / (q * below)


class Relaxation(NamedTuple):
    """The functions phi of an exponential step: ``fade = e^x``, ``one = (fade - 1) / x``, ``two = (one - 1) / x``..."""

    fade: float
    one: float
    two: float
    three: float


@inlined
def relaxation(x: float) -> Relaxation:
    """Return e^x and phi_1 to phi_3 of x for -3 to 0; phi_3 to 3e-7 relative, the others follow from it."""
    real = type(x)
    y = x * x
    low, high = real(0.166666628948) + x * real(0.041665515885), real(0.00832740730358) + x * real(0.00137712177913)
    top = real(0.000186926762641) + x * (real(1.87539017469e-05) + x * real(1.00180585151e-06))
    three = low + y * (high + y * top)
    two = real(0.5) + x * three
    one = real(1.0) + x * two
    return Relaxation(real(1.0) + x * one, one, two, three)
