"""A curve set that has been read."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, overload

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.curvesets.cells import parse_flag
from thermofit.curvesets.columns import DERIVED, is_number
from thermofit.curvesets.decode import curve_from_cells, settings_of
from thermofit.curvesets.familycells import family_from_cells
from thermofit.curvesets.listing import listing
from thermofit.curvesets.sheet import Sheet
from thermofit.errors import InputError, UnknownNameError
from thermofit.family import Family
from thermofit.notebook import ShownInNotebooks

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["CurveSet", "unknown_id"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False, repr=False)
class CurveSet(ShownInNotebooks, Sequence[Curve]):
    """Curves of one file, in its order, by place or by id.

    `thermofit.read_curve_set` gives it, with every row already checked.  It
    keeps the cells as they stand in the file, of a large one also the numbers as
    columns, and makes a curve when one is asked for; it does not change when the
    file does.

    Parameters
    ----------
    path : Path
        The file.
    sheet : Sheet
        Its header and rows.
    tables : mapping of str to bytes
        Content of the companion files that its rows name.

    Examples
    --------
    >>> import tempfile, thermofit as tf
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     c = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet")
    ...     tf.write_curve_set(f"{folder}/shop.csv", [c])
    ...     shop = tf.read_curve_set(f"{folder}/shop.csv")
    >>> len(shop), shop.ids, shop["inlet"] == shop[0] == c
    (1, ('inlet',), True)
    """

    path: Path
    sheet: Sheet
    tables: Mapping[str, bytes]
    made: dict[int, Curve] = field(init=False, repr=False, default_factory=dict)
    """Curves that the check of a small set made, by place."""

    # -- access -------------------------------------------------------------------

    @cached_property
    def ids(self) -> tuple[str, ...]:
        """Ids of the curves, in the order of the file."""
        return self.sheet.column("id")

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns of the file."""
        return self.sheet.header

    @property
    def settings(self) -> frozenset[str]:
        """Columns that are settings of the equations of the set."""
        return settings_of(name.strip() for name in self.sheet.equations[0])

    def __len__(self) -> int:
        return len(self.sheet.rows)

    @overload
    def __getitem__(self, key: int | str) -> Curve: ...
    @overload
    def __getitem__(self, key: slice) -> CurveSet: ...
    def __getitem__(self, key: int | str | slice) -> Curve | CurveSet:
        if isinstance(key, slice):
            sheet = Sheet(self.sheet.header, self.sheet.rows[key], self.sheet.lines[key])
            return CurveSet(self.path, sheet, self.tables)
        return self._curve(self._at(key) if isinstance(key, str) else range(len(self))[key])

    def __iter__(self) -> Iterator[Curve]:
        return (self._curve(at) for at in range(len(self)))

    def __contains__(self, item: object) -> bool:
        if isinstance(item, str):
            return item in self._places
        return any(curve == item for curve in self)

    def families(self) -> tuple[Family, ...]:
        """Give the rows that are families: those with a tolerance, a rating or a kind of source.

        Returns
        -------
        tuple of Family
        """
        found = (self._family(at) for at in range(len(self)))
        return tuple(family for family in found if family is not None)

    def family(self, id: str) -> Family:
        """Give the family with an id.

        Parameters
        ----------
        id : str

        Returns
        -------
        Family

        Raises
        ------
        UnknownNameError
            No row has this id; the nearest ids are listed.
        InputError
            The row is a plain curve.
        """
        family = self._family(self._at(id))
        if family is None:
            raise InputError(
                f"{id!r} in {self.path} is a curve and no family: its row has no tolerance, rating "
                "or source_kind; fill in source_kind, or make Family(curve, …) of the curve"
            )
        return family

    def to_frame(self) -> pd.DataFrame:
        """Give the set as a pandas frame, a row for each curve.

        Returns
        -------
        DataFrame
            The columns of the file, numbers as float64 with NaN where a cell is
            blank; ``r25_ohm`` and ``b_25_85_k`` always, NaN where a curve has
            no value.
        """
        import pandas as pd

        derived = dict(zip(DERIVED, self._derived(), strict=True))
        data: dict[str, Array | list[bool] | list[str]] = {}
        for name in dict.fromkeys((*self.columns, *DERIVED)):
            if name in DERIVED:
                data[name] = derived[name]
            elif is_number(name):
                data[name] = self.sheet.numbers(name)
            elif name == "ratio_only":
                data[name] = [parse_flag(cell) for cell in self.sheet.texts(name)]
            else:
                data[name] = self.sheet.texts(name)
        return pd.DataFrame(data)

    def with_columns(self, columns: Mapping[str, npt.ArrayLike | Sequence[str]]) -> CurveSet:
        """Give a set with columns added, or in place of those of their names.

        Parameters
        ----------
        columns : mapping of str to array_like, length n
            Numbers, of which NaN leaves a cell blank, or texts.

        Returns
        -------
        CurveSet
            All its rows are checked as if they were read; nothing is written.

        Raises
        ------
        CurveSetError
            With all bad cells; rows are counted as they would be written.
        InputError
            A column of another length, or of neither numbers nor texts.

        Examples
        --------
        >>> import tempfile, thermofit as tf
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     c = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet")
        ...     tf.write_curve_set(f"{folder}/shop.csv", [c])
        ...     shop = tf.read_curve_set(f"{folder}/shop.csv")
        >>> shop.with_columns({"cabinet": ["7"], "t_max_c": [105.0]})["inlet"]
        <Curve inlet: beta, 10.000 kΩ at 25 °C, valid -40 to 105 °C (assumed, none was stated)>
        """
        from thermofit.curvesets.changing import with_columns

        return with_columns(self, columns)

    # -- description --------------------------------------------------------------

    def __str__(self) -> str:
        rows = [self._family(at) or self._curve(at) for at in range(len(self))]
        return listing(rows) if rows else f"{self.path} has no curves"

    def __repr__(self) -> str:
        count = "1 curve" if len(self) == 1 else f"{len(self)} curves"
        shown = ", ".join(self.ids[:5]) + (", …" if len(self) > 5 else "")
        return f"<CurveSet {self.path}, {count}{': ' if shown else ''}{shown}>"

    def __eq__(self, other: object) -> bool:
        return self._key() == other._key() if isinstance(other, CurveSet) else NotImplemented

    def __hash__(self) -> int:
        return hash(self._key())

    def _key(self) -> tuple[object, ...]:
        files = self.sheet.column("table_file")
        used = tuple((name, self.tables[name]) for name in files if name)
        return self.sheet.header, self.sheet.rows, used

    # -- inside -------------------------------------------------------------------

    def _derived(self) -> tuple[Array, Array]:
        """R25 in ohms and B25/85 in kelvin, NaN where a curve has no value."""
        from thermofit.curvesets.certify import examine

        found = examine(self.sheet, anywhere=True)
        r25_ohm, b_k = found.r25_ohm.copy(), found.b_25_85_k.copy()
        for at in np.flatnonzero(np.isnan(r25_ohm) | np.isnan(b_k)).tolist():
            curve = self._curve(at)
            r25_ohm[at], b_k[at] = curve.r25_ohm, curve.b_25_85_k
        return r25_ohm, b_k

    @cached_property
    def _places(self) -> dict[str, int]:
        return {id: at for at, id in enumerate(self.ids)}

    def _at(self, id: str) -> int:
        at = self._places.get(id)
        if at is None:
            raise unknown_id(id, self.ids, f"{self.path} has no curve")
        return at

    def _curve(self, at: int) -> Curve:
        known = self.made.get(at)
        return curve_from_cells(self.sheet.cells(at), self.tables) if known is None else known

    def _family(self, at: int) -> Family | None:
        return family_from_cells(self.sheet.cells(at), self._curve(at))


def unknown_id(id: str, ids: Iterable[str], lead: str) -> UnknownNameError:
    """Make the error that lists the ids nearest to one that there is not."""
    known = list(ids)
    near = difflib.get_close_matches(id, known, n=3, cutoff=0.4)
    if near:
        return UnknownNameError(f"{lead} {id!r}; the nearest are {', '.join(near)}")
    if not known:
        return UnknownNameError(f"{lead} {id!r}, and no other either")
    more = ", …" if len(known) > 10 else ""
    return UnknownNameError(f"{lead} {id!r}; there are {', '.join(known[:10])}{more}")
