"""``thermofit completion``: what makes a shell complete commands, options and names."""

from __future__ import annotations

import click
from click.shell_completion import get_completion_class

from thermofit.cli.sections import Command

__all__ = ["command"]


@click.command(
    cls=Command,
    name="completion",
    epilog="""\b
Examples, for the shell that is running and for each new one:
  eval "$(thermofit completion bash)"
  thermofit completion bash >> ~/.bashrc
  thermofit completion zsh >> ~/.zshrc
  thermofit completion fish > ~/.config/fish/completions/thermofit.fish""",
)
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
@click.pass_context
def command(ctx: click.Context, shell: str) -> None:
    """Print the lines that make a shell complete thermofit's commands, options and names."""
    kind = get_completion_class(shell)
    assert kind is not None
    top = ctx.find_root().command
    click.echo(kind(top, {}, "thermofit", "_THERMOFIT_COMPLETE").source())
