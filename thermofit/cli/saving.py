"""Saving the curve that a command found."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, TypeVar

import click

import thermofit as tf
from thermofit.cli.naming import naming_options
from thermofit.cli.output import tell
from thermofit.cli.sections import in_section
from thermofit.curve import Curve
from thermofit.curvesets.cells import check_id

__all__ = ["check_saving", "save_curve", "save_options"]

# What the library says of an id that is taken, as options.
_NAMES: Final = {
    "choose another id, or ask for the curve to be replaced": "choose another --id, or say "
    "--replace",
}

F = TypeVar("F", bound=Callable[..., Any])


def save_options(command: F) -> F:
    """Add --save, --id, --note and --replace to a command."""
    option = in_section("Keeping the curve")
    for each in (
        option("--replace", is_flag=True, help="Replace a saved curve that has this id."),
        option("--note", default="", help="A note to save with the curve."),
        option("--id", "id_", metavar="ID", help="What to call the saved curve."),
        option(
            "--save",
            metavar="SET.csv",
            type=click.Path(dir_okay=False),
            help="Add the curve to this curve set.",
        ),
    ):
        command = each(command)
    return command


def check_saving(save: str | None, id_: str | None, note: str, replace: bool) -> None:
    """Refuse options that do not go together, and an unusable id, before any work is done."""
    if (save is None) != (id_ is None):
        raise click.UsageError("--save and --id go together: a saved curve needs a name")
    if id_ is not None:
        try:
            check_id(id_)
        except ValueError as error:
            raise click.BadParameter(f"{id_!r}: {error}", param_hint="--id") from None
    if save is None and (replace or note):
        raise click.UsageError("--replace and --note go with --save")


def save_curve(curve: Curve, save: str, replace: bool) -> None:
    """Add a curve to a set and say so at once, since printing the rest may fail."""
    with naming_options(_NAMES):
        tf.add_curve(save, curve, replace=replace)
    tell("saved", f"{curve.id} in {save}")
