"""A curve: an equation with its numbers, their covariance, its valid range, its source."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal, TypedDict, TypeVar, Unpack, overload

import numpy as np
import numpy.typing as npt

from thermofit.arrays import Collection, as_float_array, is_collection, refuse_misaligned, unwrap
from thermofit.coefficients import Coefficients
from thermofit.constructors import Constructors
from thermofit.describing import Describing
from thermofit.equations.base import Equation
from thermofit.equations.branch import Branch, find_branch
from thermofit.errors import InputError
from thermofit.evaluating import RANGE_BASIS, Evaluating
from thermofit.interval import Interval, make_interval
from thermofit.texttable import legal
from thermofit.units import ZERO_C_K, format_ohm
from thermofit.validation import (
    check_range,
    checked_coefficients,
    checked_covariance,
    checked_dof,
    checked_uncertainty,
)

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Curve"]

Array = npt.NDArray[np.float64]
C = TypeVar("C", bound=Collection)
RangeBasis = Literal["stated", "data", "assumed"]


class _How(TypedDict, total=False):
    """What else an evaluation can be told."""

    strict: bool
    out: Array | None
    workers: int


_CURVE_ONLY = "of the curve only, not of a new reading, whose uncertainty was not given"
_WITH_READING = "of the curve and of the reading"
_CURVE_ONLY_R = "of the curve only, at a temperature that is taken as exact"
_WITH_TEMPERATURE = "of the curve and of the temperature"

# Units of the fields of an interval, as xarray states them.
_IN_CELSIUS = {
    "value": "degC", "standard_uncertainty": "K", "low": "degC", "high": "degC", "dof": "1",
}  # fmt: skip
_IN_OHM = dict.fromkeys(("value", "standard_uncertainty", "low", "high"), "ohm") | {"dof": "1"}


@dataclass(frozen=True, eq=False, repr=False)
class Curve(Constructors, Evaluating, Describing):
    """Resistance and temperature of one sensor or one material.

    Make one with a constructor: `beta`, `bent_beta`, `steinhart_hart`, `log_polynomial`,
    `inverse_polynomial`, `shifted_exponential`, `callendar_van_dusen` or
    `from_table`; `thermofit.fit` and `thermofit.read_curve_set` give them too.

    Parameters
    ----------
    equation : Equation
        The form.
    coefficients : array_like, shape (k,)
        Its numbers, in the order of ``equation.coefficients``.
    t_min_c, t_max_c : float, optional
        Valid range in °C.  Without it the range that the equation assumes is
        taken (−40 to 125 °C for NTC equations, which is customary; −200 to
        850 °C for IEC 60751), and the curve says so.
    covariance : array_like, shape (k, k), optional
        Covariance of the coefficients.
    dof : float
        Degrees of freedom behind the covariance; infinite where the
        uncertainties of the points were known.
    range_basis : {"stated", "data", "assumed"}, optional
        Where the valid range comes from.
    id, source, licence, note : str
        What it is called, where it comes from, under which terms, and the rest.
    extra : mapping of str to str
        Cells of a curve set's row that are no part of the curve, by column: those
        that thermofit does not know, and those of a family.  Empty ones are
        left out.

    Raises
    ------
    InputError
        Numbers that are not finite, of the wrong count, or a range that is none.
    NotMonotoneError
        The curve turns within its range.

    Examples
    --------
    >>> c = Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(-40, 125))
    >>> round(c.resistance(0.0), 1)
    33900.4
    >>> c.temperature([33900.4, 10e3]).round(3)
    array([ 0., 25.])
    """

    equation: Equation
    coefficients: Coefficients
    t_min_c: float
    t_max_c: float
    covariance: Array | None = None
    dof: float = np.inf
    range_basis: RangeBasis = "stated"
    id: str = ""
    source: str = ""
    licence: str = ""
    note: str = ""
    extra: Mapping[str, str] = field(default_factory=dict)
    _c: Array = field(init=False)
    _branch: Branch = field(init=False)

    def __init__(
        self,
        equation: Equation,
        coefficients: npt.ArrayLike | Coefficients,
        t_min_c: float | None = None,
        t_max_c: float | None = None,
        *,
        covariance: npt.ArrayLike | None = None,
        dof: float = np.inf,
        range_basis: RangeBasis | None = None,
        id: str = "",
        source: str = "",
        licence: str = "",
        note: str = "",
        extra: Mapping[str, str] | None = None,
    ) -> None:
        stated = t_min_c is not None or t_max_c is not None
        if t_min_c is None or t_max_c is None:
            default = equation.limits_c or equation.default_range_c
            t_min_c = default[0] if t_min_c is None else t_min_c
            t_max_c = default[1] if t_max_c is None else t_max_c
        numbers = checked_coefficients(equation, coefficients)
        t_min_c, t_max_c = float(t_min_c), float(t_max_c)
        check_range(t_min_c, t_max_c, equation.limits_c)
        names = tuple(entry.name for entry in equation.coefficients)
        held = Coefficients(names, numbers)
        fields = {
            "equation": equation,
            "coefficients": held,
            "t_min_c": t_min_c,
            "t_max_c": t_max_c,
            "covariance": checked_covariance(covariance, len(numbers)),
            "dof": checked_dof(dof),
            "range_basis": range_basis or ("stated" if stated else "assumed"),
            "id": id,
            "source": source,
            "licence": licence,
            "note": note,
            "extra": MappingProxyType({n: cell for n, cell in (extra or {}).items() if cell != ""}),
            "_c": np.asarray(held),
            "_branch": find_branch(equation, numbers, t_min_c, t_max_c),
        }
        for name, value in fields.items():
            object.__setattr__(self, name, value)

    def replace(self, **changes: Any) -> Curve:
        """Give a copy with some fields changed.

        Parameters
        ----------
        **changes
            Any parameter of `Curve`, for example ``id="ntc-7"``, or ``t_range_c``.

        Examples
        --------
        >>> Curve.beta(r25_ohm=10e3, b_k=3977).replace(id="inlet").id
        'inlet'
        """
        fields = {f.name: getattr(self, f.name) for f in dataclasses.fields(self) if f.init}
        if "t_range_c" in changes:
            changes["t_min_c"], changes["t_max_c"] = changes.pop("t_range_c")
        if "t_min_c" in changes or "t_max_c" in changes:
            fields["range_basis"] = "stated"
        return type(self)(**(fields | changes))

    # -- evaluation ---------------------------------------------------------------

    @overload
    def resistance(self, t_c: float, **how: Unpack[_How]) -> float: ...
    @overload
    def resistance(
        self,
        t_c: pd.Series[Any],
        *,
        strict: bool = ...,
        out: Array | None = ...,
        workers: int = ...,
    ) -> pd.Series[Any]: ...
    @overload
    def resistance(self, t_c: pd.DataFrame, **how: Unpack[_How]) -> pd.DataFrame: ...
    @overload
    def resistance(self, t_c: C, *, strict: bool = ..., workers: int = ...) -> C: ...
    @overload
    def resistance(self, t_c: npt.ArrayLike, **how: Unpack[_How]) -> Array: ...
    def resistance(
        self,
        t_c: Any,
        *,
        strict: bool = False,
        out: Array | None = None,
        workers: int = 1,
    ) -> Any:
        """Zero-power resistance at a temperature.

        Parameters
        ----------
        t_c : float or array_like, any shape
            Temperature in °C.  NaN, a missing reading, stays NaN.  Objects of pandas,
            PyArrow, xarray and Dask give their kind again; what is lazy stays lazy.
        strict : bool
            Raise, rather than warn, outside the valid range.
        out : array of float64, optional
            Where the results go, of the shape of `t_c`.
        workers : int
            Threads for long arrays; −1 for as many as there are processors.

        Returns
        -------
        float or array
            Resistance in ohms, of the shape and kind of `t_c`; NaN where the
            curve has no value.

        Raises
        ------
        ExtrapolationError
            With `strict`, outside the valid range.
        InputError
            Below absolute zero.

        Warns
        -----
        ExtrapolationWarning
            Outside the valid range.

        Examples
        --------
        >>> Curve.beta(r25_ohm=10e3, b_k=3977).resistance([25.0, 85.0]).round(1)
        array([10000. ,  1070.3])
        """
        if isinstance(t_c, float) and out is None:
            quick = self._at_once("resistance")
            if quick is not None and quick.low <= t_c <= quick.high:
                return quick.scalar(t_c)
        if is_collection(t_c):
            from thermofit.scale import evaluated

            one = partial(self.resistance, strict=strict, workers=workers)
            return evaluated(one, t_c, "t_c", "ohm", out)
        t, dress = unwrap(t_c, "t_c")
        return dress(self._converted("resistance", t, strict, out, workers))

    @overload
    def temperature(self, r_ohm: float, **how: Unpack[_How]) -> float: ...
    @overload
    def temperature(
        self,
        r_ohm: pd.Series[Any],
        *,
        strict: bool = ...,
        out: Array | None = ...,
        workers: int = ...,
    ) -> pd.Series[Any]: ...
    @overload
    def temperature(
        self,
        r_ohm: pd.DataFrame,
        *,
        strict: bool = ...,
        out: Array | None = ...,
        workers: int = ...,
    ) -> pd.DataFrame: ...
    @overload
    def temperature(self, r_ohm: C, *, strict: bool = ..., workers: int = ...) -> C: ...
    @overload
    def temperature(
        self,
        r_ohm: npt.ArrayLike,
        *,
        strict: bool = ...,
        out: Array | None = ...,
        workers: int = ...,
    ) -> Array: ...
    def temperature(
        self,
        r_ohm: Any,
        *,
        strict: bool = False,
        out: Array | None = None,
        workers: int = 1,
    ) -> Any:
        """Temperature at a resistance.

        Parameters
        ----------
        r_ohm : float or array_like, any shape
            Resistance in ohms.  NaN, a missing reading, stays NaN.  Objects of pandas,
            PyArrow, xarray and Dask give their kind again; what is lazy stays lazy.
        strict : bool
            Raise, rather than warn, outside the valid range.
        out : array of float64, optional
            Where the results go, of the shape of `r_ohm`.
        workers : int
            Threads for long arrays; −1 for as many as there are processors.

        Returns
        -------
        float or array
            Temperature in °C, of the shape and kind of `r_ohm`; NaN where the
            curve has no value.

        Raises
        ------
        ExtrapolationError
            With `strict`, outside the valid range.
        InputError
            A resistance that is not positive and finite: a short or an open sensor.

        Warns
        -----
        ExtrapolationWarning
            Outside the valid range.

        Examples
        --------
        >>> Curve.beta(r25_ohm=10e3, b_k=3977).temperature(10e3)
        25.0
        """
        if isinstance(r_ohm, float) and out is None:
            quick = self._at_once("temperature")
            if quick is not None and quick.low <= r_ohm <= quick.high:
                return quick.scalar(r_ohm)
        if is_collection(r_ohm):
            from thermofit.scale import evaluated

            one = partial(self.temperature, strict=strict, workers=workers)
            return evaluated(one, r_ohm, "r_ohm", "degC", out)
        r, dress = unwrap(r_ohm, "r_ohm")
        return dress(self._converted("temperature", r, strict, out, workers))

    @overload
    def alpha(self, t_c: float) -> float: ...
    @overload
    def alpha(self, t_c: pd.Series[Any]) -> pd.Series[Any]: ...
    @overload
    def alpha(self, t_c: pd.DataFrame) -> pd.DataFrame: ...
    @overload
    def alpha(self, t_c: C) -> C: ...
    @overload
    def alpha(self, t_c: npt.ArrayLike) -> Array: ...
    def alpha(self, t_c: Any) -> Any:
        """Temperature coefficient of resistance, (1/R)·dR/dT (IEC 60539-1).

        Parameters
        ----------
        t_c : float or array_like, any shape
            Temperature in °C.

        Returns
        -------
        float or array
            Per kelvin; negative for an NTC.

        Examples
        --------
        >>> round(Curve.beta(r25_ohm=10e3, b_k=3977).alpha(25.0), 5)
        -0.04474
        """
        if is_collection(t_c):
            from thermofit.scale import evaluated

            return evaluated(self.alpha, t_c, "t_c", "1/K")
        t, dress = unwrap(t_c, "t_c")
        inv_t = 1.0 / (t + ZERO_C_K)
        return dress(-self._local_b(inv_t, self._ln_r_at(t, strict=False)) * inv_t**2)

    def b_value(self, t1_c: float, t2_c: float) -> float:
        """B value between two temperatures, ln(R1/R2)/(1/T1 − 1/T2) (IEC 60539-1).

        Parameters
        ----------
        t1_c, t2_c : float
            Two different temperatures in °C, in either order.

        Returns
        -------
        float
            B in kelvin.

        Raises
        ------
        InputError
            The temperatures are the same.

        Examples
        --------
        >>> round(Curve.beta(r25_ohm=10e3, b_k=3977).b_value(25, 85), 6)
        3977.0
        """
        pair = as_float_array([t1_c, t2_c], "t1_c and t2_c")
        if pair[0] == pair[1]:
            raise InputError(f"a B value needs two different temperatures, not {t1_c!r} °C twice")
        ln_r = self._ln_r_at(pair, strict=False)
        inv_t = 1.0 / (pair + ZERO_C_K)
        return float((ln_r[0] - ln_r[1]) / (inv_t[0] - inv_t[1]))

    def temperature_interval(
        self,
        r_ohm: Any,
        u_r_ohm: Any = None,
        *,
        coverage: float = 0.95,
        strict: bool = False,
        workers: int = 1,
    ) -> Interval:
        """Temperature at a resistance, with its uncertainty (JCGM 100, clause 5).

        Parameters
        ----------
        r_ohm : float or array_like, any shape
            Resistance in ohms.
        u_r_ohm : float or array_like, optional
            Standard uncertainty of the reading in ohms.  Without it the interval
            speaks of the curve only.
        coverage : float
            Probability of the interval.
        strict : bool
            Raise, rather than warn, outside the valid range.
        workers : int
            Threads for long arrays; −1 for as many as there are processors.

        Returns
        -------
        Interval
            In °C, uncertainty in kelvin.  NaN uncertainties, and a note that says
            so, where the curve has no covariance.

        Examples
        --------
        >>> c = Curve.beta(r25_ohm=10e3, b_k=3977, covariance=[[100.0, 0], [0, 25.0]])
        >>> print(c.temperature_interval(10e3))
        25.000 °C, standard uncertainty 0.022, 95 % between 24.956 and 25.044
        (of the curve only, not of a new reading, whose uncertainty was not given)
        """
        if is_collection(r_ohm) or is_collection(u_r_ohm):
            from thermofit.scale import evaluated_record

            how: dict[str, Any] = {"coverage": coverage, "strict": strict, "workers": workers}
            one = partial(self.temperature_interval, **how)
            at = self.resistance(self._middle_c)
            found: Interval = evaluated_record(
                one, _IN_CELSIUS, r_ohm, "r_ohm", at, u_r_ohm, "u_r_ohm"
            )
            return found
        refuse_misaligned(r_ohm, u_r_ohm, "r_ohm and u_r_ohm")
        r, dress = unwrap(r_ohm, "r_ohm")
        u = None if u_r_ohm is None else checked_uncertainty(u_r_ohm, "u_r_ohm", r.shape)
        spans = self._spans("temperature", r, u, coverage, strict, workers)
        note = _CURVE_ONLY if u is None else _WITH_READING
        return make_interval(spans, coverage, dress, "°C", note)

    def resistance_interval(
        self,
        t_c: Any,
        u_t_k: Any = None,
        *,
        coverage: float = 0.95,
        strict: bool = False,
        workers: int = 1,
    ) -> Interval:
        """Resistance at a temperature, with its uncertainty.

        Parameters
        ----------
        t_c : float or array_like, any shape
            Temperature in °C.
        u_t_k : float or array_like, optional
            Standard uncertainty of the temperature in kelvin.  Without it the
            interval speaks of the curve only.
        coverage, strict, workers
            As for `temperature_interval`.

        Returns
        -------
        Interval
            In ohms.

        Examples
        --------
        >>> c = Curve.beta(r25_ohm=10e3, b_k=3977, covariance=[[100.0, 0], [0, 25.0]])
        >>> round(c.resistance_interval(25.0).standard_uncertainty, 6)
        10.0
        """
        if is_collection(t_c) or is_collection(u_t_k):
            from thermofit.scale import evaluated_record

            how: dict[str, Any] = {"coverage": coverage, "strict": strict, "workers": workers}
            one = partial(self.resistance_interval, **how)
            found: Interval = evaluated_record(
                one, _IN_OHM, t_c, "t_c", self._middle_c, u_t_k, "u_t_k"
            )
            return found
        refuse_misaligned(t_c, u_t_k, "t_c and u_t_k")
        t, dress = unwrap(t_c, "t_c")
        u = None if u_t_k is None else checked_uncertainty(u_t_k, "u_t_k", t.shape)
        spans = self._spans("resistance", t, u, coverage, strict, workers)
        note = _CURVE_ONLY_R if u is None else _WITH_TEMPERATURE
        return make_interval(spans, coverage, dress, "Ω", note)

    def in_range(self, t_c: npt.ArrayLike) -> npt.NDArray[np.bool_]:
        """Whether temperatures lie in the valid range.

        Parameters
        ----------
        t_c : array_like, any shape
            Temperature in °C.

        Returns
        -------
        array of bool
            A range that comes from fitted points has a slack of half a percent of
            its span; NaN is outside.

        Examples
        --------
        >>> Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(0, 60)).in_range([-1.0, 60.0])
        array([False,  True])
        """
        t = as_float_array(t_c, "t_c")
        slack_k = self._range_slack_k
        return np.asarray((t >= self.t_min_c - slack_k) & (t <= self.t_max_c + slack_k))

    # -- description --------------------------------------------------------------

    @property
    def standard_uncertainties(self) -> Coefficients | None:
        """Standard uncertainties of the coefficients; None where they are unknown."""
        if self.covariance is None:
            return None
        return Coefficients(self.coefficients.names, np.sqrt(np.diag(self.covariance)))

    @property
    def r25_ohm(self) -> float:
        """Resistance at 25 °C in ohms; NaN where the curve has no value there."""
        return float(np.exp(self._quiet_ln_r(25.0)))

    @property
    def b_25_85_k(self) -> float:
        """B value between 25 and 85 °C in kelvin; NaN where the curve has none."""
        ln_r = self._quiet_ln_r([25.0, 85.0])
        inv_t = 1.0 / (np.array([25.0, 85.0]) + ZERO_C_K)
        return float((ln_r[0] - ln_r[1]) / (inv_t[0] - inv_t[1]))

    def __repr__(self) -> str:
        name = f"{legal(self.id)}: " if self.id else ""
        middle = 25.0 if self.t_min_c <= 25.0 <= self.t_max_c else self.t_min_c
        basis = "" if self.range_basis == "stated" else f" ({RANGE_BASIS[self.range_basis]})"
        shown = format_ohm(float(np.exp(self._quiet_ln_r(middle))))
        return (
            f"<Curve {name}{self.equation.name}, {shown} at {middle:g} °C, "
            f"valid {self.t_min_c:g} to {self.t_max_c:g} °C{basis}>"
        )

    def __eq__(self, other: object) -> bool:
        return self._key() == other._key() if isinstance(other, Curve) else NotImplemented

    def __hash__(self) -> int:
        return hash(self._key())

    def _key(self) -> tuple[Any, ...]:
        covariance = None if self.covariance is None else self.covariance.tobytes()
        return (
            self.equation, self.coefficients, self.t_min_c, self.t_max_c, covariance, self.dof,
            self.range_basis, self.id, self.source, self.licence, self.note,
            tuple(sorted(self.extra.items())),
        )  # fmt: skip

    def __getstate__(self) -> dict[str, Any]:
        fields = (f.name for f in dataclasses.fields(self) if f.init)
        return {name: getattr(self, name) for name in fields} | {"extra": dict(self.extra)}

    def __setstate__(self, state: dict[str, Any]) -> None:
        self.__init__(**state)  # type: ignore[misc]

    # -- inside -------------------------------------------------------------------

    @property
    def _middle_c(self) -> float:
        return 0.5 * (self.t_min_c + self.t_max_c)

    def _u_ln_r(self, inv_t: Array, ln_r: Array) -> Array:
        """Standard uncertainty of ln R of the curve at a temperature; NaN if unknown."""
        if self.covariance is None:
            return np.full(inv_t.shape, np.nan)
        by_resistance = self.equation.explicit == "temperature"
        gradient = self.equation.gradient(ln_r if by_resistance else inv_t, self._c)
        scale = self.equation.fitted_scale(self._c)
        covariance = self.covariance / np.outer(scale, scale)
        variance = np.einsum("i...,ij,j...->...", gradient, covariance, gradient)
        # Below zero there is nothing but rounding: the uncertainty is lost, not nought.
        with np.errstate(invalid="ignore"):
            u = np.sqrt(variance)
        result: Array = u * np.abs(self._local_b(inv_t, ln_r)) if by_resistance else u
        return result
