"""Preferred numbers of resistors (IEC 60063)."""

from __future__ import annotations

from typing import Final, Literal, get_args

import numpy as np
import numpy.typing as npt

from thermofit.budget import require_number
from thermofit.errors import InputError

__all__ = ["Series", "preferred_values"]

Series = Literal["E3", "E6", "E12", "E24", "E48", "E96", "E192"]

# The standard tabulates these; eight of them are not what the formula of the others would give.
_E24: Final = (
    10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30,
    33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91,
)  # fmt: skip

_MOST_OHM, _LEAST_OHM = 1e12, 1e-3


def preferred_values(series: Series, low_ohm: float, high_ohm: float) -> npt.NDArray[np.float64]:
    """Values of a series of preferred numbers between two resistances.

    Parameters
    ----------
    series : {"E3", "E6", "E12", "E24", "E48", "E96", "E192"}
    low_ohm, high_ohm : float
        Lowest and highest resistance in ohms, both included.

    Returns
    -------
    array
        In ohms, rising.

    Raises
    ------
    InputError
        No such series, or limits that are none.

    Notes
    -----
    E24 and those below are tabulated in IEC 60063, and are not the rounded powers of ten.  E48,
    E96 and E192 are 10^(i/n) rounded to three digits, but for 9.20 of E192, which the formula
    makes 9.19 (from memory).

    Examples
    --------
    >>> preferred_values("E24", 4e3, 6e3).tolist()
    [4300.0, 4700.0, 5100.0, 5600.0]
    >>> preferred_values("E96", 4.7e3, 5e3).tolist()
    [4750.0, 4870.0, 4990.0]
    """
    if series not in get_args(Series):
        raise InputError(
            f"there is no series {series!r} of preferred numbers; there are "
            f"{', '.join(get_args(Series))}"
        )
    require_number(low_ohm, "low_ohm", "Ω", least=_LEAST_OHM)
    require_number(high_ohm, "high_ohm", "Ω", least=low_ohm)
    if high_ohm > _MOST_OHM:
        raise InputError(f"high_ohm must be at most {_MOST_OHM:g} Ω, not {high_ohm:g}")
    decade = _decade(series)
    first, last = int(np.floor(np.log10(low_ohm))) - 1, int(np.floor(np.log10(high_ohm))) + 1
    # Divided by a power of ten, and so the float that a person writes: 4.7, not 4.7000000001.
    values = np.concatenate([_scaled(decade, exponent - 2) for exponent in range(first, last + 1)])
    return values[(values >= low_ohm) & (values <= high_ohm)]


def _decade(series: Series) -> npt.NDArray[np.int64]:
    """One decade, in hundredths."""
    count = int(series[1:])
    if count <= 24:
        return 10 * np.array(_E24[:: 24 // count], dtype=np.int64)
    decade = np.rint(100.0 * 10.0 ** (np.arange(count) / count)).astype(np.int64)
    return np.where((decade == 919) & (count == 192), 920, decade)


def _scaled(decade: npt.NDArray[np.int64], exponent: int) -> npt.NDArray[np.float64]:
    if exponent < 0:
        return decade / np.float64(10**-exponent)
    return decade * np.float64(10**exponent)
