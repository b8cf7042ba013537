"""`fit_many`: from the points of many sensors to their curves."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, get_args, overload

import numpy as np

from thermofit.arrays import Collection, is_collection
from thermofit.equations.base import Array, Equation
from thermofit.equations.catalogue import equation as equation_by_name
from thermofit.errors import InputError
from thermofit.estimate.fitting import fit
from thermofit.estimate.many.block import Block, blocks_of
from thermofit.estimate.many.collected import Collected
from thermofit.estimate.many.forms import Form, form_of, reference_ohm
from thermofit.estimate.many.outcome import Outcome
from thermofit.estimate.many.points import ManyPoints
from thermofit.estimate.many.polynomials import near_points
from thermofit.estimate.many.result import ManyFits
from thermofit.estimate.many.three_points import through_three_points
from thermofit.estimate.plane import Minimise

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["fit_many", "gathered"]


@overload
def fit_many(
    points: ManyPoints, equation: str | Equation = ..., *, minimise: Minimise = ...
) -> ManyFits: ...
@overload
def fit_many(
    points: pd.DataFrame, equation: str | Equation = ..., *, minimise: Minimise = ...,
    sensor: str = ..., u_t_k: Any = ..., u_r_ohm: Any = ...,
) -> pd.DataFrame: ...  # fmt: skip
@overload
def fit_many(
    points: Collection, equation: str | Equation = ..., *, minimise: Minimise = ...,
    sensor: str = ..., u_t_k: float | None = ..., u_r_ohm: float | None = ...,
) -> Any: ...  # fmt: skip
def fit_many(
    points: Any,
    equation: str | Equation = "steinhart-hart",
    *,
    minimise: Minimise = "temperature",
    sensor: str = "sensor",
    u_t_k: Any = None,
    u_r_ohm: Any = None,
) -> Any:
    """Fit the curves of many sensors at once.

    Each sensor gets the numbers that `thermofit.fit` gives it by itself.  A sensor
    that cannot be fitted has its reason in its row and stops nobody else.

    Parameters
    ----------
    points : pandas.DataFrame, Dask DataFrame or ManyPoints
        A long frame with a row for each point: the column of the sensors, ``t_c``, ``r_ohm``,
        and ``u_t_k`` and ``u_r_ohm`` where it states standard uncertainties.  Sensors may have
        different numbers of points, and rows any order.  Or `ManyPoints`, made of arrays.
        A Dask frame is shuffled by its sensors, unless they are its index.
    equation : str or Equation
        One for all, as for `thermofit.fit`, but not "auto".
    minimise : {"temperature", "resistance"}
        Which error to make small, as for `thermofit.fit`.
    sensor : str
        Column of a frame that names the sensor.
    u_t_k, u_r_ohm : float or array_like, optional
        Standard uncertainties in kelvin and Ω for a frame that does not state them.

    Returns
    -------
    pandas.DataFrame or ManyFits
        For a frame, a row for each sensor in the order in which they first appear, with the
        columns of `ManyFits.to_frame`; ``error`` says why there is no curve, and is "" where
        there is one.  A frame without rows gives one without rows.  For `ManyPoints`, arrays.
        For a Dask frame, a lazy one with the same columns, in no particular order.

    Raises
    ------
    InputError
        Columns that are missing, the equation "auto", `minimise` of another kind.
    UnknownNameError
        No equation has this name.

    Notes
    -----
    Polynomials in the plane (``beta``, ``bent-beta-…``, ``steinhart-hart``, ``log-polynomial-…``,
    ``inverse-polynomial-…``) are solved for blocks of sensors at once: Steinhart–Hart through
    three points in closed form, all others by Gram–Schmidt orthogonalisation, with the
    weights of `thermofit.fit`.  Sensors at which something is unusual there (a value that cannot
    be used, a curve that may turn, points that lie close together) are fitted by
    `thermofit.fit`, and so are all sensors with other equations (``shifted-exponential``,
    ``callendar-van-dusen``, those of plugins) and, beyond exact fits, with
    ``minimise="resistance"``: that takes a thousand times as long for each.

    The warnings of single fits are not spoken; ``p_value`` and ``max_abs_k`` show which sensors
    deserve a fit of their own.

    Examples
    --------
    Invented readings of air sensors from glasshouse controllers; the second came back from
    the bench with two temperatures only:

    >>> import pandas as pd
    >>> frame = pd.DataFrame({
    ...     "sensor": ["inlet", "outlet", "inlet", "outlet", "inlet"],
    ...     "t_c": [0.0, 0.0, 25.0, 60.0, 60.0],
    ...     "r_ohm": [32640.0, 32410.0, 10020.0, 2480.0, 2491.0],
    ... })
    >>> rows = fit_many(frame, "beta", u_t_k=0.1)
    >>> rows[["sensor", "n", "b_k", "error"]].round(0)
       sensor  n     b_k error
    0   inlet  3  3910.0
    1  outlet  2  3898.0
    >>> print(fit_many(frame, u_t_k=0.1)["error"][1])
    steinhart-hart has 3 coefficients; 2 points cannot determine them: add points at other ...
    """
    if minimise not in get_args(Minimise):
        raise InputError(
            f"minimise must be one of {', '.join(get_args(Minimise))}, not {minimise!r}"
        )
    if isinstance(equation, str) and equation == "auto":
        raise InputError(
            "many sensors are fitted with one equation, so that their curves can be compared: name "
            "it, for example the one that fit(points, 'auto') chooses for some of them"
        )
    form = equation_by_name(equation) if isinstance(equation, str) else equation
    if is_collection(points):
        from thermofit.scale import sensor_by_sensor

        one = partial(
            fit_many, equation=equation, minimise=minimise, sensor=sensor, u_t_k=u_t_k,
            u_r_ohm=u_r_ohm,
        )  # fmt: skip
        return sensor_by_sensor(one, points, sensor, u_t_k=u_t_k, u_r_ohm=u_r_ohm)
    many, is_frame = gathered(points, sensor, u_t_k, u_r_ohm)
    found = Collected(many, form, len(form.coefficients))
    quick = form_of(form, isinstance(equation, str))
    left: list[int] = []
    for group in many.groups:
        exact = group.count == len(form.coefficients)
        if (
            quick is None
            or group.count < len(form.coefficients)
            or not (exact or minimise == "temperature")
        ):
            left += np.arange(len(many))[group.where(0, group.size)].tolist()
            continue
        with np.errstate(all="ignore"):
            for block in blocks_of(many, group, minimise):
                left += found.put(block, _quickly(block, quick, found))
    found.one_by_one(left, lambda own: fit(own, equation, minimise=minimise))
    result = found.result()
    return result.to_frame(sensor) if is_frame else result


def gathered(points: Any, sensor: str, u_t_k: Any, u_r_ohm: Any) -> tuple[ManyPoints, bool]:
    """Points of many sensors, and whether they came as a frame."""
    if isinstance(points, ManyPoints):
        if u_t_k is not None or u_r_ohm is not None:
            raise InputError("ManyPoints state their uncertainties themselves; leave them out here")
        return points, False
    if not hasattr(points, "columns"):
        raise InputError(
            "many sensors come as a pandas frame with a row for each point, or as ManyPoints, not "
            f"as {type(points).__name__}"
        )
    return ManyPoints.from_frame(points, sensor=sensor, u_t_k=u_t_k, u_r_ohm=u_r_ohm), True


def _quickly(block: Block, form: Form, found: Collected) -> Outcome:
    if form.squareless and block.count == 3:
        outcome = through_three_points(block)
        if not found.stated:
            outcome.covariance[...] = np.nan
        return outcome
    reference: Array | float = 1.0
    if form.own_reference:
        reference = reference_ohm(form.equation, *block.ln_r_ends)
        found.settings["r_ref_ohm"][block.where] = reference
    else:
        reference = form.equation.settings.get("r_ref_ohm", 1.0)
    return near_points(block, form, reference, found.stated)
