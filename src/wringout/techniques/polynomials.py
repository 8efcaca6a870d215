"""The few functions of analysis the equations of motion need, as polynomials: a library call would stop vectorisation.

Each works in the precision of its argument, float32 or float64, and states its range and accuracy; tests hold them to
`math`. Outside the range nothing is promised. Coefficients are minimax fits over the range; a division takes a vector
unit as long as ten products, so there are as few of them as can be.
"""

from __future__ import annotations

from wringout.techniques.compiling import inlined


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
    inner = real(0.0754715320224) + y * (real(0.039677895755) + y * real(0.0505920246971))
    return x * (real(1.0000000795) + y * (real(0.166651301878) + y * inner))


@inlined
def power_of(part: float, exponent: float) -> float:
    """Return ``r ** exponent`` for r 0.4 to 2.2 and ``|exponent ln r| <= 0.7``, to 4e-7 relative.

    ``part`` is ``(r - 1) / (r + 1)``, because ``ln r = 2 artanh part``; then the exponential.
    """
    real = type(part)
    y = part * part
    inner = real(0.401341835049) + y * (real(0.266189815701) + y * real(0.333228611189))
    x = exponent * part * (real(2.00000011919) + y * (real(0.666634928105) + y * inner))
    inner = real(0.0416893603309) + x * (real(0.00849477619858) + x * real(0.00136922657884))
    inner = real(0.4999960984) + x * (real(0.166630974852) + x * inner)
    return real(1.0) + x * (real(1.00000172367) + x * inner)


@inlined
def disk_share(load: float) -> float:
    """Return the root z of ``load z^3 + z = 1`` for load 0 to 480, to 2e-6 relative.

    With ``u^2 (u - V) = k``, the flow u through an ideal propeller disk at speed V, z is V / u and the load ``k / V^3``.
    A rational guess p / q to 1.3 per cent and one Halley step, written over their common denominator.
    """
    real = type(load)
    p = real(1.0) + load * (real(0.78822) + load * real(0.016424))
    q = real(1.0) + load * (real(1.5717) + load * (real(0.096463) + load * real(0.00010406)))
    left, square = load * p, q * q
    value = left * p * p + (p - q) * square
    slope = real(3.0) * left * p + square
    below = slope * slope - real(3.0) * left * value
    return (p * below - value * slope) / (q * below)
