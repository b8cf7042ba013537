"""How often an identification is right, over many simulated sensors.

Sensors are drawn from the families within tolerance, or from outside of all, and
measured in ice and at 70 °C with the instruments of a good bench.  The seeds are
fixed, so that what is claimed here holds or fails for good.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import binomtest

import thermofit as tf
from thermofit.decide.identification.comparison import Comparison, Readings, compare, weigh
from thermofit.decide.identification.field import Field, Level, field_of
from thermofit.decide.identification.hypothesis import Hypothesis
from thermofit.decide.identification.result import credible

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

SEED = 20240317

# Ice in a flask and a stirred bath; a thermometer and a meter of a good bench.
T_C = np.array([0.0, 70.0])
U_T_K = np.array([0.03, 0.1])
U_R = 0.001

# κ of the materials whose curves are known lies from −59 to −36 K at 0 to 70 °C.
KAPPA, U_KAPPA, U_SHAPE_K = -45.0, 20.0, 0.1


def field(r25: Level = "listed") -> Field:
    # A standard ratio is stated from 25 °C upwards only, and nothing in ice is held against it.
    whole = [family for family in tf.families().values() if not family.ratio_only]
    return field_of(
        whole, r25, weights=None, none_prior=0.1, tolerances=None, assumed_r25_pct=5.0,
        assumed_b_pct=2.0, r25_range_ohm=(10.0, 10e6),
    )  # fmt: skip


@dataclass(frozen=True)
class Parts:
    """Sensors of one kind: places (γ, β), and κ of those of which only B is known."""

    curve: tf.Curve
    place: Array
    kappa: Array
    second_c: float | None
    level: float = 0.0

    def ln_r(self, t_c: Array, rng: np.random.Generator) -> Array:
        """Ln R at true temperatures, shape (s, n), by the definition of the plane."""
        u, second = (
            1.0 / (np.asarray(t) + 273.15) - 1.0 / 298.15 for t in (t_c, self.second_c or 85.0)
        )
        r25 = float(np.log(self.curve.resistance(25.0)))
        ratio = np.log(self.curve.resistance(t_c)) - r25
        bent = np.zeros_like(ratio)
        if self.second_c is not None:
            b_k = self.curve.b_value(25.0, self.second_c)
            ratio = ratio + KAPPA * b_k * u * (u - second)
            bent = (self.kappa[:, np.newaxis] - KAPPA) * b_k * u * (u - second)
            slope_k = b_k / (t_c + 273.15) ** 2
            bent = bent + slope_k * U_SHAPE_K * rng.standard_normal(t_c.shape)
        result: Array = (
            self.level + r25 + self.place[:, :1] + (1.0 + self.place[:, 1:]) * ratio + bent
        )
        return result


def within(hypothesis: Hypothesis, count: int, rng: np.random.Generator) -> Array:
    """Places spread evenly over a region."""
    corners = hypothesis.region.vertices
    places = np.empty((0, 2))
    while len(places) < count:
        tried = rng.uniform(corners.min(axis=0), corners.max(axis=0), (4 * count + 16, 2))
        places = np.vstack([places, tried[hypothesis.region.contains(*tried.T)]])
    return places[:count]


def parts_of(hypothesis: Hypothesis, count: int, rng: np.random.Generator) -> Parts:
    kappa = KAPPA + U_KAPPA * rng.standard_normal(count)
    places = within(hypothesis, count, rng)
    return Parts(hypothesis.curve, places, kappa, hypothesis.bend_at_c, hypothesis.level)


def measured(parts: Parts, rng: np.random.Generator) -> Readings:
    """Read sensors on the bench: the baths are what they are, the thermometer errs."""
    count = len(parts.place)
    true_c = np.broadcast_to(T_C, (count, T_C.size))
    ln_r = parts.ln_r(true_c, rng) + U_R * rng.standard_normal(true_c.shape)
    t_c = true_c + U_T_K * rng.standard_normal(true_c.shape)
    return Readings(t_c, ln_r, np.full(t_c.shape, U_R), np.broadcast_to(U_T_K, t_c.shape))


def posterior(found: Comparison, of: Field) -> Array:
    return of.answers(weigh(found.log_density, of.prior))


def from_families(
    of: Field, count: int, rng: np.random.Generator, kappa: float | None = None
) -> tuple[Array, Indices]:
    """Posterior of sensors of families, as many of each as chance has it, and their families."""
    true = np.sort(rng.integers(0, len(of.hypotheses) - 1, count))
    rows = []
    for j, own in zip(*np.unique(true, return_counts=True), strict=True):
        parts = parts_of(of.hypotheses[j], own, rng)
        if kappa is not None:
            parts = replace(parts, kappa=np.full(own, kappa))
        rows.append(posterior(compare(measured(parts, rng), of.hypotheses), of))
    return np.concatenate(rows), true


def covered(answers: Array, true: Indices, coverage: float = 0.95) -> Array:
    return np.array(
        [j in credible(row, coverage) for row, j in zip(answers, true, strict=True)], dtype=float
    )


def outside(of: Field, count: int, rng: np.random.Generator) -> tuple[Array, Array]:
    """Posterior of NTCs of no family, and their distances from the nearest tolerance.

    Distance: that of the sensor itself, without noise, in combined standard
    uncertainties of its place (those of the readings, and of what is not known of
    the family's shape).
    """
    parts = parts_of(of.hypotheses[-1], count, rng)
    readings = measured(parts, rng)
    true_c = np.broadcast_to(T_C, readings.t_c.shape)
    quiet = replace(readings, t_c=true_c, ln_r=parts.ln_r(true_c, np.random.default_rng(0)))
    chi2 = compare(quiet, of.hypotheses[:-1]).chi2
    away = np.sqrt(np.nanmin(chi2, axis=-1))
    return posterior(compare(readings, of.hypotheses), of), away


def around_families(of: Field, count: int, rng: np.random.Generator) -> tuple[Array, Array]:
    """As `outside`, of sensors about each tolerance, to twice its size: the hard cases."""
    answers, distances = [], []
    for hypothesis in of.hypotheses[:-1]:
        parts = parts_of(hypothesis, count, rng)
        beta_only = np.array([0.0, 1.0]) if hypothesis.level else np.ones(2)
        wide = parts.place * (1.0 + beta_only * rng.uniform(0.0, 1.0, (count, 1)))
        parts = replace(parts, place=wide)
        true_c = np.broadcast_to(T_C, (count, T_C.size))
        readings = measured(parts, rng)
        quiet = replace(readings, t_c=true_c, ln_r=parts.ln_r(true_c, np.random.default_rng(0)))
        chi2 = compare(quiet, of.hypotheses[:-1]).chi2
        distances.append(np.sqrt(np.nanmin(chi2, axis=-1)))
        answers.append(posterior(compare(readings, of.hypotheses), of))
    return np.concatenate(answers), np.concatenate(distances)


# -- what is claimed --------------------------------------------------------------


@pytest.mark.parametrize("r25", ["listed", "free"])
@pytest.mark.parametrize("kappa", [None, 0.0, -45.0], ids=["as taken", "a line", "typical"])
def test_the_true_family_is_in_the_credible_set(r25: Level, kappa: float | None) -> None:
    """2,000 sensors within tolerance: in at least 95 % of the cases.

    Also where all of those of which only B is known follow the line of that B
    itself, or bend as the mean of the known materials does.
    """
    answers, true = from_families(field(r25), 2000, np.random.default_rng(SEED), kappa)
    assert covered(answers, true).mean() >= 0.95


def reliability_table(answers: Array, true: Indices) -> Array:
    """Stated probability, how often it came true, and how many: a row for each bin."""
    edges = np.array([0, 0.001, 0.01, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95,
                      0.99, 0.999, 1.01])  # fmt: skip
    right = np.arange(answers.shape[1]) == true[:, np.newaxis]
    place = np.digitize(answers, edges) - 1
    rows = []
    for k in range(len(edges) - 1):
        own = place == k
        if own.any():
            rows.append((answers[own].mean(), right[own].mean(), np.count_nonzero(own)))
    return np.array(rows)


@pytest.mark.parametrize("r25", ["listed", "free"])
def test_stated_probabilities_come_true_as_often(r25: Level) -> None:
    """7,200 sensors of families and 800 of none, as the prior has it, bin by bin."""
    of, rng = field(r25), np.random.default_rng(SEED)
    answers, true = from_families(of, 7200, rng)
    none, _ = outside(of, 800, rng)
    answers = np.concatenate([answers, none])
    true = np.concatenate([true, np.full(800, len(of.hypotheses) - 1)])
    table = reliability_table(answers, true)
    assert len(table) >= 14
    for stated, seen, count in table:
        p = binomtest(round(seen * count), int(count), min(max(stated, 1e-12), 1.0)).pvalue
        assert p > 1e-3, f"stated {stated:.4f}, seen {seen:.4f} of {count:.0f}"


@pytest.mark.parametrize("r25", ["listed", "free"])
def test_what_is_four_uncertainties_outside_is_of_none(r25: Level) -> None:
    """In at least 80 % of the cases, also of those that lie hardly further than that."""
    answers, away = around_families(field(r25), 1500, np.random.default_rng(SEED))
    leads = answers.argmax(axis=-1) == answers.shape[1] - 1
    assert np.count_nonzero((away >= 4.0) & (away < 5.0)) > 25
    assert leads[away >= 4.0].mean() >= 0.8
    assert leads[(away >= 4.0) & (away < 5.0)].mean() >= 0.8
    # Nearer, it is taken for a member the more often the nearer it is.
    steps = [leads[(away >= k) & (away < k + 1.0)].mean() for k in range(5)]
    assert (np.diff(steps) > 0.0).all()
    assert leads[away < 0.01].mean() < 0.01


def test_what_is_far_from_every_family_is_of_none() -> None:
    answers, away = outside(field(), 2000, np.random.default_rng(SEED))
    leads = answers.argmax(axis=-1) == answers.shape[1] - 1
    assert leads[away >= 4.0].mean() >= 0.99
