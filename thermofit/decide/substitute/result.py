"""What may stand in for a part, ranked."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from thermofit.curvesets.curveset import unknown_id
from thermofit.decide.substitute.compare import Setting
from thermofit.decide.substitute.firmware import Firmware, firmware
from thermofit.decide.substitute.network import Network
from thermofit.decide.substitute.reader import reading_errors
from thermofit.decide.substitute.row import Substitute
from thermofit.decide.substitute.text import as_text
from thermofit.decide.substitute.wording import CAUTION
from thermofit.errors import InputError
from thermofit.notebook import ShownInNotebooks

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["ErrorCurve", "Substitutes"]

Array = npt.NDArray[np.float64]

_NOT_COLUMNS = {"network", "set_points"}


@dataclass(frozen=True, eq=False)
class ErrorCurve:
    """Reading less true temperature; arrays of shape (m,).

    Parameters
    ----------
    t_c : array
        True temperature in °C.
    nominal_k, low_k, high_k : array
        In kelvin: with nominal values, and the coldest and the warmest with all tolerances at
        their ends.  Infinite where the reading leaves the original's curve, NaN where the
        substitute's has no value.
    """

    t_c: Array
    nominal_k: Array
    low_k: Array
    high_k: Array


@dataclass(frozen=True, eq=False)
class Substitutes(ShownInNotebooks):
    """Substitutes for a part, ranked, and what a controller makes of each.

    Parameters
    ----------
    original : str
        Name of the part that the controller assumes.
    t_range_c : (float, float)
        Range in °C that matters.
    rows : tuple of Substitute
        Usable ones first, then by `worst_k`.
    own_worst_k, own_typical_k : float
        Error that the original is allowed by its own tolerance, over the range; NaN where none is
        stated.
    left_out : mapping of str to str
        What was not compared, or not allowed, and why.
    notes : tuple of str
        What holds for all rows.
    setting : Setting
        The original, the circuit and the temperatures that the rows were found at.
    caution : str

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.decide import substitutes
    >>> found = substitutes("ntc-10k-3977", (0, 60), candidates="ntc-10k-3434")
    >>> found.best.reads, round(found.best.curve_k, 2)
    ('colder at 60 °C, warmer at 0 °C', -5.23)
    >>> fit = found.firmware(found.best).fits[0]
    >>> fit.curve.equation.name, abs(round(fit.largest_k, 3))
    ('inverse-polynomial-5', 0.006)
    """

    original: str
    t_range_c: tuple[float, float]
    rows: tuple[Substitute, ...]
    own_worst_k: float
    own_typical_k: float
    left_out: Mapping[str, str]
    notes: tuple[str, ...]
    setting: Setting
    caution: str = CAUTION

    def __iter__(self) -> Iterator[Substitute]:
        return iter(self.rows)

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def best(self) -> Substitute:
        """The first row.

        Raises
        ------
        InputError
            There is no row.
        """
        if not self.rows:
            raise InputError(f"nothing stands in for {self.original}; left_out says why")
        return self.rows[0]

    def of(self, name: str) -> tuple[Substitute, ...]:
        """Rows of one part: by itself and, where asked for, trimmed.

        Parameters
        ----------
        name : str

        Returns
        -------
        tuple of Substitute

        Raises
        ------
        UnknownNameError
            No row has this name; the nearest names are listed.
        """
        found = tuple(row for row in self.rows if row.name == name)
        if not found:
            names = dict.fromkeys(row.name for row in self.rows)
            raise unknown_id(name, names, "no substitute is called")
        return found

    def firmware(self, row: Substitute, *, step_k: float = 5.0) -> Firmware:
        """Table and coefficients that make a substitute exact, for who can change the firmware.

        Parameters
        ----------
        row : Substitute
        step_k : float
            Of the table, in kelvin.

        Returns
        -------
        Firmware

        Raises
        ------
        InputError
            No row, a step that is none, or a part without a value in the range.
        """
        return firmware(self._network(row), self.t_range_c, self.setting.circuit, step_k=step_k)

    def errors(self, row: Substitute | None = None) -> ErrorCurve:
        """Error of the reading over the range, for a table or a picture.

        Parameters
        ----------
        row : Substitute, optional
            Without it, of the original by its own tolerance.

        Returns
        -------
        ErrorCurve

        Raises
        ------
        InputError
            No row.
        """
        setting = self.setting
        found = setting.own
        if row is not None:
            ohms = self._network(row).ohms(setting.t_c)
            found = reading_errors(setting.reader, ohms, setting.t_c)
        return ErrorCurve(setting.t_c, found.nominal[0], found.low[0], found.high[0])

    def _network(self, row: Substitute) -> Network:
        if not isinstance(row, Substitute):
            raise InputError(f"row must be one of the rows, such as found.best, not {row!r}")
        return row.network

    def to_frame(self) -> pd.DataFrame:
        """Give the rows as a pandas frame.

        Returns
        -------
        pandas.DataFrame
            A column for each field; lists are joined with "; ", and each set-point has columns
            such as ``drift_at_25_c_k``.
        """
        import pandas as pd

        names = [f.name for f in dataclasses.fields(Substitute) if f.name not in _NOT_COLUMNS]
        rows = []
        for rank, row in enumerate(self.rows, start=1):
            cells = {"rank": rank} | {name: _cell(getattr(row, name)) for name in names}
            for point in row.set_points:
                for what in ("drift", "low", "high"):
                    cells[f"{what}_at_{point.set_c:g}_c_k"] = getattr(point, f"{what}_k")
            rows.append(cells)
        return pd.DataFrame(rows, columns=None if rows else ["rank", *names])

    def __str__(self) -> str:
        return as_text(self)


def _cell(value: object) -> object:
    return "; ".join(map(str, value)) if isinstance(value, tuple) else value
