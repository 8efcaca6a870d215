"""How the kernel's functions are compiled: by numba, kept on disk, dividing like numpy, without counting references.

Counting references is atomic arithmetic around every call that is handed an array; none of these functions makes or
keeps one, so it is left out of them (it took a third of the time).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, Protocol, TypeVar

from numba import njit, types
from numba.extending import intrinsic

Function = TypeVar("Function", bound=Callable[..., Any])


class Decorator(Protocol):
    """Compiles a function; to the caller it stays what it was."""

    def __call__(self, function: Function, /) -> Function:
        """Return the compiled function."""


CONTRACT: Final = {"contract", "nsz"}
"""What the compiler may do with arithmetic: fuse a product and a sum, and forget the sign of zero; nothing else."""

_njit: Any = njit  # its published types do not know the option
compiled: Decorator = _njit(cache=True, error_model="numpy", nogil=True, _nrt=False)
"""A function called from the kernel."""
inlined: Decorator = _njit(cache=True, error_model="numpy", forceinline=True, fastmath=CONTRACT, _nrt=False)
"""A function written into its caller, so that a loop over lanes around it is vectorised."""
looped: Decorator = _njit(cache=True, error_model="numpy", nogil=True, fastmath=CONTRACT, _nrt=False)
"""A function that loops over the lanes."""


def _lowest_bit(_typing: Any, bits: Any) -> Any:
    def generate(context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.cttz(values[0], context.get_constant(types.boolean, False))

    return types.intp(bits), generate


_intrinsic: Any = intrinsic  # its published types take what it makes for something never to be called
lowest_bit: Callable[[int], int] = _intrinsic(_lowest_bit)
"""Returns the place, from 0, of the lowest bit of a number that is set: one instruction of the processor."""
