"""The ways to make a curve from numbers that somebody published or measured."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Self, TypedDict, Unpack

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array
from thermofit.equations.base import Equation
from thermofit.equations.bent_beta import BentBeta
from thermofit.equations.beta import Beta
from thermofit.equations.callendar_van_dusen import (
    IEC_60751_A,
    IEC_60751_B,
    IEC_60751_C,
    CallendarVanDusen,
)
from thermofit.equations.inverse_polynomial import InversePolynomial
from thermofit.equations.log_polynomial import LogPolynomial
from thermofit.equations.shifted_exponential import ShiftedExponential
from thermofit.equations.steinhart_hart import SteinhartHart
from thermofit.equations.tabulated import Tabulated
from thermofit.errors import InputError

__all__ = ["About", "Constructors"]


class About(TypedDict, total=False):
    """What every constructor of a curve takes besides its numbers."""

    t_range_c: tuple[float, float] | None
    covariance: npt.ArrayLike | None
    dof: float
    id: str
    source: str
    licence: str
    note: str


class Constructors:
    """Constructors of `thermofit.Curve`, one for each equation, with named numbers."""

    def __init__(self, equation: Equation, coefficients: Any, *args: Any, **about: Any) -> None:
        raise NotImplementedError("thermofit.Curve has these constructors")

    @classmethod
    def beta(cls, *, r25_ohm: float, b_k: float, **about: Unpack[About]) -> Self:
        """Constant B: R = R25·exp(B·(1/T − 1/298.15 K)).

        Parameters
        ----------
        r25_ohm : float
            Resistance at 25 °C in ohms.
        b_k : float
            B value in kelvin.
        **about
            ``t_range_c``, ``covariance``, ``dof``, ``id``, ``source``,
            ``licence``, ``note`` as for `thermofit.Curve`.

        Examples
        --------
        >>> import thermofit as tf
        >>> tf.Curve.beta(r25_ohm=5e3, b_k=3988).resistance(25.0).__round__(6)
        5000.0
        """
        return cls._make(Beta(), [r25_ohm, b_k], about)

    @classmethod
    def steinhart_hart(cls, *, a: float, b: float, c: float, **about: Unpack[About]) -> Self:
        """Steinhart–Hart: 1/T = a + b·ln R + c·(ln R)³, R in ohms, T in kelvin.

        Parameters
        ----------
        a, b, c : float
            Coefficients in 1/K.
        **about
            As for `beta`.

        Examples
        --------
        >>> import thermofit as tf
        >>> c = tf.Curve.steinhart_hart(a=1.129e-3, b=2.341e-4, c=8.775e-8)
        >>> round(c.temperature(10e3), 2)
        25.03
        """
        return cls._make(SteinhartHart(), [a, b, c], about)

    @classmethod
    def log_polynomial(
        cls, *, r_ref_ohm: float, coefficients: Sequence[float], **about: Unpack[About]
    ) -> Self:
        """Polynomial 1/T = Σ a_k·(ln(R/R_ref))^k with two to five terms.

        Parameters
        ----------
        r_ref_ohm : float
            Reference resistance in ohms.
        coefficients : sequence of float
            a0, a1 … in 1/K.
        **about
            As for `beta`.

        Examples
        --------
        >>> import thermofit as tf
        >>> c = tf.Curve.log_polynomial(
        ...     r_ref_ohm=10e3, coefficients=[3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8]
        ... )
        >>> round(c.temperature(10e3), 3)
        25.0
        """
        return cls._make(LogPolynomial(len(coefficients), float(r_ref_ohm)), coefficients, about)

    @classmethod
    def inverse_polynomial(
        cls, *, r_ref_ohm: float, coefficients: Sequence[float], **about: Unpack[About]
    ) -> Self:
        """Polynomial ln(R/R_ref) = Σ b_k·T^−k with two to five terms, T in kelvin.

        Parameters
        ----------
        r_ref_ohm : float
            Reference resistance in ohms.
        coefficients : sequence of float
            b0, b1 …, in K^k.
        **about
            As for `beta`.

        Examples
        --------
        >>> import thermofit as tf
        >>> c = tf.Curve.inverse_polynomial(
        ...     r_ref_ohm=10e3, coefficients=[-14.6337, 4791.842, -115334, -3.730535e6]
        ... )
        >>> round(c.resistance(0.0))
        32555
        """
        equation = InversePolynomial(len(coefficients), float(r_ref_ohm))
        return cls._make(equation, coefficients, about)

    @classmethod
    def bent_beta(
        cls, *, r25_ohm: float, b_k: float, bend: Sequence[float], **about: Unpack[About]
    ) -> Self:
        """B equation with its bend: ln(R/R25) = B·u + b2·u² + …, u = 1/T − 1/298.15 K.

        Parameters
        ----------
        r25_ohm : float
            Resistance at 25 °C in ohms.
        b_k : float
            B value at 25 °C in kelvin.
        bend : sequence of float
            b2, b3 …, one to five, in K^k.
        **about
            As for `beta`.

        Examples
        --------
        >>> import thermofit as tf
        >>> c = tf.Curve.bent_beta(r25_ohm=10e3, b_k=3892, bend=[-1.53e5])
        >>> round(c.b_value(25, 85))
        3978
        """
        return cls._make(BentBeta(len(bend) + 2), [r25_ohm, b_k, *bend], about)

    @classmethod
    def shifted_exponential(
        cls, *, a_ohm: float, b_k: float, c_k: float, **about: Unpack[About]
    ) -> Self:
        """Shifted exponential: R = a·exp(b/(T + c)), T in kelvin.

        Parameters
        ----------
        a_ohm : float
            Coefficient a in ohms.
        b_k, c_k : float
            Coefficients b and c in kelvin.
        **about
            As for `beta`.

        Examples
        --------
        >>> import thermofit as tf
        >>> c = tf.Curve.shifted_exponential(
        ...     a_ohm=5.6096e-3, b_k=6181.35, c_k=72.0736, t_range_c=(50, 125)
        ... )
        >>> round(c.resistance(50.0), -1)
        34780.0
        """
        return cls._make(ShiftedExponential(), [a_ohm, b_k, c_k], about)

    @classmethod
    def callendar_van_dusen(
        cls,
        *,
        r0_ohm: float,
        a: float = IEC_60751_A,
        b: float = IEC_60751_B,
        c: float = IEC_60751_C,
        **about: Unpack[About],
    ) -> Self:
        """Platinum: R = R0·(1 + A·t + B·t² + C·(t − 100)·t³), C below 0 °C only.

        Parameters
        ----------
        r0_ohm : float
            Resistance at 0 °C in ohms.
        a, b, c : float
            Coefficients in 1/K, 1/K², 1/K⁴; by default those of IEC 60751.
        **about
            As for `beta`.

        Examples
        --------
        >>> import thermofit as tf
        >>> round(tf.Curve.callendar_van_dusen(r0_ohm=100).resistance(100.0), 2)
        138.51
        """
        return cls._make(CallendarVanDusen(float(c)), [r0_ohm, a, b], about)

    @classmethod
    def from_table(cls, t_c: npt.ArrayLike, r_ohm: npt.ArrayLike, **about: Unpack[About]) -> Self:
        """Curve through every row of an R–T table, monotone between the rows.

        Parameters
        ----------
        t_c : array_like, shape (n,)
            Temperatures in °C, in any order, each once.
        r_ohm : array_like, shape (n,)
            Resistances in ohms.
        **about
            As for `beta`; the valid range is that of the table unless stated.

        Examples
        --------
        >>> import thermofit as tf
        >>> c = tf.Curve.from_table([0, 25, 50], [27219, 10000, 4161])
        >>> round(c.resistance(25.0), 6), c.t_min_c, c.t_max_c
        (10000.0, 0.0, 50.0)
        """
        t, r = as_float_array(t_c, "t_c").ravel(), as_float_array(r_ohm, "r_ohm").ravel()
        if t.size != r.size:
            raise InputError(f"a table needs as many resistances as temperatures, not {r.size} "
                             f"for {t.size}")  # fmt: skip
        order = np.argsort(t, kind="stable")
        equation = Tabulated(tuple(t[order]), tuple(r[order]))
        about.setdefault("t_range_c", equation.limits_c)
        return cls._make(equation, [], about)

    @classmethod
    def _make(cls, equation: Equation, coefficients: Sequence[float], about: About) -> Self:
        stated = about.pop("t_range_c", None)
        t_min_c, t_max_c = (None, None) if stated is None else stated
        return cls(equation, coefficients, t_min_c, t_max_c, **about)
