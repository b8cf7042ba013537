"""Readings to temperatures and back: many, and one."""

from __future__ import annotations

import math
import tracemalloc
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

import thermofit as tf
from benchmarks.conftest import Call, Compare
from benchmarks.invented import four_terms, published
from benchmarks.table import Row

MANY = 10_000_000
SOME_OHM = [600.0 * 1.02**n for n in range(200)]


@pytest.fixture(scope="module")
def curve() -> tf.Curve:
    return four_terms()


@pytest.fixture(scope="module")
def readings() -> np.ndarray:
    _, r_ohm = published()
    return np.geomspace(r_ohm.min() * 1.01, r_ohm.max() / 1.01, MANY)


def test_four_terms(compare: Compare, curve: tf.Curve, readings: np.ndarray) -> None:
    compare("T(R), four terms, 10⁷", "np.log of as many", lambda: np.log(readings),
            lambda: curve.temperature(readings), reach=2.8, kind="at most")  # fmt: skip


def test_two_threads(compare: Compare, curve: tf.Curve, readings: np.ndarray) -> None:
    compare("the same, two threads", "np.log, one thread", lambda: np.log(readings),
            lambda: curve.temperature(readings, workers=2), reach=1.7, kind="at most",
            rounds=25)  # fmt: skip


def test_into_out(compare: Compare, curve: tf.Curve, readings: np.ndarray) -> None:
    place = np.empty_like(readings)
    compare("the same, into out=", "np.log into out=", lambda: np.log(readings, out=place),
            lambda: curve.temperature(readings, out=place))  # fmt: skip


def test_how_much_a_second_thread_helps(compare: Compare, readings: np.ndarray) -> None:
    """What a machine gives to two threads at all: half the time, or less than that saved."""
    place = np.empty_like(readings)
    middle = len(readings) // 2
    halves = [slice(0, middle), slice(middle, None)]

    def in_two() -> None:
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(lambda half: np.log(readings[half], out=place[half]), halves))

    compare("np.log itself, two threads, into out=", "np.log into out=, one thread",
            lambda: np.log(readings, out=place), in_two)  # fmt: skip


def test_memory(note: Callable[[Row], None], curve: tf.Curve, readings: np.ndarray) -> None:
    place = np.empty_like(readings)
    curve.temperature(readings[:1000])
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    tracemalloc.reset_peak()
    curve.temperature(readings, out=place)
    extra = (tracemalloc.get_traced_memory()[1] - before) / 2**20
    tracemalloc.stop()
    note(Row("memory beyond the output", "", 0.0, 0.0, extra, 2.0, "MiB"))


def test_resistances(compare: Compare, curve: tf.Curve, readings: np.ndarray) -> None:
    t_c = curve.temperature(readings)
    scaled = t_c / 100.0
    compare("R(T), four terms, 10⁷", "np.exp of as many", lambda: np.exp(scaled),
            lambda: curve.resistance(t_c), reach=6.0, kind="at most")  # fmt: skip


@pytest.mark.parametrize("way", ["T(R)", "R(T)"])
def test_steinhart_hart(compare: Compare, way: str) -> None:
    t_c, r_ohm = published()
    chosen = [8, 18, 28]
    curve = tf.fit(tf.Points(t_c[chosen], r_ohm[chosen]), equation="steinhart-hart").curve
    t = np.linspace(0.0, 50.0, MANY)
    r, scaled = curve.resistance(t), t / 100.0
    if way == "T(R)":
        compare("T(R), Steinhart–Hart, 10⁷", "np.log of as many", lambda: np.log(r),
                lambda: curve.temperature(r), reach=6.0, kind="at most")  # fmt: skip
    else:
        compare("R(T), Steinhart–Hart, 10⁷", "np.exp of as many", lambda: np.exp(scaled),
                lambda: curve.resistance(t), reach=6.0, kind="at most")  # fmt: skip


def test_one_reading(compare: Compare, curve: tf.Curve) -> None:
    compare("one T(R)", "Horner and math.log in plain Python", plain(curve),
            lambda: [curve.temperature(r) for r in SOME_OHM],
            reach=5.0, kind="at most", rounds=101)  # fmt: skip


def plain(curve: tf.Curve) -> Call:
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


@pytest.mark.parametrize("name", ["log-polynomial-4", "steinhart-hart"])
def test_uncertainty(compare: Compare, name: str) -> None:
    """Temperature with standard uncertainty, of the curve and of each reading."""
    from uncertainties import correlated_values, ufloat, umath

    t_c, r_ohm = published()
    fit = tf.fit(tf.Points(t_c, r_ohm, u_t_k=0.05, u_r_ohm=1e-3 * r_ohm), equation=name)
    curve = fit.curve
    few, many = (np.geomspace(r_ohm[-1] * 1.01, r_ohm[0] / 1.01, n) for n in (10_000, 1_000_000))
    u_many = 2e-3 * many
    log_ref = math.log(curve.equation.settings.get("r_ref_ohm", 1.0))
    c = correlated_values(list(curve.coefficients.values()), curve.covariance)
    assert curve.covariance is not None

    def one_by_one() -> object:
        found = []
        for r in few:
            x = umath.log(ufloat(r, 2e-3 * r)) - log_ref
            if name == "steinhart-hart":
                inv_t = c[0] + x * (c[1] + x * x * c[2])
            else:
                inv_t = c[0] + x * (c[1] + x * (c[2] + x * c[3]))
            t = 1.0 / inv_t - 273.15
            found.append((t.nominal_value, t.std_dev))
        return found

    compare(f"T(R) with standard uncertainty, {curve.equation.label}, 10⁶",
            "the uncertainties package, 10⁴, scaled", one_by_one,
            lambda: fit.temperature(many, u_many),
            reach=300.0, kind="at least", times=many.size / few.size, rounds=3)  # fmt: skip
