"""The analogue-to-digital converter: which code a voltage gives, and what a code stands for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array, unwrap
from thermofit.budget import require_number
from thermofit.circuit.influence import Influence, limits, limits_pct
from thermofit.errors import InputError

__all__ = ["Converter", "Rounding", "Scale"]

Array = npt.NDArray[np.float64]
Scale = Literal["2^bits", "2^bits-1"]
Rounding = Literal["down", "nearest"]

_MOST_BITS = 32

# Noise is unbounded; the worst case takes this many standard deviations of it.
_NOISE_K = 3.0

# Less noise than this does not carry a steady voltage over the edges of its code, and averaging
# then gives the same code again; common practice, no source.
_DITHER_COUNTS = 0.5


@dataclass(frozen=True, kw_only=True)
class Converter:
    """An analogue-to-digital converter.

    The count position of a voltage is p = v/v_ref·2^bits, a number with a fraction.  The code is
    its whole part, code = floor(p), clipped to 0…2^bits − 1.  A code stands for the middle of the
    positions that give it: p = code + ½.  That is the usual convention and the default; `scale`
    and `rounding` have the others.

    Parameters
    ----------
    bits : int
        1 to 32.
    reference_v : float, optional
        Reference voltage.  Without it the reference is the supply of the sensor's circuit:
        ratiometric.
    reference_pct : float
        Limits ± of the reference voltage, in percent.
    gain_pct : float
        Limits ± of the gain error, in percent of the count position.
    offset_counts : float
        Limits ± of the offset error, in counts.
    noise_counts : float
        Standard deviation of a single conversion, in counts rms.
    samples : int
        How many conversions are averaged.  That reduces noise by √samples; quantisation by as
        much, but only where the noise of a conversion is half a count or more.
    scale : {"2^bits", "2^bits-1"}
        What the reference voltage is the position of.
    rounding : {"down", "nearest"}
        With "nearest", code = floor(p + ½), and a code stands for p = code: the converter has its
        first edge at half a count.

    Raises
    ------
    InputError
        A number of bits or of samples that no converter has, a reference that is not positive,
        limits or noise below zero, or a tolerance of a reference that is the supply.

    Examples
    --------
    >>> adc = Converter(bits=10)
    >>> adc.code(512.7), adc.middle(512.0)
    (512.0, 512.5)
    """

    bits: int
    reference_v: float | None = None
    reference_pct: float = 0.0
    gain_pct: float = 0.0
    offset_counts: float = 0.0
    noise_counts: float = 0.0
    samples: int = 1
    scale: Scale = "2^bits"
    rounding: Rounding = "down"

    def __post_init__(self) -> None:
        if not _is_whole(self.bits) or not 1 <= self.bits <= _MOST_BITS:
            raise InputError(
                f"bits must be a whole number from 1 to {_MOST_BITS}, not {self.bits!r}; "
                "a converter of 1024 steps has 10"
            )
        if not _is_whole(self.samples) or self.samples < 1:
            raise InputError(f"samples must be a whole number from 1 on, not {self.samples!r}")
        if self.reference_v is not None:
            require_number(self.reference_v, "the converter's reference_v", "V", above=0.0)
        for name, unit in (
            ("reference_pct", "%"), ("gain_pct", "%"), ("offset_counts", "counts"),
            ("noise_counts", "counts"),
        ):  # fmt: skip
            value = require_number(getattr(self, name), f"the converter's {name}", unit, least=0.0)
            if unit == "%" and value >= 100.0:
                raise InputError(f"the converter's {name} must be below 100 %, not {value:g} %")
        if self.reference_pct and self.reference_v is None:
            raise InputError(
                "reference_pct is the tolerance of a reference of the converter's own; without "
                "reference_v the reference is the supply: give reference_v, or leave it out"
            )
        for name, allowed in (("scale", get_args(Scale)), ("rounding", get_args(Rounding))):
            if getattr(self, name) not in allowed:
                raise InputError(
                    f"{name} must be {' or '.join(map(repr, allowed))}, not {getattr(self, name)!r}"
                )

    @property
    def steps(self) -> int:
        """Count position of the reference voltage."""
        return (1 << int(self.bits)) - (self.scale == "2^bits-1")

    @property
    def top_code(self) -> int:
        """The largest code."""
        return (1 << int(self.bits)) - 1

    @property
    def _middle_above_code(self) -> float:
        return 0.5 if self.rounding == "down" else 0.0

    def code(self, position: Any) -> Any:
        """Code of a count position.

        Parameters
        ----------
        position : float or array, any shape

        Returns
        -------
        float or array
            A whole number within 0…2^bits − 1, NaN for a missing position.
        """
        lowest_edge = self._middle_above_code - 0.5
        whole, dress = unwrap(position, "position")
        return dress(np.clip(np.floor(whole - lowest_edge), 0.0, self.top_code))

    def middle(self, code: Any) -> Any:
        """Count position that a code stands for: the middle of those that give it.

        Parameters
        ----------
        code : float or array, any shape
            The average of several codes too.

        Returns
        -------
        float or array
        """
        codes, dress = unwrap(code, "code")
        return dress(codes + self._middle_above_code)

    def saturated(self, code: Any) -> Any:
        """Whether a code is the first or the last, and stands for anything beyond as well.

        Parameters
        ----------
        code : float or array, any shape

        Returns
        -------
        bool or array of bool
        """
        codes = as_float_array(code, "code")
        ends = (codes <= 0.0) | (codes >= self.top_code)
        return ends if ends.ndim else bool(ends)

    @property
    def influences(self) -> tuple[Influence, ...]:
        """What the errors of the converter do to a count position, with their distributions."""
        u_noise = self.noise_counts / self.samples**0.5
        dithered = self.samples > 1 and self.noise_counts >= _DITHER_COUNTS
        u_quantisation = 0.5 / 3.0**0.5 / (self.samples**0.5 if dithered else 1.0)
        averaged = f", {self.samples} samples averaged" if self.samples > 1 else ""
        return (
            *limits_pct("reference", "reference_v", self.reference_pct),
            *limits_pct("converter gain", "gain", self.gain_pct),
            *limits("converter offset", "counts", self.offset_counts, "counts"),
            Influence(
                "quantisation", "counts", -0.5, 0.5, "counts", u_quantisation,
                note=f"half a count{averaged if dithered else ''}",
            ),
            *limits(
                "noise", "counts", _NOISE_K * u_noise, "counts", distribution="normal", k=_NOISE_K,
                note=f"{self.noise_counts:g} counts rms{averaged}; worst case at k = {_NOISE_K:g}",
            ),
        )  # fmt: skip


def _is_whole(value: Any) -> bool:
    return isinstance(value, (int, np.integer)) and not isinstance(value, bool)
