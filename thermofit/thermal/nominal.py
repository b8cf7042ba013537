"""The curve that takes the resistances of a log, or of a test, to temperatures."""

from __future__ import annotations

from typing import Any

from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.family import Family

__all__ = ["nominal_curve"]


def nominal_curve(part: Any) -> Curve | None:
    """Take a curve, the nominal one of a family, or none.

    Raises
    ------
    InputError
        Something else, or a family that leaves R25 open.
    """
    if part is None or isinstance(part, Curve):
        return part
    if not isinstance(part, Family):
        raise InputError(
            f"curve must be a Curve or a Family, not {type(part).__name__}; thermofit.family(id) "
            "gives a family"
        )
    if part.ratio_only:
        raise InputError(
            f"{part.id} fixes R(T)/R25 only and leaves R25 open; make a family with the R25 of "
            "your part"
        )
    return part.curve
