"""Options where the library names its arguments."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Final

from thermofit.errors import InputError

__all__ = ["POINTS_NAMES", "TOLERANCE_NAMES", "as_options", "naming_options"]

POINTS_NAMES: Final = {
    **{
        f"({name}": f"(--{name.replace('_', '-')}"
        for name in ("t_column", "r_column", "u_t_column", "u_r_column", "sensor_column",
                     "t_unit", "r_unit", "decimal", "delimiter")
    },
    "(u_t_k, or --u-t at the command line)": "(--u-t)",
    "(u_r_pct, or --u-r)": "(--u-r)",
    "state u_t_k or u_r_ohm above zero": "state --u-t or --u-r above zero",
}  # fmt: skip
"""Of the options that say how a file of points is read, and how well points are known."""

TOLERANCE_NAMES: Final = {
    "(r25_pct": "(--r25-pct",
    "(b_pct)": "(--b-pct)",
    "(dt_k and dt_range_c of Tolerance.of)": "(--dt, --dt-from, --dt-to)",
    "tolerance_band gives the limits of a class (platinum_class)": "thermofit band --class gives "
    "the limits of a class",
}
"""Of the options that state a tolerance."""


def as_options(text: str, names: Mapping[str, str]) -> str:
    """Name options where the library names its arguments."""
    longest_first = sorted(names, key=len, reverse=True)
    pattern = "|".join(re.escape(name) for name in longest_first)
    return re.sub(rf"(?<!\w)(?:{pattern})", lambda found: names[found[0]], text)


@contextmanager
def naming_options(names: Mapping[str, str]) -> Iterator[None]:
    """Name options in the messages of errors, where the library names its arguments.

    Parameters
    ----------
    names : mapping of str to str
    """
    try:
        yield
    except InputError as error:
        raise InputError(as_options(str(error), names)) from error
