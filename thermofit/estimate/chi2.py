"""The χ² distribution."""

from __future__ import annotations

__all__ = ["upper_tail"]


def upper_tail(chi2: float, dof: int) -> float | None:
    """Probability of a larger χ²; None without degrees of freedom."""
    if dof == 0:
        return None
    from scipy.special import gammaincc

    return float(gammaincc(0.5 * dof, 0.5 * chi2))
