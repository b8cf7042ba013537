"""What a controller believes when its sensor, or the wiring, is broken."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermofit.arrays import as_float_array
from thermofit.budget import require_number
from thermofit.circuit.base import Circuit
from thermofit.circuit.faultlimits import FaultLimits
from thermofit.circuit.faultrows import Errs, FaultRow, Faults, Kind
from thermofit.circuit.network import quiet_t_c
from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.family import Family, nominal_curve
from thermofit.units import format_ohm

__all__ = ["checked_circuit", "checked_wrong", "faults", "wrong_ohm"]

_NOT_VERIFIED = "fault detection not verified"
_RUNS: dict[Errs, str] = {
    "colder": "heating would run, cooling and vents would not",
    "warmer": "cooling would run and vents open, heating would not",
    "right": "",
    "unknown": "not known",
}


@dataclass(frozen=True)
class _State:
    """A fault as the circuit meets it: a resistance, or a line held at a voltage."""

    kind: Kind
    detail: str
    r_ohm: float
    held_v: float | None = None
    supply_factor: float = 1.0


def faults(
    circuit: Circuit,
    curve: Curve | Family,
    *,
    t_c: Any,
    limits: FaultLimits | None = None,
    fallback_c: float | None = None,
    contact_ohm: float | Sequence[float] = (100.0, 1e3),
    leakage_ohm: float | Sequence[float] = (1e6, 100e3),
    wrong: Curve | Family | Mapping[str, Curve | Family] | None = None,
    sag_pct: float | Sequence[float] = (10.0,),
) -> Faults:
    """Say what a controller makes of faults of its sensor.

    Parameters
    ----------
    circuit : Circuit
        Healthy, as the controller assumes it.
    curve : Curve or Family
        Of the healthy sensor, as the controller assumes it.
    t_c : float or sequence of float
        True temperature in °C.
    limits : FaultLimits, optional
        Of the controller; without them each row says that fault detection is not verified.
    fallback_c : float, optional
        What the controller uses in place of a reading that it takes for a fault.  Makers choose it;
        there is no usual value.
    contact_ohm : float or sequence of float
        Resistances of a corroded contact in the sensor's line, in ohms; examples unless given.
    leakage_ohm : float or sequence of float
        Resistances of moisture between the sensor's leads, in ohms; examples unless given.
    wrong : Curve, Family, or mapping of name to these, optional
        Parts that may have been fitted instead.
    sag_pct : float or sequence of float
        By how much the supply sags, in percent.

    Returns
    -------
    Faults

    Raises
    ------
    InputError
        A size that is not positive, a sag of 100 % and more, something that is no curve, or a
        temperature at which the curve has no value.

    Notes
    -----
    Contact and moisture lie at the sensor's own leads, on the sensor's side of the fixed
    resistors.  "Short to ground" and "short to supply" are those of the sensor's line, on that
    side too.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.circuit import Converter, Divider, FaultLimits, faults
    >>> divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    >>> curve = tf.family("ntc-10k-3977").curve
    >>> found = faults(divider, curve, t_c=20, limits=FaultLimits(high_counts=1000), fallback_c=30)
    >>> row = found.of("open")[0]
    >>> row.errs, row.caught, row.uses_c, row.use_errs
    ('colder', True, 30.0, 'warmer')
    >>> round(found.of("corroded contact")[1].reads_c, 1)
    18.3
    """
    checked_circuit(circuit)
    if limits is not None and not isinstance(limits, FaultLimits):
        raise InputError(f"limits must be FaultLimits(low_counts=…), not {limits!r}")
    curve = nominal_curve(curve)
    temperatures = np.atleast_1d(as_float_array(t_c, "t_c"))
    if temperatures.ndim > 1 or not temperatures.size:
        raise InputError(f"t_c is one temperature or a list, not of shape {temperatures.shape}")
    if fallback_c is not None:
        fallback_c = require_number(fallback_c, "fallback_c", "°C")
    parts = checked_wrong(wrong)
    rows = []
    for t in temperatures.tolist():
        r_ohm = float(curve.resistance(t))
        if not np.isfinite(r_ohm):
            raise InputError(f"the curve has no resistance at {t:g} °C")
        healthy = float(circuit.counts(r_ohm))
        states = [
            *_wiring(circuit, r_ohm),
            *_sized(circuit, r_ohm, contact_ohm, leakage_ohm, sag_pct),
            *(_State("wrong part", name, wrong_ohm(name, part, t)) for name, part in parts.items()),
        ]
        rows += [_row(circuit, curve, t, healthy, one, limits, fallback_c) for one in states]
    return Faults(tuple(rows))


def checked_circuit(circuit: Any) -> None:
    """Refuse what is no circuit."""
    if not isinstance(circuit, Circuit):
        raise InputError(f"circuit must be a Divider or a ConstantCurrent, not {circuit!r}")


def wrong_ohm(name: str, part: Curve, t_c: float) -> float:
    """Resistance of a part that may be fitted wrongly."""
    r_ohm = float(part.resistance(t_c))
    if not np.isfinite(r_ohm):
        raise InputError(f"the curve of {name} has no resistance at {t_c:g} °C")
    return r_ohm


def checked_wrong(
    wrong: Curve | Family | Mapping[str, Curve | Family] | None,
) -> dict[str, Curve]:
    """Give parts that may be fitted wrongly by name."""
    if wrong is None:
        return {}
    if isinstance(wrong, Curve | Family):
        return {wrong.id or "other part": nominal_curve(wrong)}
    if not isinstance(wrong, Mapping):
        raise InputError(f"wrong is a Curve, or a mapping of names to Curves, not {wrong!r}")
    return {str(name): nominal_curve(part) for name, part in wrong.items()}


def _wiring(circuit: Circuit, r_ohm: float) -> list[_State]:
    return [
        _State("none", "", r_ohm),
        _State("open", "", np.inf),
        _State("sensor shorted", "", 0.0),
        _State("short to ground", "", r_ohm, held_v=0.0),
        _State("short to supply", "", r_ohm, held_v=circuit.supply_v),
    ]


def _sized(
    circuit: Circuit,
    r_ohm: float,
    contact_ohm: float | Sequence[float],
    leakage_ohm: float | Sequence[float],
    sag_pct: float | Sequence[float],
) -> list[_State]:
    states = [
        _State("corroded contact", f"{format_ohm(x, 3)} in series", r_ohm + x)
        for x in _sizes(contact_ohm, "contact_ohm", "Ω")
    ]
    for x in _sizes(leakage_ohm, "leakage_ohm", "Ω"):
        both = 1.0 / (1.0 / r_ohm + 1.0 / x)
        states.append(_State("moisture", f"{format_ohm(x, 3)} in parallel", both))
    for x in _sizes(sag_pct, "sag_pct", "%"):
        if x >= 100.0:
            raise InputError(f"a sag of {x:g} % leaves no supply; give less than 100 %")
        along = ", the reference along with it" if circuit.ratiometric else ""
        states.append(_State("supply sag", f"{x:g} %{along}", r_ohm, supply_factor=1.0 - 0.01 * x))
    return states


def _sizes(values: Any, name: str, unit: str) -> list[float]:
    """Sizes of a fault, one or several, each above zero."""
    several = np.atleast_1d(as_float_array(values, name))
    if several.ndim > 1:
        raise InputError(f"{name} is one size or a list, not of shape {several.shape}")
    return [require_number(x, f"a {name}", unit, above=0.0) for x in several.tolist()]


def _row(
    circuit: Circuit,
    curve: Curve,
    t_c: float,
    healthy: float,
    state: _State,
    limits: FaultLimits | None,
    fallback_c: float | None,
) -> FaultRow:
    q = circuit._deviated(circuit._nominal, {"supply_v": state.supply_factor - 1.0})
    if state.held_v is None:
        voltage_v = float(circuit._node(np.asarray(state.r_ohm), q))
    else:
        voltage_v = circuit._line_held_at(state.held_v, q)
    converter = circuit.converter
    code = float(converter.code(voltage_v / q["reference_v"] * converter.steps))
    seen_ohm = circuit._sensor_at(np.asarray(converter.middle(code)), circuit._nominal)
    reads_c = float(quiet_t_c(curve, seen_ohm))
    caught = None if limits is None else bool(limits.caught(circuit, code))
    uses_c = reads_c if not caught else np.nan if fallback_c is None else fallback_c
    errs = _errs(circuit, curve, t_c, code, healthy)
    use_errs = errs
    if caught:
        use_errs = "unknown" if fallback_c is None else _compare(fallback_c, t_c)
    return FaultRow(
        kind=state.kind, detail=state.detail, t_c=t_c, r_ohm=state.r_ohm, voltage_v=voltage_v,
        counts=code, reads_c=reads_c, beyond_curve=not curve.in_range(reads_c),
        end_of_scale=bool(converter.saturated(code)), caught=caught,
        errs=errs, uses_c=uses_c, use_errs=use_errs,
        detection=_detection(state.kind, caught, fallback_c), then_runs=_RUNS[use_errs],
    )  # fmt: skip


def _errs(circuit: Circuit, curve: Curve, t_c: float, code: float, healthy: float) -> Errs:
    if code == healthy:
        return "unknown" if circuit.converter.saturated(code) else "right"
    higher = (code > healthy) == circuit.rises  # resistance than the healthy one
    inner = min(max(t_c, curve.t_min_c), curve.t_max_c)
    return "colder" if higher == (curve.alpha(inner) < 0.0) else "warmer"


def _compare(uses_c: float, t_c: float) -> Errs:
    return "right" if uses_c == t_c else "colder" if uses_c < t_c else "warmer"


def _detection(kind: Kind, caught: bool | None, fallback_c: float | None) -> str:
    if caught is None:
        return _NOT_VERIFIED
    if not caught:
        return "taken for healthy" if kind == "none" else "not caught"
    if kind == "none":
        return "taken for a fault though healthy"
    return (
        "caught, fallback not stated" if fallback_c is None else f"caught, uses {fallback_c:g} °C"
    )
