"""`characterise_many`: the readings of many sensors, with what the families know."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, overload

from thermofit.arrays import Collection, is_collection
from thermofit.estimate.many import ManyFits, ManyPoints, fit_many_with_prior, gathered
from thermofit.estimate.prior import Prior
from thermofit.families.bending import bend_prior

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["characterise_many"]


@overload
def characterise_many(
    points: ManyPoints, *, prior: Prior | None = ..., shared_u_t_k: float = ...,
    shared_u_r_pct: float = ...,
) -> ManyFits: ...  # fmt: skip
@overload
def characterise_many(
    points: pd.DataFrame, *, prior: Prior | None = ..., shared_u_t_k: float = ...,
    shared_u_r_pct: float = ..., sensor: str = ..., u_t_k: Any = ..., u_r_ohm: Any = ...,
) -> pd.DataFrame: ...  # fmt: skip
@overload
def characterise_many(
    points: Collection, *, prior: Prior | None = ..., shared_u_t_k: float = ...,
    shared_u_r_pct: float = ..., sensor: str = ..., u_t_k: float | None = ...,
    u_r_ohm: float | None = ...,
) -> Any: ...  # fmt: skip
def characterise_many(
    points: Any,
    *,
    prior: Prior | None = None,
    shared_u_t_k: float = 0.0,
    shared_u_r_pct: float = 0.0,
    sensor: str = "sensor",
    u_t_k: Any = None,
    u_r_ohm: Any = None,
) -> Any:
    """Characterise many sensors from one to many readings each.

    Each sensor gets the numbers that `thermofit.characterise` gives it by itself.  One that
    cannot be characterised has its reason in its row and stops nobody else.

    Parameters
    ----------
    points : pandas.DataFrame, Dask DataFrame or ManyPoints
        As for `thermofit.fit_many`, with standard uncertainties.
    prior : Prior, optional
        What is known beforehand of B and the bend; by default `bend_prior()`.
    shared_u_t_k : float
        Part of the standard uncertainty of every temperature, in kelvin, that is one error
        for all readings of a sensor (one thermometer).
    shared_u_r_pct : float
        The same of the resistances, in percent of them (one range of one meter).
    sensor : str
        Column of a frame that names the sensor.
    u_t_k, u_r_ohm : float or array_like, optional
        Standard uncertainties in kelvin and Ω for a frame that does not state them.

    Returns
    -------
    pandas.DataFrame or ManyFits
        For a frame, a row for each sensor in the order in which they first appear, with the
        columns of `ManyFits.to_frame`: beside those of `thermofit.fit_many`, ``b_25_85_k``;
        ``p_value``, the probability of readings that agree less with the prior; ``conflict``,
        whether it was widened because they do not agree, and ``widened``, by what factor on its
        variances; ``note``, what was said of such readings.  For `ManyPoints`, arrays; for a
        Dask frame, a lazy one with the same columns, in no particular order.

    Raises
    ------
    FitError
        No uncertainties are stated.
    InputError
        Columns that are missing, or a shared part that is negative.

    Notes
    -----
    What the readings share is shared by those of one sensor.  Between sensors it is one error
    too, where they were measured with one thermometer: the curves are then off together, and
    their mean is known no better than each of them.

    Sensors whose readings disagree with the prior, or are unusual in another way, go through
    `thermofit.characterise` one by one, which takes a hundred times as long for each.

    Examples
    --------
    Invented readings of two air sensors from a glasshouse controller, in ice and in a bath:

    >>> import pandas as pd
    >>> frame = pd.DataFrame({
    ...     "sensor": ["inlet", "inlet", "outlet", "outlet"],
    ...     "t_c": [0.0, 68.4, 0.0, 68.4],
    ...     "r_ohm": [32600.0, 1870.0, 32450.0, 32450.0],
    ...     "u_t_k": [0.06, 0.3, 0.06, 0.3],
    ...     "u_r_ohm": [150.0, 9.0, 150.0, 150.0],
    ... })
    >>> rows = characterise_many(frame)
    >>> rows[["sensor", "n", "r25_ohm", "u_r25_ohm", "b_25_85_k", "conflict"]].round(0)
       sensor  n  r25_ohm  u_r25_ohm  b_25_85_k  conflict
    0   inlet  2  10097.0      101.0     3981.0     False
    1  outlet  2      NaN        NaN        NaN     False
    >>> print(rows["error"][1])
    all 2 points have the resistance 32450 Ω: the reading does not follow the temperature; check ...
    """
    known = bend_prior() if prior is None else prior
    if is_collection(points):
        from thermofit.scale import sensor_by_sensor

        one = partial(
            characterise_many, prior=known, shared_u_t_k=shared_u_t_k,
            shared_u_r_pct=shared_u_r_pct, sensor=sensor, u_t_k=u_t_k, u_r_ohm=u_r_ohm,
        )  # fmt: skip
        return sensor_by_sensor(one, points, sensor, u_t_k=u_t_k, u_r_ohm=u_r_ohm)
    many, is_frame = gathered(points, sensor, u_t_k, u_r_ohm)
    result = fit_many_with_prior(many, known, shared_u_t_k, shared_u_r_pct)
    return result.to_frame(sensor) if is_frame else result
