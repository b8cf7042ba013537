"""Contributions and budgets, against the examples of JCGM 100:2008."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermofit.budget import Budget, Contribution, Distribution
from thermofit.errors import InputError
from thermofit.interval import coverage_factor

KINDS: tuple[Distribution, ...] = ("rectangular", "triangular", "U-shaped")

sizes = st.floats(1e-6, 1e6)
# The square of a sensitivity of 1e-200 would underflow.
sensitivities = st.floats(-10.0, 10.0).filter(lambda c: c == 0.0 or abs(c) > 1e-6)
parts_of_a_budget = st.tuples(sizes, sensitivities, st.floats(1.0, 100.0))
contributions = st.lists(parts_of_a_budget, max_size=6)


def budget_of(parts: list[tuple[float, float, float]], factor: float = 1.0) -> Budget:
    """Normal contributions of size, sensitivity and degrees of freedom, in a unit of choice."""
    return Budget(
        0.0,
        "Ω",
        [
            Contribution(str(at), u * factor, k=1, unit="Ω", sensitivity=c, dof=dof)
            for at, (u, c, dof) in enumerate(parts)
        ],
    )


# JCGM 100:2008, Annex H.1, end gauge: table H.1 and H.1.6; from memory.
END_GAUGE_NM = {
    "standard": (25.0, 18.0), "difference": (9.7, 25.6), "temperature": (2.9, 50.0),
    "expansion": (16.6, 2.0),
}  # fmt: skip


def test_end_gauge_of_the_guide() -> None:
    gauge = Budget(
        50_000_838.0,
        "nm",
        [Contribution(name, u, k=1, unit="nm", dof=dof) for name, (u, dof) in END_GAUGE_NM.items()],
    )
    assert round(gauge.standard_uncertainty) == 32
    assert math.floor(gauge.dof) == 16
    # The guide expands the rounded 32 nm, with the degrees of freedom rounded down.
    factor = coverage_factor(0.99, math.floor(gauge.dof))
    assert round(factor * round(gauge.standard_uncertainty)) == 93
    assert gauge.expanded_uncertainty(0.99) == pytest.approx(93, rel=0.02)


# JCGM 100:2008, Annex H.2, table H.2: five readings of V in V, I in mA and φ in rad, with
# R = 127.732 Ω, u = 0.071 Ω; X = 219.847 Ω, u = 0.295 Ω; Z = 254.260 Ω, u = 0.236 Ω; from memory.
V = [5.007, 4.994, 5.005, 4.990, 4.999]
I_MA = [19.663, 19.639, 19.640, 19.685, 19.678]
PHI = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]


@pytest.mark.parametrize(
    ("quantity", "value", "u"),
    [("R", 127.732, 0.071), ("X", 219.847, 0.295), ("Z", 254.260, 0.236)],
)
def test_correlated_readings_of_the_guide(quantity: str, value: float, u: float) -> None:
    v, i, phi = np.mean(V), np.mean(I_MA) / 1e3, np.mean(PHI)
    z = v / i
    part = {"R": np.cos(phi), "X": np.sin(phi), "Z": 1.0}[quantity]
    slope = {"R": -np.sin(phi), "X": np.cos(phi), "Z": 0.0}[quantity]
    r = np.corrcoef([V, I_MA, PHI])
    budget = Budget(
        float(z * part),
        "Ω",
        [
            Contribution.from_readings("V", V, unit="V", sensitivity=float(part / i)),
            Contribution.from_readings(
                "I", I_MA, unit="mA", sensitivity=float(-z * part / i / 1e3)
            ),
            Contribution.from_readings("φ", PHI, unit="rad", sensitivity=float(z * slope)),
        ],
        [("V", "I", float(r[0, 1])), ("V", "φ", float(r[0, 2])), ("I", "φ", float(r[1, 2]))],
    )
    assert round(budget.value, 3) == value
    # The guide's inputs are rounded to two digits, which moves the last digit of u(X).
    assert budget.standard_uncertainty == pytest.approx(u, abs=0.001)
    assert budget.dof == pytest.approx(4.0)  # five readings of everything, taken together


# JCGM 100:2008, H.2.4 (from memory): the same from five values of each quantity, one for each set
# of readings.
@pytest.mark.parametrize(
    ("quantity", "value", "u"),
    [("R", 127.732, 0.071), ("X", 219.847, 0.295), ("Z", 254.260, 0.236)],
)
def test_scatter_of_readings_of_the_guide(quantity: str, value: float, u: float) -> None:
    sets = zip(V, I_MA, PHI, strict=True)
    parts = [
        {"R": v / i * math.cos(phi), "X": v / i * math.sin(phi), "Z": v / i} for v, i, phi in sets
    ]
    each = [part[quantity] * 1e3 for part in parts]  # currents are in mA
    assert round(float(np.mean(each)), 3) == value
    scatter = Contribution.from_readings(quantity, each, unit="Ω")
    assert round(scatter.standard_uncertainty, 3) == u
    assert scatter.dof == 4.0


# JCGM 100:2008, 4.4.5 and 4.4.6: a temperature between 96 °C and 104 °C; 4.3.7: expansion
# coefficient of copper ± 0.40e-6/°C.  All from memory.
@pytest.mark.parametrize(
    ("half_width", "distribution", "u", "places"),
    [(4.0, "rectangular", 2.3, 1), (4.0, "triangular", 1.6, 1), (0.40, "rectangular", 0.23, 2)],
)
def test_limits_of_the_guide(
    half_width: float, distribution: Distribution, u: float, places: int
) -> None:
    part = Contribution("limits", half_width, distribution)
    assert round(part.standard_uncertainty, places) == u


@given(sizes)
def test_limits_have_the_deviation_of_their_distribution(a: float) -> None:
    rectangular, triangular, cycling = (
        Contribution("a", a, kind).standard_uncertainty for kind in KINDS
    )
    assert rectangular == pytest.approx(a / math.sqrt(3.0))
    # Two independent halves make a triangle; a sine has half its squared amplitude.
    assert triangular == pytest.approx(math.hypot(rectangular / 2.0, rectangular / 2.0))
    assert cycling == pytest.approx(a * math.sqrt(0.5))


@given(contributions, st.randoms())
def test_order_does_not_matter(parts: list[tuple[float, float, float]], random: object) -> None:
    mixed = list(parts)
    random.shuffle(mixed)  # type: ignore[attr-defined]
    one, other = budget_of(parts), budget_of(mixed)
    assert other.standard_uncertainty == pytest.approx(one.standard_uncertainty, rel=1e-12)
    assert other.dof == pytest.approx(one.dof, rel=1e-9)


@given(contributions, parts_of_a_budget)
def test_one_more_contribution_never_helps(
    parts: list[tuple[float, float, float]], more: tuple[float, float, float]
) -> None:
    without, with_it = budget_of(parts), budget_of([*parts, more])
    assert with_it.standard_uncertainty >= without.standard_uncertainty * (1.0 - 1e-12)
    assert with_it.standard_uncertainty >= abs(more[0] * more[1]) * (1.0 - 1e-12)


@given(contributions, st.sampled_from([1e-3, 1e3, 1e6]))
def test_units_do_not_matter(parts: list[tuple[float, float, float]], factor: float) -> None:
    one, other = budget_of(parts), budget_of(parts, factor)
    assert other.standard_uncertainty == pytest.approx(one.standard_uncertainty * factor)
    assert other.dof == pytest.approx(one.dof)


@given(sizes, sizes)
def test_shared_contributions_add_without_squares(one: float, other: float) -> None:
    parts = [Contribution("a", one, k=1, shared="m"), Contribution("b", other, k=1, shared="m")]
    assert Budget(0.0, "K", parts).standard_uncertainty == pytest.approx(one + other)


def test_a_difference_of_two_readings_loses_what_they_share() -> None:
    def reading(own: float) -> Budget:
        shared = Contribution("accuracy", 0.3, k=1, shared="thermometer")
        return Budget(20.0, "°C", [shared, Contribution("own", own, k=1)])

    one, other = reading(0.04), reading(0.03)
    variance = (
        one.standard_uncertainty**2 + other.standard_uncertainty**2 - 2.0 * one.covariance(other)
    )
    assert math.sqrt(variance) == pytest.approx(0.05)
    assert one.covariance(Budget(20.0, "°C", [Contribution("own", 0.3, k=1)])) == 0.0


def test_known_contributions_have_infinite_degrees_of_freedom() -> None:
    budget = Budget(0.0, "K", [Contribution("a", 1.0), Contribution("b", 2.0, k=2)])
    assert budget.dof == math.inf
    assert budget.expanded_uncertainty(0.95) == pytest.approx(1.96 * math.sqrt(4 / 3), rel=1e-4)


def test_an_empty_budget_is_certain() -> None:
    assert Budget(0.0, "°C", []).standard_uncertainty == 0.0
    assert Budget(0.0, "°C", []).dof == math.inf


def test_the_table_says_what_was_assumed() -> None:
    budget = Budget(68.4, "°C", [Contribution("thermometer", 0.5, note="a limit")])
    text = str(budget)
    assert "rectangular" in text and "thermometer: a limit" in text
    assert "68.40 °C, standard uncertainty 0.29 K" in text
    assert "95 % coverage" in text


def test_the_frame_holds_a_row_for_each() -> None:
    frame = Budget(0.0, "°C", [Contribution("a", 0.3), Contribution("b", 0.2, k=2)]).to_frame()
    assert list(frame["name"]) == ["a", "b"]
    assert list(frame["distribution"]) == ["rectangular", "normal"]
    assert frame["standard_uncertainty"].to_list() == pytest.approx([math.sqrt(0.03), 0.1])


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"half_width": -0.1}, "at least 0"),
        ({"half_width": math.nan}, "finite"),
        ({"half_width": True}, "finite"),
        ({"half_width": "0.1"}, "finite"),
        ({"half_width": 1.0, "k": 0.0}, "above 0"),
        ({"half_width": 1.0, "k": 2.0, "distribution": "triangular"}, "leave one"),
        ({"half_width": 1.0, "distribution": "gaussian"}, "normal"),
        ({"half_width": 1.0, "dof": 0.0}, "positive"),
        ({"half_width": 1.0, "sensitivity": math.inf}, "sensitivity"),
    ],
)
def test_contributions_that_make_no_sense(settings: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words):
        Contribution("bad", **settings)  # type: ignore[arg-type]


def test_budgets_that_make_no_sense() -> None:
    a, b, c = (Contribution(name, 1.0) for name in "abc")
    with pytest.raises(InputError, match="two contributions"):
        Budget(0.0, "K", [a, a])
    with pytest.raises(InputError, match="'z'"):
        Budget(0.0, "K", [a, b], [("a", "z", 0.5)])
    with pytest.raises(InputError, match="−1…1"):
        Budget(0.0, "K", [a, b], [("a", "b", 1.5)])
    with pytest.raises(InputError, match="contradict"):
        Budget(0.0, "K", [a, b, c], [("a", "b", 0.9), ("b", "c", 0.9), ("a", "c", -0.9)])
    with pytest.raises(InputError, match="finite"):
        Budget(math.nan, "K", [a])
    with pytest.raises(InputError, match="two or more"):
        Contribution.from_readings("once", [1.0], unit="K")
