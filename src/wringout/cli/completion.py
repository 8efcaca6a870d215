"""The command ``completion``: the script that lets a shell complete our commands."""

from __future__ import annotations

import click
from click.shell_completion import get_completion_class

from wringout.cli import page

SHELLS = ("bash", "zsh", "fish")


@click.command("completion")
@click.argument("shell", type=click.Choice(SHELLS))
def completion_command(shell: str) -> None:
    """Print the script that completes our commands in a SHELL: bash, zsh or fish.

    \b
    Examples:
      wringout completion bash >> ~/.bashrc
      wringout completion zsh > ~/.zfunc/_wringout
      wringout completion fish > ~/.config/fish/completions/wringout.fish
    """
    root = click.get_current_context().find_root().command
    found = get_completion_class(shell)
    if found is None:
        raise click.UsageError(f"There is no completion for {shell}.")
    page.raw(found(root, {}, "wringout", "_WRINGOUT_COMPLETE").source())
