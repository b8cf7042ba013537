"""What every equation keeps, as a function that an author can call."""

from __future__ import annotations

import numpy.typing as npt

from thermofit.equations.base import Equation
from thermofit.errors import ConformanceError
from thermofit.testing.fitting import FITTING_RULES
from thermofit.testing.forms import FORM_RULES
from thermofit.testing.mathematics import MATHEMATICS_RULES, Sample, take_sample
from thermofit.testing.rules import broken

__all__ = ["check_equation"]


def check_equation(
    equation: Equation | type[Equation],
    coefficients: npt.ArrayLike,
    t_range_c: tuple[float, float],
) -> None:
    """Check that an equation keeps the rules on which curves, fits and curve sets stand.

    Parameters
    ----------
    equation : Equation or sub-class of it
        A class is made with its default settings.
    coefficients : array_like, shape (k,)
        Numbers that describe a real sensor.
    t_range_c : (float, float)
        Range in °C over which they do.

    Raises
    ------
    ConformanceError
        With a line for each rule that is broken:

        - the name, the settings and ``from_name`` lead back to the equation, no
          other equation has its name, and its settings can be columns of a curve
          set; it can be compared, hashed and pickled;
        - ``value``, ``slope`` and ``gradient`` take arrays of any shape, leave
          them alone, and the latter two are the derivatives of the first;
        - ``inverse``, where there is one, is the inverse, and a curve's
          T(R(T)) is T within 1e-9 K;
        - ``turning_points`` are where the slope is zero;
        - ``linear`` tells the truth, ``scaled_basis`` spans the gradient,
          ``through`` passes through as many points as there are coefficients,
          and ``to_fitted``, ``from_fitted`` and ``fitted_scale`` agree.

    Examples
    --------
    >>> from thermofit.equations import SteinhartHart
    >>> check_equation(SteinhartHart, [1.129e-3, 2.341e-4, 8.775e-8], (-40, 125))
    """
    kind = equation if isinstance(equation, type) else type(equation)
    title = f"equation {kind.__name__}"
    if isinstance(equation, type):
        if not issubclass(equation, Equation):
            raise ConformanceError(
                title, ["an equation is a sub-class of thermofit.equations.Equation"]
            )
        try:
            equation = equation()
        except Exception as error:
            line = (
                "all settings need defaults, so that the class can be made without any: "
                f"{type(error).__name__}: {error}"
            )
            raise ConformanceError(title, [line]) from error
    failures = broken(FORM_RULES, equation)
    sample: Sample | None = None
    try:
        sample = take_sample(equation, coefficients, t_range_c)
    except Exception as error:  # noqa: BLE001  that is what the author must hear of
        failures.append(
            f"no curve can be made of these coefficients: {type(error).__name__}: {error}"
        )
    if sample is not None:
        failures += broken(MATHEMATICS_RULES, sample)
        failures += broken(FITTING_RULES, sample)
    if failures:
        raise ConformanceError(title, failures)
