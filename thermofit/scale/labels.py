"""What xarray says of a quantity, before and after it became another one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from thermofit.errors import InputError
from thermofit.units import resistance_unit, temperature_unit

__all__ = ["attributes_of_result", "refuse_other_units"]

_OF_THE_QUANTITY = {
    "units", "standard_name", "long_name", "valid_min", "valid_max", "valid_range", "actual_range",
    "missing_value", "_FillValue", "scale_factor", "add_offset",
}  # fmt: skip


def refuse_other_units(values: Any, name: str) -> None:
    """Refuse a DataArray that says of itself that it is not in °C, K or Ω.

    Parameters
    ----------
    values : xarray DataArray
        One without ``attrs["units"]`` is taken to be in the unit that `name` ends with.
    name : str
        Such as "t_c", "r_ohm" or "u_t_k".

    Raises
    ------
    InputError
        Another unit, or one that is not known here.
    """
    stated = values.attrs.get("units")
    if stated is None:
        return
    text = str(stated)
    if name.endswith("_ohm"):
        wanted, known = "ohm", resistance_unit(text) == 1.0
    else:
        plain = text.lower().replace("_", "").replace("degrees", "deg").replace("degree", "deg")
        wanted, known = "degC", temperature_unit(plain) == "C"
        if name.endswith("_k"):
            # A difference of temperatures is as many kelvin as degrees Celsius.
            wanted, known = "K", temperature_unit(plain) in ("C", "K")
    if not known:
        raise InputError(
            f"{name} has the units {text!r} in its attrs, and {wanted!r} is needed: convert the "
            f"values, and say so with assign_attrs(units={wanted!r})"
        )


def attributes_of_result(attrs: Mapping[Any, Any], unit: str) -> dict[Any, Any]:
    """Keep what is said of the place and the instrument, and not what is said of the quantity.

    Parameters
    ----------
    attrs : mapping
        Of the argument.  Names are those of the CF conventions (version 1.11, appendix A).
    unit : str
        Of the results.

    Returns
    -------
    dict
    """
    kept = {key: value for key, value in attrs.items() if key not in _OF_THE_QUANTITY}
    return {**kept, "units": unit}
