"""`characterise`: from one to many readings to a curve, with what the families know."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from thermofit.errors import InputError
from thermofit.estimate.prior import Prior
from thermofit.estimate.result import Fit
from thermofit.estimate.sources import sources_of_budgets, sources_of_points
from thermofit.estimate.with_prior import fit_with_prior
from thermofit.families.bending import bend_prior
from thermofit.points import Points
from thermofit.readings import Reading, points_of

__all__ = ["characterise"]


def characterise(
    points: Points | Reading | Sequence[Reading],
    *,
    prior: Prior | None = None,
    shared_u_t_k: float = 0.0,
    shared_u_r_pct: float = 0.0,
) -> Fit:
    """Characterise a sensor from one to many readings.

    Two baths cannot carry three coefficients; but NTC ceramics bend alike, and how they do
    is taken from the registered families.

    Parameters
    ----------
    points : Points, or one Reading or more
        Points with standard uncertainties; or readings with budgets, in which contributions
        that several readings share count as shared.
    prior : Prior, optional
        What is known beforehand of B and the bend; by default `bend_prior()`.
    shared_u_t_k : float
        For points: part of the standard uncertainty of every temperature, in kelvin, that is
        one error for all (one thermometer).
    shared_u_r_pct : float
        For points: the same of the resistances, in percent of them (one range of one meter).

    Returns
    -------
    Fit
        Of ``bent-beta-6``, valid from −40 to 125 °C and over the points.  Its covariance holds
        the errors of the readings and what the prior leaves open, so its band widens away
        from the points.  ``fit.prior`` says what the prior did, `Fit.contributions` what the
        uncertainty is made of.  With points enough the readings outvote the prior.

    Raises
    ------
    FitError
        The readings have no uncertainties, or do not fall with temperature as an NTC's do.
    InputError
        No reading, or shared parts stated beside budgets.

    Examples
    --------
    Invented readings of an air sensor from a glasshouse controller.

    >>> import thermofit as tf
    >>> p = tf.Points([0, 68.4], [32600, 1870], u_t_k=[0.06, 0.3], u_r_ohm=[150, 9])
    >>> fit = tf.characterise(p)
    >>> print(fit.temperature(10e3))
    25.22 °C, standard uncertainty 0.23, 95 % between 24.77 and 25.67
    (of the curve only, not of a new reading, whose uncertainty was not given)
    """
    known = bend_prior() if prior is None else prior
    if isinstance(points, Points):
        return fit_with_prior(
            points, known, sources_of_points(points, shared_u_t_k, shared_u_r_pct)
        )
    readings = list(points) if isinstance(points, Iterable) else [points]
    if not readings or not all(isinstance(reading, Reading) for reading in readings):
        raise InputError(
            "characterise takes Points, or one or more Reading(bath, resistance); "
            f"got {type(readings[0]).__name__ if readings else 'none'}"
        )
    if shared_u_t_k or shared_u_r_pct:
        raise InputError(
            "the budgets of readings say themselves what is shared: leave out shared_u_t_k and "
            "shared_u_r_pct"
        )
    sources = sources_of_budgets(
        [reading.temperature for reading in readings], [reading.resistance for reading in readings]
    )
    return fit_with_prior(points_of(readings), known, sources)
