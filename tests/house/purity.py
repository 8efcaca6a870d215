"""What an import contract cannot see: built-in input and output, clocks, dice and global state in the core."""

from __future__ import annotations

import ast
from collections.abc import Iterator

BUILTINS = {"open", "print", "input", "breakpoint", "exec", "eval", "__import__"}
METHODS = {
    "read_text", "read_bytes", "write_text", "write_bytes", "tofile", "fromfile", "memmap", "savetxt", "loadtxt",
    "genfromtxt", "savez", "savez_compressed", "scan_csv", "scan_parquet", "sink_csv", "sink_parquet",
}  # fmt: skip
CLOCKS = {"now", "utcnow", "today"}
CLOCK_OWNERS = {"datetime", "date", "Timestamp"}
LEGACY_DICE = {
    "seed", "rand", "randn", "randint", "random", "random_sample", "normal", "standard_normal", "uniform", "choice",
    "shuffle", "permutation", "lognormal", "poisson", "multivariate_normal", "get_state", "set_state",
}  # fmt: skip


def breaches(source: str) -> list[str]:
    """Return one phrase, with its line, for each thing in a module of the core that reaches outside its arguments."""
    return [f"line {line}: {what}" for line, what in sorted(set(_found(ast.parse(source))))]


def _found(tree: ast.Module) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Global):
            yield node.lineno, f"global {', '.join(node.names)} (state belongs in arguments and results)"
        elif isinstance(node, ast.Name) and node.id in BUILTINS and isinstance(node.ctx, ast.Load):
            yield node.lineno, f"{node.id} (the core takes bytes and streams, and returns values)"
        elif isinstance(node, ast.Attribute):
            yield from _attribute(node)
        elif isinstance(node, ast.Call):
            yield from _unseeded(node)


def _attribute(node: ast.Attribute) -> Iterator[tuple[int, str]]:
    owner = ast.unparse(node.value)
    last = owner.split(".")[-1]
    if node.attr in METHODS or (node.attr in {"load", "save"} and owner in {"np", "numpy"}):
        yield node.lineno, f"{owner}.{node.attr} (the core touches no files)"
    elif node.attr in CLOCKS and last in CLOCK_OWNERS:
        yield node.lineno, f"{owner}.{node.attr} (the time of day arrives as an argument)"
    elif node.attr in LEGACY_DICE and owner in {"np.random", "numpy.random"}:
        yield node.lineno, f"{owner}.{node.attr} (random draws come from a generator in the arguments)"


def _unseeded(node: ast.Call) -> Iterator[tuple[int, str]]:
    called = ast.unparse(node.func).split(".")[-1]
    if called in {"default_rng", "SeedSequence"} and not node.args and not node.keywords:
        yield node.lineno, f"{called}() without a seed (the seed arrives as an argument)"
