"""For those who can change the firmware: the table or the coefficients of the substitute."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from thermofit.budget import require_number
from thermofit.circuit import Circuit
from thermofit.circuit.network import quiet_t_c
from thermofit.curve import Curve
from thermofit.decide.substitute.network import Network
from thermofit.errors import FitError, InputError, NotMonotoneError
from thermofit.estimate.choice import CANDIDATES
from thermofit.estimate.fitting import fit
from thermofit.points import Points
from thermofit.texttable import aligned, paragraph
from thermofit.units import format_ohm

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Firmware", "FirmwareFit", "firmware"]

Array = npt.NDArray[np.float64]

_EQUATIONS = (*CANDIDATES, "callendar-van-dusen")
_FITTED, _CHECKED = 121, 4
# Errors below this are rounding, and fewer coefficients count for more.
_ROUNDING_K = 1e-6
_WIDTH = 99


@dataclass(frozen=True, eq=False)
class FirmwareFit:
    """An equation through the substitute.

    Parameters
    ----------
    curve : Curve
        With its coefficients.
    largest_k, at_c : float
        Largest error in kelvin over the range, with its sign, and where.
    """

    curve: Curve
    largest_k: float
    at_c: float


@dataclass(frozen=True, eq=False)
class Firmware:
    """What makes the substitute exact, with nominal values.

    Parameters
    ----------
    name : str
    t_c, r_ohm : array, shape (n,)
        The table: temperature in °C, and resistance between the terminals.
    counts : array, shape (n,), or None
        Codes of the converter, where the circuit is known.
    table_error_k : float
        Largest error in kelvin, if the temperature is interpolated on a straight line over the
        resistance between two rows.
    fits : tuple of FirmwareFit
        The best first.
    not_fitted : mapping of str to str
        Equations that do not suit it, and why.
    """

    name: str
    t_c: Array
    r_ohm: Array
    counts: Array | None
    table_error_k: float
    fits: tuple[FirmwareFit, ...]
    not_fitted: Mapping[str, str]

    def to_frame(self) -> pd.DataFrame:
        """Give the table as a pandas frame."""
        import pandas as pd

        columns = {"t_c": self.t_c, "r_ohm": self.r_ohm}
        if self.counts is not None:
            columns["counts"] = self.counts
        return pd.DataFrame(columns)

    def to_csv(self) -> str:
        """Give the table as the text of a CSV file (RFC 4180)."""
        return self.to_frame().to_csv(index=False, lineterminator="\r\n")

    def coefficients(self) -> pd.DataFrame:
        """Give the coefficients as a pandas frame, a row for each."""
        import pandas as pd

        rows = [
            {"equation": one.curve.equation.name, "coefficient": name, "value": value,
             "largest_error_k": one.largest_k}
            for one in self.fits
            for name, value in (*one.curve.equation.settings.items(),
                                *one.curve.coefficients.items())
        ]  # fmt: skip
        return pd.DataFrame(rows, columns=["equation", "coefficient", "value", "largest_error_k"])

    def __str__(self) -> str:
        header = ["t / °C", "R", *(["counts"] if self.counts is not None else [])]
        codes = [[]] * self.t_c.size if self.counts is None else [[f"{c:.0f}"] for c in self.counts]
        rows = [
            [f"{t:g}", format_ohm(r), *code]
            for t, r, code in zip(self.t_c, self.r_ohm, codes, strict=True)
        ]
        equations = [["equation", "largest error / K", "at / °C"]]
        coefficients = []
        for one in self.fits:
            equation = one.curve.equation
            small = abs(one.largest_k) < _ROUNDING_K
            largest = "rounding only" if small else f"{one.largest_k:+.2g}"
            equations.append([equation.name, largest, f"{one.at_c:.0f}"])
            numbers = {**equation.settings, **one.curve.coefficients}
            text = ", ".join(f"{name} = {value!r}" for name, value in numbers.items())
            coefficients.append(_wrapped(f"{equation.name}: {text}"))
        return "\n".join([
            _wrapped(f"{self.name}: what the controller would have to assume"),
            aligned([header, *rows], left=0),
            f"(largest error on a straight line between the rows: {self.table_error_k:.2g} K)",
            aligned(equations),
            *coefficients,
        ])  # fmt: skip


def _wrapped(text: str) -> str:
    return paragraph(text, then="  ", usual=_WIDTH)


def _rank(one: FirmwareFit) -> tuple[float, int]:
    return max(abs(one.largest_k), _ROUNDING_K), len(one.curve.coefficients)


def firmware(
    network: Network,
    t_range_c: tuple[float, float],
    circuit: Circuit | None = None,
    *,
    step_k: float = 5.0,
) -> Firmware:
    """Find the table and the coefficients that make a substitute exact.

    Parameters
    ----------
    network : Network
    t_range_c : (float, float)
        In °C.
    circuit : Circuit, optional
        Adds the codes of its converter.
    step_k : float
        Of the table, in kelvin; its last row is the end of the range.

    Returns
    -------
    Firmware

    Raises
    ------
    InputError
        A step that is none, or a range in which the substitute has no value.
    """
    step_k = require_number(step_k, "step_k", "K", above=0.0)
    low, high = t_range_c
    fine_c = np.linspace(low, high, (_FITTED - 1) * _CHECKED + 1)
    fine_ohm = network.ohms(fine_c).nominal[0]
    if np.isnan(fine_ohm).any():
        missing = float(fine_c[np.isnan(fine_ohm)][0])
        raise InputError(f"{network.name} has no resistance at {missing:g} °C")
    rows = np.arange(low, high - 1e-9 * step_k, step_k)
    table_c = np.append(rows, high)
    table_ohm = network.ohms(table_c).nominal[0]
    order = np.argsort(table_ohm)
    straight = np.interp(fine_ohm, table_ohm[order], table_c[order])
    points = Points(fine_c[::_CHECKED], fine_ohm[::_CHECKED])
    fits, not_fitted = [], {}
    for name in _EQUATIONS:
        try:
            curve = fit(points, equation=name).curve
        except (FitError, NotMonotoneError) as error:
            not_fitted[name] = str(error)
            continue
        error_k = quiet_t_c(curve, fine_ohm) - fine_c
        at = int(np.argmax(np.abs(error_k)))
        fits.append(FirmwareFit(curve, float(error_k[at]), float(fine_c[at])))
    words = f"{network.name}{network.resistors and f' with {network.resistors}'}"
    return Firmware(
        words, table_c, table_ohm, None if circuit is None else circuit.counts(table_ohm),
        float(np.abs(straight - fine_c).max()),
        tuple(sorted(fits, key=_rank)),
        not_fitted,
    )  # fmt: skip
