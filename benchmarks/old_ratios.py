"""How long things take, as ratios against a baseline of the same run.

Run ``python benchmarks/ratios.py [ratios.csv]``.  Baseline and candidate are timed in turn,
so that a machine whose speed drifts slows both; the median of the ratios is printed with the
median times, and written to the file if one is named.
"""

from __future__ import annotations

import csv
import math
import platform
import statistics
import subprocess
import sys
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.optimize import OptimizeWarning, curve_fit

import thermofit as tf
from thermofit.circuit import preferred_values

TABLE = Path(__file__).parent.parent / "tests" / "reference" / "rt_table_ntc_10k.csv"
ROUNDS = 9
SOME_OHM = [600.0 * 1.02**n for n in range(200)]

Row = tuple[str, float, float, float]


def seconds(call: Callable[[], object]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def compare(
    what: str,
    baseline: Callable[[], object],
    candidate: Callable[[], object],
    *,
    times: float = 1.0,
    rounds: int = ROUNDS,
) -> Row:
    """Time both in turn; `times` scales a baseline that was given less to do."""
    baseline(), candidate()
    pairs = [(times * seconds(baseline), seconds(candidate)) for _ in range(rounds)]
    ratio = statistics.median(ours / theirs for theirs, ours in pairs)
    theirs, ours = (statistics.median(column) for column in zip(*pairs, strict=True))
    row = what, theirs * 1e3, ours * 1e3, ratio
    print(f"{what:62s} {row[1]:10.3f} ms {row[2]:10.3f} ms {ratio:9.3g}", flush=True)
    return row


def python(code: str) -> Callable[[], object]:
    return lambda: subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)


def command(*words: str) -> Callable[[], object]:
    call = [sys.executable, "-m", "thermofit", *words]
    return lambda: subprocess.run(call, check=True, capture_output=True)


def main() -> None:
    # Three points leave curve_fit no scatter to take a covariance from.
    warnings.simplefilter("ignore", OptimizeWarning)
    t_c, r_ohm = np.loadtxt(TABLE, delimiter=",", skiprows=1, unpack=True)
    points = tf.Points(t_c, r_ohm)
    curve = tf.fit(points, equation="log-polynomial-4").curve
    readings = np.geomspace(r_ohm.min() * 1.01, r_ohm.max() / 1.01, 10_000_000)
    design = np.vander(np.log(r_ohm), 4)
    three = points.t_c[[8, 18, 28]], points.r_ohm[[8, 18, 28]]
    log_three = np.log(three[1])
    triple = tf.Points(*three)

    def general_fit() -> object:
        def inverse(x: np.ndarray, a: float, b: float, c: float) -> np.ndarray:
            return a + b * x + c * x**3

        return curve_fit(inverse, log_three, 1.0 / (three[0] + 273.15), p0=[1e-3, 2e-4, 1e-7])

    wide = np.linspace(-40.0, 125.0, 1_000_000)
    steps = np.linspace(-40.0, 125.0, 166)
    parts = [tf.Curve.beta(r25_ohm=10e3, b_k=3500.0 + 0.1 * n) for n in range(10_000)]

    def corners() -> object:
        r = curve.resistance(wide)
        ln_rho = np.log(r / curve.r25_ohm)
        ends = [r * np.exp(np.log1p(x) + y * ln_rho) for x in (-0.01, 0.01) for y in (-0.01, 0.01)]
        low, high = np.minimum.reduce(ends), np.maximum.reduce(ends)
        inside = [np.clip(end, r[-1], r[0]) for end in (low, high)]
        return [curve.temperature(end) - wide for end in inside]

    print(f"Python {platform.python_version()}, NumPy {np.__version__}, {platform.processor()}")
    print(f"{'what (baseline)':62s} {'baseline':>13s} {'thermofit':>13s} {'ratio':>9s}")
    t_many = curve.temperature(readings)
    place, scaled = np.empty_like(readings), t_many / 100.0
    steinhart = tf.fit(triple, equation="steinhart-hart").curve
    warm_c = np.linspace(0.0, 50.0, readings.size)
    inside = steinhart.resistance(warm_c)
    rows = [
        compare("import (import numpy)", python("import numpy"), python("import thermofit")),
        compare("convert a family, whole process (import numpy)", python("import numpy"),
                command("convert", "--family", "ntc-10k-3977", "--at", "25C")),
        compare("--help, whole process (import numpy)", python("import numpy"), command("--help")),
        compare("T(R), four terms, 10⁷ (np.log of the same)", lambda: np.log(readings),
                lambda: curve.temperature(readings)),
        compare("the same, two threads (np.log)", lambda: np.log(readings),
                lambda: curve.temperature(readings, workers=2)),
        compare("the same, into out= (np.log into out=)", lambda: np.log(readings, out=place),
                lambda: curve.temperature(readings, out=place)),
        compare("R(T), four terms, 10⁷ (np.exp of as many)", lambda: np.exp(scaled),
                lambda: curve.resistance(t_many)),
        compare("T(R), Steinhart–Hart, 10⁷ (np.log)", lambda: np.log(inside),
                lambda: steinhart.temperature(inside)),
        compare("R(T), Steinhart–Hart, 10⁷ (np.exp)", lambda: np.exp(scaled),
                lambda: steinhart.resistance(warm_c)),
        compare("one T(R) (Horner and math.log in plain Python)", plain_scalar(curve),
                lambda: [curve.temperature(r) for r in SOME_OHM]),
        compare("fit, four terms, 34 points (numpy.linalg.lstsq)",
                lambda: np.linalg.lstsq(design, t_c, rcond=None),
                lambda: tf.fit(points, equation="log-polynomial-4")),
        compare("exact Steinhart–Hart (scipy.optimize.curve_fit)", general_fit,
                lambda: tf.fit(triple, equation="steinhart-hart")),
        compare("band at 10⁶ temperatures (NumPy over the corners)", corners,
                lambda: tf.tolerance_band(curve, wide, r25_pct=1, b_pct=1)),
        compare("band of 10⁴ curves × 166 at once (one by one)",
                lambda: [tf.tolerance_band(p, steps, r25_pct=1, b_pct=1) for p in parts],
                lambda: tf.tolerance_band(parts, steps, r25_pct=1, b_pct=1), rounds=3),
        *batch_rows(),
        *substitute_rows(),
    ]  # fmt: skip
    if len(sys.argv) > 1:
        with Path(sys.argv[1]).open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(["what", "baseline_ms", "thermofit_ms", "ratio"])
            writer.writerows(rows)


def invented(count: int, t_c: np.ndarray, noise: float) -> tuple[np.ndarray, np.ndarray]:
    """Invented sensors: temperatures and resistances, shape (count, len(t_c))."""
    rng = np.random.default_rng(20240501)
    t = t_c + rng.normal(0.0, 0.2, (count, len(t_c)))
    u = 1.0 / (t + 273.15) - 1.0 / 298.15
    b_k = rng.uniform(3300.0, 4200.0, (count, 1))
    r25_ohm = np.exp(rng.uniform(np.log(2e3), np.log(1e5), (count, 1)))
    return t, r25_ohm * np.exp(b_k * (u - 50.0 * u**2) + rng.normal(0.0, noise, u.shape))


def batch_rows() -> list[Row]:
    """Whole batches against loops over some of their sensors, scaled."""

    def steinhart_hart(x: np.ndarray, a: float, b: float, c: float) -> np.ndarray:
        return a + b * x + c * x**3

    t3, r3 = invented(1_000_000, np.array([0.0, 25.0, 70.0]), 2e-3)
    three = tf.ManyPoints(t3, r3, u_t_k=0.05, u_r_ohm=2e-3 * r3)
    good = tf.fit_many(three).coefficients[:300]
    inv_t, ln_r = 1.0 / (t3[:300] + 273.15), np.log(r3[:300])

    def curve_fits() -> None:
        for x, y, start in zip(ln_r, inv_t, good, strict=True):
            curve_fit(steinhart_hart, x, y, p0=start * 1.01)

    t11, r11 = invented(100_000, np.linspace(0.0, 100.0, 11), 2e-4)
    weights = (t11[:2000] + 273.15) ** 2 / 0.05
    targets = weights / (t11[:2000] + 273.15)
    designs = [
        np.vander(np.log(r), 4) * w[:, None] for r, w in zip(r11[:2000], weights, strict=True)
    ]
    eleven = tf.ManyPoints(t11, r11, u_t_k=0.05)

    def least_squares() -> None:
        for design, target in zip(designs, targets, strict=True):
            np.linalg.lstsq(design, target, rcond=None)

    t2, r2 = invented(100_000, np.array([0.0, 70.0]), 2e-3)
    two = tf.ManyPoints(t2, r2, u_t_k=0.2, u_r_ohm=5e-3 * r2)
    some = [tf.Points(t2[n], r2[n], u_t_k=0.2, u_r_ohm=5e-3 * r2[n]) for n in range(100)]
    return [
        compare("10⁶ × 3 points, Steinhart–Hart, covariance (curve_fit)", curve_fits,
                lambda: tf.fit_many(three), times=1e6 / 300, rounds=3),
        compare("10⁵ × 11 points, four terms, weighted (numpy.linalg.lstsq)", least_squares,
                lambda: tf.fit_many(eleven, equation="log-polynomial-4"), times=50, rounds=3),
        compare("10⁵ × 2 baths with the prior (tf.characterise)",
                lambda: [tf.characterise(points) for points in some],
                lambda: tf.characterise_many(two), times=1000, rounds=3),
    ]  # fmt: skip


def substitute_rows() -> list[Row]:
    """Many candidates against one part, and the best pair of trimming resistors."""
    original, t_c = tf.family("ntc-10k-3977"), np.linspace(0.0, 60.0, 61)
    at = np.linspace(0.0, 60.0, 200)
    many = [
        tf.Family(
            tf.Curve.beta(r25_ohm=9e3 + 0.2 * n, b_k=3500.0 + 0.1 * n, id=f"{n:05}"),
            r25_tol_pct=1.0,
            b_tol_pct=1.0,
        )
        for n in range(10_000)
    ]
    spare = tf.Curve.beta(r25_ohm=10.3e3, b_k=4500.0, id="spare")
    values = preferred_values("E96", 10.0, 10e6)

    def reads_c(r_ohm: np.ndarray) -> np.ndarray:
        return 1.0 / original.curve._quiet_inv_t(np.log(r_ohm)) - 273.15

    def one_by_one() -> object:
        found = []
        for part in many:
            band = tf.tolerance_band(part, at)
            worst = np.abs([reads_c(r) - at for r in (band.r_low_ohm, band.r_high_ohm)]).max(axis=0)
            found.append((worst.max(), at[worst.argmax()], part.curve.id))
        return sorted(found)

    def all_pairs() -> object:
        r_ohm, series = spare.resistance(t_c), np.append(0.0, values)[:, np.newaxis]
        best = np.inf, 0.0, 0.0
        for across in np.append(values, np.inf):
            worst = np.zeros(series.size)
            for off in (0.99, 1.01):
                errors = np.abs(
                    reads_c(1.0 / (1.0 / r_ohm + 1.0 / (across * off)) + series * off) - t_c
                )
                worst = np.maximum(worst, np.where(np.isnan(errors), np.inf, errors).max(axis=1))
            if worst.min() < best[0]:
                best = worst.min(), series[worst.argmin(), 0], across
        return best

    return [
        compare(
            "10⁴ substitutes × 200 temperatures, ranked (one by one)",
            one_by_one,
            lambda: tf.substitutes(original, (0, 60), candidates=many, step_k=60 / 199),
            rounds=2,
        ),
        compare(
            "best E96 pair, six decades (all 333,000 in turn)",
            all_pairs,
            lambda: tf.substitutes(original, (0, 60), candidates=spare, trim="both"),
            rounds=2,
        ),
    ]


def plain_scalar(curve: tf.Curve) -> Callable[[], object]:
    """T(R) of a four-term polynomial as one writes it by hand."""
    a0, a1, a2, a3 = curve.coefficients.values()
    log_ref = math.log(curve.equation.settings["r_ref_ohm"])

    def one_by_one() -> object:
        found = []
        for r_ohm in SOME_OHM:
            x = math.log(r_ohm) - log_ref
            found.append(1.0 / (a0 + x * (a1 + x * (a2 + x * a3))) - 273.15)
        return found

    return one_by_one


if __name__ == "__main__":
    main()
