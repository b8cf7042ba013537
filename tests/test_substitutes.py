"""Which part can stand in for another: errors, set-points, ratings, ranks."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.circuit import Circuit, ConstantCurrent, Converter, Divider
from thermofit.decide import substitutes
from thermofit.decide.substitute import Substitute, Substitutes
from thermofit.decide.substitute.search import temperatures
from thermofit.errors import ExtrapolationError, InputError, UnknownNameError
from thermofit.tolerance import Tolerance

Array = npt.NDArray[np.float64]

ORIGINAL = tf.family("ntc-10k-3977")
RANGE_C = (0.0, 60.0)
T_C = np.linspace(0.0, 60.0, 61)
ADC = Converter(bits=12)
DIVIDER = Divider(pullup_ohm=10e3, supply_v=5.0, converter=ADC)
CIRCUITS: list[Circuit] = [
    Divider(pullup_ohm=8.2e3, supply_v=5.0, converter=ADC, series_ohm=220.0, parallel_ohm=150e3),
    Divider(pulldown_ohm=12e3, supply_v=3.3, converter=ADC, series_ohm=1e3),
    ConstantCurrent(current_a=40e-6, supply_v=5.0, converter=ADC, parallel_ohm=470e3),
]


def part(r25_ohm: float = 10e3, b_k: float = 3977.0, **about: Any) -> tf.Family:
    """An invented part of constant B."""
    ratings = about.pop("ratings", {})
    tolerances = {name: about.pop(name, None) for name in ("r25_tol_pct", "b_tol_pct")}
    about.setdefault("t_range_c", (-40.0, 125.0))
    about.setdefault("id", "spare")
    curve = tf.Curve.beta(r25_ohm=r25_ohm, b_k=b_k, **about)
    return tf.Family(curve, ratings=ratings, **tolerances)


def only(found: Substitutes) -> Substitute:
    (row,) = found
    return row


# -- the part itself ---------------------------------------------------------------------


@pytest.mark.parametrize("id", ["ntc-10k-3977", "ntc-5k-3988"])
def test_a_part_is_its_own_perfect_substitute(id: str) -> None:
    family = tf.family(id)
    row = only(found := substitutes(family, RANGE_C, candidates=family))
    band = tf.tolerance_band(family, T_C)
    allowed = np.abs([band.dt_low_k, band.dt_high_k]).max()
    assert abs(row.curve_k) < 1e-9
    assert row.errs == "right" and row.then_runs == ""
    assert row.worst_k == pytest.approx(allowed, abs=1e-9)
    assert found.own_worst_k == pytest.approx(allowed, abs=1e-9)
    assert row.coldest_k == pytest.approx(min(band.dt_high_k), abs=1e-9)
    assert row.warmest_k == pytest.approx(max(band.dt_low_k), abs=1e-9)
    assert row.typical_k == pytest.approx(found.own_typical_k)
    # One at the cold end of its tolerance may follow one at the warm end.
    assert row.change_k == pytest.approx((band.dt_low_k - band.dt_high_k).max(), abs=1e-9)


def test_without_tolerances_a_part_in_its_own_place_changes_nothing() -> None:
    row = only(substitutes("ntc-47k-4108", RANGE_C, candidates="ntc-47k-4108"))
    assert max(row.worst_k, row.typical_k, row.change_k) < 1e-9
    assert any("taken as exact" in note for note in row.notes)


# -- the reading error -------------------------------------------------------------------


def simulated_error_k(circuit: Circuit, terminal_ohm: Array, curve: tf.Curve) -> Array:
    """Node voltage, and what a controller computes of it: by hand, from Ohm's law."""
    across_ohm = np.inf if circuit.parallel_ohm is None else circuit.parallel_ohm
    volts = circuit.voltage(terminal_ohm)
    if isinstance(circuit, ConstantCurrent):
        whole = volts / circuit.current_a
    else:
        assert isinstance(circuit, Divider)
        own = volts if circuit.rises else circuit.supply_v - volts
        whole = own / (circuit.supply_v - own) * circuit.pull_ohm
    inner = whole - circuit.series_ohm
    sensor = 1.0 / (1.0 / inner - 1.0 / across_ohm)
    return np.asarray(curve.temperature(sensor)) - T_C


@pytest.mark.parametrize("circuit", CIRCUITS, ids=["pull-up", "pull-down", "current"])
@pytest.mark.parametrize("trim", [None, "both"])
def test_errors_are_those_of_the_simulated_circuit(circuit: Circuit, trim: Any) -> None:
    spare = part(10.3e3, 4500.0, r25_tol_pct=1.0, b_tol_pct=1.0)
    found = substitutes(ORIGINAL, RANGE_C, circuit, candidates=spare, trim=trim)
    band = tf.tolerance_band(spare, T_C)
    for row in found:
        ends = []
        for r_ohm, off in ((band.r_low_ohm, 0.99), (band.r_nominal_ohm, 1.0),
                           (band.r_high_ohm, 1.01)):  # fmt: skip
            across = 1.0 / (1.0 / r_ohm + 1.0 / (row.parallel_ohm * off))
            terminal = across + row.series_ohm * off
            ends.append(simulated_error_k(circuit, terminal, ORIGINAL.curve))
        warm, nominal, cold = ends
        assert row.warmest_k == pytest.approx(warm.max(), abs=1e-9)
        assert row.coldest_k == pytest.approx(cold.min(), abs=1e-9)
        worst = np.maximum(np.abs(warm), np.abs(cold))
        assert row.worst_k == pytest.approx(worst.max(), abs=1e-9)
        assert row.worst_at_c == T_C[worst.argmax()]
        assert row.curve_k == pytest.approx(nominal[np.abs(nominal).argmax()], abs=1e-9)
        assert row.curve_at_c == T_C[np.abs(nominal).argmax()]
    assert len(found) == (1 if trim is None else 2)
    assert trim is None or (found.best.series_ohm > 0.0 and np.isfinite(found.best.parallel_ohm))


@given(
    st.floats(2e3, 50e3), st.floats(3000.0, 4600.0), st.floats(2e3, 50e3), st.floats(3000.0, 4600.0)
)
def test_two_constant_b_parts_differ_as_their_formula_says(
    r_o: float, b_o: float, r_s: float, b_s: float
) -> None:
    row = only(substitutes(part(r_o, b_o), RANGE_C, candidates=(r_s, b_s)))
    inv_t = 1.0 / (T_C + 273.15)
    read = 1.0 / 298.15 + (np.log(r_s / r_o) + b_s * (inv_t - 1.0 / 298.15)) / b_o
    with np.errstate(divide="ignore"):
        error = np.where(read > 0.0, 1.0 / read - 273.15 - T_C, np.inf)
    # Near absolute zero and beyond 1700 °C a curve has no values any more.
    if (read > 1.0 / 1500.0).all() and (read < 1.0 / 50.0).all():
        assert row.curve_k == pytest.approx(error[np.abs(error).argmax()], rel=1e-9, abs=1e-9)


def test_the_largest_error_of_another_b_is_at_the_end_farther_from_25() -> None:
    row = only(substitutes(part(), (0.0, 70.0), candidates=(10e3, 4100.0)))
    assert row.worst_at_c == 70.0 and row.curve_k > 0.0
    assert row.reads == "colder at 0 °C, warmer at 70 °C"
    assert "where it reads warmer, cooling would run" in row.then_runs
    row = only(substitutes(part(), (0.0, 70.0), candidates=(10e3, 3800.0)))
    assert row.worst_at_c == 70.0 and row.curve_k < 0.0
    assert row.reads == "colder at 70 °C, warmer at 0 °C"


@given(st.floats(0.1, 5.0), st.floats(0.1, 2.0), st.floats(0.1, 5.0), st.floats(0.1, 2.0))
def test_the_change_has_both_parts_at_the_corners_of_their_tolerances(
    r25_o: float, b_o: float, r25_s: float, b_s: float
) -> None:
    old = part(r25_tol_pct=r25_o, b_tol_pct=b_o)
    new = part(9.8e3, 4000.0, r25_tol_pct=r25_s, b_tol_pct=b_s)
    row = only(substitutes(old, RANGE_C, candidates=new))

    def readings(family: tf.Family, r25_pct: float, b_pct: float) -> list[Array]:
        rho = np.log(family.curve.resistance(T_C) / family.curve.r25_ohm)
        ends = [
            family.curve.r25_ohm * (1.0 + x) * np.exp((1.0 + y) * rho)
            for x in (-0.01 * r25_pct, 0.01 * r25_pct)
            for y in (-0.01 * b_pct, 0.01 * b_pct)
        ]
        return [np.asarray(old.curve.temperature(r)) for r in ends]

    changes = [
        np.abs(after - before).max()
        for before in readings(old, r25_o, b_o)
        for after in readings(new, r25_s, b_s)
    ]
    assert row.change_k == pytest.approx(max(changes), abs=1e-9)
    worst = max(np.abs(reading - T_C).max() for reading in readings(new, r25_s, b_s))
    assert row.worst_k == pytest.approx(worst, abs=1e-9)


def test_the_typical_error_is_the_root_mean_square_of_parts() -> None:
    new = part(10.02e3, 3990.0, r25_tol_pct=0.2, b_tol_pct=0.1)
    row = only(substitutes(part(), RANGE_C, candidates=new))
    rng = np.random.default_rng(7)
    gamma, beta = rng.uniform(-1.0, 1.0, (2, 4000, 1)) * [[[2e-3]], [[1e-3]]]
    rho = np.log(new.curve.resistance(T_C) / new.curve.r25_ohm)
    ln_r = np.log(new.curve.r25_ohm) + gamma + (1.0 + beta) * rho
    error = np.asarray(part().curve.temperature(np.exp(ln_r))) - T_C
    assert row.typical_k == pytest.approx(np.sqrt(np.mean(error**2)), rel=0.02)
    assert row.typical_k < row.worst_k


def test_parts_that_all_lie_on_one_side_are_typically_off() -> None:
    one_sided = Tolerance.of(r25_pct=(0.0, 1.0))
    row = only(substitutes(part(), RANGE_C, candidates=part(id="spare"), unstated=one_sided))
    gamma = np.linspace(0.0, np.log(1.01), 1001)[:, np.newaxis]
    curve = part().curve
    error = np.asarray(curve.temperature(curve.resistance(T_C) * np.exp(gamma))) - T_C
    assert row.typical_k == pytest.approx(np.sqrt(np.mean(error**2)), rel=2e-3)


def test_tolerances_at_another_temperature_and_in_kelvin_count_as_well() -> None:
    for tolerance in (
        Tolerance.of(r_pct=1.0, r_at_c=0.0, b_pct=0.5),
        Tolerance.of(dt_k=0.2, dt_range_c=(0.0, 70.0)),
    ):
        curve = part().curve
        row = only(substitutes(curve, RANGE_C, candidates=curve, unstated=tolerance))
        band = tf.tolerance_band(curve, T_C, tolerance=tolerance)
        assert row.warmest_k == pytest.approx(band.dt_low_k.max(), abs=1e-9)
        assert row.coldest_k == pytest.approx(band.dt_high_k.min(), abs=1e-9)


def test_a_fitted_curve_is_as_uncertain_as_its_covariance_says() -> None:
    points = tf.Points(T_C[::10], part().curve.resistance(T_C[::10]), u_t_k=0.1)
    curve = tf.fit(points, equation="steinhart-hart").curve.replace(id="inlet")
    row = only(substitutes(part(), RANGE_C, candidates=curve))
    u = np.asarray(curve.temperature_interval(curve.resistance(T_C)).standard_uncertainty)
    assert row.typical_k == pytest.approx(np.sqrt(np.mean(u**2)), rel=1e-3)
    assert row.worst_k == pytest.approx(3.0 * u.max(), rel=0.02)
    # It is one sensor, whose tolerance does not matter any more.
    supposed = Tolerance.of(r25_pct=5.0, b_pct=1.0)
    again = only(substitutes(part(), RANGE_C, candidates=curve, unstated=supposed))
    assert again.worst_k == row.worst_k


@pytest.mark.parametrize(("step_k", "count"), [(1.0, 61), (5.0, 61), (0.7, 87), (0.1, 601)])
def test_temperatures_are_no_farther_apart_than_asked_for(step_k: float, count: int) -> None:
    t_c = temperatures(part().curve, RANGE_C, step_k)
    assert (t_c[0], t_c[-1], t_c.size) == (0.0, 60.0, count)
    assert np.diff(t_c).max() <= step_k + 1e-9


def test_a_reading_beyond_the_curve_cannot_be_used_and_comes_last() -> None:
    # R = a·exp(b/(T + c)) never falls below a, whatever the temperature.
    floor = tf.Curve.shifted_exponential(a_ohm=500.0, b_k=443.0, c_k=-150.0, id="floor")
    found = substitutes(floor, RANGE_C, candidates=[part(1e3, id="far"), part(9.5e3, id="near")])
    assert [row.name for row in found] == ["near", "far"]
    far = found.rows[1]
    assert far.worst_k == far.warmest_k == np.inf and not far.usable
    assert far.errs == "warmer" and "leaves the curves" in far.flags[-1]
    assert "beyond" in str(found)


def test_a_part_without_a_value_in_the_range_cannot_be_used() -> None:
    # Its pole lies at 7 °C.
    steep = tf.Curve.shifted_exponential(
        a_ohm=10.0, b_k=100.0, c_k=-280.0, id="steep", t_range_c=(20.0, 60.0)
    )
    found = substitutes(part(), RANGE_C, candidates=[steep, part(9e3)], trim="both")
    assert [row.usable for row in found] == [True, True, False]
    assert found.rows[-1].errs == "unknown" and found.rows[-1].worst_k == np.inf
    # No resistor can be looked for, which is not for want of one.
    assert not any("resistors of the series" in note for note in found.notes)


def test_a_reading_beyond_the_originals_valid_range_is_flagged() -> None:
    old = part(id="old", t_range_c=(-5.0, 65.0))
    near, far = substitutes(old, RANGE_C, candidates=[part(11e3, id="a"), part(14e3, id="b")])
    assert near.flags == () and near.usable and far.usable
    assert "at 0 °C the reading is beyond the valid range" in far.flags[-1]
    assert substitutes(old, (-5.0, 65.0), candidates=old).best.flags == ()


def test_many_parts_at_once_are_compared_like_each_by_itself() -> None:
    many = [
        part(9e3 + 7.0 * n, 3800.0 + n, id=f"{n:03}", r25_tol_pct=0.01 * n, b_tol_pct=0.5)
        for n in range(300)
    ]
    found = substitutes(ORIGINAL, RANGE_C, candidates=many)
    assert {row.name for row in found} == {one.id for one in many}
    assert [row.worst_k for row in found] == sorted(row.worst_k for row in found)
    for row in found.rows[::60]:
        alone = only(substitutes(ORIGINAL, RANGE_C, candidates=many[int(row.name)]))
        for name in ("worst_k", "worst_at_c", "typical_k", "curve_k", "change_k", "reads"):
            assert getattr(row, name) == getattr(alone, name)


def test_tolerances_at_different_temperatures_are_told_apart() -> None:
    at_zero = Tolerance.of(r_pct=1.0, r_at_c=0.0, b_pct=0.5)
    spare, stated = part(id="spare"), part(id="stated", r25_tol_pct=1.0, b_tol_pct=0.5)
    together = substitutes(part(), RANGE_C, candidates=[spare, stated], unstated=at_zero)
    for one in (spare, stated):
        alone = only(substitutes(part(), RANGE_C, candidates=one, unstated=at_zero))
        assert together.of(one.id)[0].worst_k == pytest.approx(alone.worst_k, abs=1e-12)
    # Stated at 0 °C, it grows towards 60 °C.
    assert together.of("spare")[0].worst_k > together.of("stated")[0].worst_k


def test_platinum_stands_in_for_platinum() -> None:
    within = Tolerance.of(dt_k=(-0.1, 0.3), dt_range_c=(0.0, 100.0))
    platinum = tf.family("pt-1000-iec60751")
    row = only(substitutes(platinum, RANGE_C, candidates=platinum, unstated=within))
    assert row.coldest_k == pytest.approx(-0.1, abs=0.01)
    assert row.warmest_k == pytest.approx(0.3, abs=0.01)
    row = only(substitutes("pt-1000-iec60751", RANGE_C, candidates="pt-500-iec60751"))
    assert row.errs == "colder" and row.curve_k < -100.0
    row = only(substitutes("pt-500-iec60751", RANGE_C, candidates="pt-1000-iec60751"))
    assert row.errs == "warmer"


# -- set-points --------------------------------------------------------------------------


@given(st.floats(5.0, 55.0), st.floats(9e3, 11e3), st.floats(3700.0, 4200.0))
def test_a_set_point_switches_where_the_substitute_has_the_originals_resistance(
    set_c: float, r25_ohm: float, b_k: float
) -> None:
    new = part(r25_ohm, b_k, r25_tol_pct=1.0, b_tol_pct=1.0)
    (point,) = only(
        substitutes(ORIGINAL, RANGE_C, candidates=new, set_points_c=set_c)
    ).set_points  # fmt: skip
    r_ohm = ORIGINAL.curve.resistance(set_c)
    assert new.curve.resistance(set_c + point.drift_k) == pytest.approx(r_ohm, rel=1e-9)
    band = tf.tolerance_band(new, [set_c + point.low_k, set_c + point.high_k])
    # The first to switch, warming up, has the least resistance.
    assert band.r_low_ohm[0] == pytest.approx(r_ohm, rel=1e-9)
    assert band.r_high_ohm[1] == pytest.approx(r_ohm, rel=1e-9)
    assert point.low_k < point.drift_k < point.high_k


def test_a_set_point_beyond_the_network_is_never_reached() -> None:
    found = substitutes(
        part(), RANGE_C, candidates=(15e3, 4200.0), trim="parallel", set_points_c=[-30.0, 25.0]
    )
    trimmed = next(row for row in found if row.resistors)
    never, reached = trimmed.set_points
    assert trimmed.parallel_ohm < part().curve.resistance(-30.0)
    assert np.isnan(never.drift_k) and abs(reached.drift_k) < 5.0
    assert str(never) == "-30 °C: never reached within 100 K" and "nan" not in str(found)
    frame = found.to_frame()
    assert "drift_at_25_c_k" in frame and "high_at_-30_c_k" in frame


def test_a_set_point_beyond_the_valid_range_of_the_original_is_refused() -> None:
    for set_c in (500.0, -400.0, 125.1):
        with pytest.raises(ExtrapolationError, match=f"set-point of {set_c:g} °C"):
            substitutes(ORIGINAL, RANGE_C, candidates=part(), set_points_c=[20.0, set_c])


def test_a_set_point_that_the_part_cannot_be_relied_on_for_is_flagged() -> None:
    spare = part(9e3, id="spare", t_range_c=(0.0, 61.0))
    for set_c, flagged in ((60.0, False), (70.0, True)):
        row = only(substitutes(part(), RANGE_C, candidates=spare, set_points_c=set_c))
        assert (row.flags != ()) == flagged and row.usable
    assert "spare would switch at 66.9 °C, beyond its valid range" in row.flags[0]


# -- ratings, ranks, what is left out ----------------------------------------------------


def test_ratings_that_do_not_fit_are_flagged() -> None:
    stated = {
        "dissipation_factor_mw_per_k": 2.0, "thermal_time_constant_s": 5.0,
        "max_power_mw": 100.0, "max_voltage_v": 50.0,
    }  # fmt: skip
    weaker = {
        "dissipation_factor_mw_per_k": 1.0, "thermal_time_constant_s": 15.0,
        "max_power_mw": 50.0, "max_voltage_v": 24.0,
    }  # fmt: skip
    old = part(ratings=stated)
    row = only(substitutes(old, RANGE_C, candidates=part(ratings=weaker)))
    text = "\n".join(row.flags)
    for words in ("1 mW/K, the original 2", "15 s, the original 5", "50 mW, the", "24 V, the"):
        assert words in text
    assert row.usable and row.not_stated == ()
    row = only(substitutes(part(ratings=weaker), RANGE_C, candidates=old))
    assert row.flags == ()
    row = only(substitutes(old, RANGE_C, candidates=part()))
    assert row.flags == () and len(row.not_stated) == 4


def test_a_part_that_the_circuit_overloads_is_not_usable() -> None:
    hard = Divider(pullup_ohm=1e3, supply_v=24.0, converter=ADC)
    # The most power where the part has the pull-up's resistance, 12 V across 1 kΩ: 144 mW.
    for ratings, words in (
        ({"max_power_mw": 140.0}, "144 mW"),
        ({"max_voltage_v": 23.0}, "23.3 V across it"),
    ):
        row = only(substitutes(part(), (0.0, 120.0), hard, candidates=part(ratings=ratings)))
        assert not row.usable and words in row.flags[0]
    for ratings in ({"max_power_mw": 145.0}, {"max_voltage_v": 23.4}):
        assert only(
            substitutes(part(), (0.0, 120.0), hard, candidates=part(ratings=ratings))
        ).usable
    trimmed = substitutes(
        part(), (0.0, 120.0), hard, candidates=part(20e3, 4200.0, ratings={"max_power_mw": 140.0}),
        trim="both",
    )  # fmt: skip
    assert {row.usable for row in trimmed if row.resistors} == {True}


@pytest.mark.parametrize(("over", "usable"), [(0.999, False), (1.001, True)])
def test_a_resistor_in_series_takes_its_share_of_the_voltage(over: float, usable: bool) -> None:
    hard = Divider(pullup_ohm=1e3, supply_v=24.0, converter=ADC)

    def trimmed(**ratings: float) -> Substitute:
        spare = part(8.2e3, 4300.0, ratings=ratings)
        found = substitutes(part(), RANGE_C, hard, candidates=spare, trim="series")
        return next(row for row in found if row.resistors)

    r_ohm = part(8.2e3, 4300.0).curve.resistance(0.0)
    volts = 24.0 * r_ohm / (1e3 + r_ohm + trimmed().series_ohm)
    assert trimmed(max_voltage_v=over * volts).usable == usable


def test_what_is_not_valid_over_the_range_comes_after_what_is() -> None:
    exact = part(id="short range", t_range_c=(10.0, 125.0))
    found = substitutes(part(), RANGE_C, candidates=[exact, part(9e3, id="wide")])
    assert [row.name for row in found] == ["wide", "short range"]
    assert found.best is found.rows[0]
    assert not found.rows[1].usable and "10 to 125 °C only" in found.rows[1].flags[0]


def test_rows_are_ranked_by_their_worst_error() -> None:
    found = substitutes(ORIGINAL, RANGE_C)
    worst = [row.worst_k for row in found]
    assert worst == sorted(worst) and len(found) == 7
    assert found.best.name == "ntc-10k-3950"
    assert "ntc-10k-3977" not in {row.name for row in found}
    assert "leaves R25 open" in found.left_out["ntc-ratio-3544"]
    assert "rises with temperature" in found.left_out["pt-100-iec60751"]


def test_the_resolution_is_that_of_the_circuit() -> None:
    row = only(substitutes(ORIGINAL, RANGE_C, DIVIDER, candidates=ORIGINAL))
    exact = np.max(DIVIDER.kelvin_per_count(ORIGINAL, T_C))
    assert row.coarsest_count_k == pytest.approx(exact, rel=2e-3)
    assert np.isnan(only(substitutes(ORIGINAL, RANGE_C, candidates=ORIGINAL)).coarsest_count_k)


def test_an_end_of_the_converters_scale_makes_a_part_unusable() -> None:
    coarse = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=6))
    row = only(substitutes(ORIGINAL, (-5.0, 60.0), coarse, candidates=part(400e3, 3977.0)))
    assert not row.usable and "end of its scale" in row.flags[-1]


# -- how candidates are named ------------------------------------------------------------


def test_candidates_come_in_many_forms(tmp_path: Path) -> None:
    curves = [part(id="one").curve, part(9e3, id="two").curve]
    tf.write_curve_set(tmp_path / "shop.csv", [curves[0], part(9e3, id="two", r25_tol_pct=3.0)])
    shop = tf.read_curve_set(tmp_path / "shop.csv")
    for candidates, names in (
        ("ntc-5k-3988", {"ntc-5k-3988"}),
        ((10e3, 3950.0), {"10000 Ω, B 3950 K"}),
        ([(10e3, 3950.0), "ntc-5k-3988", curves[0]], {"10000 Ω, B 3950 K", "ntc-5k-3988", "one"}),
        ({"bin 7": (10e3, 3950.0)}, {"bin 7"}),
        (shop, {"one", "two"}),
        ([tf.Curve.beta(r25_ohm=10e3, b_k=4000.0)], {"candidate 1"}),
    ):
        found = substitutes(ORIGINAL, RANGE_C, candidates=candidates)
        assert {row.name for row in found} == names
    two = substitutes(part(9e3), RANGE_C, candidates=shop).of("two")[0]
    assert two.worst_k > 0.5 and "R(25 °C) ± 3 %" in two.notes[-1]


def test_a_typed_in_part_is_assumed_in_range_and_bend() -> None:
    row = only(substitutes(ORIGINAL, RANGE_C, candidates=(10e3, 3950.0)))
    assert any("range is assumed" in note for note in row.notes)
    assert any("how its curve bends is not known" in note for note in row.notes)


def test_unstated_tolerances_can_be_supposed() -> None:
    supposed = Tolerance.of(r25_pct=1.0, b_pct=1.0)
    spare, stated = part(), part(id="stated", r25_tol_pct=5.0)
    found = substitutes(part(), RANGE_C, candidates=[spare, stated], unstated=supposed)
    band = tf.tolerance_band(spare, T_C, r25_pct=1.0, b_pct=1.0)
    assert found.of("spare")[0].worst_k == pytest.approx(np.abs(band.dt_low_k).max())
    assert found.own_worst_k == found.of("spare")[0].worst_k
    assert "± 5 %, none of B" in found.of("stated")[0].notes[-1]


def test_a_part_whose_tolerance_has_no_meaning_is_left_out_by_name() -> None:
    hot = part(id="hot", t_range_c=(30.0, 100.0))
    supposed = Tolerance.of(r25_pct=1.0)
    found = substitutes(part(), (35.0, 60.0), candidates=[hot, part(9e3)], unstated=supposed)
    assert [row.name for row in found] == ["spare"]
    assert "stated at 25 °C, outside the valid range" in found.left_out["hot"]
    with pytest.raises(InputError, match=r"no candidate to compare \(hot: "):
        substitutes(part(), (35.0, 60.0), candidates=hot, unstated=supposed)
    with pytest.raises(ExtrapolationError, match=r"the original: .* stated at 25 °C"):
        substitutes(hot, (35.0, 60.0), candidates=part(), unstated=supposed)


def test_an_id_and_its_family_are_left_out_alike() -> None:
    one = tf.family("ntc-ratio-3544")
    for candidates in ([one, "ntc-10k-3950"], [one.id, "ntc-10k-3950"]):
        found = substitutes(ORIGINAL, RANGE_C, candidates=candidates)
        assert list(found.left_out) == ["ntc-ratio-3544"] and len(found) == 1


def test_notes_call_a_part_by_the_name_it_was_given() -> None:
    row = only(substitutes(ORIGINAL, RANGE_C, candidates={"bin 7": "ntc-10k-3950"}))
    assert row.notes and all(note.startswith("bin 7: ") for note in row.notes)


# -- what is shown -----------------------------------------------------------------------


def test_the_text_has_the_caution_and_says_what_was_not_verified() -> None:
    text = str(substitutes(ORIGINAL, RANGE_C, DIVIDER, set_points_c=[18.0]))
    for words in (
        "! never for a sensor in a safety function (over-temperature cut-out, battery pack, gas "
        "or medical appliance) without the maker's approval. Follow local codes; leave licensed "
        "work to licensed people.",
        "fault detection was not verified",
        "reads colder: heating would run longer",
        "errors of the circuit itself come on top",
        "set-points drift, 18 °C:",
        "the original itself may be off by 1.72 K",
        "not compared: dissipation factor, thermal time constant, maximum power, maximum voltage",
        "1: reads colder at 0 °C, warmer at 44 °C",
    ):
        assert words in " ".join(text.split())


@pytest.mark.parametrize("trim", [None, "both"])
def test_the_text_fits_a_screen(trim: Any) -> None:
    long = "a part from the drawer beside the door, with a tag that nobody can read"
    spares = {long: (12e3, 4100.0), "x" * 70: (47e3, 3950.0), "far": (2e6, 3300.0)}
    found = substitutes(
        ORIGINAL, RANGE_C, DIVIDER, candidates=spares, trim=trim, pairs="both",
        set_points_c=[5.0, 18.0, 24.0, 30.0],
    )  # fmt: skip
    for text in (str(found), str(found.firmware(found.best)), str(substitutes(ORIGINAL, RANGE_C))):
        assert max(map(len, text.splitlines())) <= 100
    assert long in " ".join(str(found.firmware(found.of(long)[0])).split())


def test_the_table_has_the_errors_of_the_row() -> None:
    found = substitutes(ORIGINAL, RANGE_C, candidates={"A": (9e3, 4100.0)}, unstated=None)
    row, (line,) = found.best, (x for x in str(found).splitlines() if x.startswith("1  A "))
    assert line.split() == [
        "1", "A", "warmer", f"{row.worst_k:.2f}", "60", f"{row.coldest_k:+.2f}", "to",
        f"{row.warmest_k:+.2f}", f"{row.curve_k:+.2f}", f"{row.change_k:.2f}",
    ]  # fmt: skip


def test_what_holds_for_several_parts_is_said_once() -> None:
    text = " ".join(str(substitutes(ORIGINAL, RANGE_C)).split())
    assert text.count("no tolerance is stated") == 1
    assert "ntc-10k-3950, ntc-10k-3435, ntc-5k-3988: its valid range is assumed" in text


def test_an_original_without_a_tolerance_is_not_called_exact() -> None:
    found = substitutes(part(), RANGE_C, candidates=part(9e3))
    assert np.isnan(found.own_worst_k) and np.isnan(found.own_typical_k)
    assert "off by" not in str(found) and "no tolerance is stated" in str(found)


def test_a_tenth_of_a_kelvin_the_other_way_is_told_too() -> None:
    # 8 K too cold at 100 °C, and 0.7 K too warm at -1 °C, where frost protection works.
    row = only(substitutes(part(), (-1.0, 100.0), candidates=(10.5e3, 3700.0)))
    assert row.curve_k < -8.0 and row.warmest_k < 0.8 and row.errs == "both"
    assert "warmer at -1 °C" in row.reads and "colder at 100 °C" in row.reads


def test_a_frame_has_a_row_for_each() -> None:
    found = substitutes(ORIGINAL, RANGE_C, candidates=["ntc-10k-3950", "ntc-10k-3434"])
    frame = found.to_frame()
    assert frame["rank"].tolist() == [1, 2]
    assert frame["worst_k"].tolist() == [row.worst_k for row in found]
    assert frame["name"].tolist() == ["ntc-10k-3950", "ntc-10k-3434"]
    assert "network" not in frame


def test_only_a_row_has_firmware() -> None:
    found = substitutes(ORIGINAL, RANGE_C)
    with pytest.raises(InputError, match=r"found\.best, not 'ntc-10k-3950'"):
        found.firmware("ntc-10k-3950")  # type: ignore[arg-type]


# -- bad input ---------------------------------------------------------------------------


def test_unknown_names_are_answered_with_the_nearest() -> None:
    for call in (
        lambda: substitutes("ntc-10k-3976", RANGE_C),
        lambda: substitutes(ORIGINAL, RANGE_C, candidates="ntc-10k-3976"),
        lambda: substitutes(ORIGINAL, RANGE_C).of("ntc-10k-395"),
    ):
        with pytest.raises(UnknownNameError, match="ntc-10k-39"):
            call()


def test_a_range_outside_the_originals_is_refused() -> None:
    with pytest.raises(ExtrapolationError, match="-40 to 125 °C; narrow it"):
        substitutes(ORIGINAL, (0.0, 130.0))
    with pytest.raises(ExtrapolationError, match="not within"):
        substitutes(ORIGINAL, (200.0, 250.0), candidates=(10e3, 3950.0))


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"t_range_c": (60.0, 0.0)}, "pair"),
        ({"t_range_c": 25.0}, "pair"),
        ({"t_range_c": (0.0, np.nan)}, "finite"),
        ({"circuit": 10e3}, "a Divider or a ConstantCurrent"),
        ({"limits": 1000}, "FaultLimits"),
        ({"trim": "all"}, "trim must be series, parallel or both"),
        ({"pairs": "two"}, "pairs must be"),
        ({"trim": "both", "series": "E95"}, "no series"),
        ({"trim": "both", "resistor_range_ohm": 1e3}, "resistor_range_ohm is a pair"),
        ({"trim": "both", "resistor_range_ohm": (1e3, 10.0)}, "high_ohm"),
        ({"trim": "both", "resistor_range_ohm": (1010.0, 1019.0)}, "E96 has no value"),
        ({"resistor_pct": -1.0}, "resistor_pct"),
        ({"resistor_pct": 100.0}, "below 100"),
        ({"step_k": 0.0}, "step_k"),
        ({"step_k": 1e-4}, "the most"),
        ({"set_points_c": [np.nan]}, "set_points_c must be finite"),
        ({"unstated": 1.0}, "Tolerance"),
        ({"candidates": 3950.0}, "candidates are"),
        ({"candidates": [3950.0]}, "a pair"),
        ({"candidates": []}, "no candidate"),
        ({"candidates": "pt-100-iec60751"}, "rises with temperature"),
        ({"candidates": "ntc-ratio-3544"}, "leaves R25 open"),
        ({"candidates": ["ntc-10k-3950", "ntc-10k-3950"]}, "two candidates are called"),
        ({"candidates": (-10e3, 3950.0)}, "positive"),
    ],
)
def test_bad_input_is_refused(settings: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        substitutes(ORIGINAL, **({"t_range_c": RANGE_C} | settings))


def test_a_circuit_that_cannot_be_built_is_refused() -> None:
    with pytest.raises(InputError, match="one fixed resistor"):
        substitutes(ORIGINAL, RANGE_C, Divider(supply_v=5.0, converter=ADC))
    blind = Divider(pullup_ohm=10.0, supply_v=5.0, converter=Converter(bits=8))
    with pytest.raises(InputError, match="end of its scale"):
        substitutes(ORIGINAL, RANGE_C, blind)


def test_an_original_that_leaves_r25_open_is_refused() -> None:
    with pytest.raises(InputError, match="leaves R25 open"):
        substitutes("ntc-ratio-3544", (25.0, 60.0))
