"""Pictures: what is drawn, and that it can be read in print."""

from __future__ import annotations

import numpy as np
import pytest

import thermofit as tf
from tests.test_package import HEAVY, loaded_after
from thermofit.errors import InputError
from thermofit.report import substitutes_picture

pytest.importorskip("matplotlib")

RANGE_C = (0.0, 60.0)
SUPPOSED = tf.Tolerance.of(r25_pct=1.0, b_pct=1.0)


def test_lines_are_nominal_errors_and_shades_their_tolerance() -> None:
    found = tf.substitutes("ntc-10k-3977", RANGE_C, candidates="ntc-10k-3950", unstated=SUPPOSED)
    ax = substitutes_picture(found)
    curve = found.errors(found.best)
    line = next(line for line in ax.lines if line.get_label() == "ntc-10k-3950")
    assert np.asarray(line.get_ydata()) == pytest.approx(curve.nominal_k)
    assert curve.nominal_k[np.abs(curve.nominal_k).argmax()] == found.best.curve_k
    own, shade = ax.collections
    assert shade.get_datalim(ax.transData).ymin == pytest.approx(found.best.coldest_k)
    assert shade.get_datalim(ax.transData).ymax == pytest.approx(found.best.warmest_k)
    assert own.get_hatch()
    assert own.get_datalim(ax.transData).ymax == pytest.approx(found.own_worst_k)
    assert ax.get_xlabel() == "true temperature / °C"
    assert ax.get_ylabel() == "reading less true temperature / K"
    assert {text.get_text() for text in ax.texts} == {"reads too warm", "reads too cold"}


def test_lines_are_told_apart_without_colour() -> None:
    spares = {str(n): (10e3 + 100.0 * n, 3950.0) for n in range(7)}
    ax = substitutes_picture(found := tf.substitutes("ntc-10k-3977", RANGE_C, candidates=spares))
    lines = [line for line in ax.lines if line.get_label() in spares]
    assert [line.get_label() for line in lines] == [row.name for row in found.rows[:5]]
    assert len({line.get_marker() for line in lines}) == 5
    # Dashes of one's own making count as "--".
    assert {line.get_linestyle() for line in lines} == {"-", "--", "-.", ":"}
    legend = ax.get_legend()
    assert legend is not None and legend.get_title().get_text().startswith("2 more not drawn")


def test_a_part_that_is_far_off_does_not_flatten_the_others() -> None:
    found = tf.substitutes("ntc-10k-3977", RANGE_C, candidates=["ntc-10k-3950", "ntc-100k-4311"])
    ax = substitutes_picture(found)
    assert max(abs(end) for end in ax.get_ylim()) < 3.0
    alone = tf.substitutes("ntc-10k-3977", RANGE_C, candidates="ntc-100k-4311")
    assert substitutes_picture(alone).get_ylim()[0] < -50.0


def test_an_original_without_a_tolerance_has_no_band() -> None:
    found = tf.substitutes((10e3, 3977.0), RANGE_C, candidates=(10e3, 3950.0))
    assert len(substitutes_picture(found).collections) == 0


def test_nothing_heavy_is_imported_before_something_is_drawn() -> None:
    assert not loaded_after("import thermofit.report, thermofit.decide.substitute") & set(HEAVY)


def test_axes_of_ones_own_are_drawn_into() -> None:
    from matplotlib.figure import Figure

    ax = Figure().add_subplot()
    assert substitutes_picture(tf.substitutes("ntc-10k-3977", RANGE_C), ax=ax) is ax


def test_what_cannot_be_drawn_is_refused() -> None:
    with pytest.raises(InputError, match="must be Substitutes"):
        substitutes_picture("ntc-10k-3950")  # type: ignore[arg-type]
    floor = tf.Curve.shifted_exponential(a_ohm=500.0, b_k=443.0, c_k=-150.0, id="floor")
    found = tf.substitutes(floor, RANGE_C, candidates=(1e3, 3950.0))
    with pytest.raises(InputError, match="nothing to draw"):
        substitutes_picture(found)
