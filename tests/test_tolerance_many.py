"""Bands of many parts at once are those of each part by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from thermofit.equations import BentBeta, Beta
from thermofit.errors import ExtrapolationError, InputError
from thermofit.tolerance import RatioLimits, many
from thermofit.tolerance.result import arrays_of_a_band

RANGE = (-40.0, 125.0)
STEPS = np.linspace(*RANGE, 166)


def beta(n: int, **more: Any) -> tf.Curve:
    more = {"t_range_c": RANGE, "id": f"beta-{n}"} | more
    return tf.Curve.beta(r25_ohm=1e3 * (n + 5), b_k=3400.0 + 13.0 * n, **more)


def steinhart(n: int) -> tf.Curve:
    a = 1.132e-3 * (1.0 + 1e-3 * n)
    return tf.Curve.steinhart_hart(a=a, b=2.334e-4, c=9.21e-8, t_range_c=RANGE, id=f"sh-{n}")


def logarithmic(n: int) -> tf.Curve:
    a = [3.354016e-3, 2.56985e-4 * (1.0 + 1e-3 * n), 2.620131e-6, 6.383091e-8]
    # Every third has a reference resistance of its own.
    r_ref_ohm = 10e3 if n % 3 else 1e3 * (n + 1)
    return tf.Curve.log_polynomial(
        r_ref_ohm=r_ref_ohm, coefficients=a, t_range_c=RANGE, id=f"log-{n}"
    )


def inverse(n: int) -> tf.Curve:
    b = [-14.6337 + 0.01 * n, 4791.842, -115334.0, -3.730535e6]
    return tf.Curve.inverse_polynomial(
        r_ref_ohm=10e3, coefficients=b, t_range_c=RANGE, id=f"inv-{n}"
    )


def bent(n: int) -> tf.Curve:
    return tf.Curve(BentBeta(6), [10e3 + n, 3892.0, -1.5e5, -3.7e6, 1e10, -1e13], *RANGE,
                    id=f"bent-{n}")  # fmt: skip


def exponential(n: int) -> tf.Curve:
    return tf.Curve.shifted_exponential(
        a_ohm=5.6e-3 * (1.0 + 1e-3 * n), b_k=6181.0, c_k=72.0, t_range_c=RANGE, id=f"exp-{n}"
    )


def table(n: int) -> tf.Curve:
    t_c = np.linspace(*RANGE, 34)
    return tf.Curve.from_table(t_c, np.asarray(inverse(n).resistance(t_c)), id=f"table-{n}")


FORMS = (beta, steinhart, logarithmic, inverse, bent)
MIXTURE = (*FORMS, exponential, table)


def family(curve: tf.Curve, n: int, scale: float = 1.0) -> tf.Family:
    """With limits of both, or of one only."""
    r25, b = scale * (0.5 + 0.1 * n), scale * (0.3 + 0.05 * n)
    return tf.Family(
        curve, r25_tol_pct=None if n % 5 == 3 else r25, b_tol_pct=None if n % 5 == 4 else b
    )


def assert_each_as_alone(
    band: tf.Band, parts: Sequence[Any], t_c: Any, rows: Any = None, **stated: Any
) -> None:
    meanings = set()
    for row, part in enumerate(parts):
        own = {name: value[row] for name, value in (rows or {}).items()}
        alone = tf.tolerance_band(part, t_c, **stated, **own)
        meanings.add(alone.meaning)
        for name in arrays_of_a_band():
            kelvin = name.startswith("dt_") and "first" not in name
            rtol, atol = (0.0, 1e-9) if kelvin else (1e-10, 1e-12)
            np.testing.assert_allclose(
                getattr(band, name)[row], getattr(alone, name), rtol=rtol, atol=atol,
                err_msg=f"{name}, {part}",
            )  # fmt: skip
    assert band.meaning == (meanings.pop() if len(meanings) == 1 else "each as it is stated")


@pytest.fixture
def at_once_only(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(part: Any, *_: Any) -> None:
        pytest.fail(f"{part} was done by itself")

    monkeypatch.setattr(many, "band_of_one", refuse)


# -- equal to one by one --------------------------------------------------------------


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("t_c", [STEPS, 25.0, [[-40.0, 0.0], [60.0, 125.0]]])
@pytest.mark.usefixtures("at_once_only")
def test_curves_of_a_form_have_the_bands_of_each(form: Any, t_c: Any) -> None:
    curves = [form(n) for n in range(12)]
    band = tf.tolerance_band(curves, t_c, r25_pct=2, b_pct=(-0.5, 1.5))
    assert band.dt_low_k.shape == (12, *np.shape(t_c))
    assert_each_as_alone(band, curves, t_c, r25_pct=2, b_pct=(-0.5, 1.5))


def test_families_of_all_forms_have_the_bands_of_each() -> None:
    families = [family(MIXTURE[n % 7](n), n) for n in range(42)]
    band = tf.tolerance_band(families, STEPS)
    assert_each_as_alone(band, families, STEPS)
    assert np.isfinite(band.r_high_ohm).all()


@pytest.mark.usefixtures("at_once_only")
def test_no_family_of_the_usual_kind_is_done_by_itself() -> None:
    families = [family(FORMS[n % 5](n), n) for n in range(40)]
    assert tf.tolerance_band(families, STEPS).dr_pct.shape == (40, 166)


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.sampled_from(FORMS), st.integers(0, 30), st.floats(0.1, 8.0)),
             min_size=8, max_size=14),
    st.lists(st.floats(*RANGE), min_size=1, max_size=30),
    st.randoms(use_true_random=False),
)  # fmt: skip
def test_the_order_of_the_parts_does_not_matter(
    chosen: list[tuple[Any, int, float]], t_c: list[float], rng: Any
) -> None:
    families = [family(form(n), n, scale) for form, n, scale in chosen]
    order = rng.sample(range(len(families)), len(families))
    band = tf.tolerance_band(families, t_c)
    other = tf.tolerance_band([families[row] for row in order], t_c)
    for name in arrays_of_a_band():
        np.testing.assert_allclose(getattr(band, name)[order], getattr(other, name), rtol=1e-11,
                                   atol=1e-11)  # fmt: skip
    assert band.meaning == other.meaning
    assert (band.r_low_ohm <= band.r_nominal_ohm * (1.0 + 1e-14)).all()
    assert (band.r_nominal_ohm <= band.r_high_ohm * (1.0 + 1e-14)).all()
    assert_each_as_alone(band, families, t_c)


@pytest.mark.usefixtures("at_once_only")
def test_constant_b_is_the_textbook_formula_for_many() -> None:
    curves = [beta(n) for n in range(20)]
    band = tf.tolerance_band(curves, STEPS, r25_pct=1, b_pct=0.75)
    axis = 1.0 / (STEPS + 273.15) - 1.0 / 298.15
    for row, curve in enumerate(curves):
        r25_ohm, b_k = curve.coefficients.values()
        high = 1.01 * r25_ohm * np.exp(b_k * axis + 0.0075 * b_k * np.abs(axis))
        np.testing.assert_allclose(band.r_high_ohm[row], high, rtol=1e-12)
        reads_k = 1.0 / (np.log(high / r25_ohm) / b_k + 1.0 / 298.15) - 273.15
        np.testing.assert_allclose(band.dt_high_k[row], reads_k - STEPS, atol=1e-9)


@pytest.mark.usefixtures("at_once_only")
def test_the_published_example_among_many() -> None:
    """Vishay BCcomponents, document 29049, 10-Oct-03: Z = 5.93 % at 0 °C."""
    families = [tf.family("ntc-10k-3977")] * 9
    band = tf.tolerance_band(families, [0.0, 25.0], r25_pct=5, b_pct=0.75)
    assert band.dr_pct[:, 0].round(2).tolist() == [5.93] * 9
    assert band.meaning == "R(25 °C) ± 5 %, B ± 0.75 %; worst case"


def test_threads_give_the_same() -> None:
    families = [family(FORMS[n % 5](n), n, 0.01) for n in range(1000)]
    one, two = (tf.tolerance_band(families, STEPS, workers=workers) for workers in (1, 2))
    for name in arrays_of_a_band():
        assert getattr(one, name).tobytes() == getattr(two, name).tobytes()
    with pytest.raises(InputError, match="workers"):
        tf.tolerance_band(families, STEPS, workers=0)


def line_of_resistance(n: int) -> tf.Curve:
    """A straight line that gives 1/T of ln R, as constant B does the other way round."""
    a = [3.354016e-3, 2.5e-4 * (1.0 + 1e-2 * n)]
    return tf.Curve.log_polynomial(
        r_ref_ohm=1e3 * (n + 1), coefficients=a, t_range_c=RANGE, id=f"line-{n}"
    )


@pytest.mark.parametrize("line", [beta, line_of_resistance])
@pytest.mark.parametrize("r_at_c", [-40.0, 0.0, 60.0])
@pytest.mark.usefixtures("at_once_only")
def test_lines_may_be_limited_at_any_temperature(line: Any, r_at_c: float) -> None:
    tolerance = tf.Tolerance.of(r_pct=(-1.0, 2.0), r_at_c=r_at_c, b_pct=(-0.5, 1.5))
    curves = [line(n) for n in range(12)]
    for t_c in (STEPS, [0.0, 20.0], 80.0):
        band = tf.tolerance_band(curves, t_c, tolerance=tolerance)
        assert_each_as_alone(band, curves, t_c, tolerance=tolerance)


@pytest.mark.usefixtures("at_once_only")
def test_lines_may_be_limited_at_temperatures_of_their_own() -> None:
    lots = [
        Lot(beta(n), tf.Tolerance.of(r_pct=1, r_at_c=(0.0, 25.0, 60.0)[n % 3], b_pct=0.5))
        for n in range(12)
    ]
    assert_each_as_alone(tf.tolerance_band(lots, STEPS), lots, STEPS)


# -- where the nominal curve ends -----------------------------------------------------


@pytest.mark.parametrize(
    ("b_k", "t_range_c", "r25_pct", "end"),
    [(np.linspace(300.0, 900.0, 12), (-252.5, 60.0), (-0.1, 60.0), "dt_high_k"),
     (np.linspace(6e3, 3e4, 12), (0.0, 1300.0), (-60.0, 0.1), "dt_low_k")],
)  # fmt: skip
def test_lines_end_where_a_temperature_is_no_longer_one(
    b_k: Any, t_range_c: tuple[float, float], r25_pct: tuple[float, float], end: str
) -> None:
    """Of some, a part at the end of its range has the resistance of none from 20 to 2000 K."""
    curves = [tf.Curve.beta(r25_ohm=100.0, b_k=b, t_range_c=t_range_c) for b in b_k]
    t_c = np.linspace(*t_range_c, 60)
    band = tf.tolerance_band(curves, t_c, r25_pct=r25_pct, b_pct=0.5)
    missing = np.isnan(getattr(band, end)).any(axis=1)
    assert missing[0]
    assert not missing[-1]
    assert_each_as_alone(band, curves, t_c, r25_pct=r25_pct, b_pct=0.5)


class Rising(Beta):
    """A straight line along which the resistance may rise with the temperature."""

    ntc = False


@pytest.mark.usefixtures("at_once_only")
def test_lines_may_rise_with_the_temperature() -> None:
    curves = [tf.Curve(Rising(), [1e3 + n, -300.0 - n], *RANGE) for n in range(12)]
    every: list[dict[str, Any]] = [{"r25_pct": 1, "b_pct": (-0.5, 1.5)}, {"b_pct": 1}]
    for limits in every:
        band = tf.tolerance_band(curves, STEPS, **limits)
        assert (band.alpha_per_k > 0.0).all()
        assert_each_as_alone(band, curves, STEPS, **limits)


def turning(n: int, t_min_c: float = -29.99) -> tf.Curve:
    """Turns a hundredth of a kelvin below its range."""
    l_cold, b = 12.0 + 0.1 * n, 2.4e-4
    c = -b / (3.0 * l_cold**2)
    a = 1.0 / 243.15 - (b * l_cold + c * l_cold**3)
    curve = tf.Curve.steinhart_hart(a=a, b=b, c=c, t_range_c=(0.0, 60.0))
    return curve.replace(t_range_c=(t_min_c, 60.0), id=f"turning-{n}")


def turning_above(n: int) -> tf.Curve:
    """1/T has its minimum a kelvin above its range, where the resistance is lowest."""
    ln_ratio, bend = -2.0 - 0.2 * n, 1e-4
    a = [1.0 / 393.15 + bend * ln_ratio**2, -2.0 * bend * ln_ratio, bend]
    return tf.Curve.log_polynomial(
        r_ref_ohm=10e3, coefficients=a, t_range_c=(60.0, 119.0), id=f"above-{n}"
    )


def hooked(n: int) -> tf.Curve:
    """Ln R has its maximum a little below the range."""
    x = 1.0 / 243.15 - 1.0 / 298.15
    return tf.Curve(BentBeta(3), [10e3 + n, 4000.0, -4000.0 / (2.0 * x)], -29.0, 60.0,
                    id=f"hooked-{n}")  # fmt: skip


@pytest.mark.parametrize("form", [turning, hooked])
def test_a_reader_sees_nothing_where_its_curve_never_has_the_resistance(form: Any) -> None:
    t_c = np.linspace(form(0).t_min_c, 60.0, 90)
    curves = [form(n) for n in range(10)]
    band = tf.tolerance_band(curves, t_c, r25_pct=5, b_pct=2)
    missing = np.isnan(band.dt_high_k)
    assert missing.any(axis=1).all()
    assert not missing.all(axis=1).any()
    assert np.isfinite(band.r_high_ohm).all()
    assert_each_as_alone(band, curves, t_c, r25_pct=5, b_pct=2)


@pytest.mark.usefixtures("at_once_only")
def test_curves_that_turn_above_their_range_are_done_together() -> None:
    curves = [turning_above(n) for n in range(10)]
    tolerance = tf.Tolerance.of(r_pct=(-1.0, 0.2), r_at_c=119.0, b_pct=2)
    t_c = np.linspace(60.0, 119.0, 30)
    band = tf.tolerance_band(curves, t_c, tolerance=tolerance)
    assert_each_as_alone(band, curves, t_c, tolerance=tolerance)


@pytest.mark.parametrize("r_at_c", [-30.0 + 1e-6, 25.0])
def test_a_curve_may_be_used_as_far_as_it_turns(r_at_c: float) -> None:
    """Where R rises infinitely steeply: what one digit makes is the same as for one part."""
    curves = [turning(n, -30.0 + 1e-6) for n in range(10)]
    tolerance = tf.Tolerance.of(r_pct=(-1.0, 0.0), r_at_c=r_at_c, b_pct=(-2.0, 3.0))
    t_c = np.array([-30.0 + 1e-6, -30.0 + 1e-4, -29.0, 25.0])
    band = tf.tolerance_band(curves, t_c, tolerance=tolerance)
    assert (band.alpha_per_k[:, 0] < -100.0).all()
    assert_each_as_alone(band, curves, t_c, tolerance=tolerance)


# -- parts that are far away ----------------------------------------------------------


def steep(n: int) -> tf.Curve:
    return tf.Curve.beta(r25_ohm=1e3 + n, b_k=4000.0 + n, t_range_c=(-230.0, 300.0))


def steep_and_bent(n: int) -> tf.Curve:
    return tf.Curve(BentBeta(3), [1e3 + n, 4000.0, 100.0], -200.0, 300.0)


def enormous(n: int) -> tf.Curve:
    """From an infinite resistance to one of few digits."""
    return tf.Curve.beta(r25_ohm=1e3, b_k=1e6 + n, t_range_c=(-40.0, 1000.0))


@pytest.mark.parametrize("form", [steep, steep_and_bent, enormous])
@pytest.mark.parametrize(
    "limits",
    [{"b_pct": 60.0}, {"r25_pct": (-99.99999, 1.0), "b_pct": (0.0, 1.0)}, {"r25_pct": 1.0},
     {"b_pct": 20.0, "distribution": "normal", "coverage": 0.999}],
)  # fmt: skip
def test_a_part_far_from_its_nominal_curve_keeps_its_digits(
    form: Any, limits: dict[str, Any]
) -> None:
    """A low resistance is no difference of two high ones."""
    curves = [form(n) for n in range(10)]
    t_c = np.linspace(curves[0].t_min_c, curves[0].t_max_c, 40)
    with np.errstate(all="ignore"):
        band = tf.tolerance_band(curves, t_c, **limits)
        assert_each_as_alone(band, curves, t_c, **limits)


# -- tolerances by row ----------------------------------------------------------------


@pytest.mark.usefixtures("at_once_only")
def test_curves_that_reach_to_hundreds_of_ohms_only_have_the_bands_of_each() -> None:
    # Through 100 °C and 0 °C; bent so that 1/T turns where ln R is still far above nought.
    def ending(n: int) -> tf.Curve:
        a = -9.467e-4 * (1.0 + 1e-3 * n)
        return tf.Curve.steinhart_hart(a=a, b=3.355e-4, c=9.801e-8, t_range_c=(-20, 100))

    curves = [ending(n) for n in range(9)]
    assert all(curve._branch.x[0] > 2.0 for curve in curves)
    t_c = np.linspace(-20.0, 100.0, 13)
    band = tf.tolerance_band(curves, t_c, r25_pct=1.0)
    assert np.isfinite(band.dt_low_k).all()
    assert_each_as_alone(band, curves, t_c, r25_pct=1.0)


@pytest.mark.usefixtures("at_once_only")
def test_a_range_of_points_has_its_slack() -> None:
    t_c = np.array([0.03, 20.0, 45.0, 69.98])
    curves = [tf.fit(tf.Points(t_c, beta(n).resistance(t_c)), equation="beta").curve
              for n in range(9)]  # fmt: skip
    assert curves[0].range_basis == "data"
    band = tf.tolerance_band(curves, [0.0, 70.0], r25_pct=1, b_pct=1)
    assert_each_as_alone(band, curves, [0.0, 70.0], r25_pct=1, b_pct=1)


def test_arrays_of_tolerances_go_with_the_parts() -> None:
    parts: list[Any] = [FORMS[n % 5](n) if n % 2 else family(FORMS[n % 5](n), n) for n in range(20)]
    r25, b = np.linspace(0.5, 5.0, 20), np.linspace(0.2, 3.0, 20)
    given_rows: list[dict[str, Any]] = [
        {"r25_pct": r25, "b_pct": b}, {"r25_pct": r25}, {"b_pct": b},
    ]  # fmt: skip
    for rows in given_rows:
        band = tf.tolerance_band(parts, STEPS, **rows)
        assert_each_as_alone(band, parts, STEPS, rows=rows)
    lopsided = tf.tolerance_band(parts, 60.0, r25_pct=(-r25, 2.0 * r25), b_pct=1)
    alone = tf.tolerance_band(parts[7], 60.0, r25_pct=(-r25[7], 2.0 * r25[7]), b_pct=1)
    assert lopsided.dr_pct[7] == pytest.approx(float(alone.dr_pct), rel=1e-12)
    at_zero = tf.tolerance_band(parts, STEPS, r_pct=r25, r_at_c=0.0, b_pct=b)
    assert_each_as_alone(
        at_zero, parts, STEPS, rows={"r_pct": r25, "b_pct": b}, r_at_c=0.0
    )  # fmt: skip
    by_both = r25[:, np.newaxis] * np.linspace(1.0, 1.5, 166)
    band = tf.tolerance_band(parts, STEPS, r25_pct=by_both, b_pct=b)
    assert_each_as_alone(band, parts, STEPS, rows={"r25_pct": by_both, "b_pct": b})


def test_a_row_of_tolerances_may_add_temperatures() -> None:
    curves = [beta(n) for n in range(9)]
    wide = np.ones((9, 3)) * np.array([1.0, 2.0, 3.0])
    band = tf.tolerance_band(curves, 25.0, r25_pct=wide)
    assert band.dr_pct == pytest.approx(wide)


@pytest.mark.parametrize(
    "how",
    [{"distribution": "uniform"}, {"distribution": "normal", "correlation": 0.4, "k": 3.0},
     {"distribution": "truncated-normal", "numerical_tolerance_pct": 0.5}],
)  # fmt: skip
def test_spreads_of_many_are_those_of_each(how: dict[str, Any]) -> None:
    families = [family(MIXTURE[n % 7](n), n) for n in range(14)]
    assert_each_as_alone(
        tf.tolerance_band(families, [0.0, 60.0], **how), families, [0.0, 60.0], **how
    )


@pytest.mark.parametrize(
    "stated",
    [{"r25_pct": 1, "b_k": 30}, {"dt_k": 0.2, "dt_range_c": (0.0, 70.0)},
     {"tolerance": tf.Tolerance.of(r25_pct=1, b_pct=0.5)},
     {"tolerance": tf.Tolerance.of(r25_pct=1, ratio_pct=5)}, {"r_pct": 1, "r_at_c": 0.0}],
)  # fmt: skip
def test_every_form_of_tolerance_may_be_that_of_many(stated: dict[str, Any]) -> None:
    curves = [FORMS[n % 5](n) for n in range(10)]
    assert_each_as_alone(tf.tolerance_band(curves, [10.0, 60.0], **stated), curves,
                         [10.0, 60.0], **stated)  # fmt: skip


@dataclass(frozen=True)
class Lot:
    """What a workshop may make for itself: a curve and a tolerance, invented."""

    curve: tf.Curve
    tolerance: tf.Tolerance | None
    r25_tol_pct: float | None = None
    b_tol_pct: float | None = None


def test_a_tolerance_counts_as_its_part_states_it() -> None:
    """Also where limits in percent stand beside it that say something else."""
    ratio = tf.Tolerance((RatioLimits(-5.0, 5.0),))
    usual = tf.Tolerance.of(r_pct=2, r_at_c=0, b_pct=1)
    lots = [
        Lot(beta(n), usual if n % 2 else tf.Tolerance((*ratio.limits, *tf.Tolerance.of(
            r25_pct=1).limits)), 7.0, 7.0)
        for n in range(12)
    ]  # fmt: skip
    assert_each_as_alone(tf.tolerance_band(lots, STEPS), lots, STEPS)


def test_percents_of_the_last_part_say_nothing_of_the_others() -> None:
    one, seven = tf.Tolerance.of(r25_pct=1), tf.Tolerance.of(r25_pct=7, b_pct=7)
    lots = [Lot(beta(n), seven if n == 9 else one, 7.0, 7.0) for n in range(10)]
    assert_each_as_alone(tf.tolerance_band(lots, STEPS), lots, STEPS)


class Graded(tf.Family):
    """A family of whose parts some are sorted, which is invented."""

    @property
    def tolerance(self) -> tf.Tolerance | None:
        return tf.Tolerance.of(r25_pct=0.1) if self.ratio_only else super().tolerance


def test_a_derived_family_has_the_tolerance_that_it_states() -> None:
    families = [
        Graded(beta(n), r25_tol_pct=2.0, b_tol_pct=1.0, ratio_only=n < 9) for n in range(10)
    ]
    assert_each_as_alone(tf.tolerance_band(families, STEPS), families, STEPS)


class Guarded(tf.Curve):
    """A curve that is not to be used above 50 °C, which is invented."""

    def in_range(self, t_c: Any) -> Any:
        return super().in_range(t_c) & (np.asarray(t_c) <= 50.0)


def test_a_derived_curve_is_valid_where_it_says() -> None:
    curves = [Guarded(Beta(), [1e4, 3e3 + n], *RANGE, id=f"guarded-{n}") for n in range(10)]
    with pytest.raises(ExtrapolationError, match=r"item 1 of 10 \(guarded-0\): 60 °C is outside"):
        tf.tolerance_band(curves, [0.0, 60.0], r25_pct=1)
    mixed = [*map(beta, range(9)), curves[0]]
    band = tf.tolerance_band(mixed, [0.0, 50.0], r25_pct=1, b_pct=1)
    assert_each_as_alone(band, mixed, [0.0, 50.0], r25_pct=1, b_pct=1)


# -- what is refused ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bad", "kind", "complaint"),
    [
        (family(beta(3, t_range_c=(0.0, 50.0), id="greenhouse"), 1), ExtrapolationError,
         r"item 7 of 12 \(greenhouse\): -40 °C is outside the valid range"),
        (tf.Family(beta(3, id="bare")), InputError,
         r"item 7 of 12 \(bare\): no tolerance is known"),
        (Lot(beta(3, id=""), tf.Tolerance.of(r_pct=1, r_at_c=200, b_pct=1)), ExtrapolationError,
         "item 7 of 12: a tolerance is stated at 200 °C"),
    ],
)  # fmt: skip
def test_the_first_part_that_is_refused_is_named(
    bad: Any, kind: type[InputError], complaint: str
) -> None:
    parts: list[Any] = [family(FORMS[n % 5](n), n) for n in range(12)]
    parts[6] = parts[9] = bad
    with pytest.raises(kind, match=complaint) as alone:
        tf.tolerance_band(parts, STEPS)
    assert type(alone.value) is kind


@pytest.mark.parametrize(("turn_c", "t_range_c"), [(35.0, (40.0, 90.0)), (15.0, (-30.0, 10.0))])
def test_a_curve_that_never_reaches_the_reference_is_refused(
    turn_c: float, t_range_c: tuple[float, float]
) -> None:
    """Although nothing limits the resistance there: β goes with ln R(T)/R(25 °C)."""
    bend = -3.5e-4 if turn_c > 25.0 else 3.5e-4
    curve = tf.Curve.log_polynomial(
        r_ref_ohm=10e3,
        coefficients=[1.0 / (turn_c + 273.15), 0.0, bend],
        t_range_c=t_range_c,
        id="bent",
    )
    families = [tf.Family(curve, b_tol_pct=1.0)] * 9
    with pytest.raises(ExtrapolationError, match="no value at 25 °C") as alone:
        tf.tolerance_band(families[0], [t_range_c[0]])
    with pytest.raises(ExtrapolationError, match="item 1 of 9") as together:
        tf.tolerance_band(families, [t_range_c[0]])
    assert str(alone.value) in str(together.value)


def without_r25(t_range_c: tuple[float, float] = (40.0, 90.0)) -> tf.Curve:
    """Turns at 35 °C."""
    return tf.Curve.log_polynomial(
        r_ref_ohm=10e3, coefficients=[1.0 / 308.15, 0.0, -3.5e-4], t_range_c=t_range_c, id="bent"
    )


@pytest.mark.parametrize("count", [1, 9])
@pytest.mark.parametrize(
    "stated",
    [{"r_pct": 1, "r_at_c": 60.0}, {"r_pct": 1, "r_at_c": 60.0, "b_pct": 2},
     {"r_pct": 1, "r_at_c": 60.0, "b_k": 40.0, "b_pair_c": (50.0, 85.0)}],
)  # fmt: skip
def test_a_curve_without_r25_has_bands_about_another_temperature(
    count: int, stated: dict[str, Any]
) -> None:
    """ln R(T) = ln R(60 °C) + x + (1 + β)·ln(R(T)/R(60 °C)): 25 °C plays no part."""
    t_c = np.array([50.0, 60.0, 80.0])
    curve = without_r25()
    tolerance = tf.Tolerance.of(**stated)
    for how in (stated, {"tolerance": tolerance}):
        band = tf.tolerance_band([curve] * count, t_c, **how)
        alone = tf.tolerance_band(curve, t_c, **how)
        assert band.dr_pct == pytest.approx(np.tile(alone.dr_pct, (count, 1)), rel=1e-10)
        ln_r = np.log(np.asarray(curve.resistance(t_c)))
        beta_high = 0.0
        if "b_pct" in stated:
            beta_high = 0.02
        elif "b_k" in stated:
            beta_high = 40.0 / abs(curve.b_value(50.0, 85.0))
        by_hand = np.log(1.01) + beta_high * np.abs(ln_r - ln_r[1])
        assert np.log(alone.r_high_ohm) - ln_r == pytest.approx(by_hand, rel=1e-9)
    arrays = tf.tolerance_band(curve, t_c, r_pct=np.ones(3), r_at_c=60.0)
    assert arrays.dr_pct == pytest.approx([1.0] * 3)


@pytest.mark.parametrize(
    ("curve", "stated"),
    [(without_r25(), {"r_pct": 1, "r_at_c": 60.0, "b_pct": 2}),
     (beta(0, t_range_c=(40.0, 90.0)), {"b_pct": 2}),
     (beta(0, t_range_c=(40.0, 90.0)), {"b_pct": np.full((9, 2), 2.0)})],
)  # fmt: skip
@pytest.mark.usefixtures("at_once_only")
def test_curves_that_are_not_valid_at_25_degrees_are_done_together(
    curve: tf.Curve, stated: dict[str, Any]
) -> None:
    band = tf.tolerance_band([curve] * 9, [50.0, 80.0], **stated)
    b_pct = stated["b_pct"][0] if np.ndim(stated["b_pct"]) else 2
    alone = tf.tolerance_band(curve, [50.0, 80.0], **stated | {"b_pct": b_pct})
    assert band.dr_pct == pytest.approx(np.tile(alone.dr_pct, (9, 1)), rel=1e-10)


@pytest.mark.parametrize(
    ("stated", "way"),
    [({"b_pct": 1}, "r_pct with r_at_c"), ({"b_pct": np.ones(9)}, "r_pct with r_at_c"),
     ({"dt_k": 0.2, "dt_range_c": (50.0, 80.0)}, "R at one temperature"),
     ({"table": [(50.0, 1.0), (80.0, 2.0)]}, "R at one temperature")],
)  # fmt: skip
def test_a_curve_without_r25_says_where_it_is_needed(stated: dict[str, Any], way: str) -> None:
    one: dict[str, Any] = {
        name: 1.0 if isinstance(value, np.ndarray) else value for name, value in stated.items()
    }
    message = f"the nominal curve has no value at 25 °C.*{way}"
    with pytest.raises(ExtrapolationError, match=message):
        tf.tolerance_band(without_r25(), 60.0, **one)
    with pytest.raises(ExtrapolationError, match=rf"item 1 of 9 \(bent\): {message}"):
        tf.tolerance_band([without_r25()] * 9, 60.0, **stated)


def test_limits_of_b_alone_are_the_same_as_numbers_and_as_arrays() -> None:
    """R25 counts as exact, also where 25 °C is outside the valid range."""
    curves = [beta(n, t_range_c=(40.0, 90.0)) for n in range(9)]
    alone = tf.tolerance_band(curves[0], [50.0, 80.0], b_pct=1.0)
    by_array = tf.tolerance_band(curves[0], [50.0, 80.0], b_pct=np.ones(2))
    assert by_array.dr_pct == pytest.approx(alone.dr_pct)
    for many_pct in (np.ones(9), np.ones((9, 2))):
        band = tf.tolerance_band(curves, [50.0, 80.0], b_pct=many_pct)
        assert band.dr_pct[0] == pytest.approx(alone.dr_pct)


def test_the_half_of_each_stays_at_its_temperature() -> None:
    lots = [
        Lot(beta(n), tf.Tolerance.of(r_pct=1 + n, r_at_c=10.0 * (n % 3), b_pct=1))
        if n % 4 else family(beta(n), n)
        for n in range(12)
    ]  # fmt: skip
    assert_each_as_alone(tf.tolerance_band(lots, STEPS, b_pct=0.5), lots, STEPS, b_pct=0.5)
    rows: dict[str, Any] = {"b_pct": np.linspace(0.1, 2.0, 12)}
    assert_each_as_alone(tf.tolerance_band(lots, STEPS, **rows), lots, STEPS, rows=rows)
    rows = {"b_pct": np.linspace(0.1, 2.0, 12)[:, np.newaxis] * np.ones(166)}
    band = tf.tolerance_band(lots, STEPS, **rows)
    assert_each_as_alone(band, lots, STEPS, rows=rows)
    assert band.dr_pct[2, 60] == pytest.approx(3.0)


def test_the_half_of_each_stays_in_its_form() -> None:
    lots = [
        Lot(beta(n), tf.Tolerance.of(r25_pct=1, b_k=10.0 + n)) if n % 2 else family(beta(n), n)
        for n in range(12)
    ]
    assert_each_as_alone(tf.tolerance_band(lots, STEPS, r25_pct=2), lots, STEPS, r25_pct=2)
    rows: dict[str, Any] = {"r25_pct": np.linspace(0.1, 2.0, 12)}
    assert_each_as_alone(tf.tolerance_band(lots, STEPS, **rows), lots, STEPS, rows=rows)


@pytest.mark.parametrize("bent_at", [0, 2, 5])
def test_the_first_is_named_whatever_it_is_refused_for(bent_at: int) -> None:
    """One that has no R25 is found later than one that is not valid at the temperature."""
    parts = [tf.Family(beta(n), b_tol_pct=1.0) for n in range(10)]
    parts[bent_at] = tf.Family(without_r25(), b_tol_pct=1.0)
    parts[7] = tf.Family(beta(7, t_range_c=(60.0, 90.0), id="hot"), b_tol_pct=1.0)
    with pytest.raises(ExtrapolationError, match=rf"item {bent_at + 1} of 10 \(bent\)"):
        tf.tolerance_band(parts, 50.0)


@pytest.mark.parametrize("r25_pct", [(1.0,), [1.0], [1.0, 2.0, 3.0], ()])
@pytest.mark.parametrize("count", [2, 9])
def test_limits_are_one_number_or_two(r25_pct: Any, count: int) -> None:
    with pytest.raises(InputError, match=f"item 1 of {count}.* is one number, or a pair"):
        tf.tolerance_band([beta(n) for n in range(count)], 20.0, r25_pct=r25_pct)


@pytest.mark.parametrize("wrong", [-1.0, float("nan"), 100.0])
def test_a_row_that_is_no_tolerance_is_named(wrong: float) -> None:
    rows = np.ones(12)
    rows[4] = wrong
    with pytest.raises(InputError, match=r"item 5 of 12 \(beta-4\)"):
        tf.tolerance_band([beta(n) for n in range(12)], STEPS, b_pct=rows)


def test_missing_and_impossible_temperatures_are_refused() -> None:
    curves = [beta(n) for n in range(12)]
    for t_c in ([20.0, np.nan], [20.0, -300.0]):
        with pytest.raises(ExtrapolationError, match=r"item 1 of 12 \(beta-0\)"):
            tf.tolerance_band(curves, t_c, r25_pct=1)
    with pytest.raises(InputError, match="12 curves; the first dimension"):
        tf.tolerance_band(curves, 20.0, r25_pct=np.ones(5))
    with pytest.raises(InputError, match="item 2 of 2 is no Curve and no Family, but 'ntc-10k'"):
        tf.tolerance_band([curves[0], "ntc-10k"], 20.0, r25_pct=1)  # type: ignore[list-item]
    assert tf.tolerance_band(curves, [], r25_pct=1).dr_pct.shape == (12, 0)


def test_a_band_of_many_keeps_its_temperatures() -> None:
    t_c = np.array([0.0, 25.0])
    band = tf.tolerance_band([beta(n) for n in range(12)], t_c, r25_pct=1)
    t_c[0] = 99.0
    assert band.t_c[5].tolist() == [0.0, 25.0]
    assert len(band.to_frame()) == 24


@pytest.mark.parametrize("count", [1, 3, 9])
def test_a_masked_tolerance_is_none(count: int) -> None:
    mask = [False] * (count - 1) + [True]
    r25_pct = np.ma.masked_array(np.ones(count), mask)
    with pytest.raises(InputError, match="r25_pct"):
        tf.tolerance_band([beta(n) for n in range(count)], STEPS, r25_pct=r25_pct)
    with pytest.raises(InputError, match=f"element {count} of r25_pct is not a finite number"):
        tf.tolerance_band(beta(0), STEPS[:count], r25_pct=r25_pct)


@pytest.mark.parametrize("count", [2, 9])
def test_tolerances_that_do_not_go_with_the_temperatures_are_told(count: int) -> None:
    message = r"tolerances of shape \(2,\) do not go with temperatures of shape \(3,\)"
    with pytest.raises(InputError, match=f"item 1 of {count}.*{message}"):
        tf.tolerance_band(
            [beta(n) for n in range(count)], [0.0, 25.0, 60.0], r25_pct=np.ones((count, 2))
        )
    with pytest.raises(InputError, match=message):
        tf.tolerance_band(beta(0), [0.0, 25.0, 60.0], b_pct=np.ones(2))
