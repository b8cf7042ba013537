"""Tolerance bands of many parts, and over many temperatures."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

import thermofit as tf
from benchmarks.conftest import Compare
from benchmarks.invented import families, four_terms

STEPS = np.linspace(-40.0, 125.0, 166)


def whole(band: tf.Band) -> tf.Band:
    """Touch all that a band holds, in case it is worked out when asked for."""
    for field in fields(band):
        getattr(band, field.name)
    return band


def test_curves_with_one_tolerance(compare: Compare) -> None:
    parts = [tf.Curve.beta(r25_ohm=10e3, b_k=3500.0 + 0.1 * n) for n in range(10_000)]
    some = parts[:1000]
    compare("band of 10⁴ curves × 166 temperatures", "a loop of tf.tolerance_band, 1,000, scaled",
            lambda: [whole(tf.tolerance_band(p, STEPS, r25_pct=1, b_pct=1)) for p in some],
            lambda: whole(tf.tolerance_band(parts, STEPS, r25_pct=1, b_pct=1)),
            reach=30.0, kind="at least", times=10.0, rounds=5)  # fmt: skip


def test_families_with_tolerances_of_their_own(compare: Compare) -> None:
    parts = families(10_000)
    some = parts[:1000]
    compare("band of 10⁴ families × 166, each with its own tolerance",
            "a loop of tf.tolerance_band, 1,000, scaled",
            lambda: [whole(tf.tolerance_band(part, STEPS)) for part in some],
            lambda: whole(tf.tolerance_band(parts, STEPS)),
            reach=30.0, kind="at least", times=10.0, rounds=5)  # fmt: skip


def test_families_of_four_terms(compare: Compare) -> None:
    fitted = four_terms()
    parts = [
        tf.Family(
            fitted.replace(
                coefficients=[
                    c * (1.0 + 1e-6 * n * k) for k, c in enumerate(fitted.coefficients.values())
                ],
                id=f"part-{n:05}",
            ),
            r25_tol_pct=1.0 + n % 5,
            b_tol_pct=0.5 + 0.1 * (n % 10),
        )
        for n in range(10_000)
    ]
    steps = np.linspace(-40.0, 125.0, 166)
    some = parts[:1000]
    compare("the same of four-term polynomials", "a loop of tf.tolerance_band, 1,000, scaled",
            lambda: [whole(tf.tolerance_band(part, steps)) for part in some],
            lambda: whole(tf.tolerance_band(parts, steps)),
            reach=30.0, kind="at least", times=10.0, rounds=5)  # fmt: skip


def test_many_temperatures(compare: Compare) -> None:
    curve, t_c = four_terms(), np.linspace(-40.0, 125.0, 1_000_000)

    def corners() -> object:
        r = curve.resistance(t_c)
        ln_rho = np.log(r / curve.r25_ohm)
        ends = [r * np.exp(np.log1p(x) + y * ln_rho) for x in (-0.01, 0.01) for y in (-0.01, 0.01)]
        low, high = np.minimum.reduce(ends), np.maximum.reduce(ends)
        inside = [np.clip(end, r[-1], r[0]) for end in (low, high)]
        return [curve.temperature(end) - t_c for end in inside]

    compare("band at 10⁶ temperatures", "NumPy over the four corners", corners,
            lambda: whole(tf.tolerance_band(curve, t_c, r25_pct=1, b_pct=1)))  # fmt: skip
