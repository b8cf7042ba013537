"""The curve or family that a command is about: from a set, from the registry, or typed in."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click
import numpy as np

import thermofit as tf
from thermofit.cli.completing import CURVE, FAMILY
from thermofit.curve import Curve
from thermofit.errors import UnknownNameError
from thermofit.family import Family

if TYPE_CHECKING:
    from thermofit.curvesets import CurveSet

__all__ = [
    "curve_options",
    "family_curve",
    "family_or_curve",
    "fixes_ratio_only",
    "named_family",
    "round_temperatures",
    "stored_curve",
    "stored_part",
    "the_part",
    "wrong_part",
]

_MOST_ROWS = 100_000

F = TypeVar("F", bound=Callable[..., Any])


def curve_options(command: F) -> F:
    """Add --curve and --family to a command."""
    command = click.option("--family", type=FAMILY, help="A family, with its tolerance.")(command)
    return click.option("--curve", type=CURVE, help="A curve from a curve set.")(command)


def stored_curve(place: str) -> Curve:
    """Read the curve that ``SET.csv:ID`` names; a wrong name is a wrong call."""
    return _stored(place)[0]


def stored_part(place: str) -> Curve | Family:
    """Read what ``SET.csv:ID`` names, with its tolerance and ratings where its row has them."""
    curve, curve_set = _stored(place)
    return next((own for own in curve_set.families() if own.id == curve.id), curve)


def _stored(place: str) -> tuple[Curve, CurveSet]:
    path, colon, id_ = place.rpartition(":")
    if not (colon and path and id_) or Path(place).is_file() or "/" in id_ or "\\" in id_:
        raise click.BadParameter(
            f"{place!r} is not of the form SET.csv:ID; add a colon and the id of a curve",
            param_hint="--curve",
        )
    try:
        curve_set = tf.read_curve_set(path)
        return curve_set[id_], curve_set
    except UnknownNameError as error:
        raise click.BadParameter(str(error), param_hint="--curve") from None


def fixes_ratio_only(curve: Curve) -> bool:
    """Whether the row of a curve leaves its R25 open."""
    return curve.extra.get("ratio_only", "").lower() == "true"


def named_family(id_: str, else_say: str = "say --curve") -> Family:
    """Look up a family; a wrong name is a wrong call.

    Parameters
    ----------
    id_ : str
    else_say : str
        What to say where that is a curve of a set, before ``SET.csv:ID``.
    """
    try:
        return tf.family(id_)
    except UnknownNameError as error:
        told = str(error)
    path, colon, stored = id_.rpartition(":")
    if colon and path and stored:
        told = f"{id_!r} names a curve of a set; {else_say} {id_}"
    raise click.BadParameter(told, param_hint="--family")


def family_curve(id_: str) -> Curve:
    """Give the nominal curve of a family, marked as its row would be."""
    member = named_family(id_)
    return member.curve.replace(extra={"ratio_only": "true"} if member.ratio_only else {})


def family_or_curve(
    curve: str | None, family: str | None, r25: float | None, b: float | None
) -> Curve | Family:
    """Give the one that the options name.

    Parameters
    ----------
    curve, family : str, optional
        ``SET.csv:ID``, or an id.
    r25, b : float, optional
        R25 in ohms and B in kelvin, typed in.

    Returns
    -------
    Curve or Family
    """
    typed = r25 is not None or b is not None
    if sum((curve is not None, family is not None, typed)) != 1:
        raise click.UsageError(
            "name one part: --family ID, --curve SET.csv:ID, or --r25 and --b together"
        )
    if curve is not None:
        return stored_part(curve)
    if family is not None:
        return named_family(family)
    if r25 is None or b is None:
        raise click.UsageError("--r25 and --b go together")
    return Curve.beta(r25_ohm=r25, b_k=b)


def the_part(curve: str | None, family: str | None) -> Curve | Family:
    """Give the one that --curve or --family names."""
    if (curve is None) == (family is None):
        raise click.UsageError("name one part: --family ID, or --curve SET.csv:ID")
    return family_or_curve(curve, family, None, None)


def wrong_part(name: str) -> Curve | Family:
    """Look up what --wrong names: a part that may be fitted instead."""
    try:
        return stored_part(name) if ":" in name else named_family(name)
    except click.BadParameter as error:
        raise click.BadParameter(error.message, param_hint="--wrong") from None


def round_temperatures(nominal: Curve, from_: float | None, to: float | None, step: float) -> Any:
    """Round steps from the first to the last temperature, both of them included."""
    first = nominal.t_min_c if from_ is None else from_
    last = nominal.t_max_c if to is None else to
    if first > last:
        raise click.UsageError(f"--from {first:g} °C lies above --to {last:g} °C")
    if step <= 0.0:
        raise click.UsageError("--step must be above zero")
    if (last - first) / step > _MOST_ROWS:
        raise click.UsageError(f"more than {_MOST_ROWS} rows; take a larger --step")
    inside = np.arange(np.floor(first / step) + 1, np.ceil(last / step)) * step
    return np.unique([first, *inside[(inside > first) & (inside < last)], last])
