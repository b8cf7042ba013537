"""Invented sensors and readings, the same in each run."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt

import thermofit as tf

__all__ = ["TABLE", "families", "four_terms", "many_points", "published", "sensors"]

Array = npt.NDArray[np.float64]

TABLE = Path(__file__).parent.parent / "tests" / "reference" / "rt_table_ntc_10k.csv"


def published() -> tuple[Array, Array]:
    """A published R–T table: temperatures in °C and resistances in ohms."""
    t_c, r_ohm = np.loadtxt(TABLE, delimiter=",", skiprows=1, unpack=True)
    return t_c, r_ohm


def four_terms() -> tf.Curve:
    """A four-term polynomial through that table."""
    return tf.fit(tf.Points(*published()), equation="log-polynomial-4").curve


def sensors(count: int, t_c: Array, noise: float) -> tuple[Array, Array]:
    """Temperatures in °C and resistances in ohms, shape (count, len(t_c))."""
    rng = np.random.default_rng(20240501)
    t = t_c + rng.normal(0.0, 0.2, (count, len(t_c)))
    u = 1.0 / (t + 273.15) - 1.0 / 298.15
    b_k = rng.uniform(3300.0, 4200.0, (count, 1))
    r25_ohm = np.exp(rng.uniform(np.log(2e3), np.log(1e5), (count, 1)))
    return t, r25_ohm * np.exp(b_k * (u - 50.0 * u**2) + rng.normal(0.0, noise, u.shape))


def many_points(count: int, at: int) -> tf.ManyPoints:
    """Points of many sensors with uncertainties: 2, 3 or 11 temperatures of each."""
    if at == 2:
        t, r = sensors(count, np.array([0.0, 70.0]), 2e-3)
        return tf.ManyPoints(t, r, u_t_k=0.2, u_r_ohm=5e-3 * r)
    if at == 3:
        t, r = sensors(count, np.array([0.0, 25.0, 70.0]), 2e-3)
        return tf.ManyPoints(t, r, u_t_k=0.05, u_r_ohm=2e-3 * r)
    t, r = sensors(count, np.linspace(0.0, 100.0, at), 2e-4)
    return tf.ManyPoints(t, r, u_t_k=0.05)


def families(count: int) -> list[tf.Family]:
    """Families of a beta curve, each with a tolerance of its own."""
    return [
        tf.Family(
            tf.Curve.beta(r25_ohm=9e3 + 0.2 * n, b_k=3500.0 + 0.1 * n, id=f"part-{n:05}"),
            r25_tol_pct=1.0 + n % 5,
            b_tol_pct=0.5 + 0.1 * (n % 10),
        )
        for n in range(count)
    ]
