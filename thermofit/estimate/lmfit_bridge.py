"""A fit as lmfit's own kind of result, for those who want lmfit's tools."""

from __future__ import annotations

import inspect
from typing import TYPE_CHECKING, Any

import numpy as np

from thermofit.equations.base import Array
from thermofit.errors import FitError
from thermofit.estimate.plane import plane_of

if TYPE_CHECKING:
    from thermofit.estimate.result import Fit

__all__ = ["model_result"]


def model_result(fit: Fit) -> Any:
    """Fit once more through `lmfit.Model`, starting from the fit.

    Parameters
    ----------
    fit : Fit
        With points to spare.

    Returns
    -------
    lmfit.model.ModelResult
        The independent variable is the number of the point; data are
        temperatures in kelvin, or resistances in ohms.

    Raises
    ------
    FitError
        The fit is exact, or had a prior.
    """
    if fit.prior is not None:
        raise FitError(
            "lmfit knows nothing of the prior of this fit; fit more points without a prior"
        )
    import lmfit

    if fit.dof == 0:
        raise FitError("lmfit needs more points than coefficients; this fit is exact")
    plane = plane_of(fit.points, fit.minimise)
    equation = fit.equation
    names = [
        f"ln_{entry.name}" if entry.logarithmic else entry.name for entry in equation.coefficients
    ]

    def predicted(point: Array, **values: float) -> Array:
        c = equation.from_fitted(np.array([values[name] for name in names]))
        everywhere, _ = plane.predict(equation, c)
        chosen: Array = everywhere[point.astype(int)]
        return chosen

    # lmfit learns the names of the parameters from the signature.
    kind = inspect.Parameter.POSITIONAL_OR_KEYWORD
    signature = [inspect.Parameter(name, kind) for name in ("point", *names)]
    predicted.__signature__ = inspect.Signature(signature)  # type: ignore[attr-defined]
    model = lmfit.Model(predicted, independent_vars=["point"])
    fitted = equation.to_fitted(np.asarray(fit.coefficients))
    parameters = model.make_params(**dict(zip(names, fitted.tolist(), strict=True)))
    weights = None if fit.sigma is None else 1.0 / fit.sigma[plane.order]
    return model.fit(
        plane.observed, parameters, point=np.arange(len(plane.t_k)), weights=weights,
        scale_covar=fit.sigma is None,
    )  # fmt: skip
