"""A curve as plain data, to the last bit, and back."""

from __future__ import annotations

from typing import Any, cast

import numpy as np

from thermofit.curve import Curve, RangeBasis
from thermofit.equations.base import Equation
from thermofit.equations.catalogue import equation
from thermofit.equations.tabulated import Tabulated
from thermofit.errors import InputError
from thermofit.report.sheet.fields import Fields

__all__ = ["curve_from_data", "curve_to_data", "number_or_null"]

_TEXTS = ("id", "source", "licence", "note")
_BASES = ("stated", "data", "assumed")


def curve_to_data(curve: Curve) -> dict[str, Any]:
    """Give everything that a curve is made of.

    Parameters
    ----------
    curve : Curve

    Returns
    -------
    dict
        Numbers, texts, lists and dicts.
    """
    form = curve.equation
    nodes = None
    if isinstance(form, Tabulated):
        nodes = {name: list(getattr(form, name)) for name in ("t_c", "r_ohm", "node_b_k")}
    return {
        **{name: getattr(curve, name) for name in _TEXTS},
        "equation": form.name,
        "explicit": form.explicit,
        "settings": {name: float(value) for name, value in form.settings.items()},
        "coefficient_names": [entry.name for entry in form.coefficients],
        "logarithmic": [entry.logarithmic for entry in form.coefficients],
        "coefficients": np.asarray(curve.coefficients).tolist(),
        "covariance": None if curve.covariance is None else curve.covariance.tolist(),
        "dof": number_or_null(curve.dof),
        "nodes": nodes,
        "t_min_c": curve.t_min_c,
        "t_max_c": curve.t_max_c,
        "range_basis": curve.range_basis,
        "extra": dict(curve.extra),
    }


def curve_from_data(data: Fields) -> Curve:
    """Make the curve again.

    Parameters
    ----------
    data : Fields

    Returns
    -------
    Curve

    Raises
    ------
    InputError
        Something is missing or cannot be; an equation that is not known here.
    """
    basis = data.text("range_basis")
    if basis not in _BASES:
        raise InputError(f"the range_basis of the curve is none of {', '.join(_BASES)}: {basis!r}")
    # Absurd numbers overflow on their way to being refused.
    with np.errstate(all="ignore"):
        form = _equation(data)
        if list(data.texts("coefficient_names")) != [entry.name for entry in form.coefficients]:
            raise InputError(f"the coefficients of {form.name} have other names here")
        return Curve(
            form,
            data.numbers("coefficients"),
            data.number("t_min_c"),
            data.number("t_max_c"),
            covariance=data.matrix_or_none("covariance"),
            dof=data.number_or("dof", np.inf),
            range_basis=cast("RangeBasis", basis),
            extra=data.named_texts("extra"),
            **{name: data.text(name) for name in _TEXTS},
        )


def number_or_null(value: float) -> float | None:
    """Give a number; None, which JSON writes as null, where it is not finite."""
    return float(value) if np.isfinite(value) else None


def _equation(data: Fields) -> Equation:
    name = data.text("equation")
    if name != "tabulated":
        return equation(name, data.named_numbers("settings"))
    nodes = data.part("nodes")
    return Tabulated(*(tuple(nodes.numbers(part)) for part in ("t_c", "r_ohm", "node_b_k")))
