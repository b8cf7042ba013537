"""Hypothesis strategies: curves of every shipped equation, families, temperatures."""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType
from typing import TYPE_CHECKING, Any

import numpy as np

from thermofit.curve import Curve
from thermofit.curvesets.cells import check_id
from thermofit.curvesets.columns import is_known, known_spelling
from thermofit.equations.bent_beta import BentBeta
from thermofit.equations.beta import Beta
from thermofit.equations.callendar_van_dusen import CallendarVanDusen
from thermofit.equations.inverse_polynomial import InversePolynomial
from thermofit.equations.log_polynomial import LogPolynomial
from thermofit.equations.shifted_exponential import ShiftedExponential
from thermofit.equations.steinhart_hart import SteinhartHart
from thermofit.errors import InputError, ThermofitError
from thermofit.family import RATINGS, SOURCE_KINDS, Family
from thermofit.units import T0_K, ZERO_C_K

if TYPE_CHECKING:
    from hypothesis.strategies import DrawFn, SearchStrategy

__all__ = ["curves", "families", "temperatures"]

_IDS = r"[A-Za-z0-9][A-Za-z0-9._-]{0,20}"
_FORMULA_SIGNS = "=+-@＝＋－＠"


def curves(equations: tuple[str, ...] | None = None) -> SearchStrategy[Curve]:
    """Curves of the shipped equations, with all that a curve may carry.

    Parameters
    ----------
    equations : tuple of str, optional
        Names of those that are wanted, without numbers of terms; by default
        all: "beta", "steinhart-hart", "log-polynomial", "inverse-polynomial",
        "shifted-exponential", "callendar-van-dusen", "tabulated".

    Returns
    -------
    SearchStrategy of Curve

    Raises
    ------
    ThermofitError
        The package ``hypothesis`` is not installed.
    InputError
        There is no strategy for one of the equations.

    Examples
    --------
    >>> from hypothesis import given, settings
    >>> @settings(max_examples=5, database=None)
    ... @given(curves(("beta",)))
    ... def every_beta_curve_has_a_b_value(curve):
    ...     assert curve.b_25_85_k > 0
    >>> every_beta_curve_has_a_b_value()
    """
    st = _strategies()
    wanted = tuple(_MAKERS) if equations is None else equations
    unknown = sorted(set(wanted) - set(_MAKERS))
    if unknown:
        raise InputError(f"no strategy for {', '.join(unknown)}; there are {', '.join(_MAKERS)}")

    made: SearchStrategy[Curve] = st.composite(_draw_curve)(st, wanted)
    return made


def families(equations: tuple[str, ...] | None = None) -> SearchStrategy[Family]:
    """Families around `curves`, with tolerances and ratings.

    Parameters
    ----------
    equations : tuple of str, optional
        As for `curves`.

    Returns
    -------
    SearchStrategy of Family
    """
    st = _strategies()
    per_cent = st.none() | st.floats(0.0, 99.0)
    made: SearchStrategy[Family] = st.builds(
        Family,
        curve=curves(equations),
        r25_tol_pct=per_cent,
        b_tol_pct=per_cent,
        source_kind=st.sampled_from(SOURCE_KINDS),
        ratio_only=st.booleans(),
        ratings=st.dictionaries(st.sampled_from(RATINGS), st.floats(1e-3, 1e6), max_size=4),
    )
    return made


def temperatures(curve: Curve) -> SearchStrategy[float]:
    """Temperatures in °C within the valid range of a curve, its ends included.

    Parameters
    ----------
    curve : Curve

    Returns
    -------
    SearchStrategy of float
    """
    made: SearchStrategy[float] = _strategies().floats(curve.t_min_c, curve.t_max_c)
    return made


def _strategies() -> ModuleType:
    try:
        from hypothesis import strategies
    except ImportError:
        raise ThermofitError(
            "the strategies of thermofit.testing need the package hypothesis; "
            "install thermofit[test] or hypothesis"
        ) from None
    return strategies


# -- what a curve is made of ------------------------------------------------------


def _draw_curve(draw: DrawFn, st: ModuleType, wanted: tuple[str, ...]) -> Curve:
    name = draw(st.sampled_from(wanted))
    t_min_c = draw(st.floats(-55.0, 20.0))
    t_max_c = draw(st.floats(90.0, 150.0))
    equation, coefficients = _MAKERS[name](draw, st)
    if name == "tabulated":
        curve = _tabulated(draw, st, t_min_c, t_max_c)
    else:
        curve = Curve(equation, coefficients, t_min_c, t_max_c)
    return curve.replace(
        covariance=_covariance(draw, st, np.asarray(curve.coefficients)),
        dof=draw(st.just(np.inf) | st.floats(0.5, 1e3)),
        range_basis=draw(st.sampled_from(["stated", "data", "assumed"])),
        id=draw(st.from_regex(_IDS, fullmatch=True).filter(_is_free)),
        source=draw(_texts(st)),
        licence=draw(_texts(st)),
        note=draw(_texts(st)),
        extra=draw(
            st.dictionaries(_texts(st).filter(_is_column), _texts(st).filter(bool), max_size=3)
        ),
    )


def _texts(st: ModuleType) -> Any:
    """Texts that a cell may hold: of any script, with quotes, commas and line ends."""
    letters = st.characters(exclude_categories=("Cs", "Cc")) | st.sampled_from("\",;\n\r\t'")
    return st.text(letters, max_size=20).filter(
        lambda text: not text or text[0] not in "\t\r\n" + _FORMULA_SIGNS
    )


def _is_free(id: str) -> bool:
    try:
        check_id(id)
    except InputError:
        return False
    return True


def _is_column(name: str) -> bool:
    return bool(name) and name == name.strip() and not (is_known(name) or known_spelling(name))


def _covariance(draw: DrawFn, st: ModuleType, c: Any) -> Any:
    if not len(c) or draw(st.booleans()):
        return None
    size = len(c)
    root = np.array(draw(st.lists(st.floats(-1.0, 1.0), min_size=size**2, max_size=size**2)))
    root = root.reshape(size, size)
    scale = 1e-3 * np.abs(c) + 1e-12
    # With some variance of its own for each, so that rounding makes no
    # correlation of more than 1.
    return (root @ root.T + 0.1 * np.eye(size)) * np.outer(scale, scale)


# -- numbers of real thermistors, bent a little -----------------------------------


def _r25_and_b(draw: DrawFn, st: ModuleType) -> tuple[float, float]:
    return draw(st.floats(100.0, 1e6)), draw(st.floats(2500.0, 5000.0))


def _beta(draw: DrawFn, st: ModuleType) -> tuple[Any, list[float]]:
    return Beta(), list(_r25_and_b(draw, st))


def _bent_beta(draw: DrawFn, st: ModuleType) -> tuple[Any, list[float]]:
    r25_ohm, b_k = _r25_and_b(draw, st)
    bends = [draw(st.floats(-5e4, 0.0)), draw(st.floats(-4e6, 0.0)), draw(st.floats(0.0, 1e9))]
    terms = draw(st.integers(3, 5))
    return BentBeta(terms), [r25_ohm, b_k, *bends][:terms]


def _steinhart_hart(draw: DrawFn, st: ModuleType) -> tuple[Any, list[float]]:
    r25_ohm, b_k = _r25_and_b(draw, st)
    log = np.log(r25_ohm)
    c = draw(st.floats(0.0, 2e-7))
    b = max(1.0 / b_k - 3.0 * c * log**2, 5e-5)
    return SteinhartHart(), [1.0 / T0_K - b * log - c * log**3, b, c]


def _log_polynomial(draw: DrawFn, st: ModuleType) -> tuple[Any, list[float]]:
    r25_ohm, b_k = _r25_and_b(draw, st)
    bends = [draw(st.floats(0.0, 3e-6)), draw(st.floats(0.0, 1e-7)), draw(st.floats(0.0, 1e-9))]
    terms = draw(st.integers(2, 5))
    return LogPolynomial(terms, r25_ohm), [1.0 / T0_K, 1.0 / b_k, *bends][:terms]


def _inverse_polynomial(draw: DrawFn, st: ModuleType) -> tuple[Any, list[float]]:
    r25_ohm, b_k = _r25_and_b(draw, st)
    bends = [draw(st.floats(-5e4, 0.0)), draw(st.floats(-4e6, 0.0)), draw(st.floats(-1e8, 0.0))]
    terms = draw(st.integers(2, 5))
    return InversePolynomial(terms, r25_ohm), [-b_k / T0_K, b_k, *bends][:terms]


def _shifted_exponential(draw: DrawFn, st: ModuleType) -> tuple[Any, list[float]]:
    r25_ohm, b_k = _r25_and_b(draw, st)
    c_k = draw(st.floats(-50.0, 100.0))
    b = b_k * ((T0_K + c_k) / T0_K) ** 2
    return ShiftedExponential(), [r25_ohm * float(np.exp(-b / (T0_K + c_k))), b, c_k]


def _callendar_van_dusen(draw: DrawFn, st: ModuleType) -> tuple[Any, list[float]]:
    c = draw(st.floats(-5e-12, 0.0))
    a, b = draw(st.floats(3.5e-3, 4.2e-3)), draw(st.floats(-7e-7, -4e-7))
    return CallendarVanDusen(c), [draw(st.floats(10.0, 2000.0)), a, b]


def _tabulated(draw: DrawFn, st: ModuleType, t_min_c: float, t_max_c: float) -> Curve:
    r25_ohm, b_k = _r25_and_b(draw, st)
    t_c = np.linspace(t_min_c, t_max_c, draw(st.integers(2, 12)))
    bend = draw(st.floats(0.0, 0.1))
    u = 1.0 / (t_c + ZERO_C_K) - 1.0 / T0_K
    r_ohm = r25_ohm * np.exp(b_k * u * (1.0 - bend * u / 1e-3))
    return Curve.from_table(t_c, r_ohm)


def _no_numbers(draw: DrawFn, st: ModuleType) -> tuple[Any, list[float]]:
    del draw, st
    return None, []


_MAKERS: dict[str, Callable[[Any, ModuleType], tuple[Any, list[float]]]] = {
    "beta": _beta,
    "bent-beta": _bent_beta,
    "steinhart-hart": _steinhart_hart,
    "log-polynomial": _log_polynomial,
    "inverse-polynomial": _inverse_polynomial,
    "shifted-exponential": _shifted_exponential,
    "callendar-van-dusen": _callendar_van_dusen,
    "tabulated": _no_numbers,
}
