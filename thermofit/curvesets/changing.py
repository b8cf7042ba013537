"""A curve set with other columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array
from thermofit.curvesets.columns import is_number, merged_header
from thermofit.curvesets.curveset import CurveSet
from thermofit.curvesets.numbers import formatted
from thermofit.curvesets.reader import checked_set
from thermofit.curvesets.sheet import render_sheet
from thermofit.errors import InputError

__all__ = ["with_columns"]


def with_columns(
    curves: CurveSet, columns: Mapping[str, npt.ArrayLike | Sequence[str]]
) -> CurveSet:
    """Give a set with columns added or in place of those of their names, once it is checked.

    Parameters
    ----------
    curves, columns
        As for `CurveSet.with_columns`.
    """
    texts = {name: _texts(name, values, len(curves)) for name, values in columns.items()}
    sheet = curves.sheet
    header = merged_header(sheet.header, texts, curves.settings)
    cells = [texts[name] if name in texts else sheet.texts(name) for name in header]
    return checked_set(curves.path, render_sheet(header, zip(*cells, strict=True)), curves.tables)


def _texts(name: str, values: Any, count: int) -> list[str]:
    cells = list(values)
    if len(cells) != count:
        raise InputError(
            f"column {name!r} has {len(cells)} values, the set {count} curves; give one for each"
        )
    if all(isinstance(cell, str) for cell in cells):
        return [str(cell) for cell in cells]
    if not is_number(name) and any(
        not np.isscalar(cell) or isinstance(cell, str) for cell in cells
    ):
        raise InputError(f"column {name!r} has other things than texts; convert them with str()")
    return formatted(as_float_array(values, name))
