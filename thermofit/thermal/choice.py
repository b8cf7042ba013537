"""Which form the readings carry: one time constant, a lag, or two time constants."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from thermofit.errors import FitError
from thermofit.thermal.begin import begin_larger, begin_one, smoothed
from thermofit.thermal.model import Form, Shape
from thermofit.thermal.robust import RobustFit, fit_robustly, gain

__all__ = ["Chosen", "Tried", "choose", "neighbour_correlation", "resolution_floor", "swelling"]

Array = npt.NDArray[np.float64]

# Five logs in a thousand with one constant may be split in two by its noise; the time to
# 63.2 % is right all the same.  Stricter, and a short lag would pass for a later onset.
_SPLIT: Final = 0.005
# A plateau before the step is believed more readily: without it the model is the same.
_SEEN: Final = 0.01
# Standard uncertainties of ln τ beyond which a constant is not determined.  A slow one without
# bounds is a drift.  A quick one trades against the onset; the time to 63.2 % hardly minds.
_VAGUE_SLOW: Final = 0.5
_VAGUE_QUICK: Final = 1.5
# Less than this share of a step is straight; beyond the other, a reading shows no more of it.
_STRAIGHT: Final = 0.01
_OVER: Final = 0.99
# A log of noise alone, searched for its best step, gains less than this.
_STEP: Final = 30.0
# Residuals smaller than this part of the step are rounding, not noise.
_ROUNDING: Final = 1e-9


@dataclass(frozen=True)
class Tried:
    """A form that was tried.

    Parameters
    ----------
    form : str
    parameters : int
    noise_k : float
        Scatter that it leaves, in kelvin.
    p_value : float
        Probability of so much improvement on the form before it by noise alone; NaN for the first.
    remark : str
        Why it was not taken, or that it was.
    """

    form: Form
    parameters: int
    noise_k: float
    p_value: float
    remark: str


@dataclass(frozen=True, eq=False)
class Chosen:
    """The form that was taken, and what was tried.

    Parameters
    ----------
    fit : RobustFit
        In seconds and °C.
    tried : tuple of Tried
    misfit : bool
        Whether the readings deviate from the form, and a larger one was not determined.
    """

    fit: RobustFit
    tried: tuple[Tried, ...]
    misfit: bool


def choose(t_s: Array, t_c: Array, constants: Literal["auto", 1, 2]) -> Chosen:
    """Fit what the readings carry.

    Parameters
    ----------
    t_s, t_c : array, shape (n,)
        Increasing times; temperatures that are not all alike.
    constants : "auto", 1 or 2
        How many time constants.

    Returns
    -------
    Chosen

    Raises
    ------
    FitError
        There is no step in the readings, or they do not determine it.
    """
    span, height = float(t_s[-1] - t_s[0]), float(np.ptp(t_c))
    x, y = (t_s - t_s[0]) / span, (t_c - t_c[0]) / height
    floor = resolution_floor(y)
    quiet = smoothed(x, y)

    def tidy(fit: RobustFit) -> RobustFit:
        return _restored(fit, span, float(t_s[0]), height, float(t_c[0]))

    one = _first(x, y, quiet, floor)
    _refuse_no_step(x, y, one, height)
    _refuse_unseen(x, one, span)
    tried = [Tried("one constant", one.shape.size, one.scale * height, np.nan, "taken")]
    if constants == 1 or len(y) < one.shape.size + 4:
        if constants == 2:
            raise FitError(
                f"{len(y)} readings are too few for two time constants; log more of the step"
            )
        return Chosen(tidy(one), tuple(tried), False)

    best, misfit = one, False
    forms: tuple[Form, ...] = (
        ("lag", "two constants") if one.shape.onset_free else ("two constants",)
    )
    for form in forms:
        shape = Shape(form, one.shape.onset_free)
        try:
            begin = begin_larger(shape, *quiet, one)
            fit = fit_robustly(shape, x, y, begin, one.onset, floor)
        except FitError:
            tried.append(Tried(form, shape.size, np.nan, np.nan, "not determined"))
            continue
        p_value = _p_value(best, fit)
        remark, better = _objection(fit, x), p_value < _SPLIT
        if remark:
            misfit = misfit or better
        elif better or (constants == 2 and best is one):
            tried = [replace(item, remark="leaves more") for item in tried]
            best, misfit, remark = fit, False, "taken"
        if remark != "taken" and not better:
            remark = "no better than noise would make it"
        tried.append(Tried(form, shape.size, fit.scale * height, p_value, remark))
    if constants == 2 and best is one:
        raise FitError(
            "the readings do not determine two time constants: "
            + "; ".join(f"{item.form}: {item.remark}" for item in tried[1:])
        )
    return Chosen(tidy(best), tuple(tried), misfit)


def resolution_floor(y: Array) -> float:
    """Standard deviation that the steps of a logger hide; 0 where readings show no steps.

    The smallest step over √12 (rectangular, JCGM 100, 4.3.7).
    """
    levels = np.unique(y)
    if len(levels) > 0.9 * len(y) or len(levels) < 3:
        return 0.0
    return float(np.diff(levels).min() / np.sqrt(12.0))


def neighbour_correlation(fit: RobustFit) -> float:
    """Correlation of residuals with their neighbours, without those left out."""
    good = fit.weights > 0.0
    r = fit.residuals
    pairs = good[1:] & good[:-1]
    total = float(np.sum(r[good] ** 2))
    return float(np.sum((r[1:] * r[:-1])[pairs])) / total if total else 0.0


def swelling(fit: RobustFit) -> float:
    """Factor by which correlated noise makes variances larger, 1 where there is none to see.

    (1 + r)/(1 − r), that of a slow quantity under first-order noise (from memory).
    """
    if np.quantile(np.abs(fit.residuals), 0.8) < _ROUNDING * abs(fit.step):
        return 1.0
    r = neighbour_correlation(fit)
    if r <= 2.0 / np.sqrt(len(fit.residuals)):
        return 1.0
    return (1.0 + r) / (1.0 - min(r, 0.98))


def _first(x: Array, y: Array, quiet: tuple[Array, Array], floor: float) -> RobustFit:
    """One constant, with the onset where the readings before it show one."""
    from scipy.special import chdtrc

    late = Shape("one constant", False)
    unseen = fit_robustly(late, x, y, begin_one(late, *quiet), float(x[0]), floor)
    whole = Shape("one constant", True)
    if len(y) <= whole.size:
        return unseen
    try:
        seen = fit_robustly(whole, x, y, begin_one(whole, *quiet), float(x[0]), floor)
    except FitError:
        return unseen
    early = x < seen.onset_s
    before = int(np.sum(early & (seen.weights > 0.0)))
    plain = bool(chdtrc(1.0, max(gain(unseen.residuals, seen), 0.0)) < _SEEN)
    # Readings before the step that are thrown out in a row are no spikes: without an onset,
    # a slow part alone was followed, and the plateau with the quick part taken for wild.
    thrown_out = int(np.sum(early & (unseen.weights == 0.0)))
    torn = thrown_out >= max(3, int(early.sum()) // 2)
    return seen if before >= 2 and (plain or torn) else unseen


def _refuse_no_step(x: Array, y: Array, one: RobustFit, height: float) -> None:
    since = np.maximum(x[-1:] - one.onset_s, 0.0)
    moved = abs(one.step * float(one.shape.unit(one.parameters, since)[0][0]))
    if moved < one.scale or gain(y - np.median(y), one) < _STEP:
        raise FitError(
            f"no step stands out of the noise: the temperature moves by {moved * height:.2g} K "
            f"and scatters by {one.scale * height:.2g} K (standard deviation); make a larger "
            "step, or choose the part of the log that has it (window_s)"
        )


def _refuse_unseen(x: Array, one: RobustFit, span: float) -> None:
    """Refuse a step of which only a straight part, or nothing, was seen."""
    since = x - one.onset_s
    h = one.shape.unit(one.parameters, np.maximum(since, 0.0))[0]
    if h[-1] < _STRAIGHT:
        raise FitError(
            f"the temperature moves along a straight line until the log ends, after {span:.3g} s: "
            "the time constant is far longer; log until the curve bends"
        )
    if not ((since > 0.0) & (h < _OVER) & (one.weights > 0.0)).any():
        raise FitError(
            "the whole step lies between two readings: the time constant is too short to be seen "
            f"at intervals of {span * float(np.median(np.diff(x))):.3g} s; log faster"
        )


def _p_value(small: RobustFit, large: RobustFit) -> float:
    """Probability of so much improvement by noise alone (F-test)."""
    from scipy.special import fdtrc

    more = large.shape.size - small.shape.size
    f = max(gain(small.residuals, large), 0.0) / more / swelling(large)
    return float(fdtrc(more, large.dof, f))


def _objection(fit: RobustFit, x: Array) -> str:
    """Why a fit with two constants cannot be a sensor, or is not determined."""
    logs, gradient = fit.shape.constants(fit.parameters)
    variance = np.einsum("ij,jk,ik->i", gradient, fit.covariance, gradient)
    share = _share(fit)
    _, slope, _ = fit.shape.unit(fit.parameters, np.zeros(1))
    if not (np.sqrt(variance) <= [_VAGUE_SLOW, _VAGUE_QUICK]).all():
        return "its constants are not determined"
    if np.exp(logs[1]) < 0.5 * float(np.median(np.diff(x))):
        return "its quick constant is shorter than half the interval of the readings"
    if share >= 1.0 or slope[0] < -1e-9 / float(np.exp(logs[0])):
        return "it turns back, which no sensor does in a step"
    return ""


def _share(fit: RobustFit) -> float:
    return _lag_share(fit) if fit.shape.form == "lag" else float(fit.parameters[-1])


def _lag_share(fit: RobustFit) -> float:
    return -1.0 / (0.1 + float(np.exp(min(fit.parameters[-1], 12.0))))


def _restored(fit: RobustFit, span: float, first: float, height: float, zero: float) -> RobustFit:
    """Take a fit from scaled to real seconds and °C."""
    at = int(fit.shape.onset_free)
    factor, offset = np.ones(fit.shape.size), np.zeros(fit.shape.size)
    if at:
        factor[0], offset[0] = span, first
    factor[at : at + 2], offset[at] = height, zero
    offset[at + 2] = np.log(span)
    return replace(
        fit,
        onset=first + span * fit.onset,
        parameters=fit.parameters * factor + offset,
        residuals=fit.residuals * height,
        scale=fit.scale * height,
        covariance=fit.covariance * np.outer(factor, factor),
        noise=fit.noise * height,
    )
