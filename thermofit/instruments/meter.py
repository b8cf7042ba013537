"""Meters: readings of a range, of leads, and with a path beside the sensor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from thermofit.budget import Budget, Contribution, require_number
from thermofit.errors import InputError
from thermofit.instruments.ranges import MeterRange, parse_range
from thermofit.instruments.wording import mean_and_scatter, resolution, stated_kind
from thermofit.units import format_ohm

__all__ = ["Meter"]


@dataclass(frozen=True)
class Meter:
    """A meter for resistance.

    Parameters
    ----------
    ranges : sequence of MeterRange
        In any order.
    name : str
        What to call it; readings of one name and range share its error.

    Raises
    ------
    InputError
        No range, or two of one full scale.

    Examples
    --------
    >>> meter = Meter.parse("0.5%+3 @4k/1; 0.8%+3 @40k/10")
    >>> meter.range_for(32600.0).full_scale_ohm
    40000.0
    """

    ranges: tuple[MeterRange, ...]
    name: str = "meter"

    def __post_init__(self) -> None:
        # A list is taken too; it would let a frozen value change.
        ranges = sorted(self.ranges, key=lambda one: one.full_scale_ohm or np.inf)
        object.__setattr__(self, "ranges", tuple(ranges))
        if not self.ranges:
            raise InputError(f"{self.name!r} has no range; give at least one MeterRange")
        scales = [one.full_scale_ohm for one in self.ranges]
        if len(set(scales)) < len(scales):
            raise InputError(f"{self.name!r} has two ranges of one full scale: {scales}")

    @classmethod
    def parse(
        cls,
        text: str,
        *,
        resolution_ohm: float | None = None,
        full_scale_ohm: float | None = None,
        test_current_a: float | None = None,
        test_voltage_v: float | None = None,
        name: str = "meter",
    ) -> Meter:
        """Read an accuracy such as "0.8%+3", in one range or several.

        Parameters
        ----------
        text : str
            "0.8%+3", "0.5%", "0.8%+3 k=2"; "@40k/10" after the counts says the full scale and
            the resolution; ";" separates ranges.
        resolution_ohm, full_scale_ohm : float, optional
            For a text of one range that does not have them, in ohms.
        test_current_a, test_voltage_v : float, optional
            For a text of one range, as for `MeterRange`.
        name : str

        Returns
        -------
        Meter

        Raises
        ------
        InputError
            The text cannot be read, or something is stated twice or of no range in particular.

        Examples
        --------
        >>> Meter.parse("0.8%+3", resolution_ohm=10).ranges[0].counts
        3.0
        """
        texts = text.split(";")
        given = (resolution_ohm, full_scale_ohm, test_current_a, test_voltage_v)
        if len(texts) > 1 and any(value is not None for value in given):
            raise InputError(
                f"{text!r} has {len(texts)} ranges; state full scale and resolution in each, "
                "as in 0.8%+3 @40k/10, or make MeterRange objects"
            )
        return cls(tuple(parse_range(part, text, *given) for part in texts), name)

    def range_for(self, shown_ohm: float) -> MeterRange:
        """Choose the range for a reading: the most sensitive one that can show it.

        Parameters
        ----------
        shown_ohm : float

        Returns
        -------
        MeterRange

        Raises
        ------
        InputError
            The reading is beyond all ranges.
        """
        for one in self.ranges:
            if one.full_scale_ohm is None or abs(shown_ohm) <= one.full_scale_ohm:
                return one
        largest = self.ranges[-1].full_scale_ohm or np.inf
        raise InputError(
            f"{format_ohm(shown_ohm)} is beyond the largest range of {self.name!r}, "
            f"{format_ohm(largest)}; check the prefix of the reading, or add the range"
        )

    def leads(self, shorted_ohm: float | Sequence[float]) -> Budget:
        """Take the reading with shorted probes: the resistance of the leads.

        Parameters
        ----------
        shorted_ohm : float or sequence of float
            In ohms; several are averaged.

        Returns
        -------
        Budget
            In ohms, for `measure`.

        Raises
        ------
        InputError
            A negative reading or none.
        """
        shown, scatter = mean_and_scatter(shorted_ohm, "Ω", self.name)
        require_number(shown, "the reading with shorted probes", "Ω", least=0.0)
        return Budget(shown, "Ω", self._parts(shown, self.range_for(shown), scatter))

    def measure(
        self,
        shown_ohm: float | Sequence[float],
        *,
        leads: Budget | None = None,
        parallel_at_least_ohm: float | None = None,
        range_ohm: float | None = None,
    ) -> Budget:
        """Take a reading, or the mean of several, with its corrections.

        Parameters
        ----------
        shown_ohm : float or sequence of float
            What the meter shows, in ohms.
        leads : Budget, optional
            What `leads` gave; it is subtracted.
        parallel_at_least_ohm : float, optional
            The least resistance, in ohms, that fingers or moisture may have had beside the
            sensor.  Their conductance lies between none and that of this bound, and the
            reading is corrected for the middle (JCGM 100, 4.3.7).
        range_ohm : float, optional
            Full scale of the range in use; without it, the range is that of `range_for`.

        Returns
        -------
        Budget
            Resistance in ohms.  The error of the range and that of the leads are shared with
            other readings of the same range and leads.

        Raises
        ------
        InputError
            A reading that is not positive, beyond its range or below the leads', a range that the
            meter does not have, or a parallel path no larger than the reading.

        Notes
        -----
        R = S/(1 − S·g) with S = shown − leads and g the conductance of the path.

        Examples
        --------
        >>> meter = Meter.parse("0.8%+3", resolution_ohm=10, full_scale_ohm=40e3)
        >>> round(meter.measure(32600.0).standard_uncertainty)
        168
        """
        shown, scatter = mean_and_scatter(shown_ohm, "Ω", self.name)
        require_number(shown, f"the {self.name} reading", "Ω", above=0.0)
        parts = self._parts(shown, self._range(shown, range_ohm), scatter)
        seen = shown - (leads.value if leads is not None else 0.0)
        if seen <= 0.0:
            raise InputError(
                f"the reading of {shown:g} Ω is not above that of the leads, {shown - seen:g} Ω; "
                "is the sensor shorted, or is one of the two in another unit?"
            )
        if leads is not None:
            # Not shared with the range: an error that cancels in the difference must not be
            # counted on, since counts are not all offset.
            parts.append(
                Contribution(
                    "leads", leads.standard_uncertainty, "normal", unit="Ω", sensitivity=-1.0,
                    dof=leads.dof, shared=f"{self.name} leads",
                    note=f"{leads.value:g} Ω with shorted probes, subtracted",
                )
            )  # fmt: skip
        if parallel_at_least_ohm is None:
            return Budget(seen, "Ω", parts)
        require_number(parallel_at_least_ohm, "the parallel path", "Ω", above=0.0)
        if parallel_at_least_ohm <= seen:
            raise InputError(
                f"a parallel path of {format_ohm(parallel_at_least_ohm)} would carry more than the "
                f"sensor at {format_ohm(seen)}; dry it, keep the fingers away, and measure again"
            )
        half_siemens = 0.5 / parallel_at_least_ohm
        r_ohm = seen / (1.0 - seen * half_siemens)
        scale = (r_ohm / seen) ** 2
        return Budget(
            r_ohm,
            "Ω",
            [
                *(_scaled(part, scale) for part in parts),
                Contribution(
                    "parallel path", half_siemens, "rectangular", unit="S", sensitivity=r_ohm**2,
                    note=f"at least {format_ohm(parallel_at_least_ohm)}, corrected for the middle",
                ),
            ],
        )  # fmt: skip

    def power_w(self, shown_ohm: float, *, range_ohm: float | None = None) -> float:
        """Power that the test current leaves in the sensor, for `self_heating`.

        Parameters
        ----------
        shown_ohm : float
            The reading, in ohms.
        range_ohm : float, optional
            As for `measure`.

        Returns
        -------
        float
            I²·R or V²/R, in watts.

        Raises
        ------
        InputError
            The range states neither test current nor test voltage, or as for `measure`.

        Examples
        --------
        >>> meter = Meter.parse("0.5%", full_scale_ohm=40e3, test_current_a=1e-4)
        >>> round(meter.power_w(10e3), 9)
        0.0001
        """
        require_number(shown_ohm, f"the {self.name} reading", "Ω", above=0.0)
        one = self._range(shown_ohm, range_ohm)
        if one.test_current_a is not None:
            return one.test_current_a**2 * shown_ohm
        if one.test_voltage_v is not None:
            return one.test_voltage_v**2 / shown_ohm
        raise InputError(
            f"{self.name!r} states no test current for {format_ohm(shown_ohm)}; "
            "give test_current_a or test_voltage_v, from its manual or measured by a second meter"
        )

    def _range(self, shown_ohm: float, range_ohm: float | None) -> MeterRange:
        if range_ohm is None:
            return self.range_for(shown_ohm)
        for one in self.ranges:
            if one.full_scale_ohm == range_ohm:
                if shown_ohm > range_ohm:
                    raise InputError(
                        f"{format_ohm(shown_ohm)} is beyond the range of {format_ohm(range_ohm)}; "
                        "check the prefix of the reading, or name the range it was taken in"
                    )
                return one
        known = ", ".join(format_ohm(one.full_scale_ohm or np.inf) for one in self.ranges)
        raise InputError(f"{self.name!r} has no range of {format_ohm(range_ohm)}; it has {known}")

    def _parts(
        self, shown_ohm: float, one: MeterRange, scatter: list[Contribution]
    ) -> list[Contribution]:
        counts = f" + {one.counts:g} counts" if one.counts else ""
        scale = f" in {format_ohm(one.full_scale_ohm)}" if one.full_scale_ohm is not None else ""
        return [
            Contribution(
                f"{self.name} accuracy", one.limit_ohm(shown_ohm), k=one.k, unit="Ω",
                shared=f"{self.name} accuracy{scale}",
                note=f"±({one.reading_pct:g} %{counts}), {stated_kind(one.k)}",
            ),
            *resolution(one.resolution_ohm, "Ω", self.name),
            *scatter,
        ]  # fmt: skip


def _scaled(part: Contribution, scale: float) -> Contribution:
    return replace(part, sensitivity=part.sensitivity * scale)
