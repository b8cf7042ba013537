"""A curve as JSON, in the same keys for every command."""

from __future__ import annotations

from typing import Any

from thermofit.curve import Curve

__all__ = ["curve_json"]


def curve_json(curve: Curve) -> dict[str, Any]:
    """Describe a curve.

    Parameters
    ----------
    curve : Curve

    Returns
    -------
    dict
        Ready for `thermofit.cli.output.print_json`.
    """
    uncertainties = curve.standard_uncertainties
    return {
        "id": curve.id or None,
        "equation": curve.equation.name,
        "formula": curve.equation.formula,
        "settings": dict(curve.equation.settings),
        "coefficients": [
            {
                "name": entry.name,
                "unit": entry.unit,
                "value": curve.coefficients[entry.name],
                "standard_uncertainty": uncertainties[entry.name] if uncertainties else None,
            }
            for entry in curve.equation.coefficients
        ],
        "covariance": curve.covariance,
        "degrees_of_freedom": curve.dof,
        "t_min_c": curve.t_min_c,
        "t_max_c": curve.t_max_c,
        "range_basis": curve.range_basis,
        "r25_ohm": curve.r25_ohm,
        "b_25_85_k": curve.b_25_85_k,
        "source": curve.source,
        "note": curve.note,
    }
