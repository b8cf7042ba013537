"""A file of points on the command line: its options, and what it was read as."""

from __future__ import annotations

import sys
import warnings
from collections.abc import Callable
from typing import Any, TypeVar

import click

import thermofit as tf
from thermofit.cli.output import tell
from thermofit.cli.sections import in_section
from thermofit.cli.values import RESISTANCE_UNIT, TEMPERATURE_UNIT, relative
from thermofit.errors import InputError, UnitGuessWarning

__all__ = ["read_points_file", "reading_options"]

F = TypeVar("F", bound=Callable[..., Any])


def reading_options(command: F) -> F:
    """Add the options that say how a file of points is to be read."""
    option = in_section("How a file is read")
    for each in reversed((
        option("--t-column", metavar="COLUMN", help="Temperature: header or number."),
        option("--r-column", metavar="COLUMN", help="Resistance: header or number."),
        option("--u-t-column", metavar="COLUMN", help="Uncertainty of the temperature."),
        option("--u-r-column", metavar="COLUMN", help="Uncertainty of the resistance."),
        option("--t-unit", type=TEMPERATURE_UNIT, help="Unit of temperatures: C, F or K."),
        option("--r-unit", type=RESISTANCE_UNIT, help="Unit of resistances: ohm, kohm …"),
        option("--decimal", type=click.Choice([".", ","]), help="Decimal sign of the file."),
        option("--delimiter", metavar="CHARACTER", help="Separator, or: whitespace."),
    )):  # fmt: skip
        command = each(command)
    return command


def read_points_file(
    file: str, u_t_k: float | None, u_r: tuple[float, float] | None, reading: dict[str, Any]
) -> tf.Points:
    """Read a file of points and tell on standard error what it was read as.

    Parameters
    ----------
    file : str
        A path, or "-" for standard input.
    u_t_k : float, optional
        Standard uncertainty of every temperature, if the file states none.
    u_r : tuple of float, optional
        The same of every resistance: part of the reading, and ohms.
    reading : dict
        Values of `reading_options`.

    Returns
    -------
    Points

    Raises
    ------
    InputError
        File and options both state uncertainties.
    """
    source = sys.stdin.buffer if file == "-" else file
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always", UnitGuessWarning)
        points = tf.read_points(source, **reading)
    # What was guessed stands among the notes as well; it is told once, as a warning.
    guesses = " ".join(str(entry.message) for entry in caught)
    for line in points.notes:
        tell("warning" if line in guesses else "read", line)
    for option, stated, given in (
        ("--u-t", points.u_t_k, u_t_k),
        ("--u-r", points.u_r_ohm, u_r),
    ):
        if stated is not None and given is not None:
            raise InputError(f"the file states uncertainties of its own; leave {option} out")
    return tf.Points(
        points.t_c,
        points.r_ohm,
        points.u_t_k if u_t_k is None else u_t_k,
        points.u_r_ohm if u_r is None else relative(u_r, points.r_ohm),
        source=points.source,
        notes=points.notes,
    )
