"""Rules for what the estimators ask of an equation."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thermofit.testing.mathematics import Sample, agree

__all__ = ["FITTING_RULES"]

_THROUGH_K = 1e-6


def _fitted_scale(sample: Sample) -> Iterator[str]:
    form, c = sample.equation, sample.c
    fitted = form.to_fitted(c)
    if not np.allclose(form.from_fitted(fitted), c, rtol=1e-12, atol=0.0):
        yield "from_fitted: from_fitted(to_fitted(c)) is not c"
    scale = np.asarray(form.fitted_scale(c))
    for k, entry in enumerate(form.coefficients):
        step = 1e-5 * max(abs(float(fitted[k])), 1e-3)
        up, down = fitted.copy(), fitted.copy()
        up[k] += step
        down[k] -= step
        numerical = (form.from_fitted(up)[k] - form.from_fitted(down)[k]) / (up[k] - down[k])
        if not abs(scale[k] - numerical) <= 1e-6 * abs(numerical):
            yield f"fitted_scale: is not the derivative of {entry.name} by its fitted scale"


def _linear(sample: Sample) -> Iterator[str]:
    """Linear means that the value half-way between two curves is the mean of theirs."""
    form, c = sample.equation, sample.c
    if not len(c):
        return
    fitted = form.to_fitted(c)
    # Steps that each change the value by some percent of its range: those in
    # proportion to the coefficients would not move one that is zero.
    effect = np.max(np.abs(form.gradient(sample.x, c)), axis=1)
    step = np.ptp(form.value(sample.x, c)) / np.where(effect > 0.0, effect, np.inf)
    bent = False
    for k in range(len(c)):
        shift = np.zeros(len(c))
        shift[k] = 0.05 * step[k]
        shift[k - 1] += 0.03 * step[k - 1]
        values = [
            form.value(sample.x, form.from_fitted(fitted + part * shift))
            for part in (-1.0, 0.0, 1.0)
        ]
        if np.isfinite(values).all():
            sag = np.max(np.abs(values[0] + values[2] - 2.0 * values[1]))
            bent |= bool(sag > 1e-9 * np.max(np.abs(values[2] - values[0])))
    if form.linear and bent:
        yield "linear: is True, but value is not linear in the fitted coefficients"
    if not form.linear and not bent:
        yield "linear: is False, but value is linear in the fitted coefficients; set it to True"


def _scaled_basis(sample: Sample) -> Iterator[str]:
    form, k = sample.equation, len(sample.c)
    if not form.linear:
        return
    basis, back = form.scaled_basis(sample.x)
    if np.shape(basis) != (len(sample.x), k) or np.shape(back) != (k, k):
        yield (
            f"scaled_basis: must give arrays of the shapes ({len(sample.x)}, {k}) and ({k}, {k}), "
            f"not {np.shape(basis)} and {np.shape(back)}"
        )
        return
    if not agree(basis, form.gradient(sample.x, sample.c).T @ back, 1e-6):
        yield "scaled_basis: basis is not gradient.T @ back"
    largest = np.max(np.abs(basis), axis=0)
    if not np.all((largest > 1e-3) & (largest < 1e3)):
        yield "scaled_basis: the columns of basis must be of order one"


def _through(sample: Sample) -> Iterator[str]:
    form, c, k = sample.equation, sample.c, len(sample.c)
    if form.linear or not k:
        return
    at = np.linspace(0, len(sample.x) - 1, max(k, 2)).round().astype(int)
    x, y = sample.x[at], form.value(sample.x[at], c)
    inv_t, ln_r = (y, x) if form.explicit == "temperature" else (x, y)
    order = np.argsort(-inv_t)
    inv_t, ln_r = inv_t[order], ln_r[order]
    found = form.through(inv_t, ln_r)
    if found is None:
        yield "through: finds no curve through points that lie on one"
        return
    x, y = (ln_r, inv_t) if form.explicit == "temperature" else (inv_t, ln_r)
    # A miss on the value axis, taken along the slope to the temperature axis.
    miss = np.abs(form.value(x, np.asarray(found)) - y)
    if form.explicit == "resistance":
        miss = miss / np.abs(form.slope(x, c))
    miss_k = float(np.max(miss / inv_t**2))
    if not miss_k <= _THROUGH_K:
        yield (
            f"through: the curve misses the {k} points that it must pass through, by {miss_k:.2g} K"
        )


def _for_points(sample: Sample) -> Iterator[str]:
    form = sample.equation
    curve = sample.curve
    ln_r = np.log(curve.resistance(np.linspace(curve.t_min_c, curve.t_max_c, 9)))
    suited = form.for_points(ln_r)
    if type(suited) is not type(form) or suited.name != form.name:
        yield "for_points: must give an equation of the same class and name"
    elif len(suited.coefficients) != len(form.coefficients):
        yield "for_points: must not change the number of coefficients"


FITTING_RULES = (_fitted_scale, _linear, _scaled_basis, _through, _for_points)
