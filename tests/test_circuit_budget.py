"""Errors of the reading: worst case and standard uncertainty, against simulation."""

from __future__ import annotations

import dataclasses
import itertools
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.circuits import ADC, B_K, BETA, DIVIDER, FAMILY, R25_OHM, Array, beta_ohm
from thermofit.budget import Budget
from thermofit.circuit import Circuit, ConstantCurrent, Converter, Divider
from thermofit.errors import InputError

PULLED_DOWN = Divider(
    pulldown_ohm=4.7e3, pull_pct=2.0, supply_v=5.0, supply_pct=5.0, leakage_limit_a=1e-6,
    converter=Converter(bits=12, gain_pct=0.1, offset_counts=3.0),
)  # fmt: skip
FED = ConstantCurrent(
    current_a=40e-6, current_pct=0.5, current_ppm_per_k=50.0, ambient_c=(-10.0, 50.0),
    supply_v=5.0, leakage_limit_a=50e-9, parallel_ohm=100e3, parallel_pct=0.1,
    converter=Converter(bits=12, reference_v=2.5, reference_pct=0.2, offset_counts=2.0),
)  # fmt: skip


def shown_c(r_ohm: Array) -> Array:
    """What a controller that assumes the nominal curve shows for a resistance."""
    result: Array = 1.0 / (1.0 / 298.15 + np.log(r_ohm / R25_OHM) / B_K) - 273.15
    return result


def simulated_error(t_c: float, off: dict[str, Array], *, fraction: Array | float = 0.5) -> Array:
    """Errors of `DIVIDER` by hand, conversion by conversion; no part of the package is used.

    The voltage is that of Kirchhoff's law at the node; the controller inverts the nominal one.
    """
    r = beta_ohm(t_c + off["heat"], off["gamma"], off["beta"])
    network = 1.0 / (1.0 / r + 1.0 / (220e3 * (1.0 + off["parallel"])))
    network = network + 470.0 * (1.0 + off["series"])
    pull = 10e3 * (1.0 + off["pull"]) * (1.0 + off["drift"])
    leak = 0.2e-6 + off["leakage"]
    volts = (2.6 * (1.0 + off["supply"]) / pull - leak) / (1.0 / pull + 1.0 / network)
    position = volts / (2.5 * (1.0 + off["reference"])) * 1024.0 * (1.0 + off["gain"])
    position = position + off["offset"] + off["noise"]
    # Averages of dithered codes are even about the position, by half a count over √4.
    decoded = position + off["quantisation"]
    volts = decoded / 1024.0 * 2.5
    network = volts / ((2.6 - volts) / 10e3 - 0.2e-6)
    return shown_c(1.0 / (1.0 / (network - 470.0) - 1.0 / 220e3)) - t_c


LIMITS = {
    "gamma": 0.0, "beta": 0.0075, "pull": 0.01, "drift": 100e-6 * 35.0, "supply": 0.005,
    "series": 0.05, "parallel": 0.05, "leakage": 0.3e-6, "reference": 0.004, "gain": 0.003,
    "offset": 1.5,
}  # fmt: skip


def drawn(count: int, rng: np.random.Generator) -> dict[str, Array]:
    off = {name: limit * rng.uniform(-1.0, 1.0, count) for name, limit in LIMITS.items()}
    off["gamma"] = rng.uniform(np.log(0.99), np.log(1.01), count)
    off["noise"] = 0.6 / 2.0 * np.clip(rng.standard_normal(count), -3.0, 3.0)
    off["quantisation"] = 0.5 / 2.0 * rng.uniform(-1.0, 1.0, count)
    off["heat"] = np.zeros(count)
    return off


# -- statistical ---------------------------------------------------------------------


@pytest.mark.parametrize("t_c", [0.0, 25.0, 60.0])
def test_the_standard_uncertainty_is_that_of_a_simulation(t_c: float) -> None:
    errors = simulated_error(t_c, drawn(200_000, np.random.default_rng(1)))
    budget = DIVIDER.error_budget(FAMILY, t_c)
    assert budget.standard_uncertainty_k[0] == pytest.approx(errors.std(), rel=0.015)
    assert budget.mean_k[0] == pytest.approx(errors.mean(), abs=0.03 * errors.std())
    assert budget.worst_low_k[0] < errors.min() and errors.max() < budget.worst_high_k[0]
    table = DIVIDER.table(FAMILY, t_c, coverage=0.95)
    inside = (errors > table.expected_low_k) & (errors < table.expected_high_k)
    assert inside.mean() == pytest.approx(0.95, abs=0.015)


@pytest.mark.parametrize(
    ("name", "own"),
    [
        ("sensor tolerance", ("gamma", "beta")), ("pull resistor", ("pull",)),
        ("pull resistor drift", ("drift",)), ("series resistor", ("series",)),
        ("parallel resistor", ("parallel",)), ("supply", ("supply",)), ("leakage", ("leakage",)),
        ("reference", ("reference",)), ("converter gain", ("gain",)),
        ("converter offset", ("offset",)), ("quantisation", ("quantisation",)),
        ("noise", ("noise",)),
    ],
)  # fmt: skip
def test_each_contribution_is_that_of_a_simulation(name: str, own: tuple[str, ...]) -> None:
    off = drawn(100_000, np.random.default_rng(2))
    alone = {key: values if key in own else np.zeros(1) for key, values in off.items()}
    budget = DIVIDER.error_budget(FAMILY, 10.0)
    effect = next(effect for effect in budget.effects if effect.name == name)
    errors = simulated_error(10.0, alone)
    assert effect.u_k[0] == pytest.approx(errors.std(), rel=0.02)
    assert effect.low_k[0] - 1e-12 <= errors.min() and errors.max() <= effect.high_k[0] + 1e-12
    # The limits are met, but for the noise that nobody drew at k = 3 and what averaging took.
    if name not in ("noise", "quantisation"):
        assert errors.max() - errors.min() > 0.95 * (effect.high_k[0] - effect.low_k[0])


def test_all_contributions_were_simulated() -> None:
    names = [effect.name for effect in DIVIDER.error_budget(FAMILY, 10.0).effects]
    assert len(names) == 12 and len(set(names)) == 12


@pytest.mark.parametrize(
    "tolerance",
    [
        tf.Tolerance.of(r25_pct=1.0, b_pct=0.75),
        tf.Tolerance.of(r_pct=2.0, r_at_c=60.0, b_pct=0.5),
        tf.Tolerance.of(dt_k=0.2, dt_range_c=(0.0, 70.0)),
        tf.Tolerance.of(r25_pct=(-0.5, 3.0), b_pct=(0.0, 1.5)),
        tf.Tolerance.of(r25_pct=2.0),
        tf.Tolerance.of(b_pct=2.0),
    ],
    ids=str,
)  # fmt: skip
def test_sensors_are_spread_evenly_within_their_tolerance(tolerance: tf.Tolerance) -> None:
    """Places (γ, β) are drawn from a box about the region, and those outside thrown away."""
    region = tolerance.region(BETA)
    rng = np.random.default_rng(3)
    low, high = region.vertices.min(axis=0), region.vertices.max(axis=0)
    places = rng.uniform(low, high, (400_000, 2))
    gamma, beta = places[region.contains(places[:, 0], places[:, 1])].T
    axis = 1.0 / (5.0 + 273.15) - 1.0 / 298.15
    shift = gamma + beta * B_K * axis
    divider = DIVIDER.replace(leakage_a=0.0)
    effect = divider.error_budget(BETA, 5.0, tolerance=tolerance).effects[0]
    alpha = B_K / 278.15**2
    assert effect.u_k[0] == pytest.approx(shift.std() / alpha, rel=0.015)
    assert effect.mean_k[0] == pytest.approx(-shift.mean() / alpha, rel=0.03, abs=2e-3)


def test_the_budget_at_a_temperature_is_that_of_the_guide() -> None:
    budget = DIVIDER.error_budget(FAMILY, [0.0, 25.0])
    at = budget.at(25.0)
    assert isinstance(at, Budget)
    assert at.standard_uncertainty == pytest.approx(budget.standard_uncertainty_k[1], rel=1e-9)
    by_name = {part.name: part for part in at.contributions}
    assert by_name["pull resistor"].half_width == pytest.approx(1.0)
    assert by_name["pull resistor"].unit == "%"
    assert by_name["pull resistor drift"].half_width == pytest.approx(0.35)
    assert by_name["noise"].divisor == pytest.approx(3.0)
    assert by_name["reference"].distribution == "rectangular"
    with pytest.raises(InputError, match="no row at 26"):
        budget.at(26.0)


# -- worst case ----------------------------------------------------------------------


@pytest.mark.parametrize("t_c", [0.0, 25.0, 60.0])
def test_the_worst_case_is_met_at_a_corner_and_never_exceeded(t_c: float) -> None:
    signs = np.array(list(itertools.product([-1.0, 1.0], repeat=len(LIMITS) + 2))).T
    off = {name: signs[at] * limit for at, (name, limit) in enumerate(LIMITS.items())}
    off["gamma"] = np.where(signs[0] > 0.0, np.log(1.01), np.log(0.99))
    off["noise"] = 0.9 * signs[-1]  # k = 3 of 0.6 counts over √4
    off["quantisation"] = 0.5 * signs[-2]
    off["heat"] = np.zeros(1)
    errors = simulated_error(t_c, off)
    budget = DIVIDER.error_budget(FAMILY, t_c)
    assert budget.worst_low_k[0] == pytest.approx(errors.min(), rel=1e-9)
    assert budget.worst_high_k[0] == pytest.approx(errors.max(), rel=1e-9)


@settings(max_examples=50)
@given(
    st.sampled_from([DIVIDER, PULLED_DOWN, FED]),
    st.floats(5.0, 60.0),
    st.integers(0, 2**32 - 1),
)
def test_no_circuit_within_its_limits_errs_by_more(circuit: Circuit, t_c: float, seed: int) -> None:
    """Healthy circuits are drawn as objects of their own, and read through their codes."""
    rng = np.random.default_rng(seed)

    def near(value: float, pct: float) -> float:
        return value * (1.0 + pct / 100.0 * float(rng.choice([-1.0, 1.0, rng.uniform(-1, 1)])))

    fields: dict[str, Any] = {
        "supply_v": near(circuit.supply_v, circuit.supply_pct),
        "series_ohm": near(circuit.series_ohm, circuit.series_pct),
        "parallel_ohm": near(circuit.parallel_ohm or 1.0, circuit.parallel_pct)
        if circuit.parallel_ohm
        else None,
        "leakage_a": circuit.leakage_a + circuit.leakage_limit_a * rng.choice([-1.0, 1.0]),
    }
    if isinstance(circuit, Divider):
        side = "pullup_ohm" if circuit.rises else "pulldown_ohm"
        fields[side] = near(circuit.pull_ohm, circuit.pull_pct)
    if isinstance(circuit, ConstantCurrent):
        fields["current_a"] = near(circuit.current_a, circuit.current_pct)
    own = circuit.converter
    reference = None if own.reference_v is None else near(own.reference_v, own.reference_pct)
    real = dataclasses.replace(
        circuit, **fields, converter=dataclasses.replace(own, reference_v=reference)
    )
    gamma = rng.choice([np.log(0.99), np.log(1.01)])
    r = beta_ohm(t_c, gamma, rng.choice([-0.0075, 0.0075]))
    position = real.position(float(r)) * (1.0 + own.gain_pct / 100.0 * rng.choice([-1.0, 1.0]))
    position += own.offset_counts * rng.choice([-1.0, 1.0])
    error = circuit.temperature(BETA, own.code(position)) - t_c
    budget = circuit.error_budget(FAMILY, t_c)
    assert budget.worst_low_k[0] - 1e-9 <= error <= budget.worst_high_k[0] + 1e-9


def test_a_measured_curve_brings_its_own_uncertainty() -> None:
    """u(R25) = 50 Ω and u(B) = 20 K: at 25 °C it is half a percent, 0.112 K, whatever B."""
    measured = tf.Curve.beta(
        r25_ohm=R25_OHM, b_k=B_K, covariance=[[2500.0, 0.0], [0.0, 400.0]], dof=5.0, id="inlet"
    )
    budget = DIVIDER.error_budget(measured, [0.0, 25.0])
    own = budget.effects[0]
    assert own.name == "curve"
    assert own.u_k == pytest.approx(
        measured.temperature_interval(beta_ohm(np.array([0.0, 25.0]))).standard_uncertainty,
        rel=1e-3,
    )
    assert own.u_k[1] == pytest.approx(0.005 * 298.15**2 / B_K, rel=1e-3)
    assert own.high_k == pytest.approx(3.0 * own.u_k, rel=0.01)
    assert budget.at(25.0).contributions[0].dof == 5.0
    exact = DIVIDER.error_budget(BETA, [0.0, 25.0])
    assert budget.worst_high_k - exact.worst_high_k == pytest.approx(own.high_k, rel=0.05)
    assert "k = 3" in budget.notes[0]
    # A tolerance is about the nominal curve, which is exact by definition.
    toleranced = DIVIDER.error_budget(measured, [0.0, 25.0], r25_pct=1.0)
    assert [effect.name for effect in toleranced.effects].count("curve") == 0


def test_an_exact_circuit_has_only_its_quantisation() -> None:
    divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    budget = divider.error_budget(BETA, [0.0, 25.0, 50.0])
    assert [effect.name for effect in budget.effects] == ["quantisation"]
    half = 0.5 * divider.kelvin_per_count(BETA, budget.t_c)
    assert budget.worst_high_k == pytest.approx(half, rel=0.01)
    assert budget.standard_uncertainty_k == pytest.approx(half / np.sqrt(3.0), rel=0.01)
    assert budget.notes == ("no tolerance of inlet is stated: it is taken as exact",)


def test_more_of_an_error_never_helps() -> None:
    base = DIVIDER.table(FAMILY, [0.0, 25.0, 60.0])
    changes: tuple[dict[str, Any], ...] = (
        {"pull_pct": 2.0}, {"pull_ppm_per_k": 200.0}, {"supply_pct": 1.0}, {"series_pct": 9.0},
        {"leakage_limit_a": 1e-6}, {"converter": dataclasses.replace(ADC, gain_pct=1.0)},
    )  # fmt: skip
    for change in changes:
        worse = DIVIDER.replace(**change).table(FAMILY, [0.0, 25.0, 60.0])
        assert (worse.low_k < base.low_k).all() and (worse.high_k > base.high_k).all()
        assert (worse.budget.standard_uncertainty_k > base.budget.standard_uncertainty_k).all()


def test_the_supply_does_not_matter_where_it_is_the_reference() -> None:
    divider = Divider(
        pullup_ohm=10e3, supply_v=5.0, supply_pct=10.0, converter=Converter(bits=10)
    )  # fmt: skip
    supply = divider.error_budget(BETA, [0.0, 50.0]).effects[0]
    assert supply.name == "supply"
    assert np.abs([supply.low_k, supply.high_k]).max() < 1e-9
    # A current knows nothing of the supply: 10 % of the reference is 10 % of the resistance.
    fed = ConstantCurrent(
        current_a=50e-6, supply_v=5.0, supply_pct=10.0, converter=Converter(bits=12)
    )  # fmt: skip
    supply = fed.error_budget(BETA, 25.0).effects[0]
    assert supply.high_k[0] == pytest.approx(shown_c(np.array(R25_OHM / 1.1)) - 25.0, rel=1e-9)


def test_drift_counts_from_25_degrees() -> None:
    for span, away_k in (((25.0, 25.0), 0.0), ((10.0, 30.0), 15.0), ((-20.0, 60.0), 45.0)):
        divider = DIVIDER.replace(ambient_c=span)
        found = [i for i in divider._influences if i.name == "pull resistor drift"]
        limits = [influence.high for influence in found]
        assert limits == pytest.approx([0.01 * away_k] if away_k else [])


# -- averaging -----------------------------------------------------------------------


def u_counts(converter: Converter) -> dict[str, float]:
    return {i.name: i.standard_uncertainty for i in converter.influences}


def test_averaging_reduces_noise_and_dithered_quantisation() -> None:
    once = u_counts(Converter(bits=10, noise_counts=0.8, offset_counts=2.0, gain_pct=1.0))
    often = u_counts(
        Converter(bits=10, noise_counts=0.8, offset_counts=2.0, gain_pct=1.0, samples=16)
    )
    for name in ("noise", "quantisation"):
        assert often[name] == pytest.approx(once[name] / 4.0)
    for name in ("converter offset", "converter gain"):
        assert often[name] == once[name]


def test_averaging_the_same_code_again_gains_nothing() -> None:
    """A steady voltage in the middle of a code gives that code every time."""
    quiet = u_counts(Converter(bits=10, noise_counts=0.005, samples=64))
    assert quiet["quantisation"] == pytest.approx(0.5 / np.sqrt(3.0))
    noise = np.random.default_rng(4).normal(0.0, 0.005, (2000, 64))
    position = np.random.default_rng(5).uniform(500.0, 501.0, (2000, 1))
    error = (np.floor(position + noise) + 0.5).mean(axis=1) - position[:, 0]
    assert error.std() == pytest.approx(0.5 / np.sqrt(3.0), rel=0.1)
    # Half a count of noise carries it over the edges, and the average finds it.
    noise = np.random.default_rng(4).normal(0.0, 0.5, (2000, 64))
    error = (np.floor(position + noise) + 0.5).mean(axis=1) - position[:, 0]
    loud = u_counts(Converter(bits=10, noise_counts=0.5, samples=64))
    assert error.std() == pytest.approx(np.hypot(loud["noise"], loud["quantisation"]), rel=0.1)


# -- self-heating --------------------------------------------------------------------


def test_self_heating_is_power_over_dissipation_factor() -> None:
    """2.5 V across 10 kΩ is 0.625 mW; 5 mW/K make 0.125 K of it, a little less since the warmer
    sensor, at the same voltage, would take more, and at the divider's middle takes as much."""
    divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=16))
    budget = divider.error_budget(BETA, 25.0, dissipation_mw_per_k=5.0)
    heat = budget.effects[-1]
    assert heat.name == "self-heating" and heat.low_k[0] == 0.0
    assert heat.high_k[0] == pytest.approx(0.125, rel=1e-4)
    assert heat.u_k[0] == pytest.approx(0.125 / np.sqrt(12.0), rel=1e-4)
    assert budget.mean_k[0] == pytest.approx(0.0625, rel=1e-4)
    # In the worst case it only warms.
    without = divider.error_budget(BETA, 25.0)
    assert budget.worst_low_k == pytest.approx(without.worst_low_k)
    assert budget.worst_high_k - without.worst_high_k == pytest.approx(heat.high_k, rel=1e-3)
    assert budget.at(25.0).value == pytest.approx(25.0625, rel=1e-6)


@given(st.floats(0.0, 60.0), st.floats(0.5, 10.0))
def test_the_heated_sensor_is_in_balance(t_c: float, dissipation_mw_per_k: float) -> None:
    divider = Divider(pullup_ohm=4.7e3, supply_v=5.0, converter=Converter(bits=16))
    budget = divider.error_budget(BETA, t_c, dissipation_mw_per_k=dissipation_mw_per_k)
    rise = budget.effects[-1].high_k[0]
    power_mw = 1e3 * divider.sensor_power_w(float(beta_ohm(t_c + rise)))
    assert power_mw == pytest.approx(dissipation_mw_per_k * rise, rel=1e-6)


def test_a_family_brings_its_dissipation_factor() -> None:
    rated = tf.Family(BETA, ratings={"dissipation_factor_mw_per_k": 5.0})
    divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=16))
    own = divider.error_budget(rated, 25.0).effects[-1]
    assert own.high_k[0] == pytest.approx(0.125, rel=1e-4)


def test_a_sensor_that_would_heat_itself_beyond_its_curve() -> None:
    fast = Divider(pullup_ohm=10.0, supply_v=24.0, converter=Converter(bits=16))
    with pytest.raises(InputError, match="heat itself without settling"):
        fast.error_budget(BETA, 25.0, dissipation_mw_per_k=0.5)
