"""Equations by name: those that ship and those that plugins add."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from functools import cache

from thermofit.equations.base import Equation
from thermofit.equations.bent_beta import BentBeta
from thermofit.equations.beta import Beta
from thermofit.equations.callendar_van_dusen import CallendarVanDusen
from thermofit.equations.inverse_polynomial import InversePolynomial
from thermofit.equations.log_polynomial import LogPolynomial
from thermofit.equations.shifted_exponential import ShiftedExponential
from thermofit.equations.steinhart_hart import SteinhartHart
from thermofit.errors import PluginClashError, UnknownNameError
from thermofit.plugins import PluginProblem, contributions

__all__ = ["SHIPPED_NAMES", "equation", "equation_problems"]

_SHIPPED: tuple[type[Equation], ...] = (
    Beta,
    BentBeta,
    SteinhartHart,
    LogPolynomial,
    InversePolynomial,
    ShiftedExponential,
    CallendarVanDusen,
)

SHIPPED_NAMES: tuple[str, ...] = (
    "beta",
    *(f"bent-beta-{terms}" for terms in range(3, 8)),
    "steinhart-hart",
    *(f"log-polynomial-{terms}" for terms in range(2, 6)),
    *(f"inverse-polynomial-{terms}" for terms in range(2, 6)),
    "shifted-exponential",
    "callendar-van-dusen",
)
"""Names of the shipped equations that have coefficients."""


def equation(name: str, settings: Mapping[str, float] | None = None) -> Equation:
    """Look up an equation by its name.

    Parameters
    ----------
    name : str
        "beta", "steinhart-hart", "log-polynomial-4" …, or a plugin's.
    settings : mapping of str to float, optional
        Fixed numbers of the equation, such as ``r_ref_ohm``.

    Returns
    -------
    Equation

    Raises
    ------
    UnknownNameError
        No equation has this name; the nearest names are listed.
    PluginClashError
        Two packages register an equation of this name.

    Examples
    --------
    >>> equation("log-polynomial-3", {"r_ref_ohm": 10e3})
    LogPolynomial(terms=3, r_ref_ohm=10000.0)
    """
    settings = settings or {}
    # Plugins are looked at only for names that do not ship, so that the
    # shipped equations stay quick to reach.
    shipped = _match(_SHIPPED, name, settings)
    if shipped is not None:
        return shipped
    if name == "tabulated":
        raise UnknownNameError(
            "a table is not fitted: it is a curve as it stands (Curve.from_table)"
        )
    loaded, _ = _plugins()
    owners = {
        package: found
        for package, kind in loaded
        if (found := _match((kind,), name, settings)) is not None
    }
    if len(owners) > 1:
        raise PluginClashError(name, sorted(owners))
    if owners:
        return next(iter(owners.values()))
    known = [*SHIPPED_NAMES, *_plugin_names()]
    near = difflib.get_close_matches(name, known, n=3, cutoff=0.4) or known
    raise UnknownNameError(f"no equation is called {name!r}; try {', '.join(near)}")


def equation_problems() -> tuple[PluginProblem, ...]:
    """What went wrong in packages that register equations."""
    return _plugins()[1]


def _match(
    kinds: tuple[type[Equation], ...], name: str, settings: Mapping[str, float]
) -> Equation | None:
    for kind in kinds:
        found = kind.from_name(name, settings)
        if found is not None:
            return found
    return None


def _plugin_names() -> list[str]:
    return sorted({kind().name for _, kind in _plugins()[0]})


@cache
def _plugins() -> tuple[tuple[tuple[str, type[Equation]], ...], tuple[PluginProblem, ...]]:
    """Equation classes of other packages, and what is wrong with the rest."""
    loaded: list[tuple[str, type[Equation]]] = []
    problems: list[PluginProblem] = []
    for item in contributions("thermofit.equations"):
        if isinstance(item, PluginProblem):
            problems.append(item)
            continue
        if not (isinstance(item.value, type) and issubclass(item.value, Equation)):
            problems.append(item.problem("an entry point for an equation names a sub-class of "
                                         "thermofit.equations.Equation"))  # fmt: skip
            continue
        try:
            name = item.value().name
        except Exception as error:  # noqa: BLE001  a plugin may fail in any way
            problems.append(item.problem(error))
            continue
        if _match(_SHIPPED, name, {}) is not None:
            problems.append(item.problem(str(PluginClashError(name, ["thermofit", item.package]))))
            continue
        loaded.append((item.package, item.value))
    return tuple(loaded), tuple(problems)
