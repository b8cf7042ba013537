"""Measured points.

All readings are invented: aspirated air sensors from glasshouse climate
controllers, measured in ice and in a stirred bath at a workshop.
"""

from __future__ import annotations

import copy
import pickle
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermofit.errors import InputError
from thermofit.points import Points

T_C = [0.0, 25.0, 50.0]
R_OHM = [32650.0, 10000.0, 3603.0]


@pytest.mark.parametrize("kind", [list, tuple, np.array, pd.Series])
def test_points_are_taken_from_lists_arrays_and_series(kind: Any) -> None:
    p = Points(kind(T_C), kind(R_OHM), kind([0.1] * 3), kind([5] * 3))
    assert p == Points(T_C, R_OHM, 0.1, 5.0)
    assert len(p) == 3


def test_points_keep_their_order_and_their_repeats() -> None:
    p = Points([50, 0, 25, 0], [3603, 32650, 10000, 32655])
    assert p.t_c.tolist() == [50.0, 0.0, 25.0, 0.0]
    assert p.r_ohm.tolist() == [3603.0, 32650.0, 10000.0, 32655.0]


def test_two_numbers_are_one_point() -> None:
    p = Points(25, 10e3)
    assert len(p) == 1
    assert p.t_c.shape == (1,)


def test_one_uncertainty_holds_for_all_points() -> None:
    p = Points(T_C, R_OHM, u_t_k=0.1, u_r_ohm=np.float32(0.5))
    assert p.u_t_k is not None and p.u_t_k.tolist() == [0.1, 0.1, 0.1]
    assert p.u_r_ohm is not None and p.u_r_ohm.tolist() == [0.5, 0.5, 0.5]


def test_an_uncertainty_not_stated_is_not_zero() -> None:
    assert Points(T_C, R_OHM).u_t_k is None
    assert Points(T_C, R_OHM) != Points(T_C, R_OHM, u_t_k=0.0)


def test_exact_numbers_of_other_kinds_are_numbers() -> None:
    t_c: Any = [Decimal("25.5"), Fraction(1, 2), 7]
    r_ohm: Any = [10**4, Decimal("1e3"), np.int16(5)]
    p = Points(t_c, r_ohm)
    assert p.t_c.tolist() == [25.5, 0.5, 7.0]
    assert p.r_ohm.tolist() == [10000.0, 1000.0, 5.0]


def test_points_do_not_change_with_the_arrays_that_they_came_from() -> None:
    t_c = np.array(T_C)
    p = Points(t_c, R_OHM)
    t_c[0] = 99.0
    assert p.t_c[0] == 0.0


@pytest.mark.parametrize("again", [pickle.dumps, copy.copy, copy.deepcopy])
def test_points_stay_read_only_when_pickled_and_copied(again: Any) -> None:
    p = Points(T_C, R_OHM, 0.1, None, source="bench.csv", notes=["column 1 'T' read as …"])
    twin = again(p)
    twin = pickle.loads(twin) if isinstance(twin, bytes) else twin
    assert twin == p
    assert (twin.source, twin.notes) == (p.source, p.notes)
    with pytest.raises(ValueError, match="read-only"):
        twin.t_c[0] = 1.0


def test_points_are_frozen() -> None:
    p = Points(T_C, R_OHM)
    with pytest.raises(AttributeError):
        p.t_c = p.r_ohm  # type: ignore[misc]
    with pytest.raises(TypeError, match="unhashable"):
        hash(p)


def test_points_are_equal_by_their_readings_wherever_they_came_from() -> None:
    assert Points(T_C, R_OHM, source="a.csv", notes="told") == Points(T_C, R_OHM)
    assert Points(T_C, R_OHM) != Points(T_C, [*R_OHM[:2], 3604])
    assert Points(T_C, R_OHM) != Points(T_C[:2], R_OHM[:2])
    assert Points(T_C, R_OHM) != "points"


def test_every_bad_value_is_named_with_its_place() -> None:
    with pytest.raises(InputError) as caught:
        Points(
            [0.0, np.nan, -273.15, 25.0, 50.0],
            [0.0, 10000.0, -5.0, np.inf, 3603.0],
            u_t_k=[0.1, 0.1, 0.1, 0.1, -0.1],
            u_r_ohm=[np.nan, 0, 0, 0, 0],
        )
    assert str(caught.value).split("\n  ") == [
        "point 1: r_ohm = 0.0 is not above zero",
        "point 1: u_r_ohm = nan is not finite",
        "point 2: t_c = nan is not finite",
        "point 3: t_c = -273.15 is not above absolute zero, -273.15 °C",
        "point 3: r_ohm = -5.0 is not above zero",
        "point 4: r_ohm = inf is not finite",
        "point 5: u_t_k = -0.1 is negative; a standard uncertainty is not",
    ]


def test_a_bad_uncertainty_for_all_is_named_for_each() -> None:
    with pytest.raises(InputError, match=r"point 1: u_t_k = -1\.0[^\n]*\n  point 2"):
        Points([0, 25], [32650, 10000], u_t_k=-1)


def test_a_flood_of_bad_points_is_counted_rather_than_printed() -> None:
    with pytest.raises(InputError, match="and 9900 more") as caught:
        Points(np.zeros(10_000), np.zeros(10_000))
    assert len(str(caught.value)) < 10_000


@pytest.mark.parametrize(
    ("t_c", "r_ohm", "message"),
    [
        ([], [], "there are no points"),
        ([0, 25], [32650], "t_c has 2, r_ohm has 1"),
        ([[0, 25]], [[32650, 10000]], r"t_c must have one dimension, not the shape \(1, 2\)"),
        (["25"], [10000], "point 1: t_c = '25' is not a number"),
        ([25, None], [10000, "10k"], "point 2: t_c = None is not a number"),
        ([True], [10000], "point 1: t_c = True is not a number"),
        ([25], [1 + 1j], r"point 1: r_ohm = \(1\+1j\) is not a number"),
        ([25], [10**400], "point 1: r_ohm = 1000.*… is not a number"),
        ([25, [1]], [1, 2], "t_c must be a list of numbers"),
        (None, [1], "t_c is None"),
        (np.array(["2024-05-01"], "M8[ns]"), [1], "t_c must be numbers, not dates"),
        (np.ma.array([25.0], mask=[True]), [1], "point 1: t_c = None is not a number"),
        (pd.Series([25.0, None], dtype="Float64"), [1, 2], "point 2: t_c = (<NA>|nan) is not"),
        (iter([25.0]), [1], "point 1: t_c = <list_iterator.* is not a number"),
    ],
)
def test_what_is_no_list_of_points_is_refused(t_c: Any, r_ohm: Any, message: str) -> None:
    with pytest.raises(InputError, match=message):
        Points(t_c, r_ohm)


def test_series_with_different_labels_are_not_matched_by_position() -> None:
    t_c = pd.Series(T_C, index=["ice", "room", "bath"])
    r_ohm = pd.Series(R_OHM, index=["bath", "room", "ice"])
    with pytest.raises(InputError, match="t_c and r_ohm have different indexes"):
        Points(t_c, r_ohm)
    assert Points(t_c, r_ohm.to_numpy()) == Points(T_C, R_OHM)


def test_a_frame_has_the_columns_that_are_stated() -> None:
    frame = Points(T_C, R_OHM, u_t_k=0.1).to_frame()
    assert list(frame.columns) == ["t_c", "r_ohm", "u_t_k"]
    frame.loc[0, "t_c"] = 5.0  # the frame is the caller's own, to be changed at will
    assert frame.loc[0, "t_c"] == 5.0


def test_points_go_through_a_frame_unchanged() -> None:
    p = Points(T_C, R_OHM, 0.1, [5, 2, 1])
    assert Points.from_frame(p.to_frame()) == p


def test_columns_of_a_frame_that_are_not_used_are_named() -> None:
    frame = Points(T_C, R_OHM).to_frame().assign(U_T=0.2, room="ice")
    p = Points.from_frame(frame, source="frame", notes="spring round")
    assert p == Points(T_C, R_OHM)
    assert p.notes == ("spring round", "columns not used: 'U_T', 'room'")


def test_a_frame_without_the_columns_is_refused() -> None:
    with pytest.raises(InputError, match="no column 'r_ohm', only 't_c', 'R'"):
        Points.from_frame(pd.DataFrame({"t_c": T_C, "R": R_OHM}))
    twice = pd.concat([Points(T_C, R_OHM).to_frame()] * 2, axis=1)
    with pytest.raises(InputError, match="2 columns 't_c'"):
        Points.from_frame(twice)


def test_points_read_well() -> None:
    p = Points(T_C, R_OHM, 0.1, source="bench.csv", notes=["column 1 'T' read as temperature"])
    assert repr(p) == (
        "Points(3 points, 0 °C to 50 °C, 3.6030 kΩ to 32.650 kΩ, source='bench.csv')"
    )
    assert repr(Points(25, 10e3)) == "Points(1 point, 25 °C, 10.000 kΩ)"
    assert str(p).split("\n")[1:] == [
        "t_c  r_ohm  u_t_k",
        "  0  32650    0.1",
        " 25  10000    0.1",
        " 50   3603    0.1",
        "column 1 'T' read as temperature",
    ]
    assert str(Points(np.arange(50), np.arange(1, 51))).endswith("… and 20 more")


@given(
    st.lists(
        st.tuples(
            st.floats(-273.1, 1e6),
            st.floats(1e-9, 1e12),
            st.floats(0.0, 1e3),
        ),
        min_size=1,
        max_size=20,
    )
)
def test_any_possible_readings_make_points_that_survive_a_frame_and_a_pickle(
    rows: list[tuple[float, float, float]],
) -> None:
    t_c, r_ohm, u_t_k = zip(*rows, strict=True)
    p = Points(t_c, r_ohm, u_t_k)
    assert p.t_c.tolist() == list(t_c)
    assert Points.from_frame(p.to_frame()) == p
    assert pickle.loads(pickle.dumps(p)) == p
