"""What all circuits answer: from the sensor's resistance to a code, and back."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Self

import numpy as np
import numpy.typing as npt

from thermofit.arrays import unwrap
from thermofit.circuit.network import checked_r_ohm, quiet_alpha
from thermofit.circuit.node import Node
from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.family import Family, nominal_curve

if TYPE_CHECKING:
    from thermofit.circuit.errorbudget import ErrorBudget
    from thermofit.circuit.table import CircuitTable

__all__ = ["Circuit"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Circuit(Node):
    """A circuit that reads a sensor: `Divider` or `ConstantCurrent`.

    Parameters
    ----------
    supply_v : float
        Supply voltage.
    converter : Converter
        What reads the node; ratiometric where it has no reference of its own.
    series_ohm, parallel_ohm : float, optional
        Fixed resistors at the sensor: `parallel_ohm` lies directly across it, `series_ohm` in
        series with both, so that the network has (sensor ∥ parallel) + series.
    leakage_a : float
        Known current into the converter's pin, in amperes; negative for one out of it.  It is
        part of `voltage`, and `resistance` corrects for it.
    leakage_limit_a : float
        Limits ± of the current about `leakage_a`; data sheets of converters state this one.
    supply_pct, series_pct, parallel_pct : float
        Limits ± of the supply and of the fixed resistors, in percent.
    ambient_c : (float, float), optional
        Span of the temperature, in °C, of the controller itself, for parts that drift; drifts
        count from 25 °C.
    """

    def replace(self, **changes: Any) -> Self:
        """Give a copy with some fields changed."""
        return dataclasses.replace(self, **changes)

    def voltage(self, r_ohm: Any) -> Any:
        """Voltage at the converter's pin.

        Parameters
        ----------
        r_ohm : float or array_like, any shape
            Resistance of the sensor in ohms, 0 (a short) to infinite (open).

        Returns
        -------
        float or array
            In volts, of the kind of `r_ohm`.

        Raises
        ------
        InputError
            A negative resistance.
        """
        r, dress = checked_r_ohm(r_ohm)
        return dress(self._node(r, self._nominal))

    def position(self, r_ohm: Any) -> Any:
        """Count position with its fraction, also beyond the scale; see `Converter`.

        Parameters
        ----------
        r_ohm : float or array_like, any shape
            As for `voltage`.

        Returns
        -------
        float or array
        """
        r, dress = checked_r_ohm(r_ohm)
        return dress(self._position(r, self._nominal))

    def counts(self, r_ohm: Any) -> Any:
        """Code of the converter.

        Parameters
        ----------
        r_ohm : float or array_like, any shape
            As for `voltage`.

        Returns
        -------
        float or array
            Whole numbers within 0…2^bits − 1.  The first and the last stand for anything beyond
            as well.
        """
        r, dress = checked_r_ohm(r_ohm)
        return dress(self.converter.code(self._position(r, self._nominal)))

    def resistance(self, counts: Any) -> Any:
        """Resistance of the sensor at a code, or at the average of codes.

        Parameters
        ----------
        counts : float or array_like, any shape
            Within 0…2^bits − 1; each stands for its middle.

        Returns
        -------
        float or array
            In ohms.  NaN at the first and the last code, which say only that the sensor is out of
            range, open or shorted, and where no resistance of the sensor gives the code.

        Raises
        ------
        InputError
            A code that the converter does not have.
        """
        code, dress = self._checked_code(counts)
        r = self._sensor_at(self.converter.middle(code), self._nominal)
        readable = ~self.converter.saturated(code) & (r > 0.0) & np.isfinite(r)
        return dress(np.where(readable, r, np.nan))

    def counts_at(self, curve: Curve | Family, t_c: Any) -> Any:
        """Code at a temperature of the sensor.

        Parameters
        ----------
        curve : Curve or Family
        t_c : float or array_like, any shape
            In °C.

        Returns
        -------
        float or array
        """
        t, dress = unwrap(t_c, "t_c")
        return dress(np.asarray(self.counts(nominal_curve(curve).resistance(t))))

    def temperature(self, curve: Curve | Family, counts: Any) -> Any:
        """Temperature that a controller with this curve makes of a code.

        Parameters
        ----------
        curve : Curve or Family
            The one that it assumes; of a family, the nominal one.
        counts : float or array_like, any shape

        Returns
        -------
        float or array
            In °C.  NaN at the first and the last code, as for `resistance`, and where the curve
            has no value.

        Raises
        ------
        InputError
            A code that the converter does not have.

        Warns
        -----
        ExtrapolationWarning
            Outside the curve's valid range.
        """
        code, dress = unwrap(counts, "counts")
        return dress(
            np.asarray(nominal_curve(curve).temperature(np.asarray(self.resistance(code))))
        )

    def kelvin_per_count(self, curve: Curve | Family, t_c: Any) -> Any:
        """Resolution: how many kelvin a count is worth.

        Parameters
        ----------
        curve : Curve or Family
        t_c : float or array_like, any shape
            In °C.

        Returns
        -------
        float or array
            ``1/|dp/dT|``, positive; infinite where the code is the first or the last.
        """
        t, dress = unwrap(t_c, "t_c")
        curve = nominal_curve(curve)
        r = np.asarray(curve.resistance(t))
        return dress(self._kelvin_per_count(r, quiet_alpha(curve, t), self._nominal))

    def sensor_power_w(self, r_ohm: Any) -> Any:
        """Power that the circuit leaves in the sensor, in watts.

        Parameters
        ----------
        r_ohm : float or array_like, any shape
            As for `voltage`.

        Returns
        -------
        float or array
        """
        r, dress = checked_r_ohm(r_ohm)
        return dress(self._power(r, self._nominal))

    def error_budget(self, part: Any, t_c: Any, **settings: Any) -> ErrorBudget:
        """Errors of the reading over temperature: `thermofit.circuit.errorbudget`.

        Parameters
        ----------
        part : Family or Curve
        t_c : float or array_like, shape (n,)
        **settings
            ``tolerance``, ``r25_pct``, ``b_pct``, ``dissipation_mw_per_k``.

        Returns
        -------
        ErrorBudget
        """
        from thermofit.circuit.errorbudget import error_budget

        return error_budget(self, part, t_c, **settings)

    def table(self, part: Any, t_c: Any, **settings: Any) -> CircuitTable:
        """Temperature, resistance, voltage, counts, resolution and errors.

        Parameters
        ----------
        part : Family or Curve
        t_c : float or array_like, shape (n,)
        **settings
            ``coverage`` of the statistical limits, and those of `error_budget`.

        Returns
        -------
        CircuitTable
        """
        from thermofit.circuit.table import circuit_table

        return circuit_table(self, part, t_c, **settings)

    def _checked_code(self, counts: Any) -> tuple[Array, Any]:
        code, dress = unwrap(counts, "counts")
        wrong = (code < 0.0) | (code > self.converter.top_code)
        if wrong.any():
            raise InputError(
                f"counts of {float(code[wrong].flat[0]):g} are none of a converter of "
                f"{self.converter.bits} bits, which has 0 to {self.converter.top_code}"
            )
        return code, dress
