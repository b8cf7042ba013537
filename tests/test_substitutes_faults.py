"""Substitutes and fault detection: what is masked, what is left out, and pairs of parts."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.test_substitutes import DIVIDER, ORIGINAL, RANGE_C, T_C, only, part
from thermofit.circuit import Circuit, ConstantCurrent, Converter, Divider, FaultLimits
from thermofit.decide import substitutes
from thermofit.decide.substitute.accepted import accepted_ohm
from thermofit.decide.substitute.candidates import candidate
from thermofit.decide.substitute.network import Network
from thermofit.errors import InputError

TEN_BITS = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
LIMITS = FaultLimits(low_counts=30, high_counts=1000)
CIRCUITS: list[Circuit] = [
    TEN_BITS,
    Divider(pulldown_ohm=10e3, supply_v=5.0, converter=Converter(bits=10), series_ohm=100.0),
    ConstantCurrent(current_a=100e-6, supply_v=5.0, converter=Converter(bits=10)),
]


def plain(found: object) -> str:
    """What is printed, in one line."""
    return " ".join(str(found).split())


# -- what the controller accepts ---------------------------------------------------------


@pytest.mark.parametrize("circuit", CIRCUITS, ids=["pull-up", "pull-down", "current"])
@pytest.mark.parametrize(
    "limits",
    [
        LIMITS,
        FaultLimits(low_v=0.2, high_v=4.9),
        FaultLimits(low_ohm=400.0, high_ohm=90e3),
        FaultLimits(high_counts=1000),
        None,
    ],
)
def test_what_is_accepted_lies_between_two_resistances(
    circuit: Circuit, limits: FaultLimits | None
) -> None:
    healthy = ORIGINAL.curve.resistance(T_C)
    accepted = accepted_ohm(circuit, limits, T_C, healthy)
    assert accepted.low_ohm < healthy.min() and accepted.high_ohm > healthy.max()
    for r_ohm in np.geomspace(1.0, 1e8, 400):
        code = circuit.counts(r_ohm)
        broken = circuit.converter.saturated(code) or (
            limits is not None and limits.caught(circuit, code)
        )
        assert accepted.reads(r_ohm) == (not broken)
        assert accepted.caught(r_ohm) == (limits is not None and limits.caught(circuit, code))
    for edge, beyond in ((accepted.low_ohm, 1.0 - 1e-9), (accepted.high_ohm, 1.0 + 1e-9)):
        if 0.0 < edge < np.inf:
            assert accepted.reads(np.array(edge)) and not accepted.reads(np.array(edge * beyond))


def test_a_side_without_a_limit_lets_everything_pass() -> None:
    healthy = np.asarray(ORIGINAL.curve.resistance(T_C))
    low_only = accepted_ohm(TEN_BITS, FaultLimits(low_counts=30), T_C, healthy)
    high_only = accepted_ohm(TEN_BITS, FaultLimits(high_counts=1000), T_C, healthy)
    assert low_only.limit_high_ohm == np.inf and low_only.limit_low_ohm > 0.0
    assert high_only.limit_low_ohm == 0.0 and np.isfinite(high_only.limit_high_ohm)


def test_limits_in_ohms_need_no_circuit() -> None:
    limits = FaultLimits(low_ohm=500.0, high_ohm=60e3)
    accepted = accepted_ohm(None, limits, T_C, ORIGINAL.curve.resistance(T_C))
    assert (accepted.low_ohm, accepted.high_ohm) == (500.0, 60e3)
    assert (accepted.limit_low_ohm, accepted.limit_high_ohm) == (500.0, 60e3)
    found = substitutes(ORIGINAL, RANGE_C, limits=limits, candidates=(12e3, 4200.0), trim="both")
    row = next(row for row in found if row.resistors)
    assert 0.99 * (row.parallel_ohm + row.series_ohm) > 60e3 and 1.01 * row.series_ohm < 500.0
    assert row.catches_open and row.catches_short and not row.masked
    with pytest.raises(InputError, match="need circuit="):
        substitutes(ORIGINAL, RANGE_C, limits=LIMITS)


def test_limits_that_reject_the_healthy_original_are_refused() -> None:
    with pytest.raises(InputError, match=r"at 0 °C the original has 32\.555 kΩ, and the fault"):
        substitutes(ORIGINAL, RANGE_C, TEN_BITS, limits=FaultLimits(high_counts=700))


def test_a_part_that_the_limits_may_take_for_broken_is_not_usable() -> None:
    # At 0 °C: 42 kΩ against 10 kΩ gives 827 of 1024 counts, and 5 % more 834.
    limits = FaultLimits(high_counts=830)
    spare = part(10e3, 4660.0, id="steep")
    assert 825 < TEN_BITS.counts(spare.curve.resistance(0.0)) < 830
    row = only(substitutes(ORIGINAL, RANGE_C, TEN_BITS, limits=limits, candidates=spare))
    assert row.usable
    loose = part(10e3, 4660.0, id="steep", r25_tol_pct=5.0)
    row = only(substitutes(ORIGINAL, RANGE_C, TEN_BITS, limits=limits, candidates=loose))
    assert not row.usable and "at 0 °C the controller may take it for broken" in row.flags[-1]


# -- networks that hide a fault ----------------------------------------------------------


def test_without_limits_nothing_is_verified_and_nothing_left_out() -> None:
    found = substitutes(ORIGINAL, RANGE_C, TEN_BITS, candidates=(15e3, 4200.0), trim="parallel")
    row = next(row for row in found if row.resistors)
    assert row.catches_open is None and row.catches_short is None and row.masked == ()
    assert any("fault detection was not verified" in note for note in found.notes)
    # What an open sensor would read is known all the same.
    assert row.open_reads_c == pytest.approx(ORIGINAL.curve.temperature(row.parallel_ohm), abs=1e-9)


def test_a_resistor_across_that_hides_an_open_sensor_needs_to_be_asked_for() -> None:
    kept, asked = (
        substitutes(
            ORIGINAL, RANGE_C, TEN_BITS, candidates=(22e3, 4100.0), trim="parallel",
            limits=LIMITS, allow_masked=allowed,
        )
        for allowed in (False, True)
    )  # fmt: skip
    safe, hiding = (next(r for r in found if r.resistors) for found in (kept, asked))
    assert LIMITS.caught(TEN_BITS, TEN_BITS.counts(0.99 * safe.parallel_ohm))
    assert safe.catches_open is True and safe.masked == ()
    assert not LIMITS.caught(TEN_BITS, TEN_BITS.counts(hiding.parallel_ohm))
    assert hiding.catches_open is False and hiding.catches_short is True
    assert hiding.worst_k < safe.worst_k
    reads = ORIGINAL.curve.temperature(hiding.parallel_ohm)
    assert hiding.open_reads_c == pytest.approx(reads, abs=1e-9)
    (words,) = hiding.masked
    assert words.startswith(f"open is masked: the controller would read {reads:.1f} °C")
    # That lies within the range: in the cold an open sensor then reads too warm.
    assert 0.0 < reads < 60.0
    assert "colder than that, it errs warmer: cooling would run and vents open, heating wo" in words
    assert "warmer than that, it errs colder: heating would run, cooling and vents wo" in words
    assert words in plain(asked)


def test_a_resistor_in_series_that_hides_a_short_needs_to_be_asked_for() -> None:
    kept, asked = (
        substitutes(
            ORIGINAL, RANGE_C, TEN_BITS, candidates=(8.2e3, 4300.0), trim="series",
            limits=LIMITS, allow_masked=allowed,
        )
        for allowed in (False, True)
    )  # fmt: skip
    safe, hiding = (next(r for r in found if r.resistors) for found in (kept, asked))
    assert LIMITS.caught(TEN_BITS, TEN_BITS.counts(1.01 * safe.series_ohm))
    assert safe.catches_short is True and safe.masked == ()
    assert hiding.catches_short is False and hiding.worst_k < safe.worst_k
    (words,) = hiding.masked
    reads = ORIGINAL.curve.temperature(hiding.series_ohm)
    assert words.startswith(f"short is masked: the controller would read {reads:.1f} °C")
    assert "errs warmer: cooling would run" in words


def test_an_open_part_that_reads_below_the_range_errs_colder_throughout() -> None:
    found = substitutes(
        ORIGINAL, RANGE_C, TEN_BITS, candidates=(12e3, 3950.0), trim="parallel", limits=LIMITS,
        allow_masked=True,
    )  # fmt: skip
    row = next(row for row in found if row.resistors)
    (words,) = row.masked
    assert row.open_reads_c < 0.0 and "warmer" not in words
    assert words.endswith("errs colder: heating would run, cooling and vents would not")


def test_a_fault_that_reads_beyond_the_curve_errs_that_way() -> None:
    # R = a·exp(b/(T + c)) never falls below 500 Ω, so that 200 Ω are beyond all that it reads.
    floor = tf.Curve.shifted_exponential(a_ohm=500.0, b_k=443.0, c_k=-150.0, id="floor")
    spare = tf.Curve.from_table(T_C, floor.resistance(T_C) - 200.0, id="spare")
    found = substitutes(floor, RANGE_C, candidates=spare, trim="series", resistor_pct=0.0)
    assert found.best.series_ohm == 200.0 and found.best.short_reads_c == np.inf
    (words,) = found.best.unverified
    assert words.startswith("short may be masked: the controller would read beyond its curve, wh")
    assert "which errs warmer: cooling would run" in words


def test_where_limits_are_not_known_rows_say_what_a_fault_may_read() -> None:
    found = substitutes(ORIGINAL, RANGE_C, TEN_BITS, candidates=(8.2e3, 4300.0), trim="both")
    bare, trimmed = sorted(found, key=lambda row: bool(row.resistors))
    assert bare.unverified == () and trimmed.masked == ()
    reads = ORIGINAL.curve.temperature(trimmed.series_ohm)
    words = next(words for words in trimmed.unverified if words.startswith("short"))
    assert words.startswith(f"short may be masked: the controller would read {reads:.1f} °C")
    assert "errs warmer: cooling would run" in words and words in plain(found)
    known = substitutes(
        ORIGINAL, RANGE_C, TEN_BITS, candidates=(8.2e3, 4300.0), trim="both", limits=LIMITS
    )
    assert all(row.unverified == () for row in known)


@settings(max_examples=40)
@given(
    st.sampled_from(CIRCUITS), st.floats(8e3, 25e3), st.floats(3500.0, 4500.0),
    st.sampled_from([0.1, 1.0, 5.0]), st.integers(2, 50), st.integers(3, 40),
)  # fmt: skip
def test_no_fault_hides_behind_a_network_that_is_kept(
    circuit: Circuit, r25_ohm: float, b_k: float, pct: float, below: int, above: int
) -> None:
    limits = FaultLimits(low_counts=below, high_counts=circuit.converter.top_code - above)
    found = substitutes(
        ORIGINAL, (5.0, 45.0), circuit, candidates=(r25_ohm, b_k), limits=limits, trim="both",
        resistor_pct=pct,
    )  # fmt: skip
    trimmed = [row for row in found if row.resistors]
    assert trimmed or "with open and short caught" in found.notes[0]
    for row in trimmed:
        assert row.masked == ()
        for off in (1.0 - 0.01 * pct, 1.0, 1.0 + 0.01 * pct):
            opened, shorted = (row.parallel_ohm + row.series_ohm) * off, row.series_ohm * off
            for r_ohm, by_a_resistor in (
                (opened, np.isfinite(opened)), (shorted, shorted > 0.0),
            ):  # fmt: skip
                assert not by_a_resistor or limits.caught(circuit, circuit.counts(r_ohm))


def test_open_and_shorted_a_network_has_its_resistors_with_their_tolerance() -> None:
    spare = candidate(part(), None)
    network = Network((spare,), None, series_ohm=1e3, parallel_ohm=10e3, resistor_pct=1.0)
    assert network.open_ohm == pytest.approx((10890.0, 11110.0))
    assert network.short_ohm == pytest.approx((990.0, 1010.0))
    assert Network((spare,)).open_ohm == (np.inf, np.inf)


def test_where_even_the_bare_part_fails_unseen_a_resistor_is_not_kept_either() -> None:
    high_only = FaultLimits(high_counts=1000)
    tries: list[tuple[Any, int]] = [("parallel", 2), ("series", 1)]
    for trim, kept in tries:
        found = substitutes(
            ORIGINAL, RANGE_C, TEN_BITS, candidates=(15e3, 4200.0), limits=high_only, trim=trim
        )
        assert len(found) == kept
        for row in found:
            # A short gives code 0, which these limits let pass.
            assert row.catches_open is True and row.catches_short is False and row.masked == ()


def test_where_no_network_leaves_faults_caught_the_result_says_so() -> None:
    # The healthy part has up to 74 kΩ; a resistor across that the limits tell from it would have
    # to be larger than any of those allowed.
    found = substitutes(
        ORIGINAL, RANGE_C, TEN_BITS, candidates=(22e3, 4100.0), trim="parallel", limits=LIMITS,
        resistor_range_ohm=(10.0, 100e3),
    )  # fmt: skip
    assert len(found) == 1
    assert any(note.endswith("caught: 22000 Ω, B 4100 K") for note in found.notes)


# -- two parts ---------------------------------------------------------------------------


@pytest.mark.parametrize(("how", "r25_ohm"), [("parallel", 20e3), ("series", 5e3)])
def test_two_parts_of_double_or_half_the_resistance_stand_in_exactly(
    how: Any, r25_ohm: float
) -> None:
    old = part()
    half = part(r25_ohm, id="half", r25_tol_pct=1.0)
    found = substitutes(old, RANGE_C, candidates=half, pairs=how)
    (pair,) = (row for row in found if "2 ×" in row.name)
    assert pair.name == f"2 × half in {how}" and found.best is pair
    assert abs(pair.curve_k) < 1e-9
    single = only(substitutes(old, RANGE_C, candidates=part(id="whole", r25_tol_pct=1.0)))
    assert pair.worst_k == pytest.approx(single.worst_k, abs=1e-9)
    # Two independent deviations partly cancel.
    assert pair.typical_k == pytest.approx(single.typical_k / 2**0.5, rel=1e-2)


def test_different_parts_join_by_ohms_law() -> None:
    one, two = part(15e3, 3900.0, id="one"), part(30e3, 4100.0, id="two", b_tol_pct=1.0)
    found = substitutes(ORIGINAL, RANGE_C, candidates=[one, two], pairs="both", set_points_c=20.0)
    assert len(found) == 2 + 2 * 3
    pair = found.of("one + two in parallel")[0]
    band = tf.tolerance_band(two, T_C)
    r_one = one.curve.resistance(T_C)
    ends = [r_one * r / (r_one + r) for r in (band.r_low_ohm, band.r_high_ohm)]
    errors = [np.asarray(ORIGINAL.curve.temperature(r)) - T_C for r in ends]
    assert pair.warmest_k == pytest.approx(errors[0].max(), abs=1e-9)
    assert pair.coldest_k == pytest.approx(errors[1].min(), abs=1e-9)
    (point,) = pair.set_points
    t_c = 20.0 + point.drift_k
    both = 1.0 / (1.0 / one.curve.resistance(t_c) + 1.0 / two.curve.resistance(t_c))
    assert both == pytest.approx(ORIGINAL.curve.resistance(20.0), rel=1e-9)


@pytest.mark.parametrize(("how", "kind"), [("parallel", "open"), ("series", "shorted")])
def test_a_pair_of_which_one_may_fail_unseen_needs_to_be_asked_for(how: Any, kind: str) -> None:
    r25_ohm = 20e3 if how == "parallel" else 5e3
    half = part(r25_ohm, id="half")
    kept = substitutes(ORIGINAL, RANGE_C, TEN_BITS, candidates=half, pairs=how, limits=LIMITS)
    assert len(kept) == 1
    assert f"one of the two {kind} is masked" in kept.left_out[f"2 × half in {how}"]
    asked = substitutes(
        ORIGINAL, RANGE_C, TEN_BITS, candidates=half, pairs=how, limits=LIMITS, allow_masked=True
    )
    pair = asked.of(f"2 × half in {how}")[0]
    error = np.asarray(ORIGINAL.curve.temperature(half.curve.resistance(T_C))) - T_C
    (words,) = pair.masked
    assert f"{error.min():+.1f} to {error.max():+.1f} K off" in words
    assert ("reads colder, heating would run" in words) == (how == "parallel")
    assert pair.catches_open and pair.catches_short


def test_one_of_two_is_masked_where_its_tolerance_lets_it_pass() -> None:
    # One of two in series is left with 5 kΩ at 25 °C, the pair has 10 kΩ.  At the warm end of a
    # narrow range the one is nominally just below a limit in ohms, and above it at +5 %.
    half, loose = part(5e3, id="half"), part(5e3, id="half", r25_tol_pct=5.0)
    limits = FaultLimits(low_ohm=1.02 * 5e3)
    for spare, kept in ((half, 2), (loose, 1)):
        found = substitutes(part(), (25.0, 30.0), candidates=spare, pairs="series", limits=limits)
        assert len(found) == kept
        assert ("one of the two shorted is masked" in str(found.left_out)) == (kept == 1)


def test_one_of_two_reads_between_the_ends_of_its_tolerance() -> None:
    half = part(20e3, id="half", r25_tol_pct=5.0)
    found = substitutes(ORIGINAL, RANGE_C, candidates=half, pairs="parallel")
    band = tf.tolerance_band(half, T_C)
    ends = [
        np.asarray(ORIGINAL.curve.temperature(r_ohm)) - T_C
        for r_ohm in (band.r_high_ohm, band.r_low_ohm)
    ]
    (words,) = found.of("2 × half in parallel")[0].unverified
    assert f"would read {ends[0].min():+.1f} to {ends[1].max():+.1f} K off" in words


def test_one_of_two_that_reads_beyond_the_curve_is_told_in_words() -> None:
    floor = tf.Curve.shifted_exponential(a_ohm=500.0, b_k=443.0, c_k=-150.0, id="floor")
    for r25_ohm, words in (
        (100.0, "read beyond its curve: "),
        (1e3, "K off to beyond its curve: "),
    ):
        found = substitutes(floor, RANGE_C, candidates=part(r25_ohm, 3000.0), pairs="series")
        (told,) = found.of("2 × spare in series")[0].unverified
        assert words in told and "where it reads warmer" in told and "inf" not in told


def test_a_pair_without_limits_says_what_one_that_fails_would_do() -> None:
    found = substitutes(ORIGINAL, RANGE_C, candidates=part(20e3, id="half"), pairs="parallel")
    (words,) = found.of("2 × half in parallel")[0].unverified
    assert words.startswith("one of the two open may be masked: the controller would read")
    assert "reads colder, heating would run" in words


def test_too_many_parts_to_pair_are_refused() -> None:
    many = [part(9e3 + n, id=f"{n}") for n in range(201)]
    with pytest.raises(InputError, match="201 candidates make 20301 pairs; 200"):
        substitutes(ORIGINAL, RANGE_C, candidates=many, pairs="series")


def test_the_circuit_does_not_matter_to_the_errors_of_a_pair() -> None:
    spares = [part(15e3, 3900.0, id="one"), part(30e3, 4100.0, id="two")]
    bare = substitutes(ORIGINAL, RANGE_C, candidates=spares, pairs="both")
    with_circuit = substitutes(ORIGINAL, RANGE_C, DIVIDER, candidates=spares, pairs="both")
    assert [row.name for row in bare] == [row.name for row in with_circuit]
    assert [row.worst_k for row in bare] == [row.worst_k for row in with_circuit]
