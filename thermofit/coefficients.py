"""The numbers of a curve, by name or by place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

__all__ = ["Coefficients"]


class Coefficients(Mapping[str, float]):
    """Coefficients of a curve: a read-only mapping that is also an array.

    Parameters
    ----------
    names : tuple of str
        Names in the order of the equation.
    values : array_like, shape (k,)
        The numbers.

    Examples
    --------
    >>> c = Coefficients(("r25_ohm", "b_k"), [10e3, 3977.0])
    >>> c["b_k"], c[0]
    (3977.0, 10000.0)
    >>> np.asarray(c)
    array([10000.,  3977.])
    """

    __slots__ = ("_names", "_values")

    def __init__(self, names: tuple[str, ...], values: npt.ArrayLike) -> None:
        array = np.array(values, dtype=np.float64)
        array.flags.writeable = False
        self._names = names
        self._values = array

    @property
    def names(self) -> tuple[str, ...]:
        """Names in the order of the equation."""
        return self._names

    def __getitem__(self, key: str | int) -> float:
        if isinstance(key, str):
            if key not in self._names:
                raise KeyError(f"{key!r}; the coefficients are {', '.join(self._names) or 'none'}")
            key = self._names.index(key)
        return float(self._values[key])

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> npt.NDArray[Any]:
        if dtype is None and not copy:
            return self._values
        return np.array(self._values, dtype=dtype)

    def __repr__(self) -> str:
        inside = ", ".join(f"{name}={value!r}" for name, value in self.items())
        return f"Coefficients({inside})"

    def __contains__(self, name: object) -> bool:
        return name in self._names

    def __reduce__(self) -> tuple[type[Coefficients], tuple[tuple[str, ...], list[float]]]:
        return type(self), (self._names, self._values.tolist())

    def __hash__(self) -> int:
        return hash(frozenset(self.items()))

    def __eq__(self, other: object) -> bool:
        return dict(self) == dict(other) if isinstance(other, Mapping) else NotImplemented
