"""The command group: commands found when named, errors told on standard error."""

from __future__ import annotations

import importlib
import os
import sys
import warnings
from typing import Any, TextIO

import click

from thermofit.errors import ThermofitError, ThermofitWarning
from thermofit.texttable import legal

__all__ = ["main"]

# Name of the command and the line that --help shows for it, so that neither
# needs the module of the command.
_COMMANDS = {
    "band": "Show the limits of the resistance of parts with a tolerance.",
    "causes": "Say whether it is the sensor, the wiring or the controller.",
    "characterise": "Find the curve of a sensor from a few readings at the bench.",
    "check": "Judge a sensor: accept, reject or cannot tell.",
    "circuit": "Show what a controller makes of its sensor, healthy or broken.",
    "completion": "Print what makes a shell complete commands, options and names.",
    "convert": "Turn resistances into temperatures, or the other way round.",
    "families": "List the families of sensors that are known, or show one.",
    "fit": "Fit a curve to measured points.",
    "identify": "Say which family a sensor is of, and how sure that is.",
    "plan": "Say in which baths to measure a sensor, before getting wet.",
    "response": "Find the time constant in a log, and whether air moves over the sensor.",
    "sheet": "Write one page of a sensor: curve, table, verdict, data.",
    "substitute": "Say which part can stand in, and how wrong it reads.",
}


class _Commands(click.Group):
    """Commands that are imported when they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Give the names of all commands."""
        del ctx
        return sorted(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the module of a command."""
        del ctx
        if cmd_name not in _COMMANDS:
            return None
        module = importlib.import_module(f"thermofit.cli.{cmd_name}")
        command = module.command
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing them."""
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl(list(_COMMANDS.items()))

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; bad data ends with status 1 and a message."""
        with warnings.catch_warnings():
            warnings.simplefilter("always", ThermofitWarning)
            warnings.showwarning = _show_warning
            try:
                return super().invoke(ctx)
            except click.ClickException as error:
                error.message = legal(error.message)  # type: ignore[misc]
                raise
            except (ThermofitError, OSError) as error:
                from thermofit.cli.output import tell

                tell("error", str(error))
                ctx.exit(1)


def _show_versions(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    del param
    if value and not ctx.resilient_parsing:
        from thermofit.cli.versions import versions_text

        click.echo(versions_text())
        ctx.exit()


@click.group(
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Exit status: 0 for success, 1 for data that cannot be used, 2 for a wrong call.",
)
@click.option(
    "--version", is_flag=True, is_eager=True, expose_value=False, callback=_show_versions,
    help="Show the version, and those of what it computes with.",
)  # fmt: skip
def _cli() -> None:
    """Sensor curves for thermistors: fit them, store them, read temperatures from them."""


def main() -> None:
    """Run the command line and exit with its status."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal that cannot show Ω or ° gets a substitute, not a crash.
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
    if "_THERMOFIT_COMPLETE" in os.environ:
        from thermofit.cli.bashwords import mend_bash

        mend_bash()
    plain = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    _cli(prog_name="thermofit", color=False if plain else None)


def _show_warning(
    message: Warning | str,
    category: type[Warning],
    filename: str,
    lineno: int,
    file: TextIO | None = None,
    line: str | None = None,
) -> None:
    del category, filename, lineno, file, line
    from thermofit.cli.output import tell

    tell("warning", str(message))
