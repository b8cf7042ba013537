"""What a conversion is asked for, checked before any work is done."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np

from thermofit.curve import Curve
from thermofit.errors import InputError, StorageError

__all__ = ["check_arguments", "ending_of", "refuse_same"]

_ENDINGS: Final = (".csv", ".csv.gz", ".parquet")


def ending_of(path: Path) -> str:
    """Give the ending of a name, which tells the form of the file."""
    for ending in _ENDINGS:
        if path.name.lower().endswith(ending):
            return ending
    raise InputError(
        f"{path}: the name must end in .csv, .csv.gz or .parquet, which tells the form"
    )


def refuse_same(source: Path, target: Path) -> None:
    """Refuse a target that is the source, by whatever name."""
    try:
        same = source.exists() and target.exists() and source.samefile(target)
    except OSError as error:
        reason = f"{error.strerror}: {error.filename}"
        raise StorageError(f"{target} was not written: {reason}") from error
    if same:
        raise StorageError(
            f"{target} was not written: it is the log itself, which is kept; choose another name"
        )


def check_arguments(
    to: str,
    unusable: str,
    decimal: str | None,
    curve: Curve,
    u_column: str | None,
    u: tuple[float, float, float],
) -> None:
    """Refuse what makes no sense, or does not go together."""
    for name, value, known in (
        ("to", to, ("temperature", "resistance")),
        ("unusable", unusable, ("refuse", "blank")),
        ("decimal", decimal, (None, ".", ",")),
    ):
        if value not in known:
            raise InputError(f"{name} must be {' or '.join(map(repr, known))}, not {value!r}")
    if not isinstance(curve, Curve):
        raise InputError(f"curve must be a Curve, not {type(curve).__name__}")
    for name, amount in zip(("u_r_pct", "u_r_ohm", "u_t_k"), u, strict=True):
        if not (np.isfinite(amount) and amount >= 0.0):
            raise InputError(f"{name} must be zero or more, not {amount!r}")
    stated = [name for name, amount in zip(("r", "r", "t"), u, strict=True) if amount]
    if stated and u_column is None:
        raise InputError("a standard uncertainty is stated; name the column for it (u_column)")
    if ("t" in stated and to == "temperature") or ("r" in stated and to == "resistance"):
        raise InputError("u_r_pct and u_r_ohm go with resistances read, u_t_k with temperatures")
    if u_column is not None and curve.covariance is None:
        raise InputError(
            "the curve has no covariance, so that its uncertainty is not known; leave u_column "
            "out, or take a curve that was fitted with uncertainties"
        )
