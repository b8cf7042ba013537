"""Meters: readings of a range, of leads, and with a path beside the sensor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from thermofit.budget import Budget, Contribution, require_number
from thermofit.errors import InputError
from thermofit.instruments.metercheck import MeterCheck, check_of, counts_of
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
    checks : sequence of MeterCheck
        What `checked_on` found, at most one for a range.

    Raises
    ------
    InputError
        No range, two of one full scale, or checks of other ranges or twice of one.

    Examples
    --------
    >>> meter = Meter.parse("0.5%+3 @4k/1; 0.8%+3 @40k/10")
    >>> meter.range_for(32600.0).full_scale_ohm
    40000.0
    """

    ranges: tuple[MeterRange, ...]
    name: str = "meter"
    checks: tuple[MeterCheck, ...] = ()

    def __post_init__(self) -> None:
        # A list is taken too; it would let a frozen value change.
        ranges = sorted(self.ranges, key=lambda one: one.full_scale_ohm or np.inf)
        object.__setattr__(self, "ranges", tuple(ranges))
        if not self.ranges:
            raise InputError(f"{self.name!r} has no range; give at least one MeterRange")
        scales = [one.full_scale_ohm for one in self.ranges]
        if len(set(scales)) < len(scales):
            raise InputError(f"{self.name!r} has two ranges of one full scale: {scales}")
        object.__setattr__(self, "checks", tuple(self.checks))
        checked = [one.checked for one in self.checks]
        if not set(checked) <= set(self.ranges) or len(set(checked)) < len(checked):
            raise InputError(
                f"{self.name!r} has checks of ranges that it does not have, or two of one range; "
                "checked_on makes them"
            )

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

    def checked_on(
        self,
        resistor_ohm: float,
        shown_ohm: float | Sequence[float],
        *,
        tolerance_pct: float | None = None,
        u_ohm: float | None = None,
        leads: Budget | None = None,
        range_ohm: float | None = None,
    ) -> Meter:
        """Check a range on a resistor of known value, and correct what it reads from then on.

        Parameters
        ----------
        resistor_ohm : float
            Value of the resistor, in ohms, near to what will be measured.
        shown_ohm : float or sequence of float
            What the meter shows on it, in ohms; several are averaged.
        tolerance_pct : float, optional
            Limit ± of the resistor in percent, rectangular.
        u_ohm : float, optional
            Its standard uncertainty in ohms, instead.
        leads : Budget, optional
            What `leads` gave; it is subtracted.  For later readings, take the leads from the
            checked meter.
        range_ohm : float, optional
            As for `measure`.

        Returns
        -------
        Meter
            It multiplies its readings in this range by resistor/shown.  A range that was
            checked before is corrected by the new check only.  Where the maker's limit of the
            gain has the smaller standard uncertainty, the range stays as it was, and the note
            of its accuracy says so.

        Raises
        ------
        InputError
            No tolerance or two, a reading that is more than 10 % off, or as for `measure`.

        Warns
        -----
        ThermofitWarning
            Meter or resistor is out of its stated limits: their difference exceeds both.

        Notes
        -----
        R = S·R_s/S_s.  It is assumed that % of reading is an error of the gain, common to all
        readings of the range, and that counts are offset and departure from the straight line:
        they stay, once for the reading on the resistor and once for each other one, as
        independent errors.  So far from the resistor's value the counts of the check weigh
        S/S_s as much.  The resistor's own uncertainty is never undercut.  Other ranges have
        gains of their own and are not touched.

        Examples
        --------
        A workshop's 10 kΩ ± 0.1 % is shown as 10.05 kΩ (invented readings).

        >>> meter = Meter.parse("0.8%+3 @40k/10")
        >>> checked = meter.checked_on(10e3, 10050.0, tolerance_pct=0.1)
        >>> for one in (meter, checked):
        ...     reading = one.measure(12060.0)
        ...     print(round(reading.value), round(reading.standard_uncertainty, 1))
        12060 73.1
        12000 28.2
        """
        shown, _ = mean_and_scatter(shown_ohm, "Ω", self.name)
        require_number(shown, f"the {self.name} reading", "Ω", above=0.0)
        one = self._range(shown, range_ohm)
        check = check_of(self.name, one, shown_ohm, resistor_ohm, tolerance_pct, u_ohm, leads)
        others = (other for other in self.checks if other.checked != one)
        return replace(self, checks=(*others, check))

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
        return self._corrected(shown, self.range_for(shown), scatter)

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
        read = self._corrected(shown, self._range(shown, range_ohm), scatter)
        parts = list(read.contributions)
        seen = read.value - (leads.value if leads is not None else 0.0)
        if seen <= 0.0:
            raise InputError(
                f"the reading of {read.value:g} Ω is not above that of the leads, "
                f"{read.value - seen:g} Ω; is the sensor shorted, or one of them in another unit?"
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

    def _corrected(self, shown_ohm: float, one: MeterRange, scatter: list[Contribution]) -> Budget:
        """Reading with what a check corrects, before leads and parallel path."""
        scale = f" in {format_ohm(one.full_scale_ohm)}" if one.full_scale_ohm is not None else ""
        check = next((check for check in self.checks if check.checked == one), None)
        own = [*resolution(one.resolution_ohm, "Ω", self.name), *scatter]
        if check is not None and check.helps:
            r_ohm = shown_ohm * check.ratio
            own = [*counts_of(one, f"{self.name} counts", f"{self.name} counts{scale}"), *own]
            own = [_scaled(part, check.ratio) for part in own]
            return Budget(r_ohm, "Ω", [*check.contributions(r_ohm), *own])
        counts = f" + {one.counts:g} counts" if one.counts else ""
        unchanged = "" if check is None else f"; {check.summary}"
        accuracy = Contribution(
            f"{self.name} accuracy", one.limit_ohm(shown_ohm), k=one.k, unit="Ω",
            shared=f"{self.name} accuracy{scale}",
            note=f"±({one.reading_pct:g} %{counts}), {stated_kind(one.k)}{unchanged}",
        )  # fmt: skip
        return Budget(shown_ohm, "Ω", [accuracy, *own])


def _scaled(part: Contribution, scale: float) -> Contribution:
    return replace(part, sensitivity=part.sensitivity * scale)
