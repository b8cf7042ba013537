"""What a part must keep to: the nominal curve and the region that its tolerance allows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.family import Family
from thermofit.tolerance import Region, Tolerance
from thermofit.tolerance.deviation import log_ratio, quiet_ln_r
from thermofit.tolerance.halves import completed, own_half
from thermofit.tolerance.spec import Pair
from thermofit.units import ZERO_C_K

__all__ = ["Requirement", "requirement_of"]

Array = npt.NDArray[np.float64]

# Narrower than this part of its length, a region is a line.
_LINE = 1e-9


@dataclass(frozen=True, eq=False)
class Requirement:
    """A nominal curve with the tolerance that parts must keep to.

    Parameters
    ----------
    name : str
        Of the family or the curve.
    curve : Curve
        Nominal curve, taken as exact: it defines the part.
    tolerance : Tolerance
    region : Region
        Of (γ, β).
    line : array, shape (2,), or None
        Direction of the region where it is a line and no area: the tolerance
        limits one thing and takes the other as exact.
    """

    name: str
    curve: Curve
    tolerance: Tolerance
    region: Region
    line: Array | None

    @property
    def line_ends(self) -> tuple[float, float]:
        """Ends of the region along `line`, from the nominal part."""
        if self.line is None:
            raise InputError("this region is no line")
        along = self.region.vertices @ self.line
        return float(along.min()), float(along.max())

    @property
    def notes(self) -> tuple[str, ...]:
        """What the tolerance takes for granted, in words."""
        if self.line is None:
            return ()
        if self.tolerance.exact_shape:
            return (
                f"the tolerance is {self.tolerance} and none of B: the shape of the curve is "
                "taken as exact",
            )
        return (f"the tolerance {self.tolerance} takes R25, B or their combination as exact",)

    def in_range(self, t_c: Array) -> npt.NDArray[np.bool_]:
        """Whether temperatures lie in the valid range of the nominal curve."""
        return self.curve.in_range(t_c)

    @property
    def range_text(self) -> str:
        """Valid range of the nominal curve, in words."""
        assumed = " (assumed, none was stated)" if self.curve.range_basis == "assumed" else ""
        return f"{self.curve.t_min_c:g} to {self.curve.t_max_c:g} °C{assumed}"

    def nominal(self, t_c: Array) -> tuple[Array, Array, Array]:
        """Ln R, ln ρ and the temperature coefficient α, per kelvin, of the nominal curve."""
        ln_r = quiet_ln_r(self.curve, t_c)
        inv_t = 1.0 / (t_c + ZERO_C_K)
        alpha = -self.curve._local_b(inv_t, ln_r) * inv_t**2
        return ln_r, log_ratio(self.curve, t_c), alpha


def requirement_of(
    family: Family | Curve,
    *,
    tolerance: Tolerance | None = None,
    r25_pct: float | Pair | None = None,
    b_pct: float | Pair | None = None,
) -> Requirement:
    """Put a nominal curve and its tolerance together.

    Parameters
    ----------
    family : Family or Curve
        A curve by itself states no tolerance.
    tolerance : Tolerance, optional
        In any of the forms of the trade; goes without the other two.
    r25_pct, b_pct : float or pair, optional
        ± % or (low, high); each takes the place of what the family states.

    Returns
    -------
    Requirement

    Raises
    ------
    InputError
        No tolerance, two that contradict each other, or one that cannot judge a
        resistance.
    """
    if not isinstance(family, Family | Curve):
        raise InputError(
            f"a part is checked against a Family or a Curve, not {type(family).__name__}; "
            "thermofit.family(id) gives a family"
        )
    if tolerance is not None and not isinstance(tolerance, Tolerance):
        raise InputError(
            f"tolerance must be a Tolerance, not {tolerance!r}; Tolerance.of makes one, of ± % of "
            "R25 (r25_pct) and of B (b_pct), say"
        )
    curve = family.curve if isinstance(family, Family) else family
    name = curve.id or repr(curve)
    if isinstance(family, Family) and family.ratio_only:
        raise InputError(
            f"{name} fixes R(T)/R25 only and leaves R25 open, so that no resistance can be judged; "
            "make a family with the R25 of your part"
        )
    if tolerance is not None and (r25_pct is not None or b_pct is not None):
        raise InputError(
            "a tolerance and r25_pct or b_pct beside it contradict each other; give one"
        )
    if tolerance is None:
        own = family.tolerance if isinstance(family, Family) else None
        if _rises(curve):
            raise InputError(
                f"{name} is no NTC, its resistance rises: such parts have classes in kelvin, not "
                "limits of R25 and B. tolerance_band gives the limits of a class (platinum_class); "
                "to judge readings, state the tolerance of the part in kelvin over a range of "
                "temperature (dt_k and dt_range_c of Tolerance.of)"
            )
        stated = {
            form: pct for form, pct in (("r25_pct", r25_pct), ("b_pct", b_pct)) if pct is not None
        }
        if stated:
            tolerance = completed(stated, own_half(own, stated))
        elif own is not None:
            tolerance = own
        else:
            raise InputError(
                f"{name} states no tolerance, so that nothing can be judged; state it, as "
                "± % of R25 (r25_pct) and of B (b_pct), say"
            )
    region = tolerance.region(curve)
    # A strip with a weight of γ limits a resistance; the others only B.
    if not any(strip.p for limits in tolerance.limits for strip in limits.strips(curve)):
        raise InputError(
            f"{tolerance} limits no resistance, and a reading is one; limit R25 as well "
            "(r25_pct, 0 where R25 is exact)"
        )
    return Requirement(name, curve, tolerance, region, _direction(region, tolerance))


def _rises(curve: Curve) -> bool:
    cold, hot = quiet_ln_r(curve, [curve.t_min_c, curve.t_max_c])
    return bool(hot > cold)


def _direction(region: Region, tolerance: Tolerance) -> Array | None:
    """Direction of a region that is a line; None for one with an area."""
    _, spread, directions = np.linalg.svd(region.vertices)
    if spread[0] == 0.0:
        raise InputError(f"{tolerance} allows the nominal part only, and no part is that exactly")
    if len(spread) > 1 and spread[1] > _LINE * spread[0]:
        return None
    line: Array = directions[0] * (np.sign(directions[0, 0]) or np.sign(directions[0, 1]))
    return line
