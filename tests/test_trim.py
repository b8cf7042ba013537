"""Trimming resistors: the best pair of a whole plane, found exactly."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from thermofit.circuit import preferred_values
from thermofit.decide import substitutes
from thermofit.decide.substitute import linearising_ohm
from thermofit.decide.substitute.accepted import Accepted
from thermofit.decide.substitute.reader import Reader
from thermofit.decide.substitute.trimsearch import search_plane
from thermofit.errors import ExtrapolationWarning, InputError

Array = npt.NDArray[np.float64]

ANYTHING = Accepted(0.0, np.inf, 0.0, np.inf, False)
T_C = np.linspace(0.0, 60.0, 13)
ORIGINALS = {
    name: Reader.of(tf.family(name).curve)
    for name in ("ntc-10k-3977", "ntc-10k-3950", "ntc-10k-3434", "pt-500-iec60751")
}
# Never below 500 Ω, so that a reading may leave the curve.
ORIGINALS["floor"] = Reader.of(
    tf.Curve.shifted_exponential(a_ohm=500.0, b_k=443.0, c_k=-150.0)
)  # fmt: skip


def one_by_one(
    reader: Reader,
    low_ohm: Array,
    high_ohm: Array,
    t_c: Array,
    series: Array,
    parallel: Array,
    pct: float,
    accepted: Accepted,
    allow_masked: bool = False,
) -> float | None:
    """The least worst-case error of all pairs, each worked out by itself."""
    least, most = 1.0 - 0.01 * pct, 1.0 + 0.01 * pct
    best = None
    for s, p in itertools.product(series.tolist(), parallel.tolist()):
        if s == 0.0 and np.isinf(p):
            continue
        cold = 1.0 / (1.0 / high_ohm + 1.0 / (p * most)) + s * most
        warm = 1.0 / (1.0 / low_ohm + 1.0 / (p * least)) + s * least
        if warm.min() < accepted.low_ohm or cold.max() > accepted.high_ohm:
            continue
        if accepted.verified and not allow_masked:
            if np.isfinite(p) and (p + s) * least <= accepted.limit_high_ohm:
                continue
            if s > 0.0 and s * most >= accepted.limit_low_ohm:
                continue
        errors = [np.abs(reader.reads_c(r) - t_c).max() for r in (warm, cold)]
        best = max(errors) if best is None else min(best, max(errors))
    return best


E12 = preferred_values("E12", 10.0, 1e6).tolist()


def values(most: int) -> st.SearchStrategy[Array]:
    """Some resistors, rising."""
    drawn = st.lists(st.sampled_from(E12), min_size=1, max_size=most, unique=True)
    return drawn.map(lambda some: np.array(sorted(some)))


@settings(max_examples=150)
@given(
    st.sampled_from(sorted(ORIGINALS)),
    st.floats(200.0, 60e3), st.floats(2500.0, 4600.0), st.floats(0.0, 0.05),
    st.lists(st.floats(0.8, 1.2), min_size=T_C.size, max_size=T_C.size),
    values(6), values(25), st.booleans(), st.booleans(), st.sampled_from([0.0, 1.0, 5.0]),
    st.sampled_from([0.0, 300.0, 1e3, 3e3]), st.sampled_from([15e3, 40e3, 200e3, np.inf]),
    st.sampled_from([1.0, 0.3, 0.0]), st.booleans(), st.booleans(),
)  # fmt: skip
def test_the_search_finds_what_trying_all_pairs_finds(
    name: str, r25_ohm: float, b_k: float, tolerance: float, ripple: list[float], series: Array,
    parallel: Array, no_series: bool, no_parallel: bool, pct: float, low: float, high: float,
    limit: float, verified: bool, allow_masked: bool,
) -> None:  # fmt: skip
    reader = ORIGINALS[name]
    if reader.falls:
        r_ohm = r25_ohm * np.exp(b_k * (1.0 / (T_C + 273.15) - 1.0 / 298.15))
    else:
        r_ohm = tf.family("pt-500-iec60751").curve.resistance(T_C) * r25_ohm / 10e3
    # No real part ripples like this, but the search must not rely on smooth errors.
    r_ohm = r_ohm * np.array(ripple)
    ends = r_ohm * (1.0 - tolerance), r_ohm * (1.0 + tolerance)
    series = np.append(0.0, series) if no_series else series
    parallel = np.append(parallel, np.inf) if no_parallel else parallel
    farther = high / limit if limit else np.inf
    accepted = Accepted(low, high, low * limit, farther, verified)
    found = search_plane(
        reader, *ends, T_C, series, parallel, pct, accepted, allow_masked=allow_masked
    )
    expected = one_by_one(reader, *ends, T_C, series, parallel, pct, accepted, allow_masked)
    if expected is None:
        assert found is None
    else:
        assert found is not None
        assert found.worst_k == pytest.approx(expected, abs=1e-9)
        only = np.array([found.series_ohm]), np.array([found.parallel_ohm])
        again = one_by_one(reader, *ends, T_C, *only, pct, accepted, allow_masked)
        assert again == pytest.approx(found.worst_k, abs=1e-9)


def test_a_bound_that_misleads_does_not_hide_the_best_pair() -> None:
    # At every fifteenth temperature, where the bound is taken, the part is right and wants no
    # resistor; at all others it has thrice the resistance and wants a small one across.
    reader, t_c = ORIGINALS["ntc-10k-3977"], np.linspace(0.0, 60.0, 61)
    r_ohm = np.asarray(tf.family("ntc-10k-3977").curve.resistance(t_c))
    r_ohm = r_ohm * np.where(np.arange(61) % 15 == 0, 1.0, 3.0)
    series, parallel = np.zeros(1), preferred_values("E24", 5e3, 1e6)
    found = search_plane(reader, r_ohm, r_ohm, t_c, series, parallel, 1.0, ANYTHING)
    expected = one_by_one(reader, r_ohm, r_ohm, t_c, series, parallel, 1.0, ANYTHING)
    assert found is not None and found.worst_k == pytest.approx(expected, abs=1e-9)
    assert found.parallel_ohm < 100e3


@pytest.mark.parametrize(
    ("series", "parallel", "limits", "allowed"),
    [
        (0.0, 15e3, (500.0, 15e3), False),
        (0.0, 15e3, (500.0, 14999.0), True),
        (10.0, 15e3, (500.0, 15009.0), True),
        (500.0, np.inf, (500.0, 15e3), False),
        (499.0, np.inf, (500.0, 15e3), True),
        (0.0, np.inf, (500.0, 15e3), False),  # no resistor is no trimming
    ],
)
def test_a_network_on_a_limit_is_not_caught(
    series: float, parallel: float, limits: tuple[float, float], allowed: bool
) -> None:
    accepted = Accepted(0.0, np.inf, *limits, True)
    r_ohm = np.asarray(tf.family("ntc-10k-3977").curve.resistance(T_C))
    found = search_plane(
        ORIGINALS["ntc-10k-3977"], r_ohm, r_ohm, T_C, np.array([series]), np.array([parallel]), 0.0,
        accepted,
    )  # fmt: skip
    assert (found is not None) == allowed


@pytest.mark.parametrize(("r25_ohm", "b_k"), [(12e3, 4300.0), (9e3, 3600.0), (22e3, 4100.0)])
def test_the_search_equals_all_of_a_plane_of_five_decades(r25_ohm: float, b_k: float) -> None:
    reader = ORIGINALS["ntc-10k-3950"]
    t_c = np.linspace(0.0, 60.0, 25)
    r_ohm = r25_ohm * np.exp(b_k * (1.0 / (t_c + 273.15) - 1.0 / 298.15))
    ends = 0.99 * r_ohm, 1.01 * r_ohm
    plain = preferred_values("E24", 10.0, 1e6)
    series, parallel = np.append(0.0, plain), np.append(plain, np.inf)
    least = np.full((series.size, parallel.size), np.inf)
    s = series[:, np.newaxis]
    for column, p in enumerate(parallel.tolist()):
        cold = 1.0 / (1.0 / ends[1] + 1.0 / (1.01 * p)) + 1.01 * s
        warm = 1.0 / (1.0 / ends[0] + 1.0 / (0.99 * p)) + 0.99 * s
        errors = [np.abs(reader.reads_c(r) - t_c).max(axis=1) for r in (cold, warm)]
        least[:, column] = np.maximum(*errors)
    least[0, -1] = np.inf  # no resistor at all
    found = search_plane(reader, *ends, t_c, series, parallel, 1.0, ANYTHING)
    assert found is not None
    assert found.worst_k == pytest.approx(least.min(), abs=1e-9)


def test_a_part_that_resistors_make_exact_is_mended_exactly() -> None:
    spare = tf.Curve.beta(r25_ohm=22e3, b_k=4200.0, id="spare")
    t_c = np.linspace(0.0, 60.0, 61)
    network = 1.0 / (1.0 / spare.resistance(t_c) + 1.0 / 27.4e3) + 1.18e3
    original = tf.Curve.from_table(t_c, network, id="original")
    found = substitutes(original, (0.0, 60.0), candidates=spare, trim="both", resistor_pct=0.0)
    best = found.best
    assert (best.series_ohm, best.parallel_ohm) == (1.18e3, 27.4e3)
    assert best.resistors == "27.4 kΩ across, 1.18 kΩ in series"
    assert best.worst_k < 1e-6 and best.errs == "right"
    assert found.of("spare")[1].worst_k > 5.0


def test_where_no_resistor_helps_the_result_says_so() -> None:
    # 9 kΩ wants more resistance, and more in the cold: nothing across it gives that.
    tries: list[tuple[Any, bool]] = [("parallel", False), ("series", True)]
    for trim, helps in tries:
        found = substitutes("ntc-10k-3977", (0.0, 60.0), candidates={"A": (9e3, 4100.0)}, trim=trim)
        trimmed = next(row for row in found if row.resistors)
        assert (found.best is trimmed) == helps
        assert any(note.endswith("error smaller: A") for note in found.notes) == (not helps)


@given(st.floats(9e3, 30e3), st.floats(3500.0, 4500.0), st.sampled_from([0.1, 1.0, 5.0]))
@settings(max_examples=20)
def test_two_resistors_are_never_worse_than_one(r25_ohm: float, b_k: float, pct: float) -> None:
    def best(trim: Any) -> float:
        found = substitutes(
            "ntc-10k-3950", (0.0, 60.0), candidates=(r25_ohm, b_k), trim=trim, resistor_pct=pct
        )
        (row,) = (row for row in found if row.resistors)
        assert (row.series_ohm > 0.0 or trim != "series") and row.series_ohm >= 0.0
        if trim == "series":
            assert np.isinf(row.parallel_ohm)
        if trim == "parallel":
            assert row.series_ohm == 0.0 and np.isfinite(row.parallel_ohm)
        return row.worst_k

    assert best("both") <= min(best("series"), best("parallel")) + 1e-9


def test_the_typical_error_of_a_trimmed_part_is_the_root_mean_square_of_parts() -> None:
    spare = tf.Family(
        tf.Curve.beta(r25_ohm=22e3, b_k=4200.0, id="spare"), r25_tol_pct=0.4, b_tol_pct=0.2
    )
    t_c = np.linspace(0.0, 60.0, 61)
    network = 1.0 / (1.0 / spare.curve.resistance(t_c) + 1.0 / 27.4e3) + 1.18e3
    original = tf.Curve.from_table(t_c, network, id="original")
    rng = np.random.default_rng(11)
    draws = rng.uniform(-1.0, 1.0, (4, 8000, 1))
    rho = np.log(spare.curve.resistance(t_c) / 22e3)
    part = np.exp(np.log(22e3) + 4e-3 * draws[0] + (1.0 + 2e-3 * draws[1]) * rho)
    for pct in (0.1, 2.0):
        found = substitutes(
            original, (0.0, 60.0), candidates=spare, trim="both", resistor_pct=pct
        ).best
        series = found.series_ohm * (1.0 + 0.01 * pct * draws[2])
        parallel = found.parallel_ohm * (1.0 + 0.01 * pct * draws[3])
        r_ohm = part * parallel / (part + parallel) + series
        assert found.series_ohm > 1e3 and found.parallel_ohm < 30e3
        reads = 1.0 / original._quiet_inv_t(np.log(r_ohm)) - 273.15  # the table ends at 0 and 60 °C
        expected = np.sqrt(np.mean((reads - t_c) ** 2))
        assert found.typical_k == pytest.approx(expected, rel=0.01)


def test_coarser_resistors_leave_a_larger_error() -> None:
    def worst(pct: float) -> tuple[float, float]:
        found = substitutes(
            "ntc-10k-3950", (0.0, 60.0), candidates=(12e3, 4200.0), trim="both", resistor_pct=pct
        )
        row = next(row for row in found if row.resistors)
        return row.worst_k, row.typical_k

    exact, usual, coarse = worst(0.0), worst(1.0), worst(5.0)
    assert exact[0] < usual[0] < coarse[0]
    assert exact[1] < coarse[1]


def test_resistors_come_from_the_series_and_the_range_asked_for() -> None:
    found = substitutes(
        "ntc-10k-3950", (0.0, 60.0), candidates=(22e3, 4200.0), trim="both", series="E24",
        resistor_range_ohm=(100.0, 20e3),
    )  # fmt: skip
    row = next(row for row in found if row.resistors)
    allowed = preferred_values("E24", 100.0, 20e3)
    assert row.series_ohm in {0.0, *allowed} and row.parallel_ohm in {np.inf, *allowed}
    free = substitutes("ntc-10k-3950", (0.0, 60.0), candidates=(22e3, 4200.0), trim="both")
    assert free.best.worst_k < row.worst_k


@pytest.mark.parametrize("id", ["pt-500-iec60751", "pt-1000-iec60751"])
def test_platinum_is_trimmed_the_other_way(id: str) -> None:
    # A part of 2 % too much resistance: a resistor of 50 times its own across it takes that away.
    original = tf.family(id).curve
    spare = tf.Curve.callendar_van_dusen(r0_ohm=original.coefficients["r0_ohm"] * 1.02, id="spare")
    found = substitutes(original, (0.0, 100.0), candidates=spare, trim="parallel", resistor_pct=0)
    trimmed, bare = found
    assert trimmed.resistors and bare.errs == "warmer"
    assert trimmed.worst_k < 0.2 * bare.worst_k
    assert 40.0 < trimmed.parallel_ohm / spare.resistance(50.0) < 60.0


# -- the handbooks' linearising resistor -------------------------------------------------


@given(st.floats(1e3, 100e3), st.floats(2500.0, 5000.0), st.floats(-20.0, 80.0))
def test_the_linearising_resistor_is_the_handbooks(r25: float, b_k: float, t_c: float) -> None:
    # R_p = R_m·(B − 2·T_m)/(B + 2·T_m), T_m in kelvin: textbooks of sensor circuits; from memory.
    curve = tf.Curve.beta(r25_ohm=r25, b_k=b_k)
    t_k = t_c + 273.15
    expected = curve.resistance(t_c) * (b_k - 2.0 * t_k) / (b_k + 2.0 * t_k)
    assert linearising_ohm(curve, t_c) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("id", ["ntc-10k-3977", "ntc-10k-3950"])
def test_part_and_resistor_bend_neither_way_at_the_inflection(id: str) -> None:
    curve = tf.family(id).curve
    parallel = linearising_ohm(curve, 25.0)
    t_c = 25.0 + np.array([-1.0, 0.0, 1.0])

    def bends(r_ohm: Array) -> float:
        return float((r_ohm[0] - 2.0 * r_ohm[1] + r_ohm[2]) / r_ohm[1])

    r_ohm = np.asarray(curve.resistance(t_c))
    together = 1.0 / (1.0 / r_ohm + 1.0 / parallel)
    assert bends(r_ohm) > 1e-3
    assert abs(bends(together)) < 1e-6
    # On either side it bends one way and the other.
    for off, sign in ((-5.0, -1.0), (5.0, 1.0)):
        shifted = np.asarray(curve.resistance(t_c + off))
        assert sign * bends(1.0 / (1.0 / shifted + 1.0 / parallel)) > 1e-6


def test_what_no_resistor_straightens_is_refused() -> None:
    with pytest.raises(InputError, match="no resistor across pt-100"):
        linearising_ohm(tf.family("pt-100-iec60751"), 25.0)


def test_only_a_temperature_beyond_the_valid_range_is_warned_of() -> None:
    curve = tf.family("ntc-10k-3977").curve
    at_the_end = linearising_ohm(curve, 125.0)  # warnings are errors here
    assert at_the_end == pytest.approx(linearising_ohm(curve, 124.9), rel=0.01)
    with pytest.warns(ExtrapolationWarning, match="130 °C") as told:
        linearising_ohm(curve, 130.0)
    assert len(told) == 1
