"""What pictures of curves, bands, circuits, steps and plans show, against the numbers behind."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import thermofit as tf
from tests.pictures import AIR, DIVIDER, drawn, fan_log, inlet_fit, plan, readings, two_baths
from thermofit import report
from thermofit.circuit import ConstantCurrent, Converter, Divider
from thermofit.errors import InputError, ThermofitError
from thermofit.report.canvas import plain, two_digits, wrapped

pytest.importorskip("matplotlib")

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Of the normal distribution, 95 %.
K_95 = 1.959964


def line(ax: Axes, label: str) -> Any:
    return next(line for line in ax.lines if str(line.get_label()).startswith(label))


def bars(ax: Axes, direction: int) -> Any:
    """Half-lengths of error bars, 0 along the temperature, 1 upwards."""
    from matplotlib.collections import LineCollection

    for collection in ax.collections:
        if isinstance(collection, LineCollection):
            ends = np.array(collection.get_segments())
            length = np.abs(np.ptp(ends, axis=1))
            if (length[:, 1 - direction] == 0.0).all():
                return ends[:, :, direction]
    raise AssertionError("no error bars")


# -- a curve ---------------------------------------------------------------------------


def test_the_line_is_the_curve_over_its_valid_range() -> None:
    fit = inlet_fit()
    ax = report.curve_picture(fit)
    t_c, r_kohm = np.asarray(line(ax, "Steinhart–Hart").get_xydata()).T
    assert (t_c[0], t_c[-1]) == (fit.curve.t_min_c, fit.curve.t_max_c)
    assert 1e3 * r_kohm == pytest.approx(fit.curve.resistance(t_c))
    assert ax.get_yscale() == "log"


def test_readings_have_error_bars_of_the_coverage() -> None:
    fit = inlet_fit()
    p = fit.points
    assert p.u_t_k is not None and p.u_r_ohm is not None
    ax = report.curve_picture(fit)
    assert bars(ax, 0) == pytest.approx(
        np.stack([p.t_c - K_95 * p.u_t_k, p.t_c + K_95 * p.u_t_k], axis=1), rel=1e-6
    )
    # On ln R, where the uncertainty is one.
    u = p.u_r_ohm / p.r_ohm
    assert np.log(1e3 * bars(ax, 1) / p.r_ohm[:, np.newaxis]) == pytest.approx(
        np.stack([-K_95 * u, K_95 * u], axis=1), rel=1e-5
    )
    wide = report.curve_picture(fit, coverage=0.99)
    assert np.ptp(bars(wide, 0), axis=1) == pytest.approx(2 * 2.575829 * p.u_t_k, rel=1e-5)


def test_half_widths_beside_the_curve_are_those_of_the_band() -> None:
    fit = two_baths()
    ax = report.curve_picture(fit)
    labels = [text for text in ax.texts if text.get_text().startswith("±")]
    assert len(labels) >= 3
    for label in labels:
        t_c, r_kohm = label.xy  # type: ignore[attr-defined]
        band = fit.temperature(fit.curve.resistance(t_c))
        assert label.get_text() == f"± {two_digits(0.5 * (band.high - band.low))} K"
        # At the edge of the band, and so above it.
        at = fit.resistance(t_c)
        assert 1e3 * r_kohm == pytest.approx(
            at.value * np.exp(0.5 * (at.high - at.low) / at.value), rel=1e-3
        )


def test_the_shade_is_the_band() -> None:
    fit = two_baths()
    ax = report.curve_picture(fit)
    (shade,) = [c for c in ax.collections if "band" in str(c.get_label())]
    corners: Any = shade.get_paths()[0].vertices
    coldest = corners[np.isclose(corners[:, 0], -40.0)][:, 1]
    band = fit.resistance(-40.0)
    # Symmetric in ln R, to which the band belongs.
    half = 0.5 * (band.high - band.low) / band.value
    assert coldest.max() == pytest.approx(1e-3 * band.value * np.exp(half))
    assert coldest.min() == pytest.approx(1e-3 * band.value * np.exp(-half))


def test_a_curve_without_a_covariance_says_that_its_uncertainty_is_unknown() -> None:
    ax = report.curve_picture(AIR.curve)
    assert not ax.collections
    assert "uncertainty not" in str(ax.lines[0].get_label())
    assert not [text for text in ax.texts if "±" in text.get_text()]
    with_points = report.curve_picture(AIR.curve, points=tf.Points([25.0], [10e3]))
    assert [str(h.get_label()) for h in with_points.containers] == ["readings"]


def test_r25_and_b_stand_beside_the_curve_where_it_has_them() -> None:
    told = report.curve_picture(AIR.curve).texts[0].get_text()
    assert told == "R25 = 10.00 kΩ\nB25/85 = 3977 K"
    hot = AIR.curve.replace(t_range_c=(60, 120))
    assert not report.curve_picture(hot).texts


@pytest.mark.parametrize(
    ("r25_ohm", "unit"), [(100.0, "Ω"), (10e3, "kΩ"), (20e6, "MΩ")]
)  # fmt: skip
def test_the_unit_of_the_resistance_suits_it(r25_ohm: float, unit: str) -> None:
    curve = tf.Curve.beta(r25_ohm=r25_ohm, b_k=3977, t_range_c=(0, 60))
    assert report.curve_picture(curve).get_ylabel() == f"resistance / {unit}"


def test_platinum_has_a_linear_scale_and_no_b_value() -> None:
    ax = report.curve_picture(tf.Curve.callendar_van_dusen(r0_ohm=100))
    assert ax.get_yscale() == "linear"
    # IEC 60751: 109.73 Ω at 25 °C.
    assert ax.texts[0].get_text() == "R25 = 109.7 Ω"


# -- residuals -------------------------------------------------------------------------


def test_residuals_are_those_of_the_fit_with_what_the_readings_are_uncertain_by() -> None:
    fit = inlet_fit()
    assert fit.sigma is not None
    ax = report.residuals_picture(fit)
    (marks,) = ax.containers
    assert np.asarray(marks[0].get_xydata()).T[1] == pytest.approx(fit.residuals_k)
    # They agree as far as the curve is as steep at the fitted temperature as at the measured one.
    assert np.ptp(bars(ax, 1), axis=1) == pytest.approx(2 * K_95 * fit.sigma, rel=1e-3)
    assert f"largest {two_digits(fit.max_abs_k)} K" in ax.get_title().replace("\u00a0", " ")


def test_the_band_of_the_curve_lies_about_zero() -> None:
    fit = inlet_fit()
    upper = report.residuals_picture(fit).lines[1]
    t_c, half_k = np.abs(np.asarray(upper.get_xydata())).T
    band = fit.temperature(fit.curve.resistance(t_c))
    assert half_k == pytest.approx(0.5 * (band.high - band.low))


def test_readings_are_compared_with_a_curve_that_was_not_fitted_to_them() -> None:
    p = readings(0.01, 0.0, [0.0, 25.0, 60.0])
    ax = report.residuals_picture(AIR.curve, points=p)
    off_k = p.t_c - AIR.curve.temperature(p.r_ohm)
    assert np.asarray(ax.containers[0][0].get_ydata()) == pytest.approx(off_k)
    with pytest.raises(InputError, match="give the readings as points"):
        report.residuals_picture(AIR.curve)


def test_a_curve_through_its_readings_has_no_residuals_but_rounding() -> None:
    exact = tf.fit(tf.Points([0, 25, 70], [32640, 10020, 1741]), equation="steinhart-hart")
    ax = report.residuals_picture(exact)
    assert ax.get_title().endswith("it meets the readings exactly")
    assert ax.get_ylim()[1] == 1e-3


def test_readings_without_uncertainties_have_no_bars() -> None:
    fit = tf.fit(tf.Points([0, 25, 50, 70], [32640, 10020, 3560, 1741]), equation="beta")
    ax = report.residuals_picture(fit)
    assert ax.containers[0].get_label() == "readings"
    assert ax.containers[0].lines[2] == ()  # type: ignore[attr-defined]


# -- a tolerance band ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("quantity", "upper", "lower"),
    [("resistance", "dr_pct", "dr_low_pct"), ("temperature", "dt_high_k", "dt_low_k")],
)
def test_limits_are_those_of_the_band(quantity: Any, upper: str, lower: str) -> None:
    band = tf.tolerance_band(AIR, [60.0, 0.0, 25.0, 40.0])
    ax = report.band_picture(band, quantity=quantity)
    order = np.argsort(band.t_c)
    for label, name in (("upper", upper), ("lower", lower)):
        drawn_line = line(ax, f"{label} limit")
        assert np.asarray(drawn_line.get_xdata()) == pytest.approx([0.0, 25.0, 40.0, 60.0])
        assert np.asarray(drawn_line.get_ydata()) == pytest.approx(getattr(band, name)[order])
    # An NTC of more ohms than it should have reads too cold.
    words = {text.get_text() for text in ax.texts}
    assert words == ({"reads too warm", "reads too cold"} if quantity == "temperature" else set())


def test_a_band_that_is_no_line_is_refused() -> None:
    with pytest.raises(InputError, match="one curve at two temperatures"):
        report.band_picture(tf.tolerance_band(AIR, 25.0))
    with pytest.raises(InputError, match="one curve at two temperatures"):
        report.band_picture(tf.tolerance_band([AIR, AIR], [0.0, 25.0]))
    with pytest.raises(InputError, match="'resistance' or 'temperature', not 'ohm'"):
        report.band_picture(tf.tolerance_band(AIR, [0.0, 25.0]), quantity="ohm")  # type: ignore[arg-type]


# -- a circuit -------------------------------------------------------------------------


def test_the_output_is_the_code_with_the_voltage_beside_it() -> None:
    ax = report.divider_picture(DIVIDER, AIR, t_range_c=(0, 60))
    t_c, code = np.asarray(ax.lines[0].get_xydata()).T
    assert code == pytest.approx(DIVIDER.counts_at(AIR, t_c))
    (volts,) = ax.child_axes
    ax.figure.draw_without_rendering()  # type: ignore[union-attr]
    # Ratiometric, 10 bits, 5 V: a count is 5 V/1024.
    low, high = np.array(ax.get_ylim()) * 5.0 / 1024
    assert volts.get_ylim() == pytest.approx((low, high))
    own = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10, reference_v=2.0))
    ax = report.divider_picture(own, AIR)
    ax.figure.draw_without_rendering()  # type: ignore[union-attr]
    assert ax.child_axes[0].get_ylim()[1] == pytest.approx(ax.get_ylim()[1] * 2.0 / 1024)


def test_resolution_is_kelvin_per_count_and_its_finest_is_marked() -> None:
    ax = report.divider_picture(DIVIDER, AIR, quantity="resolution")
    t_c, each_k = np.asarray(line(ax, "one step").get_xydata()).T
    assert each_k == pytest.approx(DIVIDER.kelvin_per_count(AIR, t_c))
    ((best_c, best_k),) = np.asarray(line(ax, "finest").get_xydata())
    assert best_k == each_k.min() and t_c[each_k.argmin()] == best_c


def test_temperatures_of_which_the_code_says_nothing_are_hatched() -> None:
    coarse = Divider(pullup_ohm=1e3, supply_v=5.0, converter=Converter(bits=8))
    ax = report.divider_picture(coarse, tf.family("ntc-100k-4311"), quantity="resolution")
    (hatch,) = ax.collections
    assert hatch.get_hatch()
    t_c = np.asarray(line(ax, "one step").get_xdata())
    told = np.isfinite(np.asarray(line(ax, "one step").get_ydata()))
    first_c = t_c[told].min()
    corners: Any = hatch.get_paths()[0].vertices
    covered = corners[:, 0]
    assert covered.min() == pytest.approx(t_c[0])
    assert covered.max() == pytest.approx(first_c, abs=t_c[1] - t_c[0])
    assert not report.divider_picture(DIVIDER, AIR).collections


def test_a_constant_current_can_be_drawn_too() -> None:
    source = ConstantCurrent(current_a=1e-4, supply_v=5.0, converter=Converter(bits=12))
    ax = report.divider_picture(source, AIR, t_range_c=(10, 60))
    t_c, code = np.asarray(ax.lines[0].get_xydata()).T
    assert code == pytest.approx(source.counts_at(AIR, t_c))


def test_what_a_circuit_cannot_show_is_refused() -> None:
    with pytest.raises(InputError, match="'output' or 'resolution'"):
        report.divider_picture(DIVIDER, AIR, quantity="volts")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="beyond the valid range of the curve, -40 to 125"):
        report.divider_picture(DIVIDER, AIR, t_range_c=(0, 200))
    with pytest.raises(InputError, match="from low to high, not from 60 to 0"):
        report.divider_picture(DIVIDER, AIR, t_range_c=(60, 0))
    with pytest.raises(InputError, match="pair"):
        report.divider_picture(DIVIDER, AIR, t_range_c=60)  # type: ignore[arg-type]
    short = Divider(pullup_ohm=1e9, supply_v=5.0, converter=Converter(bits=8))
    with pytest.raises(InputError, match="no resolution"):
        report.divider_picture(short, AIR, quantity="resolution")


# -- a step ----------------------------------------------------------------------------


def test_the_step_shows_readings_fit_and_time_constant() -> None:
    response = fan_log("on")
    ax = report.step_picture(response)
    wild = response.outliers
    assert np.count_nonzero(wild) == 1
    assert np.asarray(line(ax, "readings").get_ydata()) == pytest.approx(response.t_c[~wild])
    assert np.asarray(line(ax, "left out").get_ydata()) == pytest.approx(response.t_c[wild])
    t_s, t_c = np.asarray(line(ax, "fitted").get_xydata()).T
    assert t_c == pytest.approx(response.temperature(t_s))
    begin, end = np.asarray(line(ax, "τ").get_xdata())
    assert begin == response.onset_s
    assert end - begin == pytest.approx(response.tau_s)
    (level,) = set(np.asarray(line(ax, "τ").get_ydata()))
    # 1 − 1/e of the step, where one time constant is all there is.
    assert level == pytest.approx(response.start_c + 0.63212 * response.step_k, abs=1e-3)
    assert level == pytest.approx(response.temperature(end), abs=1e-6)
    assert f"{response.tau_s:.2f}"[:4] in ax.get_title()


# -- a plan ----------------------------------------------------------------------------


def test_a_plan_shows_the_best_choice_of_each_number_of_baths() -> None:
    planned = plan()
    ax = report.plan_picture(planned)
    curves = [one for one in ax.lines if len(np.asarray(one.get_xdata())) > 10]
    marks = [one for one in ax.lines if one.get_linestyle() == "None"]
    assert len(curves) == len(marks) == len(planned.counts) == 4
    for count, curve, mark in zip(planned.counts, curves, marks, strict=True):
        best = planned.best(count)
        assert np.asarray(curve.get_ydata()) == pytest.approx(best.half_width_k)
        assert np.asarray(mark.get_xdata()) == pytest.approx(best.baths_c)
        assert np.asarray(mark.get_ydata()) == pytest.approx(best.half_width_at(best.baths_c))
    labels = [str(one.get_label()).replace("\u00a0", " ") for one in ax.lines]
    assert "0, 99.7 °C: at most ± 0.95 K" in labels


def test_baths_outside_the_range_that_matters_have_no_mark() -> None:
    planned = tf.plan([(0.0, 0.05), (90.0, 0.3)], u_r_pct=0.5, t_range_c=(0, 60))
    marks = [one for one in report.plan_picture(planned).lines if one.get_linestyle() == "None"]
    assert np.asarray(marks[-1].get_xdata()) == pytest.approx([0.0])


# -- all of them -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("picture", "wanted"),
    [
        (report.curve_picture, "Fit or Curve, not str"),
        (report.residuals_picture, "Fit or Curve, not str"),
        (report.band_picture, "Band, not str"),
        (report.plane_picture, "a Verdict, a Fit, .* not str"),
        (lambda it: report.divider_picture(it, AIR), "Circuit, not str"),
        (lambda it: report.divider_picture(DIVIDER, it), "Family or a Curve, not str"),
        (report.step_picture, "StepResponse, not str"),
        (report.plan_picture, "Plan, not str"),
        (report.substitutes_picture, "Substitutes, not str"),
        (lambda it: report.curve_picture(AIR.curve, points=it), "Points, not str"),
        (lambda it: report.curve_picture(AIR.curve, ax=it), "ax must be Axes"),
    ],
)
def test_something_else_is_refused(picture: Any, wanted: str) -> None:
    with pytest.raises(InputError, match=wanted):
        picture("the inlet")


@pytest.mark.parametrize("coverage", [0.0, 1.0, 95])
def test_a_coverage_is_a_probability(coverage: float) -> None:
    for draw in (report.curve_picture, report.residuals_picture):
        with pytest.raises(InputError, match="between 0 and 1"):
            draw(inlet_fit(), coverage=coverage)


@pytest.mark.parametrize(
    "draw",
    [
        lambda ax: report.curve_picture(AIR.curve, ax=ax),
        lambda ax: report.residuals_picture(inlet_fit(), ax=ax),
        lambda ax: report.band_picture(tf.tolerance_band(AIR, [0.0, 25.0]), ax=ax),
        lambda ax: report.plane_picture(tf.check(readings(0.0, 0.0), AIR), ax=ax),
        lambda ax: report.divider_picture(DIVIDER, AIR, ax=ax),
        lambda ax: report.step_picture(fan_log(), ax=ax),
        lambda ax: report.plan_picture(plan(), ax=ax),
    ],
)
def test_axes_of_ones_own_are_drawn_into(draw: Any) -> None:
    from matplotlib.figure import Figure

    halves: Any = Figure().subfigures(1, 2)
    ax = halves[0].add_subplot()
    assert draw(ax) is ax


def test_missing_matplotlib_is_named_with_the_way_to_get_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(ThermofitError, match=r'pip install "thermofit\[pictures\]"'):
        report.curve_picture(AIR.curve)


def test_names_are_drawn_as_they_are_written() -> None:
    curve = AIR.curve.replace(id=r"$\frac{")
    ax = report.curve_picture(curve)
    ax.figure.draw_without_rendering()  # type: ignore[union-attr]
    assert ax.title.get_text() == r"\$\frac{"
    assert plain("a\x00b\u202ec") == "a\ufffdb\ufffdc"
    assert plain("_air").strip() == "_air" and not plain("_air").startswith("_")


def test_a_name_without_end_leaves_room_to_draw() -> None:
    for name in ("sensor of the western glasshouse " * 200, "x" * 5000):
        family = tf.Family(AIR.curve.replace(id=name), 2.0, 1.0)
        ax = report.plane_picture(tf.check(readings(0.0, 0.0), family))
        ax.figure.draw_without_rendering()  # type: ignore[union-attr]
        assert len(ax.get_title().split("\n")) == 4 and "…" in ax.get_title()
        assert ax.get_window_extent().height > 150.0


def test_numbers_stay_with_their_units_where_lines_break() -> None:
    text = "holds for R(25 °C) ± 5 % and for B ± 3 %"
    for width in range(16, 40):
        for part in wrapped(text, width).split("\n"):
            assert not part.endswith(("±", "5", "3", "25")) and not part.startswith(
                ("±", "%", "°C")
            )


def test_a_picture_goes_to_a_file_the_same_each_time(tmp_path: Any) -> None:
    for ending in ("svg", "png"):
        for name in ("one", "two"):
            report.save_picture(drawn("plane-accept"), tmp_path / f"{name}.{ending}")
        one, two = ((tmp_path / f"{name}.{ending}").read_bytes() for name in ("one", "two"))
        assert one == two and len(one) > 5000
