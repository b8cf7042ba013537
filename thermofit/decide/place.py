"""Where sensors lie in the plane of (γ, β), by weighted least squares, many at once.

What a reading deviates by from the nominal curve is linear in the place of its
sensor,

    ln R_i − ln R_nominal(T_i) = γ + β·a_i,   a_i = ln ρ(T_i),

and its uncertainty joins those of both axes, that of the temperature carried
over by the slope of the nominal curve ("effective variance": J. Orear, Am. J.
Phys. 50 (1982) 912–916):  u_i² = (u_R/R)² + (α·u_T)².  Errors of different
readings are taken as independent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["Places", "locate"]

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

# Spread of ln ρ, in part of its size, below which there is one temperature only:
# some 20 µK, far below what a thermometer resolves, and far above rounding.
_ONE_TEMPERATURE = 1e-6


@dataclass(frozen=True, eq=False)
class Places:
    """Places of n sensors from m readings.

    Parameters
    ----------
    estimate : array, shape (n, 2)
        (γ, β); NaN where a sensor's readings do not determine it.
    covariance : array, shape (n, 2, 2)
        Of the estimate, from the stated uncertainties; singular where the place
        was sought on a line.
    located : array of bool, shape (n,)
        Whether the place is determined: readings at two temperatures, or one
        where the place is sought on a line.
    count : array of int, shape (n,)
        Number of readings.
    chi2 : array, shape (n,)
        Sum of squares of the residuals over their standard uncertainties.
    dof : array of int, shape (n,)
        Readings to spare.
    a_mean, shift, u_shift : array, shape (n,)
        Weighted means of ln ρ and of the deviation, and the standard uncertainty
        of the latter: all that readings at one temperature tell.
    left_out : array, shape (m,)
        What each reading is off by, in ln R, from what the sensor's others say
        (leave-one-out); NaN where they say nothing there.
    left_out_score : array, shape (m,)
        The same over its standard uncertainty; its square is what χ² falls by
        without the reading.
    """

    estimate: Array
    covariance: Array
    located: npt.NDArray[np.bool_]
    count: Indices
    chi2: Array
    dof: Indices
    a_mean: Array
    shift: Array
    u_shift: Array
    left_out: Array
    left_out_score: Array


def locate(
    sensor: Indices, n: int, deviation: Array, a: Array, u: Array, line: Array | None = None
) -> Places:
    """Locate n sensors in the plane.

    Parameters
    ----------
    sensor : array of int, shape (m,)
        To which sensor, 0 to n − 1, each reading belongs, in any order.
    n : int
        How many sensors; those without readings stay NaN.
    deviation, a, u : array, shape (m,)
        Deviation of ln R from the nominal curve, ln ρ(T), and the standard
        uncertainty of the former, above zero.
    line : array, shape (2,), optional
        Unit vector; the place is then sought at a multiple of it.

    Returns
    -------
    Places
    """

    def total(values: Array) -> Array:
        result: Array = np.bincount(sensor, weights=values, minlength=n).astype(np.float64)
        return result

    count = np.bincount(sensor, minlength=n)
    w = 1.0 / u**2
    with np.errstate(divide="ignore", invalid="ignore"):
        sum_w = total(w)
        a_mean, shift = total(w * a) / sum_w, total(w * deviation) / sum_w
        if line is None:
            # Centred, the two unknowns are uncorrelated, and nothing cancels.
            da, dy = a - a_mean[sensor], deviation - shift[sensor]
            s_aa = total(w * da * da)
            located = s_aa > (_ONE_TEMPERATURE * np.maximum(1.0, np.abs(a_mean))) ** 2 * sum_w
            s_aa = np.where(located, s_aa, np.inf)
            slope = total(w * da * dy) / s_aa
            residual = dy - slope[sensor] * da
            leverage = w * (1.0 / sum_w[sensor] + da * da / s_aa[sensor])
            estimate = np.stack([shift - slope * a_mean, slope], axis=-1)
            across = -a_mean / s_aa
            covariance = np.stack(
                [1.0 / sum_w + a_mean**2 / s_aa, across, across, 1.0 / s_aa], axis=-1
            ).reshape(n, 2, 2)
            unknowns = np.where(located, 2, 1)
        else:
            x = line[0] + line[1] * a
            s_xx = total(w * x * x)
            located = s_xx > _ONE_TEMPERATURE**2 * sum_w
            s_xx = np.where(located, s_xx, np.inf)
            along = total(w * x * deviation) / s_xx
            residual = deviation - along[sensor] * x
            leverage = w * x * x / s_xx[sensor]
            estimate = along[:, np.newaxis] * line
            covariance = np.outer(line, line) / s_xx[:, np.newaxis, np.newaxis]
            unknowns = np.where(located, 1, 0)
        estimate = np.where(located[:, np.newaxis], estimate, np.nan)
        covariance = np.where(located[:, np.newaxis, np.newaxis], covariance, np.nan)
        # A reading that alone determines an unknown is met exactly, whatever it says.
        free = np.where(1.0 - leverage > 1e-9, 1.0 - leverage, np.nan)
        return Places(
            estimate=estimate,
            covariance=covariance,
            located=located,
            count=count,
            chi2=total((residual / u) ** 2),
            dof=np.maximum(count - unknowns, 0),
            a_mean=a_mean,
            shift=shift,
            u_shift=1.0 / np.sqrt(sum_w),
            left_out=residual / free,
            left_out_score=residual / (u * np.sqrt(free)),
        )
