"""A step response as text that prints well."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermofit.interval import format_pair
from thermofit.texttable import aligned
from thermofit.thermal.model import SHARE_63

if TYPE_CHECKING:
    from thermofit.thermal.response import StepResponse

__all__ = ["report"]

_WIDTH = 80
_MOST_WILD = 6

_FORMS = {
    "one constant": "t = start + step·(1 − exp(−s/τ))",
    "lag": "t = start + step·(1 − (τ1·exp(−s/τ1) − τ2·exp(−s/τ2))/(τ1 − τ2))",
    "two constants": "t = start + step·(1 − (1 − f)·exp(−s/τ1) − f·exp(−s/τ2))",
}
_NAMES = {
    "tau_s": f"time to {100.0 * SHARE_63:.1f} %",
    "tau_1_s": "slower constant τ1",
    "tau_2_s": "quicker constant τ2",
    "start_c": "start",
    "final_c": "final",
    "step_k": "step",
    "onset_s": "onset",
    "dead_time_s": "dead time",
}


def report(response: StepResponse) -> str:
    """Write a step response for a person to read; notes and warnings come last."""
    blocks = [_head(response), _quantities(response), _quality(response)]
    if len(response.tried) > 1:
        blocks.append(_tried(response))
    last = [f"({note})" for note in response.notes] + [f"! {text}" for text in response.warnings]
    return "\n\n".join([*blocks, *(["\n".join(last)] if last else [])])


def _head(response: StepResponse) -> str:
    lines = [f"Step response, {response.form}, {len(response.t_s)} readings"]
    if response.source:
        lines[0] += f" from {response.source}"
    since = "the onset" if response.start_seen else "the first reading"
    formula, clock = f"  {_FORMS[response.form]}", f"(s in seconds since {since})"
    together = f"{formula}   {clock}"
    lines += [together] if len(together) < _WIDTH else [formula, f"  {clock}"]
    if response.form == "two constants":
        lines.append(f"  f = {response.fit.parameters[-1]:.3f}")
    return "\n".join(lines)


def _quantities(response: StepResponse) -> str:
    percent = f"{100.0 * response.coverage:g} %"
    rows = [["", "unit", "value", "standard uncertainty", f"{percent} from", "to"]]
    for name, interval in response.intervals().items():
        value, u, low, high = format_pair(
            interval.value, interval.standard_uncertainty, interval.low, interval.high
        )
        rows.append([_NAMES[name], interval.unit, value, u, low, high])
    return aligned(rows, left=2, indent="  ")


def _quality(response: StepResponse) -> str:
    wild = int(response.outliers.sum())
    lines = [
        f"  noise {response.noise_k:.2g} K, correlation of neighbours "
        f"{response.neighbour_correlation:+z.2f}, {response.dof:.4g} degrees of freedom",
        f"  the log ends with {100.0 * min(response.done, 0.9999):.4g} % of the step done",
    ]
    if wild:
        places = np.flatnonzero(response.outliers)
        shown = ", ".join(f"{response.t_s[at]:g} s" for at in places[:_MOST_WILD])
        more = f" and {wild - _MOST_WILD} more" if wild > _MOST_WILD else ""
        word = "reading" if wild == 1 else "readings"
        lines.append(f"  {wild} wild {word} left out: at {shown}{more}")
    return "\n".join(lines)


def _tried(response: StepResponse) -> str:
    rows = [["form", "", "fitted", "noise / K", "p"]]
    rows += [
        [
            item.form,
            item.remark,
            str(item.parameters),
            "" if np.isnan(item.noise_k) else f"{item.noise_k:.3g}",
            "" if np.isnan(item.p_value) else f"{item.p_value:.2g}",
        ]
        for item in response.tried
    ]
    return aligned(rows, left=2, indent="  ")
