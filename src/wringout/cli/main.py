"""The command ``wringout``: its commands in groups, and errors told in one sentence."""

from __future__ import annotations

import contextlib
import functools
import importlib
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

import click

from wringout.cli import codes, page
from wringout.errors import WringoutError

PROGRAM = "wringout"

COMMANDS: dict[str, tuple[str, ...]] = {
    "Begin": ("demo", "open", "new", "studies", "show", "history"),
    "Airplane and cards": ("airplane", "methods", "card", "test-plan"),
    "Recordings and runs": (
        "taps",
        "take-in",
        "recordings",
        "mapping",
        "captions",
        "instrument",
        "clocks",
        "runs",
        "run",
    ),
    "Results": ("reduce", "findings", "calibration", "plan", "compare", "verdict", "map", "search", "landing-climb"),
    "Handbooks and fleet": ("register", "fleet", "archives"),
    "Pass on": ("brief", "video", "export", "import", "verify"),
    "Nothing lost": ("undo", "redo", "backup", "restore", "rescue"),
    "Help": ("completion",),
}
"""The commands by group, in the order the help shows them."""

_HOMES: dict[str, str] = {
    "demo": "demonstration",
    "open": "open",
    "new": "studies",
    "studies": "studies",
    "show": "studies",
    "history": "studies",
    "airplane": "airplane",
    "methods": "cards",
    "card": "cards",
    "test-plan": "planning",
    "taps": "taps",
    "take-in": "recordings",
    "recordings": "recordings",
    "mapping": "mapping",
    "captions": "captions",
    "instrument": "instruments",
    "clocks": "clocks",
    "runs": "runs",
    "run": "runs",
    "reduce": "reduction",
    "findings": "reduction",
    "calibration": "calibration",
    "plan": "matchup",
    "compare": "matchup",
    "verdict": "matchup",
    "map": "maps",
    "search": "maps",
    "landing-climb": "matchup",
    "brief": "publishing",
    "export": "publishing",
    "import": "publishing",
    "verify": "verifying",
    "video": "video",
    "undo": "backups",
    "redo": "backups",
    "backup": "backups",
    "restore": "backups",
    "rescue": "backups",
    "register": "register",
    "fleet": "fleet",
    "archives": "archives",
    "completion": "completion",
}


class _ReaderGoneError(Exception):
    """Whoever read our output has read enough; click would end with 1 on the error this stands for."""


class Commands(click.Group):
    """A group that shows its commands in sections and loads each one only when it is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """Return the names of the commands in the order of the help."""
        return [name for names in COMMANDS.values() for name in names]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Return a command by name, or None."""
        if cmd_name not in _HOMES:
            return None
        module = importlib.import_module(f"wringout.cli.{_HOMES[cmd_name]}")
        found: click.Command = getattr(module, cmd_name.replace("-", "_") + "_command")
        return found

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; a reader that has gone is told apart from other errors of the system."""
        try:
            return super().invoke(ctx)
        except BrokenPipeError as error:
            raise _ReaderGoneError from error

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        **extra: Any,
    ) -> Any:
        """Run the command line and end the process with its exit code (``standalone_mode=False``: as click does)."""
        run = functools.partial(super().main, args, prog_name, complete_var, standalone_mode=False, **extra)
        if not standalone_mode:
            return run()
        for stream in (sys.stdout, sys.stderr):
            with contextlib.suppress(AttributeError, ValueError):
                stream.reconfigure(errors="replace")  # type: ignore[union-attr]
        sys.exit(_outcome(list(sys.argv[1:] if args is None else args), run))

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands, section by section."""
        for title, names in COMMANDS.items():
            rows = []
            for name in names:
                command = self.get_command(ctx, name)
                rows.append((name, command.get_short_help_str(limit=90) if command else ""))
            with formatter.section(title):
                formatter.write_dl(rows)


@click.group(
    cls=Commands,
    name=PROGRAM,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Exit codes: "
    + "; ".join(f"{code} {words}" for code, words in codes.CODES.items())
    + ". The airplane's approved manual, local regulation and a qualified instructor come before anything printed "
    "here.",
)
@click.version_option(version(PROGRAM), prog_name=PROGRAM, message="%(prog)s %(version)s")
@click.option("--database", type=click.Path(path_type=Path), hidden=True)
@click.option("--study", hidden=True)
@click.option("--debug", is_flag=True, hidden=True)
def cli(database: Path | None, study: str | None, debug: bool) -> None:
    """Settle arguments about light-airplane technique with evidence.

    Pose a question, take in what was read in flight, reduce it, compare techniques, print the brief.

    \b
    The whole way, on the bundled study:
      wringout demo

    \b
    On your own airplane:
      wringout new "Gear or flaps first?" --question "What should come up first in a go-around?"
      wringout airplane put my-airplane.toml
      wringout take-in run-1.csv run-2.csv stalls.csv
      wringout reduce
      wringout compare
      wringout brief --folder brief
    """
    del database, study, debug  # looked up by the shared options of each command


def _outcome(given: Sequence[str], call: Callable[[], Any]) -> int:
    """Return the exit code of a call; what went wrong is told in one sentence."""
    as_json, debug = "--json" in given, "--debug" in given
    try:
        outcome = call()
        return outcome if isinstance(outcome, int) else codes.DONE
    except click.exceptions.Exit as ending:
        return ending.exit_code
    except (click.Abort, KeyboardInterrupt):
        return _tell(as_json, "stopped", codes.STOPPED, "Stopped; nothing half-written was left behind.")
    except click.exceptions.NoArgsIsHelpError as error:  # nothing was asked for: the help, as it is
        click.echo(error.format_message())
        return codes.USAGE
    except click.UsageError as error:
        return _usage(as_json, error)
    except click.ClickException as error:
        return _tell(as_json, "usage", codes.USAGE, _sentence(error.format_message()))
    except WringoutError as error:
        parts = {"what": error.what, "where": error.where, "advice": error.advice}
        return _tell(as_json, codes.kind_of(error), codes.code_of(error), str(error), **parts)
    except (_ReaderGoneError, BrokenPipeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return codes.DONE
    except Exception as error:  # the last resort: a person never gets a traceback unasked
        if debug:
            traceback.print_exc()
        said = f"{type(error).__name__}: {error}".rstrip(".")
        sentence = (
            f"Something unexpected went wrong ({said}); what was kept before is still kept; run the same command with "
            "--debug and report what it prints, together with the command."
        )
        return _tell(as_json, "unexpected", codes.UNEXPECTED, sentence)


def _usage(as_json: bool, error: click.UsageError) -> int:
    path = error.ctx.command_path if error.ctx else PROGRAM
    message = _sentence(error.format_message())
    return _tell(as_json, "usage", codes.USAGE, f"{message} Try '{path} --help'.", what=message.rstrip("."))


def _sentence(message: str) -> str:
    flat = " ".join(message.split())
    return flat if flat.endswith((".", "?", "!")) else f"{flat}."


def _tell(as_json: bool, kind: str, code: int, sentence: str, what: str = "", where: str = "", advice: str = "") -> int:
    """Tell an error as a sentence on the error stream, or as a JSON document, and return its exit code."""
    if as_json:
        page.document("error", None, {"error": codes.error_body(kind, code, sentence, what, where, advice)})
    else:
        page.complain(sentence)
    return code


def main() -> None:
    """Run the command line of this process and end it with its exit code."""
    cli.main(prog_name=PROGRAM)
