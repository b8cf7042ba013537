"""The table and the coefficients for those who can change the firmware."""

from __future__ import annotations

import io

import numpy as np
import pandas as pd
import pytest

import thermofit as tf
from tests.test_substitutes import DIVIDER, ORIGINAL, RANGE_C, part
from thermofit.circuit import Circuit
from thermofit.decide import substitutes
from thermofit.decide.substitute import Firmware
from thermofit.errors import InputError


def firmware(candidates: object, circuit: Circuit | None = None, **settings: float) -> Firmware:
    found = substitutes(ORIGINAL, RANGE_C, circuit, candidates=candidates, trim=None)
    return found.firmware(found.best, **settings)


def test_an_equation_of_the_substitutes_own_kind_is_exact() -> None:
    exact = firmware(part(9e3, 3800.0))
    beta = next(one for one in exact.fits if one.curve.equation.name == "beta")
    assert beta.curve.coefficients["r25_ohm"] == pytest.approx(9e3, rel=1e-9)
    assert beta.curve.coefficients["b_k"] == pytest.approx(3800.0, rel=1e-9)
    assert all(abs(one.largest_k) < 1e-6 for one in exact.fits)
    # Of those that differ by rounding only, the one with the fewest coefficients comes first.
    assert exact.fits[0] is beta
    assert "callendar-van-dusen" in exact.not_fitted


def test_the_largest_error_of_each_equation_is_stated() -> None:
    curve = tf.family("ntc-10k-3434").curve
    exact = firmware(curve)
    t_c = np.linspace(*RANGE_C, 2001)
    sizes = [abs(one.largest_k) for one in exact.fits]
    assert sizes == sorted(sizes) and len(exact.fits) >= 9
    for one in exact.fits:
        error = 1.0 / one.curve._quiet_inv_t(np.log(curve.resistance(t_c))) - 273.15 - t_c
        assert abs(one.largest_k) == pytest.approx(np.abs(error).max(), rel=0.02, abs=1e-6)
    assert sizes[-1] > 0.1  # a constant B does not follow a real material


def test_the_table_reads_back_and_its_error_is_that_of_straight_lines() -> None:
    exact = firmware(part(9e3, 3800.0), DIVIDER, step_k=7.0)
    table = pd.read_csv(io.StringIO(exact.to_csv()))
    assert list(table) == ["t_c", "r_ohm", "counts"]
    assert table["t_c"].tolist() == [*range(0, 60, 7), 60.0]
    assert table["r_ohm"].to_numpy() == pytest.approx(
        part(9e3, 3800.0).curve.resistance(exact.t_c), rel=1e-15
    )
    assert table["counts"].tolist() == DIVIDER.counts(exact.r_ohm).tolist()
    t_c = np.linspace(*RANGE_C, 3001)
    r_ohm = part(9e3, 3800.0).curve.resistance(t_c)
    straight = np.interp(r_ohm, exact.r_ohm[::-1], exact.t_c[::-1])
    assert exact.table_error_k == pytest.approx(np.abs(straight - t_c).max(), rel=0.01)
    finer = firmware(part(9e3, 3800.0), step_k=1.0)
    assert finer.table_error_k < 0.1 * exact.table_error_k and finer.counts is None


def test_a_trimmed_network_has_the_table_of_the_network() -> None:
    spare = part(22e3, 4200.0)
    found = substitutes(ORIGINAL, RANGE_C, candidates=spare, trim="both")
    row = found.best
    exact = found.firmware(row)
    r_ohm = spare.curve.resistance(exact.t_c)
    assert exact.r_ohm == pytest.approx(
        r_ohm * row.parallel_ohm / (r_ohm + row.parallel_ohm) + row.series_ohm, rel=1e-12
    )
    text = str(exact)
    assert row.resistors in text and "largest error / K" in text and "counts" not in text


def test_coefficients_come_as_a_frame() -> None:
    frame = firmware(part(9e3, 3800.0)).coefficients()
    beta = frame[frame["equation"] == "beta"].set_index("coefficient")["value"]
    assert beta["b_k"] == pytest.approx(3800.0)
    terms = frame[frame["equation"] == "log-polynomial-4"]["coefficient"].tolist()
    assert terms == ["r_ref_ohm", "a0", "a1", "a2", "a3"]


def test_platinum_gets_its_own_equation() -> None:
    found = substitutes("pt-1000-iec60751", RANGE_C, candidates="pt-500-iec60751")
    (one,) = found.firmware(found.best).fits
    assert one.curve.equation.name == "callendar-van-dusen" and abs(one.largest_k) < 1e-6


def test_a_step_that_is_none_is_refused() -> None:
    with pytest.raises(InputError, match="step_k"):
        firmware(part(9e3), step_k=0.0)
