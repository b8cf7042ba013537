"""Many curves as rows, equation by equation: their numbers are written as columns.

What is certain of a row, and of its reading back as it is, is certain of all rows of its
column.  A curve of which it is not is left to `thermofit.curvesets.encode.encode`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.curvesets.cells import check_text, format_human
from thermofit.curvesets.certify import correlations_hold
from thermofit.curvesets.columns import FAMILY, coefficient_column, covariance_column
from thermofit.curvesets.encode import EncodedRow, check_cells, check_extra
from thermofit.curvesets.familycells import RowError
from thermofit.curvesets.ids import USUAL_ID
from thermofit.curvesets.monotone import B_PER_LOG_RATIO_K, certified, has_certificate
from thermofit.curvesets.numbers import formatted
from thermofit.equations.base import Array, Equation
from thermofit.equations.catalogue import equation
from thermofit.errors import InputError
from thermofit.family import Family

if TYPE_CHECKING:
    from thermofit.estimate.many.result import ManyFits

__all__ = ["encode_fits", "encode_many"]

_FEW: Final = 64
_TEXTS: Final = ("source", "licence", "note")
_LEAST_FROM_TIE: Final = 1e-6
"""How far from the middle between two six-digit numbers a value is beyond its rounding."""


@dataclass(frozen=True, eq=False)
class _Batch:
    """Curves of one equation, n of them.

    Parameters
    ----------
    form : Equation
        Its settings are those of the first curve.
    cells : mapping of str to list of str
        Texts by column.
    settings : mapping of str to array, shape (n,)
    coefficients : array, shape (k, n)
    triangle : array, shape (k·(k + 1)/2, n)
        Lower triangle of the covariance, row by row; NaN where it is unknown.
    dof, t_min_c, t_max_c : array, shape (n,)
    """

    form: Equation
    cells: Mapping[str, Sequence[str]]
    settings: Mapping[str, Array]
    coefficients: Array
    triangle: Array
    dof: Array
    t_min_c: Array
    t_max_c: Array


def encode_many(items: Sequence[Curve | Family]) -> list[EncodedRow | None]:
    """Write curves as rows, as far as that is certain without a look at each.

    Parameters
    ----------
    items : sequence of Curve and Family

    Returns
    -------
    list of EncodedRow or None
        None for what `encode` must look at; of a few curves for all.
    """
    rows: list[EncodedRow | None] = [None] * len(items)
    if len(items) < _FEW:
        return rows
    groups: dict[tuple[type[Equation], str], dict[int, Curve]] = {}
    for at, item in enumerate(items):
        if type(item) is Curve:
            group = type(item.equation), item.equation.name
            groups.setdefault(group, {})[at] = item
    for curves in groups.values():
        batch = list(curves.values())
        if _is_usual(batch[0].equation):
            for (at, curve), row in zip(curves.items(), _rows(_batch(batch)), strict=True):
                rows[at] = row and _with_extra(row, curve)
    return rows


def encode_fits(fits: ManyFits, ids: Sequence[str]) -> list[EncodedRow | None]:
    """Write the curves of a batch of fits as rows under these ids, as `encode_many` does."""
    known = np.isfinite(fits.triangle).all(axis=0)
    if not _is_usual(fits.equation):
        return [None] * len(fits)
    blank = [""] * len(fits)
    cells = {
        "id": ids,
        "range_basis": np.where(fits.stated_range, "stated", "data").tolist(),
        **dict.fromkeys(_TEXTS, blank),
    }
    batch = _Batch(
        fits.equation, cells, fits.settings, fits.coefficients.T,
        np.where(known, fits.triangle, np.nan), fits.curve_dof, fits.t_min_c, fits.t_max_c,
    )  # fmt: skip
    rows = _rows(batch)
    return [None if at in fits.errors else row for at, row in enumerate(rows)]


def _is_usual(form: Equation) -> bool:
    """Whether a reader finds this very equation by its name."""
    return has_certificate(form.name) and type(form) is type(equation(form.name))


def _batch(curves: Sequence[Curve]) -> _Batch:
    form = curves[0].equation
    size = len(form.coefficients)
    lower = np.tril_indices(size)
    nothing = np.full(len(lower[0]), np.nan)
    triangle = [nothing if c.covariance is None else c.covariance[lower] for c in curves]
    return _Batch(
        form,
        {name: [getattr(c, name) for c in curves] for name in ("id", "range_basis", *_TEXTS)},
        {name: np.array([c.equation.settings[name] for c in curves]) for name in form.settings},
        np.array([np.asarray(c.coefficients) for c in curves]).reshape(-1, size).T,
        np.array(triangle).reshape(len(curves), -1).T,
        *(np.array([getattr(c, name) for c in curves]) for name in ("dof", "t_min_c", "t_max_c")),
    )  # fmt: skip


def _rows(batch: _Batch) -> list[EncodedRow | None]:
    size = len(batch.coefficients)
    found = certified(
        batch.form.name, batch.coefficients, batch.settings.get("r_ref_ohm", 1.0),
        batch.t_min_c, batch.t_max_c,
    )  # fmt: skip
    sound = found.sound & correlations_hold(batch.triangle) & (batch.dof > 0.0)
    sound &= np.array(
        [type(id) is str and bool(USUAL_ID.fullmatch(id)) for id in batch.cells["id"]]
    )
    for name in _TEXTS:
        sound &= _are_harmless(batch.cells[name])
    with np.errstate(all="ignore"):
        r25_ohm = np.exp(found.ln_r_25)
        b_k = (found.ln_r_25 - found.ln_r_85) * B_PER_LOG_RATIO_K
        b_k[b_k <= 0.0] = np.nan  # as `encode` has it
    sound &= _is_far_from_tie(r25_ohm) & _is_far_from_tie(b_k)
    lower = zip(*np.tril_indices(size), strict=True)
    numbers = {
        **batch.settings,
        **{coefficient_column(k): column for k, column in enumerate(batch.coefficients)},
        **{
            covariance_column(int(i), int(j)): column
            for (i, j), column in zip(lower, batch.triangle, strict=True)
        },
        "dof": np.where(np.isinf(batch.dof), np.nan, batch.dof),
        "t_min_c": batch.t_min_c,
        "t_max_c": batch.t_max_c,
    }
    columns: dict[str, Sequence[str]] = {"equation": [batch.form.name] * len(sound), **batch.cells}
    columns |= {name: formatted(values) for name, values in numbers.items()}
    columns["r25_ohm"] = [format_human(value) for value in r25_ohm.tolist()]
    columns["b_25_85_k"] = [format_human(value) for value in b_k.tolist()]
    settings = frozenset(batch.form.settings)
    rows = zip(sound.tolist(), zip(*columns.values(), strict=True), strict=True)
    return [
        EncodedRow(
            {name: cell for name, cell in zip(columns, cells, strict=True) if cell}, settings
        )
        if certain
        else None
        for certain, cells in rows
    ]


def _with_extra(row: EncodedRow, curve: Curve) -> EncodedRow | None:
    """Put the cells to a row that are no part of its curve, if they are as usual."""
    if not curve.extra:
        return row
    if set(curve.extra) & set(FAMILY):
        return None
    try:
        check_extra(curve, row.settings)
        check_cells(dict(curve.extra))
    except RowError:
        return None
    return EncodedRow(row.cells | dict(curve.extra), row.settings)


def _are_harmless(texts: Sequence[str]) -> npt.NDArray[np.bool_]:
    harmless = {}
    for text in set(texts):
        try:
            check_text(text)
        except (InputError, TypeError):
            harmless[text] = False
        else:
            harmless[text] = True
    return np.array([harmless[text] for text in texts], dtype=bool)


def _is_far_from_tie(values: Array) -> npt.NDArray[np.bool_]:
    """Whether the sixth digit is the same however the value was rounded; also where there is none.

    The curve itself would find the value by another way, and differ in the last places.
    """
    with np.errstate(all="ignore"):
        scaled = values * 10.0 ** (5.0 - np.floor(np.log10(np.abs(values))))
        off = np.abs(scaled - np.floor(scaled) - 0.5)
    far: npt.NDArray[np.bool_] = (off > _LEAST_FROM_TIE) | np.isnan(values)
    return far
