"""The rules of the repository's hygiene: each takes files and returns one sentence for each breach.

Patterns are written with a one-letter class (``[a]gent``) so that this file does not break its own rules.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Mapping
from pathlib import PurePosixPath

Texts = Mapping[str, str]
"""Text of each file by its path relative to the root of the project."""

LONGEST_SOURCE_LINES = 600

_MACHINE_PATH = re.compile(
    r"(?<![\w.~)\]}*])/(?:(?:[w]ork|[r]oot|[t]mp)/[\w.]|(?:[h]ome|[U]sers)/\w{2})|\b[A-Z]:\\{1,2}[U]sers\b"
)
"""A home folder of one letter is an invented one, as tests of file names use."""
_REGISTRY = re.compile(
    r"\b(?:py[p]i\.(?:org|python\.org|io)|files\.python[h]osted|python[h]osted\.org|np[m]js\.(?:org|com)"
    r"|registry\.yarn[p]kg|crates[.]io|ruby[g]ems\.org|proxy\.go[l]ang\.org|deb\.deb[i]an\.org|con[d]a\.anaconda\.org"
    r"|anaco[n]da\.org)",
    re.IGNORECASE,
)
_WORKPLACE = re.compile(
    r"\b(?:sub-?)?[a]gents?\b(?!-)|\b[C]laude\b|\b[A]nthropic\b|\b[O]penAI\b|\b[C]hatGPT\b|\b[L]LMs?\b"
    r"|\blanguage [m]odels?\b|\bAI [a]ssistants?\b|\b[p]rompted by\b|\bwork[p]lace\b|\bco[l]leagues?\b"
    r"|\b(?:this|that|previous|earlier|last|next|another|other|same) [s]essions?\b"
    r"|\b[i]ssues? #?\d+|\b(?:fixes|closes|refs|see) #\d+",
    re.IGNORECASE,
)
_LINK = re.compile(r"(!?)\[[^\]]*\]\(\s*<?([^)\s>]+)>?[^)]*\)")
_FONT = {".ttf", ".otf", ".ttc", ".woff", ".woff2", ".eot"}
_VENDOR_FOLDERS = {"vendor", "vendored", "third_party", "fonts"}
_LICENCE = re.compile(r"^(?:licen[cs]e|copying|ofl)", re.IGNORECASE)


def _line_breaches(texts: Texts, pattern: re.Pattern[str], what: str) -> list[str]:
    return [
        f"{name}, line {number}: {found.group()!r} {what}."
        for name, text in texts.items()
        for number, line in enumerate(text.splitlines(), 1)
        for found in pattern.finditer(line)
    ]


def machine_paths(texts: Texts, own_folders: tuple[str, ...] = ()) -> list[str]:
    """Breaches by a path that exists on one machine only; ``own_folders`` are paths of the machine this runs on."""
    found = _line_breaches(texts, _MACHINE_PATH, "is a path of one machine")
    for folder in own_folders:
        if len(PurePosixPath(folder).parts) > 1:
            exact = re.compile(rf"(?<![\w.]){re.escape(folder.rstrip('/'))}(?=/[\w.])")
            found += _line_breaches(texts, exact, "is a path of this machine")
    return found


def registry_hosts(texts: Texts) -> list[str]:
    """Breaches by naming the host of a package registry."""
    return _line_breaches(texts, _REGISTRY, "is the host of a package registry")


def workplace_words(texts: Texts) -> list[str]:
    """Breaches by words about how the project was made instead of what it does."""
    return _line_breaches(texts, _WORKPLACE, "speaks of how this was made, not of what it does")


def module_docstrings(texts: Texts) -> list[str]:
    """Breaches by a module of the package, its tools or benchmarks that does not say what it is for."""
    return [
        f"{name}: the module has no docstring."
        for name, text in texts.items()
        if name.endswith(".py")
        and name.split("/")[0] in {"src", "tools", "benchmarks"}
        and not (ast.get_docstring(ast.parse(text)) or "").strip()
    ]


def long_sources(texts: Texts, limit_lines: int = LONGEST_SOURCE_LINES) -> list[str]:
    """Breaches by a source file that has grown past the limit."""
    return [
        f"{name}: {len(text.splitlines())} lines; split it, the limit is {limit_lines}."
        for name, text in texts.items()
        if name.startswith("src/") and name.endswith(".py") and len(text.splitlines()) > limit_lines
    ]


def imports_inside_functions(texts: Texts) -> list[str]:
    """Breaches by a function that imports another room of the package, which hides a cycle.

    The command line may: a command that prints help should not wait for the numerics to load.
    """
    found = []
    for name, text in texts.items():
        if not (name.startswith("src/wringout/") and name.endswith(".py")) or name.startswith("src/wringout/cli/"):
            continue
        for function in ast.walk(ast.parse(text)):
            if not isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef):
                continue
            for node in ast.walk(function):
                modules = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
                modules += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
                relative = isinstance(node, ast.ImportFrom) and node.level > 0
                if relative or any(module.split(".")[0] == "wringout" for module in modules):
                    found.append(f"{name}, line {node.lineno}: {function.name} imports inside a function.")
    return sorted(set(found))


def missing_licences(names: set[str]) -> list[str]:
    """Breaches by a font or a vendored file with no licence beside it or in the folder above."""
    folders_with_licence = {
        PurePosixPath(name).parent for name in names if _LICENCE.match(PurePosixPath(name).name) and "/" in name
    }
    licensed = {name.removesuffix(".LICENSE") for name in names if name.endswith(".LICENSE")}
    found = []
    for name in sorted(names):
        path = PurePosixPath(name)
        if name.endswith(".LICENSE") or any(name.startswith(f"{stem}.") for stem in licensed):
            continue
        foreign = path.suffix.lower() in _FONT or ".min." in path.name or set(path.parts[:-1]) & _VENDOR_FOLDERS
        ours = path.name in {"__init__.py", "vendored.json"} or path.suffix == ".md" or _LICENCE.match(path.name)
        if foreign and not ours and not {path.parent, path.parent.parent} & folders_with_licence:
            found.append(f"{name}: no licence file lies beside it.")
    return found


def broken_links(texts: Texts, names: set[str]) -> list[str]:
    """Breaches by a link in a page of the documentation to a file that is not there."""
    folders = {str(parent) for name in names for parent in PurePosixPath(name).parents}
    found = []
    for name, text in texts.items():
        if not name.endswith(".md"):
            continue
        for _, target in _LINK.findall(text):
            path = target.split("#")[0]
            if not path or re.match(r"[a-z][a-z0-9+.-]*:", path, re.IGNORECASE):
                continue
            resolved = _resolve(PurePosixPath(name).parent, path)
            if resolved not in names and resolved not in folders:
                found.append(f"{name}: the link to {target} leads nowhere.")
    return found


def _resolve(folder: PurePosixPath, target: str) -> str:
    parts = list(folder.parts)
    for part in PurePosixPath(target).parts:
        if part == "..":
            if not parts:
                return "outside the project"
            parts.pop()
        elif part != ".":
            parts.append(part)
    return "/".join(parts) or "."


def readme_gaps(readme: str, names: set[str]) -> list[str]:
    """What the front page fails to show: both commands, a figure that is there, and the cautions."""
    blocks = "\n".join(re.findall(r"```[^\n]*\n(.*?)```", readme, re.DOTALL))
    found = [
        f"README.md: no code block shows `{command}`."
        for command in ("make demo", "make test")
        if not re.search(rf"^\s*(?:\$ )?{command}\b", blocks, re.MULTILINE)
    ]
    pictures = [target for mark, target in _LINK.findall(readme) if mark] + re.findall(
        r'<img[^>]*src="([^"]+)"', readme
    )
    if not any(_resolve(PurePosixPath(), picture) in names for picture in pictures):
        found.append("README.md: it shows no figure from the project.")
    found += [
        f"README.md: the cautions do not mention {what}."
        for what, pattern in (
            ("the airplane's approved manual or handbook", r"approved\s+(?:flight\s+)?(?:manual|handbook)"),
            ("a qualified instructor", r"qualified\s+(?:flight\s+)?instructor"),
        )
        if not re.search(pattern, readme, re.IGNORECASE)
    ]
    return found
