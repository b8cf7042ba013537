"""The conformance checks pass what is sound, and each rule has something that breaks it."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from thermofit.equations import (
    Beta,
    CallendarVanDusen,
    Equation,
    InversePolynomial,
    LogPolynomial,
    ShiftedExponential,
    SteinhartHart,
    Tabulated,
)
from thermofit.equations.base import Array, Coefficient
from thermofit.errors import ConformanceError, InputError, ThermofitError
from thermofit.testing import check_equation, check_family, curves, families, temperatures

NTC = (-40.0, 125.0)


def failures_of_equation(
    equation: Equation | type[Equation], c: Any = (10e3, 3977.0), t_range_c: Any = NTC
) -> str:
    with pytest.raises(ConformanceError) as caught:
        check_equation(equation, c, t_range_c)
    assert str(caught.value).startswith("equation ")
    assert caught.value.failures
    return "\n".join(caught.value.failures)


def failures_of_family(family: Any) -> str:
    with pytest.raises(ConformanceError) as caught:
        check_family(family)
    return "\n".join(caught.value.failures)


# -- what ships is sound ----------------------------------------------------------


@pytest.mark.parametrize(
    ("equation", "c", "t_range_c"),
    [
        (Beta, [10e3, 3977], NTC),
        (SteinhartHart, [1.129e-3, 2.341e-4, 8.775e-8], NTC),
        (LogPolynomial(2, 10e3), [1 / 298.15, 1 / 3977], NTC),
        (LogPolynomial, [8.8e-4, 2.6e-4, -1.2e-6, 1e-7], (0, 100)),
        (LogPolynomial(4, 10e3), [3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8], NTC),
        (InversePolynomial(2, 10e3), [-13.34, 3977], NTC),
        (InversePolynomial(4, 10e3), [-14.6337, 4791.842, -115334, -3.730535e6], NTC),
        (InversePolynomial(5, 10e3), [-14.6337, 4791.842, -115334, -3.7e6, -1e6], NTC),
        (ShiftedExponential, [5.6096e-3, 6181.35, 72.0736], (50, 125)),
        (CallendarVanDusen, [100, 3.9083e-3, -5.775e-7], (-200, 850)),
        (Tabulated((0, 25, 60), (32554, 10000, 2489)), [], (0, 60)),
    ],
)
def test_every_shipped_equation_is_sound(equation: Any, c: Any, t_range_c: Any) -> None:
    check_equation(equation, c, t_range_c)


def test_every_shipped_family_is_sound() -> None:
    for family in tf.families().values():
        check_family(family)
        curve = family.curve
        check_equation(
            curve.equation, np.asarray(curve.coefficients), (curve.t_min_c, curve.t_max_c)
        )


# -- each rule for equations can fail ---------------------------------------------


def variant(**members: Any) -> type[Equation]:
    """A constant-B equation under another name, with some members replaced."""

    @dataclass(frozen=True)
    class Variant(Beta):
        @property
        def name(self) -> str:
            return "variant"

    for name, member in members.items():
        setattr(Variant, name, member)
    # Pickle looks classes up by their name.
    Variant.__qualname__ = "Variant"
    globals()["Variant"] = Variant
    return Variant


def test_the_variant_itself_is_sound() -> None:
    check_equation(variant(), [10e3, 3977.0], NTC)


@pytest.mark.parametrize(
    ("members", "words"),
    [
        ({"name": property(lambda self: "Two Words")}, "name: 'Two Words' must be lower-case"),
        ({"name": property(lambda self: "steinhart-hart")}, "belongs to SteinhartHart already"),
        ({"label": ""}, "label: must be a text"),
        ({"formula": None}, "formula: must be a text"),
        ({"from_name": classmethod(lambda cls, n, s: cls())}, "None for a name of another"),
        ({"from_name": classmethod(lambda cls, n, s: None)}, "must give an equation equal to e"),
        (
            {
                "from_name": classmethod(
                    lambda cls, n, s: cls() if n == "variant" and not s else None
                )
            },
            "settings that the equation does not have must be ignored",
        ),
        ({"from_name": classmethod(lambda cls, n, s: {}[n])}, "from_name: raised KeyError"),
        ({"settings": property(lambda self: {"note": 1.0})}, "'note' cannot be the name"),
        ({"settings": property(lambda self: {"T Ref": 1.0})}, "'T Ref' cannot be the name"),
        ({"settings": property(lambda self: {"t_ref_c": "x"})}, "t_ref_c must be a finite number"),
        ({"coefficients": property(lambda self: ["r25_ohm", "b_k"])}, "a tuple of Coefficient"),
        (
            {"coefficients": property(lambda self: (Coefficient("a b"), Coefficient("b_k")))},
            "their names must be identifiers",
        ),
        ({"explicit": "current"}, "explicit: must be one of"),
        ({"ntc": 1}, "ntc: must be True or False"),
        ({"default_range_c": (25.0, 25.0)}, "default_range_c: a valid range runs"),
        ({"__hash__": None}, "comparison: raised TypeError"),
        ({"__eq__": lambda self, other: self is other}, "an unpickled copy must be equal"),
        (
            {"value": lambda self, x, c: np.atleast_1d(Beta.value(self, x, c))},
            "value: of arguments",
        ),
        ({"slope": lambda self, x, c: c[1]}, "slope: of arguments of shape (1,) it must have"),
        ({"gradient": lambda self, x, c: Beta.gradient(self, x, c).T}, "gradient: of arguments"),
        ({"slope": lambda self, x, c: np.full_like(x, 1.01 * c[1])}, "slope: is not the deriv"),
        ({"slope": lambda self, x, c: np.full(np.shape(x), int(c[1]))}, "must give float64, not"),
        (
            {"gradient": lambda self, x, c: np.stack([np.full_like(x, 1 / c[0]), x - 1 / 298.15])},
            "gradient: is not the derivative of value with respect to ln r25_ohm",
        ),
        (
            {"gradient": lambda self, x, c: np.stack([np.ones_like(x), 0.0 * x])},
            "gradient: is not the derivative of value with respect to b_k",
        ),
        ({"inverse": lambda self, y, c: 1.001 * Beta.inverse(self, y, c)}, "inverse: inverse(va"),
        ({"turning_points": lambda self, c, a, b: np.array([0.5 * (a + b)])}, "slope is not zero"),
        ({"turning_points": lambda self, c, a, b: np.array([b])}, "turning_points: must lie"),
        ({"linear": False}, "linear: is False, but"),
        ({"to_fitted": lambda self, c: np.array(c)}, "from_fitted(to_fitted(c)) is not c"),
        (
            {"fitted_scale": lambda self, c: np.ones(2)},
            "fitted_scale: is not the derivative of r25",
        ),
        ({"scaled_basis": lambda self, x: (np.ones((len(x), 2)), np.eye(2))}, "not gradient.T @"),
        ({"scaled_basis": lambda self, x: (np.ones((2, 2)), np.eye(2))}, "arrays of the shapes"),
        (
            {"scaled_basis": lambda self, x: (self.gradient(x, np.ones(2)).T, np.eye(2))},
            "the columns of basis must be of order one",
        ),
        (
            {"for_points": lambda self, ln_r: Beta()},
            "for_points: must give an equation of the same",
        ),
    ],
)
def test_a_rule_that_an_equation_breaks_is_told(members: dict[str, Any], words: str) -> None:
    assert words in failures_of_equation(variant(**members))


def test_an_equation_that_changes_its_arguments_is_told() -> None:
    def value(self: Any, x: Array, c: Array) -> Array:
        x -= 1 / 298.15
        return np.asarray(np.log(c[0]) + c[1] * x)

    assert "raised ValueError" in failures_of_equation(variant(value=value))


def test_an_equation_that_is_not_linear_may_not_say_so() -> None:
    @dataclass(frozen=True)
    class Bent(ShiftedExponential):
        linear: ClassVar[bool] = True

    found = failures_of_equation(Bent(), [5.6096e-3, 6181.35, 72.0736], (50, 125))
    assert "linear: is True, but value is not linear" in found


@pytest.mark.parametrize(
    ("through", "words"),
    [
        (lambda self, inv_t, ln_r: None, "through: finds no curve"),
        (
            lambda self, inv_t, ln_r: ShiftedExponential.through(self, inv_t, ln_r + 0.01),
            "through: the curve misses the 3 points",
        ),
    ],
)
def test_a_curve_near_points_must_pass_through_as_many_as_it_has_coefficients(
    through: Any, words: str
) -> None:
    @dataclass(frozen=True)
    class Missing(ShiftedExponential):
        pass

    setattr(Missing, "through", through)  # noqa: B010  a method cannot be assigned otherwise
    found = failures_of_equation(Missing(), [5.6096e-3, 6181.35, 72.0736], (50, 125))
    assert words in found


def test_settings_that_are_lost_are_told() -> None:
    @dataclass(frozen=True)
    class Forgetful(Beta):
        t_ref_c: float = 25.0

        @property
        def name(self) -> str:
            return "forgetful"

        @property
        def settings(self) -> Mapping[str, float]:
            return {"t_ref_c": self.t_ref_c}

        @classmethod
        def from_name(cls, name: str, settings: Mapping[str, float]) -> Forgetful | None:
            if name != "forgetful" or "t_ref_c" not in settings:
                return None
            return cls()

    found = failures_of_equation(Forgetful(20.0))
    assert "from_name: from_name(e.name, e.settings) must give an equation equal to e" in found
    assert "from_name: settings that are missing must take their defaults" in found


def test_numbers_that_make_no_curve_are_told() -> None:
    assert "no curve can be made" in failures_of_equation(Beta, [10e3])
    assert "has 2 coefficients (r25_ohm, b_k), not 3" in failures_of_equation(Beta, [1, 2, 3])
    assert "NotMonotoneError" in failures_of_equation(Beta, [10e3, -3977.0])


def test_a_class_that_cannot_be_made_is_told() -> None:
    @dataclass(frozen=True)
    class Demanding(Beta):
        must: float = 0.0

        def __post_init__(self) -> None:
            if not self.must:
                raise InputError("must must be given")

    assert "all settings need defaults" in failures_of_equation(Demanding)
    with pytest.raises(ConformanceError, match=r"sub-class of thermofit\.equations\.Equation"):
        check_equation(int, [1.0], NTC)  # type: ignore[arg-type]


# -- each rule for families can fail ----------------------------------------------

SOUND = tf.Family(
    tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=NTC, id="sound", source="a data sheet"),
    r25_tol_pct=1.0,
    b_tol_pct=0.75,
)


def with_curve(**changes: Any) -> tf.Family:
    return replace(SOUND, curve=SOUND.curve.replace(**changes))


def around(curve: tf.Curve, **changes: Any) -> tf.Family:
    return replace(SOUND, curve=curve.replace(id="sound", source="a data sheet"), **changes)


def test_a_sound_family_passes() -> None:
    check_family(SOUND)


@pytest.mark.parametrize(
    ("family", "words"),
    [
        (with_curve(id="no slug"), "id: 'no slug' is no id"),
        (with_curve(source=" "), "source: is blank"),
        (with_curve(note="=1+1"), "curve set: column 'note', value '=1+1'"),
        (with_curve(extra={"r25_tol_pct": "1"}), "still carries r25_tol_pct as extra cells"),
        (replace(SOUND, r25_tol_pct=60.0), "r25_tol_pct: ± 60 % is more than any maker"),
        (replace(SOUND, b_tol_pct=25.0), "b_tol_pct: ± 25 % is more than any maker"),
        (with_curve(t_min_c=30.0), "r25_tol_pct: speaks of 25 °C, which the range of 30"),
        (
            replace(SOUND, ratio_only=True),
            "ratio_only: the curve must be 1 Ω at 25 °C, not 10000 Ω",
        ),
        (
            around(tf.Curve.beta(r25_ohm=1.0, b_k=3977), ratio_only=True),
            "r25_tol_pct: a family that fixes the ratio only leaves R25 open",
        ),
        (around(tf.Curve.beta(r25_ohm=1e-3, b_k=3977)), "R25: 0.001 Ω is that of no sensor"),
        (around(tf.Curve.beta(r25_ohm=10e3, b_k=39.77)), "B25/85: 39.77 K is that of no therm"),
    ],
)
def test_a_rule_that_a_family_breaks_is_told(family: tf.Family, words: str) -> None:
    assert words in failures_of_family(family)


def test_only_a_family_is_a_family() -> None:
    assert "a family is a thermofit.Family" in failures_of_family(SOUND.curve)


class Wavy(Beta):
    """Turns within the range, and hides it from the search for a branch."""

    @property
    def name(self) -> str:
        return "wavy"

    def value(self, x: Array, c: Array) -> Array:
        value = Beta.value(self, x, c)
        return value if np.size(x) != 2001 else np.asarray(value + np.sin(1e5 * x))


def test_a_family_with_a_strange_equation_is_told() -> None:
    found = failures_of_family(around(tf.Curve(Wavy(), [10e3, 3977.0])))
    assert "monotone: the resistance turns" in found
    assert "curve set: column 'equation', value 'wavy': curve sound: no equation is" in found


def test_a_curve_does_not_follow_an_inexact_inverse() -> None:
    class Inexact(Beta):
        def inverse(self, y: Array, c: Array) -> Array:
            return np.asarray(Beta.inverse(self, y, c) * (1.0 + 1e-9))

    curve = tf.Curve(Inexact(), [10e3, 3977.0])
    assert curve.temperature(curve.resistance(60.0)) == pytest.approx(60.0, abs=1e-9)


# -- strategies -------------------------------------------------------------------


@settings(max_examples=40)
@given(st.data())
def test_temperatures_stay_in_the_range_of_their_curve(data: st.DataObject) -> None:
    curve = data.draw(curves())
    t_c = data.draw(temperatures(curve))
    assert curve.t_min_c <= t_c <= curve.t_max_c
    # No ExtrapolationWarning, which would be an error here.
    assert abs(curve.temperature(curve.resistance(t_c)) - t_c) <= 1e-8


@settings(max_examples=20)
@given(families(("beta", "tabulated")))
def test_families_may_be_had_of_some_equations_only(family: tf.Family) -> None:
    assert family.curve.equation.name in {"beta", "tabulated"}


def test_a_strategy_for_an_unknown_equation_is_refused() -> None:
    with pytest.raises(
        InputError, match="no strategy for betta; there are beta, bent-beta, steinhart-hart"
    ):
        curves(("betta",))


def test_the_checks_need_no_hypothesis_and_the_strategies_say_that_they_do(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    program = (
        "import sys; sys.modules['hypothesis'] = None\n"
        "import thermofit as tf, thermofit.testing as testing\n"
        "testing.check_family(tf.family('ntc-10k-3977'))\n"
        "try: testing.curves()\n"
        "except tf.ThermofitError as error: print(error)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert "need the package hypothesis; install thermofit[test]" in done.stdout
    monkeypatch.setitem(sys.modules, "hypothesis", None)
    with pytest.raises(ThermofitError, match="need the package hypothesis"):
        temperatures(SOUND.curve)
