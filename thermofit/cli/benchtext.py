"""The answer of `characterise`: budgets, curve and band, for a technician and as JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

import thermofit as tf
from thermofit.baths import Bath, ReturnToIce
from thermofit.budget import Budget, Contribution
from thermofit.cli.bench import Bench, Measured
from thermofit.cli.curvejson import curve_json
from thermofit.interval import format_pair
from thermofit.texttable import aligned, indented, paragraph, with_minus

__all__ = ["answer_json", "answer_text", "reading_json", "taken_text"]

_OF_RETURN: Final = (
    "shift_pct", "u_shift_pct", "shift_k", "u_shift_k", "shifted", "verdict", "hint", "coverage",
)  # fmt: skip


def answer_text(
    fitted: tf.Fit, bench: Bench | None, returned: ReturnToIce | None, assumed: tuple[str, ...]
) -> str:
    """Write the whole answer: budgets, what was taken as usual, the fit, and back to ice.

    Parameters
    ----------
    fitted : Fit
    bench : Bench, optional
        None where the points come from a file.
    returned : ReturnToIce, optional
    assumed : tuple of str

    Returns
    -------
    str
    """
    from thermofit.estimate.text import report

    blocks = []
    if bench is not None:
        blocks += [_budget_text(one, fitted.curve) for one in bench.measured]
        blocks.append("\n".join(map(_wrapped, _notes_of(bench.measured))))
    blocks.append(taken_text(assumed))
    blocks.append(report(fitted, with_warnings=False))
    if returned is not None:
        blocks.append(f"back to ice\n{with_minus(indented(returned))}")
    return "\n\n".join(blocks)


def taken_text(assumed: Sequence[str]) -> str:
    """Write what was taken as usual, a paragraph for each."""
    return "\n".join(_wrapped(f"taken: {line}") for line in assumed)


def answer_json(
    fitted: tf.Fit, curve: tf.Curve, bench: Bench | None, returned: ReturnToIce | None
) -> dict[str, Any]:  # fmt: skip
    """Describe the same for `print_json`, with the curve as it is saved."""
    use = fitted.prior
    assert use is not None
    low, high = np.ceil(curve.t_min_c / 5.0) * 5.0, np.floor(curve.t_max_c / 5.0) * 5.0
    t_c = np.unique([curve.t_min_c, *np.arange(low, high + 1.0, 5.0), curve.t_max_c])
    r_ohm = curve.resistance(t_c)
    band = curve.temperature_interval(r_ohm)
    parts = fitted.contributions(t_c)
    columns = (t_c, r_ohm, band.standard_uncertainty, band.low, band.high)
    return {
        "curve": curve_json(curve),
        "readings": [reading_json(one, fitted.curve) for one in bench.measured] if bench else [],
        "points": fitted.to_frame().to_dict(orient="records"),
        "coverage": band.coverage,
        "band": [
            {"t_c": t, "r_ohm": r, "standard_uncertainty_k": u, "low_c": low, "high_c": high}
            for t, r, u, low, high in np.transpose(columns).tolist()
        ],
        "contributions": [
            {"name": name, "standard_uncertainty_k": u_k}
            for name, u_k in zip(parts.names, parts.u_k, strict=True)
        ],
        "dominating": parts.dominating,
        "prior": {
            "origin": use.prior.origin,
            "chi2": use.chi2,
            "dof": fitted.dof,
            "p_value": use.p_value,
            "conflict": use.conflict,
            "widened": float(np.sqrt(use.widened)),
        },
        "back_to_ice": returned and {name: getattr(returned, name) for name in _OF_RETURN},
        "read_as": list(fitted.points.notes),
        "warnings": list(fitted.warnings),
    }  # fmt: skip


def _wrapped(text: str) -> str:
    return paragraph(text, first="  ", then="    ")


def _budget_text(measured: Measured, curve: tf.Curve) -> str:
    """Write what makes up the uncertainty of one reading, both axes in kelvin.

    Parameters
    ----------
    measured : Measured
    curve : Curve
        That of the sensor, whose slope takes ohms to kelvin.

    Returns
    -------
    str
        Several lines, at most 79 wide.
    """
    reading = measured.reading
    t, r = reading.temperature, reading.resistance
    per_ohm = _kelvin_per_ohm(reading, curve)
    rows = [
        ["contribution", "limits", "taken as", "standard uncertainty / K"],
        *(_row(part, 1.0) for part in t.contributions),
        *(_row(part, per_ohm) for part in r.contributions),
    ]
    total_k = math.hypot(t.standard_uncertainty, r.standard_uncertainty * per_ohm)
    rows.append(["together", "", "", _small(total_k)])
    kind = reading.bath.kind if isinstance(reading.bath, Bath) else "temperature"
    return "\n".join(
        [
            f"{measured.option}: {kind}",
            f"  {_with_limits(t, 1.0, '°C', 'K')}, {_with_limits(r, *_prefix(r.value))} (95 %)",
            aligned(rows, indent="  "),
        ]
    )


def _notes_of(measured: tuple[Measured, ...]) -> list[str]:
    """Where the numbers of the budgets come from, each once."""
    told = dict.fromkeys(
        f"{part.name}: {part.note}"
        for one in measured
        for budget in (one.reading.temperature, one.reading.resistance)
        for part in budget.contributions
        if part.note and not _of_repeats(part)
    )
    return list(told)


def reading_json(measured: Measured, curve: tf.Curve) -> dict[str, Any]:
    """Describe one reading with both budgets, ready for `print_json`."""
    reading = measured.reading
    t, r = reading.temperature, reading.resistance
    return {
        "option": measured.option,
        "bath": reading.bath.kind if isinstance(reading.bath, Bath) else None,
        "t_c": t.value,
        "u_t_k": t.standard_uncertainty,
        "r_ohm": r.value,
        "u_r_ohm": r.standard_uncertainty,
        "u_r_k": r.standard_uncertainty * _kelvin_per_ohm(reading, curve),
        "temperature_budget": t.to_frame().to_dict(orient="records"),
        "resistance_budget": r.to_frame().to_dict(orient="records"),
    }


def _kelvin_per_ohm(reading: tf.Reading, curve: tf.Curve) -> float:
    t_c, r_ohm = reading.temperature.value, reading.resistance.value
    return 1.0 / abs(r_ohm * curve.alpha(t_c))


def _row(part: Contribution, kelvin_per_unit: float) -> list[str]:
    taken = str(part.distribution)
    if _of_repeats(part):
        taken = part.note
    elif part.k is not None:
        taken = f"stated k = {part.k:g}"
    is_limit = part.distribution != "normal" or (part.k is not None and not _of_repeats(part))
    limits = f"± {_small(part.half_width)} {part.unit}" if is_limit else ""
    return [part.name, limits, taken, _small(abs(part.effect) * kelvin_per_unit)]


def _of_repeats(part: Contribution) -> bool:
    return part.note.startswith("mean of")


def _with_limits(budget: Budget, factor: float, unit: str, u_unit: str) -> str:
    half = budget.expanded_uncertainty(0.95)
    value, shown = format_pair(budget.value / factor, half / factor)
    return f"{value} {unit} ± {shown} {u_unit}"


def _prefix(r_ohm: float) -> tuple[float, str, str]:
    for factor, unit in ((1e6, "MΩ"), (1e3, "kΩ")):
        if r_ohm >= factor:
            return factor, unit, unit
    return 1.0, "Ω", "Ω"


def _small(value: float) -> str:
    """Two digits; no exponent for what a bench meets."""
    if value == 0.0:
        return "0"
    return f"{value:.1e}" if value < 1e-4 else format_pair(value, value)[0]
