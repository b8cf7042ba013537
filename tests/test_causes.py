"""From measurements to cause: sensor, wiring or controller."""

from __future__ import annotations

import dataclasses
import math
import re
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from thermofit.circuit import Converter, Divider
from thermofit.decide import Causes, SpotReading, causes, display_reading
from thermofit.decide.cause.assumptions import Assumptions, drift_of
from thermofit.decide.cause.cable import Wiring, see
from thermofit.decide.cause.draws import draw
from thermofit.decide.cause.estimates import estimate
from thermofit.decide.cause.kinds import KINDS, PRIORS, priors_of
from thermofit.decide.cause.loose import MOST_LINE
from thermofit.decide.cause.parts import own_part
from thermofit.decide.cause.spot import Place
from thermofit.decide.cause.visit import visit_of
from thermofit.decide.cause.weighing import weigh
from thermofit.decide.identification.hypothesis import Hypothesis
from thermofit.errors import InputError, UnknownNameError

FAMILY = "ntc-10k-3977"
CURVE = tf.family(FAMILY).curve
OVER = 20e6


def reading(place: Place, t_c: float, r_ohm: float, pct: float = 0.3) -> SpotReading:
    if math.isinf(r_ohm):
        return SpotReading(place, t_c, math.inf, 0.2, 0.0, OVER)
    return SpotReading(place, t_c, r_ohm, 0.2, max(0.01 * pct * r_ohm, 0.1))


def healthy(t_c: float) -> float:
    return float(CURVE.resistance(t_c))


def parallel(one: float, other: float) -> float:
    return 1.0 / (1.0 / one + 1.0 / other)


def flat(found: Causes) -> str:
    return " ".join(str(found).split())


OWN: Hypothesis = own_part(FAMILY, None)[0]


# ---- the circuit ------------------------------------------------------------------------------


@given(st.floats(2.0, 14.0), st.floats(1.0, 1e6), st.floats(100.0, 1e8))
def test_contact_lies_in_series_with_the_sensor_and_leakage_across_both(
    x: float, contact: float, leak: float
) -> None:
    wiring = Wiring(np.array([contact]), np.array([1.0 / leak]), np.zeros(1), np.ones(1))
    places = np.array(["sensor", "connector", "display", "cable bridged", "cable open"])
    found = see(places, np.full((1, 5), x), wiring).ln_r[0]
    at_the_end = math.log(parallel(math.exp(x) + contact, leak))
    wanted = [x, at_the_end, at_the_end, math.log(parallel(contact, leak)), math.log(leak)]
    assert found == pytest.approx(wanted, abs=1e-9)


@given(st.floats(4.0, 14.0), st.floats(10.0, 1e5), st.floats(1e3, 1e7))
def test_the_derivatives_are_those_of_the_circuit(x: float, contact: float, leak: float) -> None:
    places = np.array(["sensor", "connector", "cable bridged", "cable open"])

    def ln_r(dx: float, dc: float, dl: float) -> Any:
        wiring = Wiring(
            np.array([contact * math.exp(dc)]),
            np.array([math.exp(-dl) / leak]),
            np.zeros(1),
            np.ones(1),
        )
        return see(places, np.full((1, 4), x + dx), wiring)

    at, h = ln_r(0.0, 0.0, 0.0), 1e-5
    for name, step in (
        ("by_sensor", (h, 0.0, 0.0)),
        ("by_contact", (0.0, h, 0.0)),
        ("by_leak", (0.0, 0.0, h)),
    ):
        back = tuple(-s for s in step)
        slope = (ln_r(*step).ln_r - ln_r(*back).ln_r) / (2.0 * h)
        assert getattr(at, name) == pytest.approx(slope, abs=1e-6)


def test_open_and_shorted_states_read_so_where_they_can_be_seen() -> None:
    wiring = Wiring(
        np.array([np.inf, 0.0, 0.0]), np.array([0.0, np.inf, 1e-6]), np.zeros(3), np.ones(3)
    )
    places = np.array(["sensor", "connector", "cable open"])
    found = see(places, np.full((3, 3), 9.0), wiring).ln_r
    assert found[:, 0] == pytest.approx(9.0)
    assert found[0, 1] == np.inf and found[1, 1] == -np.inf
    assert found[0, 2] == np.inf and found[2, 2] == pytest.approx(math.log(1e6))


# ---- what a technician meets ------------------------------------------------------------------

VISITS = {
    "all good": [
        ("sensor", 20.0, 12.5e3), ("connector", 20.0, 12.5e3), ("connector", 20.0, 12.5e3),
    ],
    "bad contact": [
        ("sensor", 20.0, 12.5e3), ("connector", 20.0, 14.6e3), ("connector", 50.0, 5.7e3),
    ],
    "intermittent contact": [
        ("sensor", 20.0, 12.5e3), ("connector", 20.0, 12.5e3), ("connector", 20.0, 19.0e3),
    ],
    "leakage": [
        ("sensor", 20.0, 12.5e3), ("connector", 20.0, 9.0e3), ("connector", 50.0, 3.26e3),
    ],
    "sensor out of tolerance": [("sensor", 20.0, 15.0e3), ("connector", 20.0, 15.0e3)],
    "sensor open": [("sensor", 20.0, math.inf), ("connector", 20.0, math.inf)],
    "sensor shorted": [("sensor", 20.0, 0.3), ("connector", 20.0, 0.8)],
    "wire broken": [("sensor", 20.0, 12.5e3), ("connector", 20.0, math.inf)],
    "cable shorted": [("sensor", 20.0, 12.5e3), ("connector", 20.0, 0.4)],
    "wrong part fitted": [
        ("sensor", 0.0, 16.3e3), ("sensor", 50.0, 1.8e3), ("connector", 0.0, 16.3e3),
    ],
    "controller's input wrong": [
        ("sensor", 20.0, 12.5e3), ("connector", 20.0, 12.5e3), ("display", 20.0, 8.0e3),
    ],
    "wire broken and leakage": [
        ("sensor", 20.0, 12.5e3), ("cable bridged", 20.0, 300e3), ("cable open", 20.0, 300e3),
    ],
}  # fmt: skip


def test_a_sensor_of_few_ohms_has_a_bad_contact_of_few_ohms() -> None:
    # Platinum: 100 Ω at 0 °C (IEC 60751).
    pair = [reading("sensor", 0.0, 100.0, 0.1), reading("connector", 0.0, 103.0, 0.1)]
    found = causes(pair, "pt-100-iec60751")
    assert found.verdict == "bad contact"
    contact = found["bad contact"].contact_ohm
    assert contact is not None and contact.low < 3.0 < contact.high
    assert "1.00 Ω to 100 kΩ in series" in str(found)


@pytest.mark.parametrize("family", ["ntc-10k-3950", "ntc-47k-4108", "pt-1000-iec60751"])
def test_a_healthy_sensor_of_each_kind_of_family_passes(family: str) -> None:
    curve = tf.family(family).curve
    visit = [
        reading(place, t, float(curve.resistance(t)))
        for place in ("sensor", "connector")
        for t in (0.0, 50.0)
    ]
    found = causes(visit, family)
    assert found.verdict == "all good"
    assert "(assumed)" in found.notes[0]


@pytest.mark.parametrize("cause", VISITS)
def test_each_fault_is_named_from_the_readings_that_show_it(cause: str) -> None:
    found = causes([reading(*r) for r in VISITS[cause]], FAMILY)  # type: ignore[arg-type]
    assert found.verdict == found.leading == cause
    part = next(kind.part for kind in KINDS if kind.id == cause)
    assert max(found.where, key=found.where.__getitem__) == part
    assert sum(row.probability for row in found) == pytest.approx(1.0)
    assert sum(found.where.values()) == pytest.approx(1.0)
    lines = str(found).split("\n")
    assert max(map(len, lines)) <= 100 and len(lines) <= 50


def test_the_wrong_part_is_named() -> None:
    found = causes([reading(*r) for r in VISITS["wrong part fitted"]], FAMILY)  # type: ignore[arg-type]
    assert found["wrong part fitted"].other == "ntc-5k-3988"
    assert "ntc-5k-3988" in str(found)


def test_readings_that_no_cause_makes_are_said_to_be_something_else() -> None:
    # Invented: the same sensor at its own leads, twice, at one temperature.
    found = causes([reading("sensor", 20.0, 12.5e3), reading("sensor", 20.0, 19.0e3)], FAMILY)
    assert found.verdict == "something else"
    assert "differ by more than their uncertainties (12.50 kΩ and 19.00 kΩ)" in flat(found)
    assert "inside the sensor" in found.disagreements[0]


def test_one_reading_at_the_connector_cannot_tell_a_bad_contact_from_a_bad_sensor() -> None:
    found = causes([reading("connector", 20.0, 14.6e3)], FAMILY)
    assert found.verdict == "cannot tell"
    assert {row.cause for row in found.rows[:2]} == {"sensor out of tolerance", "bad contact"}
    told = "\n".join(found.unidentified)
    assert "one reading at one place cannot tell a bad contact from a sensor that has risen" in told
    assert "one temperature cannot tell a shift of R25" in told
    assert "four unknowns" in told
    assert "display was not read" in told
    assert found.next_tests[0].place in ("sensor", "cable bridged")


def test_only_what_was_not_measured_is_said_to_be_missing() -> None:
    every = [
        reading(place, t, healthy(t)) for place in ("sensor", "connector") for t in (0.0, 50.0)
    ]
    found = causes([*every, reading("display", 0.0, healthy(0.0))], FAMILY)
    assert found.verdict == "all good"
    assert len(found.unidentified) == 1 and "plug itself" in found.unidentified[0]
    alone = causes([reading("sensor", 0.0, healthy(0.0))], FAMILY)
    assert "nothing was measured through the cable" in alone.unidentified[0]


def test_readings_at_one_temperature_share_its_error() -> None:
    # 0.5 K is 2.3 % of R: if the errors were independent, a contact of 2 % would not show.
    def visit(t_connector: float) -> float:
        pair = [
            SpotReading("sensor", 20.0, 12.50e3, 0.5, 12.0),
            SpotReading("connector", t_connector, 12.75e3, 0.5, 12.0),
        ]
        return causes(pair, FAMILY).where["wiring"]

    assert visit(20.0) > 0.95
    assert visit(20.001) < 0.6


def test_the_leaks_and_contacts_of_a_bridged_and_an_open_cable_are_told_apart() -> None:
    contact = [reading("cable bridged", 20.0, 2.1e3), reading("cable open", 20.0, math.inf)]
    leak = [reading("cable bridged", 20.0, 0.5), reading("cable open", 20.0, 60e3)]
    assert causes(contact, FAMILY).leading == "bad contact"
    assert causes(leak, FAMILY).leading == "leakage"


# ---- Bayes' theorem ---------------------------------------------------------------------------


@given(st.floats(0.05, 20.0))
@settings(max_examples=8)
def test_where_readings_do_not_tell_the_priors_stand(ratio: float) -> None:
    weights = dict.fromkeys(PRIORS, 0.0) | {"sensor open": 1.0, "wire broken": ratio}
    found = causes([reading("connector", 20.0, math.inf)], FAMILY, priors=weights)
    # The integral over a sensor that was not measured is known to 5e-5.
    assert found["wire broken"].probability == pytest.approx(ratio / (1.0 + ratio), abs=5e-5)
    assert found["sensor open"].prior == pytest.approx(1.0 / (1.0 + ratio))
    assert len(found.rows) == 2


def test_below_one_half_the_verdict_is_cannot_tell() -> None:
    open_end = [reading("connector", 20.0, math.inf)]
    zero = dict.fromkeys(PRIORS, 0.0)
    found = causes(open_end, FAMILY, priors=zero | {"sensor open": 1.0, "wire broken": 1.02})
    assert found.verdict == "wire broken"
    # An intermittent contact is open at 7.5 % of readings: a tenth of it tips the scale.
    weights = zero | {"sensor open": 1.0, "wire broken": 1.02, "intermittent contact": 0.75}
    found = causes(open_end, FAMILY, priors=weights)
    wanted = 1.02 / (2.02 + 0.75 * 0.5 * 0.15)
    assert found["wire broken"].probability == pytest.approx(wanted, abs=5e-5)
    assert found.verdict == "cannot tell" and found.leading == "wire broken"
    assert str(found).startswith("cannot tell: the most probable cause, wire broken, has 49.")


def test_a_test_that_settles_one_question_tells_the_entropy_of_that_question() -> None:
    found = causes([reading("connector", 20.0, math.inf)], FAMILY)
    own = next(t for t in found.next_tests if (t.place, t.t_c) == ("sensor", 20.0))
    p = found["sensor open"].probability
    assert p == pytest.approx(0.06 / (0.06 + 0.06 + 0.06 * 0.5 * 0.15), rel=0.02)
    entropy = -p * math.log2(p) - (1.0 - p) * math.log2(1.0 - p)
    assert own.bits == pytest.approx(entropy, abs=0.02)
    assert own.decided > 0.95
    assert "both disconnected, the sensor at 20 °C (" in str(own)
    assert found.next_tests[0].bits >= own.bits


def test_a_measurement_that_cannot_differ_tells_nothing() -> None:
    weights = dict.fromkeys(PRIORS, 0.0) | {"sensor open": 1.0, "wire broken": 1.0}
    found = causes([reading("connector", 20.0, math.inf)], FAMILY, priors=weights)
    again = next(t for t in found.next_tests if (t.place, t.t_c) == ("connector", 20.0))
    assert again.bits == pytest.approx(0.0, abs=1e-12)


@given(st.permutations(range(4)))
@settings(max_examples=5)
def test_the_order_of_readings_does_not_matter(order: list[int]) -> None:
    visit = [
        reading("sensor", 20.0, 12.5e3), reading("connector", 20.0, 13.1e3),
        reading("connector", 50.0, 4.1e3), reading("connector", 20.0, 13.1e3),
    ]  # fmt: skip
    one, other = causes(visit, FAMILY), causes([visit[i] for i in order], FAMILY)
    for row in one:
        assert other[row.cause].probability == pytest.approx(row.probability, rel=1e-6, abs=1e-12)


def test_a_sensor_out_of_tolerance_is_outside_and_near_is_more_probable_than_far() -> None:
    drift = drift_of(OWN.region)
    assert (drift.outside > 0.1).all() and (drift.outside < 1.0).all()
    assert np.sqrt(drift.variance.max(axis=0)) == pytest.approx([0.5, 0.08])
    gathered = visit_of([reading("connector", 20.0, healthy(20.0))], OWN)
    found, _ = weigh(gathered, OWN, (), Assumptions(), {"sensor out of tolerance": 1.0})
    draws = draw(found[0], gathered, Assumptions())
    assert draws is not None
    assert not np.asarray(OWN.region.contains(*draws.place.T)).any()
    prior = [
        causes([reading("sensor", 20.0, f * healthy(20.0))], FAMILY)["sensor out of tolerance"]
        for f in (1.0, 1.12, 1.3)
    ]
    assert prior[0].probability < 0.2 < 0.9 < prior[1].probability
    assert prior[2].gamma is not None and prior[2].gamma.value > math.log(1.2)


# ---- sizes ------------------------------------------------------------------------------------


def test_sizes_are_covered_as_often_as_they_claim() -> None:
    rng = np.random.default_rng(7)
    plan: list[tuple[Place, int]] = [("sensor", 0), ("connector", 0), ("connector", 1)]
    assumed = Assumptions()
    low, high = OWN.region.vertices.min(axis=0), OWN.region.vertices.max(axis=0)
    at = OWN.expected(np.array([0.0, 50.0]))
    hits: dict[str, list[bool]] = {"contact_ohm": [], "leak_ohm": [], "gamma": [], "beta": []}
    for case in range(200):
        name = "bad contact" if case % 2 else "leakage"
        gamma, beta = rng.uniform(low, high)
        x = at.ln_r + gamma + beta * at.a + at.alpha * 0.2 * rng.standard_normal(2)
        span = assumed.contact_ohm if case % 2 else assumed.leakage_ohm
        size = float(np.exp(rng.uniform(*np.log(span))))
        visit = []
        for place, j in plan:
            r = float(np.exp(x[j]))
            if place == "connector":
                r = r + size if case % 2 else parallel(r, size)
            shown = r * (1.0 + 0.01 * rng.standard_normal())
            visit.append(reading(place, (0.0, 50.0)[j], shown, 1.0))
        gathered = visit_of(visit, OWN)
        found, _ = weigh(gathered, OWN, (), assumed, {name: 1.0})
        sizes = estimate(found[0], draw(found[0], gathered, assumed), assumed)
        assert sizes is not None
        own = "contact_ohm" if case % 2 else "leak_ohm"
        for key, true in ((own, size), ("gamma", gamma), ("beta", beta)):
            interval = getattr(sizes, key)
            hits[key].append(interval.low <= true <= interval.high)
    for key, inside in hits.items():
        # 100 or 200 cases of 95 %: two and a half standard deviations.
        slack = 2.5 * math.sqrt(0.95 * 0.05 / len(inside))
        assert np.mean(inside) == pytest.approx(0.95, abs=slack), key


@pytest.mark.parametrize("factor", [0.97, 1.0, 1.03])
def test_draws_are_spread_as_the_cells_weigh(factor: float) -> None:
    # At the tolerance's edge the places that go with a cell are cut off; its weight knows that.
    visit = [reading("connector", t, factor * healthy(t)) for t in (0.0, 50.0)]
    gathered, assumed = visit_of(visit, OWN), Assumptions()
    found, _ = weigh(gathered, OWN, (), assumed, {"bad contact": 1.0})
    block, draws = found[0].blocks[0], draw(found[0], gathered, assumed)
    assert draws is not None
    weight = np.exp(block.log_weight - found[0].log_evidence)
    assert weight.sum() == pytest.approx(1.0)
    cells, drawn = np.log(block.wiring.contact_ohm), np.log(draws.contact_ohm)
    mean = float(weight @ cells)
    sd = math.sqrt(weight @ (cells - mean) ** 2)
    assert drawn.mean() == pytest.approx(mean, abs=0.02 * sd)
    assert drawn.std() == pytest.approx(sd, rel=0.02)


def test_the_next_reading_at_the_same_temperature_shares_its_error() -> None:
    # 2 K is 9 % of R at 20 °C: only where its error is shared does the cable's end tell much.
    found = causes([SpotReading("sensor", 20.0, 12.5e3, 2.0, 12.5)], FAMILY, next_t_c=21.5)
    here, near = (
        next(x for x in found.next_tests if (x.place, x.t_c) == ("connector", t))
        for t in (20.0, 21.5)
    )
    assert here.bits > near.bits + 0.4


def test_a_contact_is_the_difference_of_two_readings() -> None:
    found = causes([reading("sensor", 20.0, 12.5e3), reading("connector", 20.0, 14.6e3)], FAMILY)
    contact = found["bad contact"].contact_ohm
    assert contact is not None
    u = math.hypot(0.003 * 12.5e3, 0.003 * 14.6e3)
    assert contact.value == pytest.approx(2.1e3, abs=0.2 * u)
    assert contact.standard_uncertainty == pytest.approx(u, rel=0.1)
    assert contact.high - contact.low == pytest.approx(2 * 1.96 * u, rel=0.1)
    assert "contact" not in found["bad contact"].left_open()


def test_what_readings_do_not_determine_is_said() -> None:
    found = causes([reading("sensor", 20.0, 12.5e3), reading("connector", 20.0, 14.6e3)], FAMILY)
    assert "leak_ohm" in found["bad contact and leakage"].undetermined
    assert found["bad contact and leakage"].left_open() == "leakage"
    two = [reading("sensor", t, 1.2 * healthy(t)) for t in (0.0, 50.0)]
    row = causes(two, FAMILY)["sensor out of tolerance"]
    assert row.undetermined == ()
    assert row.gamma is not None and row.beta is not None
    assert row.gamma.value == pytest.approx(math.log(1.2), abs=0.01)
    assert row.beta.value == pytest.approx(0.0, abs=0.01)
    assert causes(two[:1], FAMILY)["sensor out of tolerance"].undetermined == ("beta",)


# ---- what comes with it -----------------------------------------------------------------------


def test_the_report_has_causes_next_tests_and_cautions() -> None:
    found = causes([reading("connector", 20.0, 9.0e3)], FAMILY)
    text = flat(found)
    assert "next: " in text and "also: dry the connector" in text
    assert causes([reading("connector", 20.0, 14.6e3)], FAMILY).next_steps[0].startswith("move")
    for caution in (
        "Isolate the power before a sensor is unplugged", "fed from the mains can be live",
        "Switch the controlled load off before a sensor is opened or shorted",
        "both its leads disconnected", "in parallel",
        "A pass at two temperatures does not exclude an intermittent fault",
    ):  # fmt: skip
        assert text.count(caution) == 1


CONTACT_BY_ITSELF, NO_LEAK = (
    reading("cable bridged", 20.0, 2.1e3), reading("cable open", 20.0, math.inf),
)  # fmt: skip
JOINED = reading("cable bridged", 20.0, 0.3)


def test_what_was_measured_at_the_bare_cable_is_not_said_to_be_missing() -> None:
    line = reading("connector", 20.0, 14.6e3)
    both = flat(causes([line, CONTACT_BY_ITSELF, NO_LEAK], FAMILY))
    assert "read alike" not in both
    bridged = flat(causes([line, CONTACT_BY_ITSELF], FAMILY))
    assert "leakage from a sensor that has fallen" in bridged
    assert "a bad contact from a sensor" not in bridged
    parted = flat(causes([line, NO_LEAK], FAMILY))
    assert "a bad contact from a sensor that has risen" in parted
    assert "leakage from a sensor" not in parted
    sensor = reading("sensor", 20.0, 12.5e3)
    assert "through the cable" not in flat(causes([sensor, JOINED, NO_LEAK], FAMILY))
    assert "leakage was not looked for" in flat(causes([sensor, JOINED], FAMILY))
    assert "a bad contact was not looked for" in flat(causes([sensor, NO_LEAK], FAMILY))


def test_a_sensor_that_was_not_measured_is_said_to_be_so() -> None:
    found = causes([JOINED, NO_LEAK], FAMILY)
    assert "the sensor was not measured" in found.unidentified[0]
    # A cable that is well, and a sensor that is held for well: nobody has looked at it.
    sure = dict.fromkeys(PRIORS, 0.0) | {"all good": 1.0, "sensor open": 0.1}
    good = str(causes([JOINED, NO_LEAK], FAMILY, priors=sure))
    assert good.startswith("nothing wrong found, 90.9 %: the cable reads as it should; the sensor")
    sure = dict.fromkeys(PRIORS, 0.0) | {"all good": 1.0, "wire broken": 0.1}
    good = str(causes([reading("sensor", 20.0, 12.5e3)], FAMILY, priors=sure))
    assert f"the sensor reads as {FAMILY}; the wiring was not measured" in good.split("\n")[0]


def test_where_it_lies_is_no_finding_where_nothing_was_measured() -> None:
    found = causes([reading("sensor", 20.0, 12.5e3)], FAMILY)
    assert found.where["wiring"] > 0.5
    assert "lies in" not in str(found).split("\n")[0]
    weights = dict.fromkeys(PRIORS, 0.0)
    weights |= {"sensor open": 1.0, "wire broken": 0.7, "intermittent contact": 7.0}
    found = causes([reading("connector", 20.0, math.inf)], FAMILY, priors=weights)
    assert found.verdict == "cannot tell"
    assert "but that it lies in the wiring has 5" in flat(found)


def test_another_part_is_named_without_a_perhaps_only_where_it_is_told() -> None:
    # Both have 10 kΩ at 25 °C: one temperature cannot tell which is fitted.
    others = ["ntc-10k-3434", "ntc-10k-3435", "ntc-5k-3988"]
    only = dict.fromkeys(PRIORS, 0.0) | {"wrong part fitted": 1.0}
    at_25 = causes([reading("sensor", 25.0, 10e3)], FAMILY, families=others, priors=only)
    assert 0.4 < at_25["wrong part fitted"].other_share < 0.7
    assert "perhaps ntc-10k-343" in str(at_25).split("\n")[0]
    at_25 = causes([reading("sensor", 25.0, 5e3)], FAMILY, families=others, priors=only)
    assert at_25["wrong part fitted"].other_share == 1.0
    assert "perhaps" not in str(at_25)


def test_the_place_of_another_part_is_that_of_the_part_that_is_named() -> None:
    # Two invented parts, 8 % apart: the reading lies between them.
    low, high = (
        tf.Family(
            tf.Curve.beta(r25_ohm=r, b_k=3900.0, id=f"invented-{r:g}", t_range_c=(-40.0, 125.0)),
            r25_tol_pct=5.0, b_tol_pct=1.0, source_kind="table",
        )
        for r in (9600.0, 10400.0)
    )  # fmt: skip
    only = dict.fromkeys(PRIORS, 0.0) | {"wrong part fitted": 1.0}
    visit = [SpotReading("sensor", 25.0, 10050.0, 0.05, 10.0)]
    row = causes(visit, FAMILY, families=[low, high], priors=only)["wrong part fitted"]
    wanted = math.log(10050.0 / (9600.0 if row.other == "invented-9600" else 10400.0))
    assert row.gamma is not None and row.gamma.value == pytest.approx(wanted, abs=0.002)
    assert row.gamma.high - row.gamma.low < 0.02


def test_the_wires_of_the_cable_are_named_where_they_count() -> None:
    pair = [reading("sensor", 0.0, 100.0, 0.1), reading("connector", 0.0, 103.0, 0.1)]
    assert "the cable's own wires counts as a bad contact" in flat(causes(pair, "pt-100-iec60751"))
    assert "own wires" not in flat(causes([reading("connector", 20.0, 12.5e3)], FAMILY))
    assert "own wires" not in flat(causes(pair[:1], "pt-100-iec60751"))


def test_what_moves_at_a_bare_cable_is_no_sensor() -> None:
    def why(place: Place, one: float, other: float) -> str:
        return causes([reading(place, 20.0, r) for r in (one, other)], FAMILY).disagreements[0]

    assert why("cable open", 50e3, 400e3).endswith("moisture or with movement")
    assert why("cable bridged", 500.0, 4e3).endswith("a contact that comes and goes")
    assert why("connector", 12e3, 16e3).endswith("or the temperature moved")


def test_a_column_of_limits_may_be_empty_in_any_way_that_pandas_knows() -> None:
    frame = pd.DataFrame(
        {"place": ["sensor", "connector"], "t_c": 20.0, "r_ohm": [12.5e3, math.inf],
         "u_t_k": 0.2, "u_r_ohm": 40.0}
    )  # fmt: skip
    limits: list[Any] = [[math.nan, OVER], [None, OVER], pd.array([pd.NA, OVER], dtype="Float64")]
    for one in limits:
        assert causes(frame.assign(limit_ohm=one), FAMILY).verdict == "wire broken"


def test_the_published_priors_cannot_be_changed_by_accident() -> None:
    with pytest.raises(TypeError):
        PRIORS["all good"] = 1.0  # type: ignore[index]


def test_where_nothing_is_wrong_the_fan_is_named() -> None:
    found = causes([reading(*r) for r in VISITS["all good"]], FAMILY)  # type: ignore[arg-type]
    assert "fan" in found.next_steps[0] and str(found).startswith("nothing wrong found, ")
    assert "fan" not in str(causes([reading("connector", 20.0, 14.6e3)], FAMILY))


def test_a_frame_goes_in_and_comes_out() -> None:
    visit = [reading("sensor", 20.0, 12.5e3), reading("connector", 20.0, math.inf)]
    frame = pd.DataFrame([dataclasses.asdict(r) for r in visit])
    one, other = causes(visit, FAMILY), causes(frame, FAMILY)
    assert [r.probability for r in one] == [r.probability for r in other]
    out = one.to_frame()
    assert out["cause"].tolist() == [row.cause for row in one]
    assert out["probability"].sum() == pytest.approx(1.0)
    assert {"contact_ohm_low", "leak_ohm", "gamma", "beta_high", "undetermined"} <= set(out)


def test_the_result_is_frozen() -> None:
    found: Causes = causes([reading("sensor", 20.0, 12.5e3)], FAMILY)
    with pytest.raises(dataclasses.FrozenInstanceError):
        found.verdict = "all good"  # type: ignore[misc]


def test_without_a_display_the_controller_is_not_weighed_and_two_share_what_is_left() -> None:
    without = priors_of(None, display=False, others=True)
    with_display = priors_of(None, display=True, others=False)
    assert not [k for k in without if "controller" in k]
    assert "wrong part fitted" not in with_display
    for prior in (without, with_display):
        assert sum(prior.values()) == pytest.approx(1.0)
        pairs = [p for k, p in prior.items() if " and " in k]
        assert sum(pairs) / prior["all good"] == pytest.approx(0.03 / 0.25)


def test_the_display_stands_for_a_resistance_by_the_curve_that_the_controller_assumes() -> None:
    bare = display_reading(18.3, CURVE, t_c=20.0, u_t_k=0.2)
    assert bare.r_ohm == pytest.approx(healthy(18.3), rel=1e-5)
    divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    coded = display_reading(18.3, CURVE, t_c=20.0, u_t_k=0.2, circuit=divider)
    # From `seen`: 13432 to 13540 Ω.
    assert coded.r_ohm == pytest.approx(math.sqrt(13432 * 13540), rel=1e-4)
    assert coded.u_r_ohm == pytest.approx((13540 - 13432) / math.sqrt(12.0), rel=0.01)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: SpotReading("plug", 20, 1e3, 0.1, 1.0), "'sensor', 'connector'"),  # type: ignore[arg-type]
        (lambda: SpotReading("sensor", 20, -1.0, 0.1, 1.0), "at least 0"),
        (lambda: SpotReading("sensor", 20, 1e3, 0.1, 0.0), "no reading is without uncertainty"),
        (lambda: SpotReading("sensor", 20, math.inf, 0.1, 0.0), "limit_ohm, the largest"),
        (lambda: SpotReading("sensor", 20, 1e3, 0.1, 1.0, 2e6), "over range"),
        (lambda: SpotReading("sensor", math.nan, 1e3, 0.1, 1.0), "t_c of the reading at 'sensor'"),
        (lambda: SpotReading("sensor", 20, 1e3, -0.1, 1.0), "u_t_k of the reading"),
        (lambda: SpotReading("sensor", 20, np.array([1e3, 2e3]), 0.1, 1.0), "finite number in Ω"),  # type: ignore[arg-type]
        (lambda: SpotReading("sensor", 20, pd.Series([1e3, 2e3]), 0.1, 1.0), "finite number in Ω"),  # type: ignore[arg-type]
        (lambda: SpotReading("sensor", 20, pd.NA, 0.1, 1.0), "finite number in Ω"),  # type: ignore[arg-type]
        (lambda: SpotReading("sensor", 20, math.nan, 0.1, 1.0), "finite number in Ω"),
        (lambda: SpotReading(np.array(["sensor", "x"]), 20, 1e3, 0.1, 1.0), "taken at one of"),  # type: ignore[arg-type]
        (lambda: causes(pd.Series([1e3, 2e3]), FAMILY), "holds a float"),  # type: ignore[arg-type]
        (
            lambda: causes(
                pd.DataFrame(
                    [["sensor", 20.0, 20.0, 1e3, 0.1, 1.0]],
                    columns=["place", "t_c", "t_c", "r_ohm", "u_t_k", "u_r_ohm"],
                ),
                FAMILY,
            ),
            "two columns 't_c'",
        ),
        (
            lambda: causes([SpotReading("sensor", 20, 12.5e3, 0.2, 1e9)], FAMILY),
            "too much to judge by; measure on a finer range",
        ),
        # A meter of 10 kΩ steps shows 0 for a healthy sensor as well.
        (
            lambda: causes([SpotReading("sensor", 20, 0.0, 0.2, 3e3)], FAMILY),
            "3.00 kΩ, too much to judge by",
        ),
        (
            lambda: causes(
                [reading("sensor", 20, 1e3)],
                FAMILY,
                priors={"all good": 1e308, "bad contact": 1e308},
            ),
            "too large",
        ),
        (lambda: causes([], FAMILY), "there are no readings"),
        (lambda: causes("sensor", FAMILY), "sequence of SpotReading"),  # type: ignore[arg-type]
        (lambda: causes([(20, 1e3)], FAMILY), "holds a tuple"),  # type: ignore[list-item]
        (lambda: causes(pd.DataFrame({"t_c": [1.0]}), FAMILY), "no column 'place', 'r_ohm'"),
        (
            lambda: causes(
                pd.DataFrame(
                    {"place": ["plug"], "t_c": [1.0], "r_ohm": [1e3], "u_t_k": 0.1, "u_r_ohm": 1.0}
                ),
                FAMILY,
            ),
            "row 1 of the frame",
        ),
        (lambda: causes([reading("sensor", 20, 1e3)], CURVE), "a part is a Family"),  # type: ignore[arg-type]
        (lambda: causes([reading("sensor", 20, 1e3)], "ntc-ratio-4014"), "leaves R25 open"),
        (lambda: causes([reading("sensor", 200, 1e3)], FAMILY), "outside the valid range"),
        (lambda: causes([reading("sensor", 20, 1e3)], FAMILY, contact_ohm=(0, 10)), "above zero"),
        (lambda: causes([reading("sensor", 20, 1e3)], FAMILY, leakage_ohm=5.0), "pair"),  # type: ignore[arg-type]
        (lambda: causes([reading("sensor", 20, 1e3)], FAMILY, u_controller_pct=0), "above 0"),
        (
            lambda: causes([reading("sensor", 20, 1e3)], FAMILY, priors={"all good": -1.0}),
            "must be 0 or more",
        ),
        (
            lambda: causes([reading("sensor", 20, 1e3)], FAMILY, priors=dict.fromkeys(PRIORS, 0.0)),
            "all priors are 0",
        ),
        (
            lambda: causes(
                [reading("sensor", 20, math.inf)],
                FAMILY,
                priors=dict.fromkeys(PRIORS, 0.0) | {"sensor shorted": 1.0},
            ),
            "no cause that is left",
        ),
        (
            lambda: causes([reading("connector", 20, 12e3)] * (MOST_LINE + 1), FAMILY),
            "average those that agree",
        ),
        (
            lambda: display_reading(
                -90.0,
                CURVE,
                t_c=20,
                u_t_k=0.1,
                circuit=Divider(pullup_ohm=1.0, supply_v=5.0, converter=Converter(bits=8)),
            ),
            "end of the scale",
        ),
        (lambda: causes([reading("sensor", 20, 1e3)], FAMILY)["rust"], "was not weighed"),
    ],
)
def test_bad_input_is_said_in_clear_words(make: Any, words: str) -> None:
    with pytest.raises(InputError, match=re.escape(words)):
        make()


def test_an_unknown_cause_or_family_is_named() -> None:
    with pytest.raises(UnknownNameError, match="rust"):
        causes([reading("sensor", 20, 1e3)], FAMILY, priors={"rust": 1.0})
    with pytest.raises(UnknownNameError):
        causes([reading("sensor", 20, 1e3)], "no-such-family")
    with pytest.raises(UnknownNameError):
        causes([reading("sensor", 20, 1e3)], FAMILY, families=["no-such-family"])
    with pytest.raises(UnknownNameError, match="'rust' was not weighed"):
        causes([reading("sensor", 20, 1e3)], FAMILY)["rust"]
