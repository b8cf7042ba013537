"""Rules for the mathematics of an equation: shapes, derivatives, inverses."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.equations.base import Array, Equation

__all__ = ["MATHEMATICS_RULES", "Sample", "agree", "take_sample"]

_POINTS = 35
_DERIVATIVE_TOLERANCE = 1e-6
_ROUND_TRIP_K = 1e-9
_GOLDEN = 0.6180339887498949


@dataclass(frozen=True)
class Sample:
    """An equation with numbers, and arguments at which it is looked at.

    Parameters
    ----------
    equation : Equation
    c : array, shape (k,)
        Coefficients, read-only.
    curve : Curve
        Made of both.
    x : array, shape (n,)
        Arguments of `Equation.value` inside the range, rising, read-only.
    span : float
        Width of the range on that axis.
    """

    equation: Equation
    c: Array
    curve: Curve
    x: Array
    span: float


def take_sample(
    equation: Equation, coefficients: npt.ArrayLike, t_range_c: tuple[float, float]
) -> Sample:
    """Make a curve, and choose arguments that avoid the ends and any even spacing.

    An even grid could fall on the joints of an equation that is put together from
    pieces, where derivatives of a higher order jump.
    """
    curve = Curve(equation, coefficients, *t_range_c)
    c = _frozen(np.asarray(curve.coefficients, dtype=np.float64).copy())
    ends = np.array([curve.t_min_c, curve.t_max_c]) + 273.15
    if equation.explicit == "temperature":
        low, high = np.sort(np.log(curve.resistance(ends - 273.15)))
    else:
        low, high = np.sort(1.0 / ends)
    fractions = np.sort(np.arange(1, _POINTS + 1) * _GOLDEN % 1.0)
    x = low + (0.002 + 0.996 * fractions) * (high - low)
    return Sample(equation, c, curve, _frozen(x), float(high - low))


def agree(found: Array, wanted: Array, tolerance: float) -> bool:
    """Whether two arrays agree in shape, and to a fraction of the largest value."""
    if np.shape(found) != np.shape(wanted):
        return False
    size = np.max(np.abs(wanted), initial=0.0)
    return bool(np.all(np.abs(found - wanted) <= tolerance * size))


def _shapes(sample: Sample) -> Iterator[str]:
    form, c, k = sample.equation, sample.c, len(sample.c)
    square = sample.x[:6].reshape(2, 3)
    methods: list[tuple[str, Callable[[Array, Array], Array], tuple[int, ...]]] = [
        ("value", form.value, ()),
        ("slope", form.slope, ()),
        ("gradient", form.gradient, (k,)),
    ]
    for name, method, leading in methods:
        whole = method(sample.x, c)
        for x in (sample.x[3], sample.x[:1], square, np.empty(0)):
            x = np.asarray(x)
            result = np.asarray(method(_frozen(x), c))
            if result.shape != leading + x.shape:
                yield (
                    f"{name}: of arguments of shape {x.shape} it must have the shape "
                    f"{leading + x.shape}, not {result.shape}"
                )
            elif result.dtype != np.float64:
                yield f"{name}: must give float64, not {result.dtype}"
        flat = np.asarray(method(square, c)).reshape(*leading, square.size)
        if flat.shape == whole[..., :6].shape and not agree(flat, whole[..., :6], 1e-12):
            yield f"{name}: must not depend on the shape of its arguments"


def _slope(sample: Sample) -> Iterator[str]:
    form, c = sample.equation, sample.c
    step = 1e-5 * sample.span
    outer = form.value(sample.x + 2.0 * step, c) - form.value(sample.x - 2.0 * step, c)
    inner = form.value(sample.x + step, c) - form.value(sample.x - step, c)
    numerical = (8.0 * inner - outer) / (12.0 * step)
    if not agree(form.slope(sample.x, c), numerical, _DERIVATIVE_TOLERANCE):
        yield "slope: is not the derivative of value with respect to its argument"


def _gradient(sample: Sample) -> Iterator[str]:
    form, c = sample.equation, sample.c
    fitted = form.to_fitted(c)
    analytic = form.gradient(sample.x, c)
    values = form.value(sample.x, c)
    change = 1e-4 * float(np.ptp(values))
    for k, entry in enumerate(form.coefficients):
        size = float(np.max(np.abs(analytic[k])))
        step = change / size if size > 0.0 else 1e-6 * max(abs(float(fitted[k])), 1e-6)
        up, down = fitted.copy(), fitted.copy()
        up[k] += step
        down[k] -= step
        difference = form.value(sample.x, form.from_fitted(up)) - form.value(
            sample.x, form.from_fitted(down)
        )
        if not agree(analytic[k], difference / (up[k] - down[k]), _DERIVATIVE_TOLERANCE):
            scale = f"ln {entry.name}" if entry.logarithmic else entry.name
            yield f"gradient: is not the derivative of value with respect to {scale}"


def _inverse(sample: Sample) -> Iterator[str]:
    form, c = sample.equation, sample.c
    back = form.inverse(form.value(sample.x, c), c)
    if back is not None and not (
        np.shape(back) == sample.x.shape and np.all(np.abs(back - sample.x) <= 1e-10 * sample.span)
    ):
        yield "inverse: inverse(value(x)) is not x"


def _round_trip(sample: Sample) -> Iterator[str]:
    curve = sample.curve
    t_c = np.linspace(curve.t_min_c, curve.t_max_c, 501)
    miss_k = float(np.max(np.abs(curve.temperature(curve.resistance(t_c)) - t_c)))
    if not miss_k <= _ROUND_TRIP_K:
        yield (
            f"round trip: T(R(T)) misses T by {miss_k:.2g} K, more than {_ROUND_TRIP_K:g} K; "
            "look for rounding in value, slope and inverse"
        )


def _turning_points(sample: Sample) -> Iterator[str]:
    form, c = sample.equation, sample.c
    low, high = sample.x[0] - 20.0 * sample.span, sample.x[-1] + 20.0 * sample.span
    if form.explicit == "resistance":
        low = max(low, 1e-4)
    points = form.turning_points(c, float(low), float(high))
    if points is None:
        return
    if np.any((points <= low) | (points >= high)):
        yield "turning_points: must lie between the two limits"
    size = float(np.max(np.abs(form.slope(sample.x, c))))
    if points.size and not np.all(np.abs(form.slope(points, c)) <= 1e-6 * size):
        yield "turning_points: the slope is not zero there"


def _frozen(array: Array) -> Array:
    # An equation that changes its arguments in place fails on it.
    array = np.array(array)
    array.flags.writeable = False
    return array


MATHEMATICS_RULES = (_shapes, _slope, _gradient, _inverse, _round_trip, _turning_points)
