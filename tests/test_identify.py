"""Which family is this sensor: answers, groups, the next reading, bad input."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import binomtest, chi2

import thermofit as tf
from thermofit.decide import Identification, identify
from thermofit.decide.identification.comparison import Readings, compare, weigh
from thermofit.decide.identification.field import field_of
from thermofit.decide.identification.hypothesis import NONE
from thermofit.errors import InputError, UnknownNameError
from thermofit.tolerance import Tolerance

Array = NDArray[np.float64]

SEED = 20240317
KNOWN = ["ntc-10k-3434", "ntc-33k-4544", "ntc-47k-4108", "ntc-100k-4311", "ntc-10k-3977"]


def read(
    curve: tf.Curve, t_c: Any = (0.0, 70.0), scale: float = 1.0, u_t_k: float = 0.1
) -> tf.Points:
    """Readings of the nominal part, in ice and at 70 °C unless said otherwise."""
    r_ohm = scale * np.atleast_1d(curve.resistance(np.asarray(t_c)))
    return tf.Points(t_c, r_ohm, u_t_k=u_t_k, u_r_ohm=0.001 * r_ohm)


# -- answers ------------------------------------------------------------------------


@pytest.mark.parametrize("id", KNOWN)
def test_the_nominal_part_is_identified(id: str) -> None:
    found = identify(read(tf.family(id).curve))
    assert id in found.credible_set(0.95)
    assert found[id].chi2 == pytest.approx(0.0, abs=1e-3)
    assert found[id].off_k == pytest.approx(0.0, abs=1e-3)
    assert found[id].outside_k == 0.0
    assert found[id].p_value == pytest.approx(1.0, abs=1e-3)
    assert found.none_probability < 0.01


def test_probabilities_are_ranked_and_sum_to_one() -> None:
    found = identify(read(tf.family("ntc-10k-3977").curve, 21.0, u_t_k=0.5))
    probabilities = [row.probability for row in found.rows]
    assert probabilities == sorted(probabilities, reverse=True)
    assert sum(probabilities) == pytest.approx(1.0)
    assert sum(row.prior for row in found.rows) == pytest.approx(1.0)
    assert found.leading == found.rows[0].id
    assert found.none_probability == pytest.approx(found.another_ntc + found.no_curve)
    frame = found.to_frame()
    assert list(frame["id"]) == [row.id for row in found.rows]


@given(st.floats(0.01, 0.99), st.floats(0.01, 0.99))
def test_credible_sets_are_nested_and_no_larger_than_needed(one: float, other: float) -> None:
    low, high = sorted([one, other])
    small, large = LIST.credible_set(low), LIST.credible_set(high)
    assert large[: len(small)] == small
    held = [LIST[id].probability for id in large]
    assert sum(held) >= high - 1e-9
    assert sum(held[:-1]) < high


LIST = identify(tf.Points(21.0, 11.9e3, u_t_k=0.5, u_r_ohm=25))


def test_families_that_differ_by_a_kelvin_of_b_are_reported_as_one() -> None:
    """10 kΩ with B = 3434 and 3435 K: not guessed between, whatever the readings."""
    for t_c in ((0.0, 70.0), (0.0, 25.0, 70.0)):
        found = identify(read(tf.family("ntc-10k-3434").curve, t_c))
        assert found.group is not None
        assert set(found.group.ids) == {"ntc-10k-3434", "ntc-10k-3435"}
        assert found.group.by == "any reading in the range"
        assert found.group.probability > 0.99
        assert found.next_reading is None
        first = str(found).splitlines()[0]
        assert first.endswith("together")
        assert "ntc-10k-3434" in first and "ntc-10k-3435" in first


def test_twins_have_even_probabilities() -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977)
    twins = [
        tf.Family(curve.replace(id=id), r25_tol_pct=2.0, b_tol_pct=1.0) for id in ("one", "twin")
    ]
    found = identify(read(curve), families=twins)
    assert found["one"].probability == pytest.approx(found["twin"].probability)
    assert found.groups[0].right_at_best == pytest.approx(0.5, abs=1e-3)


@given(st.permutations(range(4)))
@settings(max_examples=5)
def test_the_order_of_readings_does_not_matter(order: list[int]) -> None:
    p = FOUR
    turned = tf.Points(p.t_c[order], p.r_ohm[order], u_t_k=0.1, u_r_ohm=0.001 * p.r_ohm[order])
    before, after = OF_FOUR, identify(turned)
    assert after.leading == before.leading
    assert after.rows[0].probability == pytest.approx(before.rows[0].probability, rel=1e-9)


FOUR = read(tf.family("ntc-10k-3977").curve, [0.0, 20.0, 45.0, 70.0])
OF_FOUR = identify(FOUR)


def test_platinum_is_told_from_thermistors() -> None:
    found = identify(tf.Points([0.0, 70.0], [100.0, 127.08], u_t_k=0.1, u_r_ohm=0.02))
    assert found.leading == "pt-100-iec60751"
    assert found.rows[0].tolerance == "class B of IEC 60751 (assumed)"


def test_a_part_is_beyond_its_tolerance_by_as_many_kelvin_as_it_is_warmer() -> None:
    """A part that reads everywhere as the nominal one 3 K warmer; tolerance R25 ± 5 %."""
    curve = tf.family("ntc-47k-4108").curve
    t_c = np.array([0.0, 25.0, 70.0])
    found = identify(tf.Points(t_c, curve.resistance(t_c + 3.0), u_t_k=0.1))
    row = found["ntc-47k-4108"]
    assert found.leading == NONE
    assert row.off_k == pytest.approx(3.0, abs=0.25)
    # ± 5 % is worth 5/|α| kelvin: 1.0 K at 0 °C, 1.4 K at 70 °C (and B ± 2 % a little more).
    assert 1.0 < row.outside_k < 2.0
    assert row.dof == 3
    assert row.p_value == pytest.approx(chi2.sf(row.chi2, 3), rel=1e-9)
    assert row.p_value < 1e-6


# -- none of these --------------------------------------------------------------------


def test_a_part_with_another_r25_is_of_none_and_its_material_is_found() -> None:
    """2252 Ω, of the material with B25/85 = 3977 K."""
    p = read(tf.family("ntc-10k-3977").curve, (0.0, 25.0, 70.0), scale=0.2252)
    found = identify(p)
    assert found.leading == NONE
    assert found.none_probability > 0.99
    assert found.other_level is not None
    assert found.other_level.id == "ntc-10k-3977"
    free = identify(p, r25="free")
    row = free["ntc-10k-3977"]
    assert free.leading == row.id
    assert row.r25_ohm == pytest.approx(2252.0, abs=row.u_r25_ohm)
    assert row.r25_ohm == pytest.approx(found.other_level.r25_ohm)
    assert 0.0 < row.u_r25_ohm < 20.0
    assert row.off_k == pytest.approx(0.0, abs=0.02)
    assert "R25 = 225" in str(found)


@given(st.floats(0.05, 20.0))
@settings(max_examples=5)
def test_with_r25_free_the_level_does_not_matter(scale: float) -> None:
    families = ["ntc-33k-4544", "ntc-47k-4108"]
    curve = tf.family(families[0]).curve
    one, other = (
        identify(read(curve, scale=s), families=families, r25="free") for s in (1.0, scale)
    )
    assert other["ntc-33k-4544"].probability == pytest.approx(
        one["ntc-33k-4544"].probability, rel=1e-6
    )
    ratio = other["ntc-33k-4544"].r25_ohm / one["ntc-33k-4544"].r25_ohm
    assert ratio == pytest.approx(scale, rel=1e-9)


def test_r25_from_one_reading_is_as_uncertain_as_b_leaves_it() -> None:
    """β even within ± 2 %, at 0 °C where ln ρ = 1.2: u(ln R25) = 0.02·1.2/√3 and the noise."""
    family = tf.family("ntc-33k-4544")
    row = identify(read(family.curve, 0.0, u_t_k=0.01), r25="free")[family.id]
    a = float(np.log(family.curve.resistance(0.0) / family.curve.resistance(25.0)))
    alpha = family.curve.alpha(0.0)
    expected = np.sqrt((0.02 * a) ** 2 / 3.0 + 0.001**2 + (alpha * 0.01) ** 2)
    assert row.u_r25_ohm / row.r25_ohm == pytest.approx(expected, rel=0.01)
    assert row.r25_ohm == pytest.approx(33e3, rel=1e-3)


def test_r25_is_the_mean_over_what_b_may_be() -> None:
    """Summed over a grid of γ and β, B at its upper limit; readings at 0 and 15 °C."""
    family = tf.family("ntc-33k-4544")
    t_c, u_t_k = np.array([0.0, 15.0]), 0.2
    nominal = np.log(family.curve.resistance(t_c))
    a = nominal - np.log(33e3)
    p = tf.Points(t_c, np.exp(nominal + 0.025 * a), u_t_k=u_t_k, u_r_ohm=1.0)
    row = identify(p, families=[family], r25="free")[family.id]
    u = np.hypot(family.curve.alpha(t_c) * u_t_k, 1.0 / p.r_ohm)
    gamma, beta = np.meshgrid(np.linspace(-0.06, 0.06, 1201), np.linspace(-0.02, 0.02, 401))
    left = (0.025 * a - gamma[..., np.newaxis] - beta[..., np.newaxis] * a) / u
    weight = np.exp(-0.5 * (left**2).sum(axis=-1))
    weight /= weight.sum()
    mean = (weight * gamma).sum()
    spread = np.sqrt((weight * (gamma - mean) ** 2).sum())
    assert np.log(row.r25_ohm / 33e3) == pytest.approx(mean, abs=0.02 * spread)
    assert row.u_r25_ohm / row.r25_ohm == pytest.approx(spread, rel=0.01)


def test_standard_ratios_are_looked_for_with_r25_free_only() -> None:
    family = tf.family("ntc-ratio-4613")
    p = read(family.curve, (30.0, 80.0), scale=50e3)
    listed, free = identify(p), identify(p, r25="free")
    assert "ntc-ratio-4613" in listed.not_compared
    assert "ntc-ratio-4613" in free.credible_set(0.95)
    with pytest.raises(InputError, match="R25 is left open"):
        listed["ntc-ratio-4613"]


def test_readings_of_no_curve_are_of_none_and_said_to_be_wrong() -> None:
    p = tf.Points([0.0, 25.0, 70.0], [27219, 8000, 2228], u_t_k=0.1, u_r_ohm=10)
    found = identify(p)
    assert found.leading == NONE
    assert found.no_curve > 0.99
    assert "follow no curve" in str(found).splitlines()[0]


def test_what_is_near_no_family_is_another_ntc() -> None:
    p = read(tf.Curve.beta(r25_ohm=20e3, b_k=3700))
    found = identify(p)
    assert found.another_ntc > 0.98
    assert "not among the 11 families" in str(found).splitlines()[0]


def test_of_what_has_no_probability_left_the_nearest_comes_first() -> None:
    """2252 Ω: among the families of the same bend, 5 kΩ is nearer than 10 kΩ, and so on."""
    found = identify(read(tf.family("ntc-10k-3977").curve, (0.0, 25.0, 70.0), scale=0.2252))
    assert [row.id for row in found.rows[:2]] == [NONE, "ntc-5k-3988"]
    chi2_of_thermistors = [row.chi2 for row in found.rows if row.id.startswith("ntc-10k")]
    assert chi2_of_thermistors == sorted(chi2_of_thermistors)


def test_platinum_of_another_r0_is_not_called_readings_of_no_curve() -> None:
    """2 kΩ at 0 °C; the three families of IEC 60751 are of one material."""
    ratio = tf.family("pt-100-iec60751").curve.resistance([0.0, 70.0])
    found = identify(tf.Points([0.0, 70.0], 20.0 * ratio, u_t_k=0.1))
    assert found.no_curve > 0.99
    assert found.other_level is not None
    assert {"pt-100-iec60751", "pt-1000-iec60751"} < set(found.other_level.ids)
    assert found.other_level.probability > 0.99
    first = str(found).splitlines()[0]
    assert "of the material of pt-100-iec60751" in first and "no curve" not in first


def test_one_reading_says_nothing_of_the_material() -> None:
    found = identify(tf.Points(21.0, 60.0, u_t_k=0.5, u_r_ohm=0.1))
    assert found.leading == NONE
    assert found.other_level is None


def test_none_is_not_claimed_of_families_that_were_not_compared() -> None:
    """170 °C: only platinum is valid there, so nothing is known of the thermistors."""
    found = identify(tf.Points([25.0, 170.0], [10e3, 150.0], u_t_k=0.1, u_r_ohm=1.0))
    assert found.leading == NONE
    assert "ntc-10k-3977" in found.out_of_range and "ntc-ratio-3544" not in found.out_of_range
    text = " ".join(str(found).split())
    assert "among the 3 families compared; but 8 families are not valid at all of these" in text


def test_readings_at_which_no_family_is_valid_are_refused() -> None:
    with pytest.raises(InputError, match=r"no family is valid .* reading at 900 °C lies outside"):
        identify(tf.Points(900.0, 100.0, u_t_k=1.0))


def test_an_ntc_of_no_family_is_looked_for_wherever_a_family_is_valid() -> None:
    """Two invented families for a kiln, at 900 °C in doubt between each other and none."""
    curves = [
        tf.Curve.beta(r25_ohm=r, b_k=3900, id=id, t_range_c=(0, 1000))
        for r, id in ((10e3, "one"), (10.8e3, "other"))
    ]
    between = np.sqrt(np.prod([curve.resistance(900.0) for curve in curves]))
    found = identify(
        tf.Points(900.0, between, u_t_k=1.0),
        families=[tf.Family(curve, source_kind="coefficients") for curve in curves],
        t_range_c=(0.0, 990.0),
    )
    assert 0.0 < found.another_ntc < 1.0
    assert found.next_reading is not None
    assert 0.0 <= found.next_reading.doubt_left_bits < found.next_reading.doubt_bits


# -- what is printed ----------------------------------------------------------------------


@pytest.mark.parametrize("r25", ["listed", "free"])
@pytest.mark.parametrize("t_c", [(21.0,), (0.0, 70.0), (25.0, 170.0)])
def test_lines_fit_a_terminal_and_units_stay_with_their_numbers(
    r25: Any, t_c: tuple[float, ...]
) -> None:
    r_ohm = np.array([11.9e3, 2.3e3])[: len(t_c)]
    lines = str(identify(tf.Points(t_c, r_ohm, u_t_k=0.5), r25=r25)).splitlines()
    assert max(map(len, lines)) <= 100
    assert not any(line.split()[:1] in (["K"], ["%"], ["Ω"], ["°C"]) for line in lines)


def test_what_was_taken_of_the_readings_is_printed_and_the_prior_is_not() -> None:
    found = identify(tf.Points(21.0, 11.9e3, u_t_k=0.5))
    text = " ".join(str(found).split())
    assert "the resistance is taken as exact" in text
    assert "R25 ± 5 % (assumed), B ± 2 % (assumed): ntc-10k-3950" in text
    assert "prior:" not in text and any(note.startswith("prior:") for note in found.notes)


def test_far_away_no_distance_is_made_up() -> None:
    """An open sensor: in kelvin to first order, more than there are."""
    found = identify(tf.Points([0.0, 25.0], [50e6, 50e6], u_t_k=0.1))
    row = next(line for line in str(found).splitlines() if line.startswith("  ntc-10k"))
    assert row.split()[-4:] == ["below", "-50", "above", "50"]
    assert "open nor shorted" in " ".join(str(found).split())


# -- one reading, and the next ----------------------------------------------------------


def test_a_resistance_at_room_temperature_gives_a_long_list() -> None:
    ten_k = {"ntc-10k-3977", "ntc-10k-3950", "ntc-10k-3435", "ntc-10k-3434"}
    assert set(LIST.credible_set(0.95)) == ten_k
    assert LIST.group is not None and set(LIST.group.ids) == ten_k
    assert LIST.group.by == "these readings"
    assert "cannot be told apart by readings at these temperatures" in str(LIST)


def test_the_next_reading_is_far_from_the_first_and_splits_the_list() -> None:
    plan = LIST.next_reading
    assert plan is not None
    assert plan.t_c == 70.0
    assert plan.u_t_k == 0.5 and plan.u_r_pct == pytest.approx(2500.0 / 11.9e3)
    assert plan.doubt_left_bits < 0.5 * plan.doubt_bits
    assert plan.leading == "ntc-10k-3435 or ntc-10k-3434"
    assert plan.others == ("ntc-10k-3977", "ntc-10k-3950")
    assert (plan.separation > 4.0).all()
    frame = plan.to_frame()
    near = int(np.argmin(np.abs(frame["t_c"] - 21.0)))
    assert frame["doubt_left_bits"].idxmax() == near
    assert (frame["doubt_left_bits"] <= plan.doubt_bits + 1e-3).all()
    assert frame["decided"].between(0.0, 1.0).all()
    assert "70 °C" in str(plan) and "standard uncertainties" in str(plan)


def test_a_coarser_next_reading_tells_less() -> None:
    p = tf.Points(21.0, 11.9e3, u_t_k=0.5, u_r_ohm=25)
    left = []
    for u in (0.1, 0.5, 2.0, 8.0):
        plan = identify(p, next_u_t_k=u).next_reading
        assert plan is not None
        left.append(plan.doubt_left_bits)
    assert (np.diff(left) > 0.0).all()


@pytest.mark.parametrize(("u_next_k", "high_c"), [(0.6, 32.0), (0.05, 70.0)])
def test_the_next_reading_decides_as_often_as_it_is_said_to(u_next_k: float, high_c: float) -> None:
    """Sensors that read 11.9 kΩ at 21 °C are drawn, read again and identified."""
    p = tf.Points(21.0, 11.9e3, u_t_k=0.1, u_r_ohm=25)
    ids = ["ntc-10k-3977", "ntc-10k-3434"]
    of = field_of(
        ids, "listed", weights=None, none_prior=1e-6, tolerances=None, assumed_r25_pct=5.0,
        assumed_b_pct=2.0, r25_range_ohm=(10.0, 10e6),
    )  # fmt: skip
    found = identify(
        p, families=ids, none_prior=1e-6, next_u_t_k=u_next_k, t_range_c=(20.0, high_c)
    )
    plan = found.next_reading
    assert plan is not None
    rng = np.random.default_rng(SEED)
    decided, drawn = 0.0, 4000
    expected = []
    for hypothesis in of.hypotheses[:-1]:
        corners = hypothesis.region.vertices
        places = rng.uniform(corners.min(axis=0), corners.max(axis=0), (400_000, 2))
        now, then = (hypothesis.expected(np.array([t])) for t in (21.0, plan.t_c))
        first = now.ln_r[0] + places[:, 0] + places[:, 1] * now.a[0]
        u = np.hypot(25.0 / 11.9e3, now.alpha[0] * 0.1)
        weight = np.exp(-0.5 * ((np.log(11.9e3) - first) / u) ** 2)
        own = places[rng.choice(len(places), drawn, p=weight / weight.sum())]
        u_next = np.hypot(plan.u_r_pct / 100.0, then.alpha[0] * plan.u_t_k)
        ln_r = then.ln_r[0] + own[:, 0] + own[:, 1] * then.a[0] + u_next * rng.normal(size=drawn)
        expected.append((ln_r.mean(), ln_r.var()))
        both = Readings(
            np.broadcast_to([21.0, plan.t_c], (drawn, 2)),
            np.stack([np.full(drawn, np.log(11.9e3)), ln_r], axis=-1),
            np.broadcast_to([25.0 / 11.9e3, plan.u_r_pct / 100.0], (drawn, 2)),
            np.broadcast_to([0.1, plan.u_t_k], (drawn, 2)),
        )  # fmt: skip
        posterior = weigh(compare(both, of.hypotheses).log_density, of.prior)
        seen = (posterior.max(axis=-1) >= 0.95).sum()
        decided += found[hypothesis.id].probability * seen
    assert plan.decided < 0.9 or high_c > 32.0
    p_value = binomtest(round(decided), drawn, plan.decided).pvalue
    assert p_value > 1e-3, (decided / drawn, plan.decided)
    (one, of_one), (other, of_other) = expected
    assert plan.separation[0] == pytest.approx(
        abs(one - other) / np.sqrt(of_one + of_other), rel=0.04
    )


def test_where_nothing_is_in_doubt_no_reading_is_asked_for() -> None:
    assert identify(read(tf.family("ntc-47k-4108").curve)).next_reading is None


# -- the prior, tolerances, ranges ---------------------------------------------------------


def test_weights_multiply_the_odds() -> None:
    p = tf.Points(25.0, 10e3, u_t_k=0.5)
    ids = ["ntc-10k-3977", "ntc-10k-3434"]
    even = identify(p, families=ids)
    uneven = identify(p, families=ids, weights={"ntc-10k-3977": 3.0})

    def odds(found: Identification) -> float:
        return found[ids[0]].probability / found[ids[1]].probability

    assert odds(uneven) == pytest.approx(3.0 * odds(even))
    left_out = identify(p, families=ids, weights={"ntc-10k-3977": 0.0})
    assert left_out.not_compared == {"ntc-10k-3977": "its weight is 0"}


def test_the_prior_of_none_multiplies_its_odds() -> None:
    p = read(tf.Curve.beta(r25_ohm=10.6e3, b_k=3977))
    rare, even = (identify(p, none_prior=prior).none_probability for prior in (0.1, 0.5))
    assert even / (1.0 - even) == pytest.approx(9.0 * rare / (1.0 - rare))


def test_what_was_assumed_is_said() -> None:
    notes = " ".join(LIST.notes)
    assert "prior: 90 % on 11 families, evenly, and 10 % on none" in notes
    assert "R25 ± 5 % (assumed), B ± 2 % (assumed): ntc-100k-4311" in notes
    assert "only B is stated: ntc-10k-3435, ntc-10k-3950, ntc-5k-3988" in notes
    assert LIST["ntc-10k-3977"].tolerance == "R25 ± 5 %, B ± 0.75 %"


def test_a_tolerance_of_ones_own_takes_the_place_of_the_familys() -> None:
    p = read(tf.family("ntc-10k-3977").curve, scale=1.03)
    assert identify(p).leading == "ntc-10k-3977"
    tight = Tolerance.of(dt_k=0.2, dt_range_c=(0, 70))
    narrowed = identify(p, families=["ntc-10k-3977"], tolerances={"ntc-10k-3977": tight})
    assert narrowed.leading == NONE
    assert narrowed["ntc-10k-3977"].tolerance == "± 0.2 K from 0 to 70 °C"


def test_a_family_of_nothing_but_its_nominal_part_can_be_identified() -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="exact")
    family = tf.Family(curve, r25_tol_pct=0.0, b_tol_pct=0.0, source_kind="coefficients")
    assert identify(read(curve), families=[family]).leading == "exact"


def test_a_family_is_not_held_against_readings_outside_its_range() -> None:
    found = identify(tf.Points([20.0, 130.0], [12.5e3, 300.0], u_t_k=0.1))
    assert "130 °C lies outside the valid range" in found.not_compared["ntc-10k-3977"]


def test_a_family_without_a_value_at_25_degrees_takes_no_other_down() -> None:
    hot = tf.Curve.from_table([60.0, 80.0, 100.0, 120.0], [2500, 1260, 680, 390], id="hot")
    families: list[tf.Family | str] = [tf.Family(hot, source_kind="table"), "ntc-10k-3977"]
    found = identify(read(tf.family("ntc-10k-3977").curve), families=families)
    assert found.leading == "ntc-10k-3977"
    assert "25 °C" in found.not_compared["hot"]


def test_a_b_value_may_be_stated_beyond_the_range_of_its_family() -> None:
    """B25/85 of a family that is valid to 70 °C: no warning, and the bend as of others."""
    families: list[tf.Family | str] = [
        tf.Family(tf.Curve.beta(r25_ohm=10e3, b_k=3977, id=id, t_range_c=(0, high)))
        for id, high in (("short", 70), ("long", 125))
    ]
    found = identify(read(tf.family("ntc-10k-3977").curve), families=families)
    assert found["short"].probability == pytest.approx(found["long"].probability, rel=1e-12)
    assert found["short"].chi2 < 1.0


@pytest.mark.parametrize(
    ("range_c", "t_c", "limit_k", "within_k"),
    # Class B: ± (0.30 + 0.005·|t|) K, IEC 60751:2022.  Limits of ln R are even between the
    # ends, 2.72e-3 at 200 °C and 3.20e-3 at 400 °C: half way 1.75 K, and not 1.80 K.
    [((5.0, 35.0), 20.0, 0.40, 0.01), ((200.0, 400.0), 300.0, 1.75, 0.02)],
)
def test_platinum_that_is_stated_over_little_is_of_class_b_there(
    range_c: tuple[float, float], t_c: float, limit_k: float, within_k: float
) -> None:
    whole = tf.family("pt-100-iec60751").curve
    curve = whole.replace(id="part", t_min_c=range_c[0], t_max_c=range_c[1])
    family = tf.Family(curve, source_kind="standard")
    for off_k in (limit_k - 0.1, limit_k + 0.3):
        p = tf.Points(t_c, whole.resistance(t_c + off_k), u_t_k=0.01)
        row = identify(p, families=[family])["part"]
        assert row.outside_k == pytest.approx(max(off_k - limit_k, 0.0), abs=within_k)


def test_the_scale_of_the_weights_does_not_matter() -> None:
    p = tf.Points(25.0, 10e3, u_t_k=0.5)
    ids = ["ntc-10k-3977", "ntc-10k-3434"]
    even, huge = (identify(p, families=ids, weights=dict.fromkeys(ids, w)) for w in (1.0, 1e308))
    assert huge[ids[0]].probability == even[ids[0]].probability


@pytest.mark.parametrize("t_range_c", [(100.0, 300.0), (-100.0, 0.0)])
def test_twins_are_twins_where_only_a_part_of_the_range_is_valid(
    t_range_c: tuple[float, float],
) -> None:
    found = identify(tf.Points(21.0, 11.9e3, u_t_k=0.5, u_r_ohm=25), t_range_c=t_range_c)
    twins = [set(group.ids) for group in found.groups if group.by == "any reading in the range"]
    assert {"ntc-10k-3434", "ntc-10k-3435"} in twins


def test_an_answer_that_there_is_not_is_refused_with_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match="'ntc-10k-3978'; the nearest are ntc-10k-3977"):
        LIST["ntc-10k-3978"]


def test_an_extremely_fine_reading_is_no_trouble() -> None:
    for r25 in ("listed", "free"):
        p = tf.Points(10.0, 20e3, u_t_k=0.0, u_r_ohm=1e-9)
        found = identify(p, r25=r25)
        assert sum(row.probability for row in found.rows) == pytest.approx(1.0)


def test_a_fit_is_identified_by_its_points() -> None:
    p = read(tf.family("ntc-47k-4108").curve, [0.0, 20.0, 45.0, 70.0])
    assert identify(tf.fit(p, equation="beta")).leading == "ntc-47k-4108"


# -- many sensors -----------------------------------------------------------------------------


def test_a_frame_says_of_each_sensor_what_it_says_alone() -> None:
    parts = {id: read(tf.family(id).curve) for id in KNOWN}
    parts["off"] = read(tf.family("ntc-47k-4108").curve, scale=1.056)
    parts["room"] = tf.Points(21.0, 11.9e3, u_t_k=0.5, u_r_ohm=25)
    frame = pd.concat([p.to_frame().assign(sensor=name) for name, p in parts.items()])
    table = identify(frame.sample(frac=1.0, random_state=SEED % 1000)).set_index("sensor")
    for name, p in parts.items():
        alone, row = identify(p), table.loc[name]
        assert row["leading"] == alone.leading
        assert row["probability"] == pytest.approx(alone.rows[0].probability)
        assert row["p_value"] == pytest.approx(alone.rows[0].p_value, rel=1e-6)
        assert row["none_probability"] == pytest.approx(alone.none_probability, abs=1e-12)
        assert set(row["credible_set"]) == set(alone.credible_set(0.95))
        assert row["readings"] == len(p)


def test_a_bad_cell_spoils_its_own_sensor_only() -> None:
    frame = pd.DataFrame({
        "sensor": ["a", "a", "b", "b"], "t_c": [0.0, 70.0, 0.0, 70.0],
        "r_ohm": [158214.0, 7798.0, -3.0, 7798.0],
    })  # fmt: skip
    table = identify(frame, u_t_k=0.1, u_r_pct=0.1)
    assert list(table["leading"]) == ["ntc-47k-4108", ""]
    assert "row 3: r_ohm -3.0" in table["problem"][1]
    assert table["credible_set"][1] == ()
    assert np.isnan(table["probability"][1])


def test_a_sensor_at_whose_temperatures_no_family_is_valid_has_no_answer() -> None:
    frame = pd.DataFrame({
        "sensor": ["kiln", "hot", "air"], "t_c": [900.0, 170.0, 0.0],
        "r_ohm": [100.0, 165.5, 158214.0],
    })  # fmt: skip
    table = identify(frame, u_t_k=0.1, u_r_pct=0.1).set_index("sensor").to_dict("index")
    assert table["kiln"]["leading"] == ""
    assert "no family is valid" in table["kiln"]["problem"]
    assert np.isnan(table["kiln"]["none_probability"])
    assert table["hot"]["leading"] == "pt-100-iec60751"
    assert "ntc-10k-3977" in table["hot"]["out_of_range"]
    assert table["air"]["out_of_range"] == ()


# -- bad input ----------------------------------------------------------------------------------

P = tf.Points([0.0, 70.0], [32650, 1750], u_t_k=0.1)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"r25": "open"}, "r25 must be 'listed' or 'free', not 'open'"),
        ({"none_prior": 0.0}, "none_prior must be a number above 0 and below 1, not 0.0"),
        ({"none_prior": True}, "none_prior must be a number"),
        ({"assumed_b_pct": -1.0}, "assumed_b_pct must be a number above 0 and below 100"),
        ({"families": "ntc-10k-3977"}, "families is a list of families or of their ids"),
        ({"families": [3977]}, "families holds a int"),
        ({"families": []}, "no family is left to compare with"),
        ({"families": ["ntc-10k-3977", "ntc-10k-3977"]}, "ntc-10k-3977 more than once"),
        ({"weights": {"ntc-10k-3977": -1.0}}, "weight of ntc-10k-3977 must be 0 or more"),
        ({"tolerances": {"ntc-10k-3977": 5.0}}, "must be a Tolerance, not 5.0"),
        (
            {"tolerances": {"ntc-10k-3977": Tolerance.of(r25_pct=1)}},
            "takes R25 or B as exact",
        ),
        ({"r25_range_ohm": (1e6, 10.0)}, "goes from a lower to a higher value"),
        ({"r25_range_ohm": (0.0, 10.0)}, "must lie above zero"),
        ({"t_range_c": 70.0}, "t_range_c is a pair of temperatures"),
        ({"t_range_c": (-300.0, 0.0)}, "must lie above absolute zero, not from -300 °C"),
        ({"next_u_t_k": 0.0}, "next_u_t_k must be a number above 0"),
        ({"u_t_k": 0.1}, "leave u_t_k out"),
    ],
)
def test_bad_input_is_refused_in_clear_words(arguments: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message.replace("(", r"\(")):
        identify(P, **arguments)


@pytest.mark.parametrize("name", ["weights", "tolerances"])
def test_an_id_that_is_not_compared_is_refused(name: str) -> None:
    with pytest.raises(UnknownNameError, match=f"{name}: .* 'ntc-1k'; the nearest are ntc"):
        identify(P, **{name: {"ntc-1k": 1.0}})  # type: ignore[call-overload]
    with pytest.raises(UnknownNameError, match="ntc-1k"):
        identify(P, families=["ntc-1k"])


def test_readings_without_uncertainties_are_refused() -> None:
    with pytest.raises(InputError, match="state no uncertainty"):
        identify(tf.Points([0.0, 70.0], [32650, 1750]))
    with pytest.raises(InputError, match="readings come as Points"):
        identify(32650.0)  # type: ignore[call-overload]


@pytest.mark.parametrize("coverage", [0.0, 1.0, 95])
def test_a_coverage_that_is_none_is_refused(coverage: float) -> None:
    with pytest.raises(InputError, match="coverage must lie between 0 and 1"):
        LIST.credible_set(coverage)
