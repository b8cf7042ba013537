"""What the page's own conversion needs beyond the curve: limits and coverage factors."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from thermofit.curve import Curve
from thermofit.equations.catalogue import SHIPPED_NAMES
from thermofit.evaluating import RANGE_BASIS
from thermofit.interval import coverage_factor
from thermofit.units import ZERO_C_K

__all__ = ["converter_data"]

_NODES: Final = 33


def converter_data(curve: Curve, coverage: float) -> dict[str, Any] | None:
    """Give limits and coverage factors for the script of a page.

    Parameters
    ----------
    curve : Curve
    coverage : float

    Returns
    -------
    dict or None
        ``ln_r``, ends of the range in which readings are converted; ``inv_t``, 1/T there;
        ``shares`` and ``ln_factors``, the logarithm of the coverage factor over (u_curve/u)⁴,
        which by the Welch–Satterthwaite formula is the share of the curve in 1/ν (JCGM 100,
        G.4); ``range``, in words.  None for an equation that the page does not know: one of a
        plugin.
    """
    if curve.equation.name not in (*SHIPPED_NAMES, "tabulated"):
        return None
    ln_r = np.array(curve._ln_r_limits)
    inv_t = curve._quiet_inv_t(ln_r)
    ends = 1.0 / (np.array([curve.t_min_c, curve.t_max_c]) + ZERO_C_K)
    # A limit with its slack may lie where the curve has no value any more.
    falling = curve._ln_r(ends)[0] > curve._ln_r(ends)[1]
    inv_t = np.where(np.isnan(inv_t), ends[::-1] if falling else ends, inv_t)
    # Chebyshev's places: between them a polynomial is as good as the factors themselves.
    shares = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, _NODES))
    if np.isinf(curve.dof):
        shares = shares[:1]
    with np.errstate(divide="ignore"):
        factors = np.array([coverage_factor(coverage, float(curve.dof / w)) for w in shares])
    basis = curve.range_basis
    note = "" if basis == "stated" else f" ({RANGE_BASIS[basis]})"
    return {
        "ln_r": ln_r.tolist(),
        "inv_t": inv_t.tolist(),
        "shares": shares.tolist(),
        "ln_factors": np.log(factors).tolist(),
        "range": f"{curve.t_min_c:.6g} to {curve.t_max_c:.6g} °C{note}",
    }
