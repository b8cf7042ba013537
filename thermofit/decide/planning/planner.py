"""`plan`: which baths, and how well the curve will then be known."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from itertools import combinations
from math import comb
from typing import Final, get_args

import numpy as np

from thermofit.baths.bath import Bath
from thermofit.budget import Budget
from thermofit.curve import Curve
from thermofit.decide.planning.athand import at_hand
from thermofit.decide.planning.choice import Choice, choice_of, refuse_same
from thermofit.decide.planning.offered import BathLike, bath_of, refuse_unknown_range
from thermofit.decide.planning.outcome import By, Plan, as_nearest, in_order
from thermofit.decide.planning.sensor import expected_sensor
from thermofit.errors import InputError
from thermofit.estimate.prior import Prior
from thermofit.families import bend_prior
from thermofit.family import Family
from thermofit.instruments import Meter
from thermofit.interval import coverage_factor

__all__ = ["plan"]

_UP_TO: Final = 4
_MOST: Final = 2000
_STEPS: Final = 100

_EXTRA_C: Final = 50.0
"""Where an extra point is asked for most: between ice and boiling water."""


def plan(
    baths: Sequence[BathLike],
    meter: Meter | None = None,
    *,
    u_r_pct: float | None = None,
    t_range_c: tuple[float, float] = (0.0, 100.0),
    sensor: Curve | Family | None = None,
    r25_ohm: float | None = None,
    prior: Prior | None = None,
    counts: int | Sequence[int] | None = None,
    by: By = "largest",
    coverage: float = 0.95,
    also: BathLike | None = None,
) -> Plan:
    """Plan at which temperatures to measure a sensor, before getting wet.

    Parameters
    ----------
    baths : sequence of Bath, Budget or (float, float)
        At hand: baths, budgets of temperatures in °C, or pairs of a temperature in °C and its
        standard uncertainty in kelvin.  What has one label `shared` counts as one error: one
        thermometer in all stirred baths.
    meter : Meter, optional
        Its error depends on the resistance, so a rough R25 is needed with it.
    u_r_pct : float, optional
        In place of a meter: standard uncertainty of a resistance in percent of it, that each
        reading has for itself.
    t_range_c : (float, float)
        The range that matters, in °C.
    sensor : Curve or Family, optional
        What the sensor is expected to be near to; by default the mean of the prior.
    r25_ohm : float, optional
        Its rough resistance at 25 °C in ohms.
    prior : Prior, optional
        What is known beforehand of B and the bend; by default `bend_prior()`.
    counts : int or sequence of int, optional
        How many points a choice has; by default from one to four, or to as many as there are
        baths.
    by : {"largest", "mean"}
        Rank by the largest half-width of the band over the range, or by its mean.
    coverage : float
        Probability of the band.
    also : Bath, Budget or (float, float), optional
        An extra bath that the text weighs; by default one at 50 °C that is as uncertain as
        the nearest at hand, of which it has the shared errors.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        No baths, two that are the same, one or a range outside of what the prior knows, a meter
        without R25, readings without any uncertainty, or too many choices.

    Notes
    -----
    The band is that of `characterise` on readings as they are expected: the linear Gaussian
    update tells it without the readings.  It supposes that the sensor bends as the families
    do; where the readings then say otherwise, `characterise` widens the band.

    References
    ----------
    C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, MIT Press
    2006, section 2.7.

    Examples
    --------
    A workshop has ice, a kettle, one thermometer ± 0.5 °C and a cheap meter.

    >>> import thermofit as tf
    >>> from thermofit.decide import plan
    >>> thermometer = tf.Thermometer.parse("0.5C")
    >>> stirred = [tf.stirred_bath(t, thermometer, uniformity_k=0.2) for t in (40, 70)]
    >>> kettle = tf.boiling_water(pressure_hpa=1005, probe="steam")
    >>> meter = tf.Meter.parse("0.8%+3 @4k/1; 0.8%+3 @40k/10")
    >>> p = plan([tf.ice_point(), *stirred, kettle], meter, r25_ohm=10e3)
    >>> [round(t) for t in p.best(2).baths_c], p.best(2).dominating
    ([0, 100], 'bend of the families')
    >>> print(p)
    Where to measure, for 0 to 100 °C
      bath at hand                                      t / °C  u / K  meter's u / K  R about
      ice point, slush                                       0  0.058           0.10  33.2 kΩ
      stirred bath, water                                   40   0.31           0.19  5.26 kΩ
      stirred bath, water                                   70   0.31           0.16  1.68 kΩ
      boiling water at 1005.0 hPa, sensor in the steam    99.7  0.034           0.24    637 Ω
    Best baths, by the 95 % band of the curve and its largest half-width
      points  at / °C          largest / K  where  mean / K    0 °C   25 °C   50 °C   75 °C  100 °C
      1       70                      ± 18   0 °C     ± 8.5    ± 18    ± 13   ± 6.0   ± 1.8    ± 10
      2       0, 99.7               ± 0.95  58 °C    ± 0.69  ± 0.23  ± 0.64  ± 0.93  ± 0.84  ± 0.48
      3       0, 70, 99.7           ± 0.60  60 °C    ± 0.48  ± 0.22  ± 0.44  ± 0.58  ± 0.57  ± 0.48
      4       0, 40, 70, 99.7       ± 0.58  60 °C    ± 0.47  ± 0.20  ± 0.43  ± 0.57  ± 0.55  ± 0.46
    Most of it, with 1 and 2 points: bend of the families
    Most of it, with 3 and 4 points: thermometer accuracy
    One more bath at 50 °C (standard uncertainty 0.31 K, as at 40 °C) would take the largest
      from ± 18 to ± 1.5 K with 1 point
      from ± 0.95 to ± 0.59 K with 2 points
      from ± 0.60 to ± 0.58 K with 3 points
    (expected of a sensor that bends as 5 registered families do; else the band is wider)
    ! Keep the meter, its probes and the bare ends of the sensor's leads dry.
    ! Hot water and steam scald: keep hands and face away, and let it cool before emptying.
    """
    known = bend_prior() if prior is None else prior
    grid = np.linspace(*refuse_unknown_range(t_range_c, known), _STEPS + 1)
    grid.flags.writeable = False
    if by not in get_args(By):
        raise InputError(f"choices are ranked by 'largest' or by 'mean', not by {by!r}")
    coverage_factor(coverage)  # refuses what is no probability now
    offered = _offered(baths, known)
    instruments = at_hand(meter, u_r_pct, expected_sensor(sensor, r25_ohm, known))
    readings = tuple(in_order([instruments.reading(bath) for bath in offered]))
    refuse_same(readings)
    choices: list[Choice] = []
    for count in _counts(counts, len(readings)):
        found = [choice_of(some, known, grid, coverage) for some in combinations(readings, count)]
        choices += sorted(found, key=_largest if by == "largest" else _mean)
    extra, like_c = None, None
    if also is not None:
        extra = instruments.reading(bath_of(also, known))
    else:
        # Not asked for, so that it is no error where the sensor or the meter do not reach as far.
        with suppress(InputError):
            bath, nearest_c = as_nearest(readings, _EXTRA_C, known)
            extra, like_c = instruments.reading(bath), nearest_c
    return Plan(
        readings, tuple(choices), (float(grid[0]), float(grid[-1])), by, coverage, known,
        instruments, extra, like_c,
    )  # fmt: skip


def _offered(baths: Sequence[BathLike], prior: Prior) -> list[Bath | Budget]:
    if isinstance(baths, (Bath, Budget, str)) or not hasattr(baths, "__iter__"):
        raise InputError(f"baths is a sequence such as [tf.ice_point(), (60, 0.2)], not {baths!r}")
    offered = [bath_of(stated, prior) for stated in baths]
    if not offered:
        raise InputError("there are no baths to choose from; give one at least")
    return offered


def _counts(counts: int | Sequence[int] | None, baths: int) -> list[int]:
    if counts is None:
        wanted = list(range(1, min(_UP_TO, baths) + 1))
    else:
        wanted = sorted(set([counts] if isinstance(counts, int) else counts))
    for count in wanted:
        if isinstance(count, bool) or not isinstance(count, int) or not 1 <= count <= baths:
            raise InputError(
                f"counts says how many of the {baths} bath{'s' if baths > 1 else ''} to read the "
                f"sensor in, 1 to {baths}, not {count!r}"
            )
    if not wanted:
        raise InputError("counts is empty; leave it out, or say how many points, such as 2")
    number = sum(comb(baths, count) for count in wanted)
    if number > _MOST:
        raise InputError(
            f"{baths} baths give {number} choices of {' or '.join(map(str, wanted))} points, and "
            f"at most {_MOST} are compared: offer fewer baths, or ask for fewer points, such as "
            "counts=2"
        )
    return wanted


def _largest(choice: Choice) -> float:
    return choice.largest_k


def _mean(choice: Choice) -> float:
    return choice.mean_k
