"""Many candidates against one part, and the best pair of trimming resistors."""

from __future__ import annotations

import numpy as np

import thermofit as tf
from benchmarks.conftest import Compare
from thermofit.circuit import preferred_values

ORIGINAL = "ntc-10k-3977"


def reads_c(original: tf.Family, r_ohm: np.ndarray) -> np.ndarray:
    found: np.ndarray = 1.0 / original.curve._quiet_inv_t(np.log(r_ohm)) - 273.15
    return found


def test_ranking(compare: Compare) -> None:
    original, at = tf.family(ORIGINAL), np.linspace(0.0, 60.0, 200)
    many = [
        tf.Family(
            tf.Curve.beta(r25_ohm=9e3 + 0.2 * n, b_k=3500.0 + 0.1 * n, id=f"{n:05}"),
            r25_tol_pct=1.0,
            b_tol_pct=1.0,
        )
        for n in range(10_000)
    ]

    def one_by_one() -> object:
        found = []
        for part in many[:1000]:
            band = tf.tolerance_band(part, at)
            ends = [reads_c(original, r) - at for r in (band.r_low_ohm, band.r_high_ohm)]
            worst = np.abs(ends).max(axis=0)
            found.append((worst.max(), at[worst.argmax()], part.curve.id))
        return sorted(found)

    compare("10⁴ substitutes × 200 temperatures, ranked", "1,000 one by one, scaled", one_by_one,
            lambda: tf.substitutes(original, (0, 60), candidates=many, step_k=60 / 199),
            times=10.0, rounds=2)  # fmt: skip


def test_the_best_pair(compare: Compare) -> None:
    original, t_c = tf.family(ORIGINAL), np.linspace(0.0, 60.0, 61)
    spare = tf.Curve.beta(r25_ohm=10.3e3, b_k=4500.0, id="spare")
    values = preferred_values("E96", 10.0, 10e6)

    def all_pairs() -> object:
        r_ohm, series = spare.resistance(t_c), np.append(0.0, values)[:, np.newaxis]
        best = np.inf, 0.0, 0.0
        for across in np.append(values, np.inf):
            worst = np.zeros(series.size)
            for off in (0.99, 1.01):
                seen = 1.0 / (1.0 / r_ohm + 1.0 / (across * off)) + series * off
                errors = np.abs(reads_c(original, seen) - t_c)
                worst = np.maximum(worst, np.where(np.isnan(errors), np.inf, errors).max(axis=1))
            if worst.min() < best[0]:
                best = worst.min(), series[worst.argmin(), 0], across
        return best

    compare("best E96 pair, six decades", "all 333,000 pairs in turn", all_pairs,
            lambda: tf.substitutes(original, (0, 60), candidates=spare, trim="both"),
            rounds=2)  # fmt: skip
