"""What the numbers of a curve must satisfy before a curve is made of them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array, unwrap
from thermofit.coefficients import Coefficients
from thermofit.equations.base import Array, Equation
from thermofit.errors import InputError
from thermofit.units import ZERO_C_K

__all__ = [
    "check_range",
    "checked_coefficients",
    "checked_covariance",
    "checked_dof",
    "checked_uncertainty",
]


def checked_coefficients(equation: Equation, coefficients: npt.ArrayLike | Coefficients) -> Array:
    """Give coefficients as an array, shape (k,), or say which is unusable."""
    numbers = as_float_array(coefficients, "coefficients").ravel()
    expected = equation.coefficients
    if numbers.size != len(expected):
        raise InputError(
            f"{equation.name} has {len(expected)} coefficients "
            f"({', '.join(entry.name for entry in expected)}), not {numbers.size}"
        )
    for entry, number in zip(expected, numbers, strict=True):
        if not np.isfinite(number):
            raise InputError(f"coefficient {entry.name} must be finite, not {number!r}")
        if entry.logarithmic and not number > 0.0:
            raise InputError(f"coefficient {entry.name} must be positive, not {number!r}")
    return numbers


def checked_covariance(covariance: npt.ArrayLike | None, size: int) -> Array | None:
    """Give a read-only covariance, shape (k, k), or say why it is none."""
    if covariance is None:
        return None
    matrix = np.array(as_float_array(covariance, "covariance"))
    if matrix.shape != (size, size):
        raise InputError(f"the covariance of {size} coefficients has the shape ({size}, {size}), "
                         f"not {matrix.shape}")  # fmt: skip
    if not np.isfinite(matrix).all() or (np.diag(matrix) < 0.0).any():
        raise InputError("a covariance has finite elements and no negative ones on its diagonal")
    scale = np.sqrt(np.outer(np.diag(matrix), np.diag(matrix)))
    if (np.abs(matrix - matrix.T) > 1e-9 * scale).any():
        raise InputError("a covariance is symmetric")
    if (np.abs(matrix) > scale * (1.0 + 1e-9)).any():
        raise InputError(
            "the covariance implies a correlation beyond ±1, as one does whose digits were lost, "
            "in a spreadsheet perhaps; leave it out (in a curve set: blank all cov_ cells), or fit "
            "again"
        )
    if not size:
        return None
    # What a symmetric matrix differs from itself by is rounding; one half counts,
    # as in a curve set, which keeps no more.
    matrix = np.tril(matrix) + np.tril(matrix, -1).T
    matrix.flags.writeable = False
    return matrix


def checked_dof(dof: float) -> float:
    """Give degrees of freedom as a number above zero."""
    if not dof > 0.0:
        raise InputError(f"degrees of freedom must be positive, not {dof!r}")
    return float(dof)


def checked_uncertainty(u: npt.ArrayLike, name: str, shape: tuple[int, ...]) -> Array:
    """Give standard uncertainties broadcast to the shape of their values."""
    array, _ = unwrap(u, name)
    if not (array >= 0.0).all():
        raise InputError(f"{name} must not be negative or NaN")
    try:
        return np.broadcast_to(array, shape)
    except ValueError:
        raise InputError(f"{name} of shape {array.shape} does not go with values of shape "
                         f"{shape}") from None  # fmt: skip


def check_range(
    t_min_c: float, t_max_c: float, limits_c: tuple[float, float] | None = None
) -> None:
    """Refuse a range of temperature that is none, or that goes beyond the equation's limits."""
    if not (np.isfinite(t_min_c) and np.isfinite(t_max_c) and -ZERO_C_K < t_min_c < t_max_c):
        raise InputError(
            f"a valid range runs from a lower to a higher temperature in °C above absolute zero, "
            f"not from {t_min_c!r} to {t_max_c!r}"
        )
    if limits_c and (t_min_c < limits_c[0] or t_max_c > limits_c[1]):
        raise InputError(
            f"a valid range of {t_min_c:g} to {t_max_c:g} °C goes beyond the table, which has "
            f"nodes from {limits_c[0]:g} to {limits_c[1]:g} °C only"
        )
