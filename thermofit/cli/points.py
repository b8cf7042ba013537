"""A file of points on the command line: its options, and what it was read as."""

from __future__ import annotations

import sys
import warnings
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

import click
import numpy as np

import thermofit as tf
from thermofit.cli.naming import POINTS_NAMES, as_options, naming_options
from thermofit.cli.output import tell
from thermofit.cli.sections import in_section
from thermofit.cli.values import RESISTANCE_UNIT, TEMPERATURE_UNIT, relative
from thermofit.errors import InputError, UnitGuessWarning

if TYPE_CHECKING:
    from thermofit.pointsfile import SensorPoints

__all__ = [
    "read_points_file",
    "read_sensors_file",
    "reading_options",
    "refuse_both",
    "refuse_reading",
    "sensor_option",
]

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


def sensor_option(command: F) -> F:
    """Add the option that says which column of a file names the sensors."""
    option = in_section("How a file is read")
    told = "Judge many sensors, named here: header or number."
    decorated: F = option("--sensor-column", metavar="COLUMN", help=told)(command)
    return decorated


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
    points: tf.Points = _told(tf.read_points, file, reading)
    refuse_both(points, u_t_k, u_r)
    return tf.Points(
        points.t_c,
        points.r_ohm,
        points.u_t_k if u_t_k is None else u_t_k,
        points.u_r_ohm if u_r is None else relative(u_r, points.r_ohm),
        source=points.source,
        notes=points.notes,
    )


def read_sensors_file(
    file: str, u_t_k: float | None, u_r: tuple[float, float] | None, reading: dict[str, Any]
) -> SensorPoints:
    """Read a file of many sensors' points, as `read_points_file` reads that of one.

    Parameters
    ----------
    file, u_t_k, u_r
        As there.
    reading : dict
        Values of `reading_options` and `sensor_option`.

    Returns
    -------
    SensorPoints

    Raises
    ------
    InputError
        File and options both state uncertainties.
    """
    from thermofit.pointsfile import read_sensors

    sensors: SensorPoints = _told(read_sensors, file, reading)
    refuse_both(sensors, u_t_k, u_r)
    return replace(
        sensors,
        u_t_k=sensors.u_t_k if u_t_k is None else np.full(sensors.t_c.shape, u_t_k),
        u_r_ohm=sensors.u_r_ohm if u_r is None else relative(u_r, sensors.r_ohm),
    )


def _told(reader: Callable[..., Any], file: str, reading: dict[str, Any]) -> Any:
    """Read a file, and tell what it was read as; what was guessed, as a warning."""
    source = sys.stdin.buffer if file == "-" else file
    with naming_options(POINTS_NAMES), warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always", UnitGuessWarning)
        points = reader(source, **reading)
    # What was guessed stands among the notes as well; it is told once.
    guesses = " ".join(str(entry.message) for entry in caught)
    for line in points.notes:
        tell("warning" if line in guesses else "read", as_options(line, POINTS_NAMES))
    return points


def refuse_reading(reading: dict[str, Any]) -> None:
    """Refuse values of `reading_options` where readings are typed in."""
    alone = [name for name, value in reading.items() if value is not None]
    if alone:
        raise click.UsageError(f"--{alone[0].replace('_', '-')} is of a FILE of points")


def refuse_both(points: tf.Points | SensorPoints, u_t_k: Any, u_r: Any) -> None:
    """Refuse --u-t and --u-r of a file that states the same itself."""
    for option, stated, given in (
        ("--u-t", points.u_t_k, u_t_k),
        ("--u-r", points.u_r_ohm, u_r),
    ):
        if stated is not None and given is not None:
            raise InputError(f"the file states uncertainties of its own; leave {option} out")
