"""Coverage factors, combination and printing of uncertainties."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermofit.errors import InputError
from thermofit.interval import combine, coverage_factor, format_pair


# JCGM 100:2008, Table G.2: t_p(ν) for p = 95 %, 99 % and 99.73 %.
@pytest.mark.parametrize(
    ("coverage", "dof", "factor"),
    [
        (0.95, 1, 12.71), (0.95, 2, 4.30), (0.95, 5, 2.57), (0.95, 10, 2.23), (0.95, 50, 2.01),
        (0.99, 3, 5.84), (0.99, 20, 2.85), (0.95, np.inf, 1.960), (0.99, np.inf, 2.576),
        (0.9973, np.inf, 3.000),
    ],
)  # fmt: skip
def test_coverage_factors_are_those_of_the_guide(
    coverage: float, dof: float, factor: float
) -> None:
    digits = len(str(factor).partition(".")[2])
    assert coverage_factor(coverage, dof) == pytest.approx(factor, abs=0.51 * 10.0**-digits)


@pytest.mark.parametrize("coverage", [0.0, 1.0, 95.0, -0.1, float("nan")])
def test_coverage_is_a_probability(coverage: float) -> None:
    with pytest.raises(InputError, match=r"0\.95"):
        coverage_factor(coverage)


def test_factors_for_many_degrees_of_freedom_at_once() -> None:
    many = coverage_factor(0.95, np.array([2.0, np.inf]))
    assert many == pytest.approx([coverage_factor(0.95, 2.0), coverage_factor(0.95)])


@given(st.floats(1e-6, 10.0), st.floats(0.0, 10.0), st.integers(1, 50))
def test_a_known_part_adds_degrees_of_freedom(u_scatter: float, u_known: float, dof: int) -> None:
    u, effective = combine(np.array(u_scatter), dof, np.array(u_known))
    assert u >= max(u_scatter, u_known)
    assert effective >= dof * (1.0 - 1e-12)


# JCGM 100:2008, 7.2.2 and 7.2.6: the mass of 100.021 47 g with u = 0.35 mg.
def test_value_and_uncertainty_print_as_in_the_guide() -> None:
    assert format_pair(100.02147, 0.00035) == ("100.02147", "0.00035")


@pytest.mark.parametrize(
    ("value", "u", "shown"),
    [
        (25.01342, 0.0421, ("25.013", "0.042")),
        (25.01342, 0.0996, ("25.01", "0.10")),
        (3977.4, 12.3, ("3977", "12")),
        (397741.0, 1234.0, ("397700", "1200")),
        (-0.04, 0.0123, ("-0.040", "0.012")),
        (0.0, 0.0123, ("0.000", "0.012")),
        (9.2e-8, 3.8e-8, ("0.000000092", "0.000000038")),
        (1.5, 0.0, ("1.5", "0")),
        (1.5, float("nan"), ("1.5", "unknown")),
    ],
)
def test_uncertainty_has_two_digits_and_the_value_ends_with_them(
    value: float, u: float, shown: tuple[str, str]
) -> None:
    assert format_pair(value, u) == shown


@given(st.floats(-1e6, 1e6), st.floats(1e-11, 1e6))
def test_printed_pair_reads_back_within_half_a_last_digit(value: float, u: float) -> None:
    text, u_text = format_pair(value, u)
    assert float(u_text) == pytest.approx(u, rel=0.051)
    assert abs(float(text) - value) <= 0.51 * u + 1e-12 * abs(value)


def test_effective_degrees_of_freedom_are_those_of_welch_and_satterthwaite() -> None:
    """JCGM 100, G.4.1, equation G.2b: u⁴ = (9 + 16)², of which 3⁴ has 4 degrees of freedom."""
    u, dof = combine(np.array(3.0), 4.0, np.array(4.0))
    assert u == pytest.approx(5.0)
    assert dof == pytest.approx(4.0 * 5.0**4 / 3.0**4)
