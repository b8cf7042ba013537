"""One range of a meter: ±(% of reading + counts), and how people write it."""

from __future__ import annotations

from dataclasses import dataclass

from thermofit.budget import require_number
from thermofit.errors import InputError
from thermofit.instruments.wording import percentage, take_k
from thermofit.units import parse_number, parse_resistance

__all__ = ["MeterRange", "parse_range", "resolution_of"]


@dataclass(frozen=True)
class MeterRange:
    """One range of a meter, as its maker describes it.

    Parameters
    ----------
    reading_pct, counts : float
        Accuracy ±(% of reading + counts); a count is one step of the last digit.
    resolution_ohm : float, optional
        One count in ohms.  Needed where the accuracy has counts; where it has none, None
        leaves the resolution out.
    full_scale_ohm : float, optional
        The largest reading, in ohms; None where it is not known, so that none is refused.
    k : float, optional
        Coverage factor, where one is stated; else the limit is taken as rectangular.
    test_current_a : float, optional
        Constant current through the sensor, in amperes.
    test_voltage_v : float, optional
        Voltage across the sensor, in volts, for meters that state it instead.  The
        open-circuit voltage is its upper bound and overstates the power.

    Raises
    ------
    InputError
        Negative or missing accuracy, counts without a resolution, both test current and
        test voltage, or anything of zero that must be positive.

    Examples
    --------
    >>> round(MeterRange(0.8, 3, resolution_ohm=10, full_scale_ohm=40e3).limit_ohm(32600), 1)
    290.8
    """

    reading_pct: float
    counts: float = 0.0
    resolution_ohm: float | None = None
    full_scale_ohm: float | None = None
    k: float | None = None
    test_current_a: float | None = None
    test_voltage_v: float | None = None

    def __post_init__(self) -> None:
        require_number(self.reading_pct, "the meter's accuracy", "% of reading", least=0.0)
        require_number(self.counts, "the meter's accuracy", "counts", least=0.0)
        for value, what, unit in [
            (self.resolution_ohm, "resolution", "Ω"), (self.full_scale_ohm, "full scale", "Ω"),
            (self.k, "coverage factor k", ""), (self.test_current_a, "test current", "A"),
            (self.test_voltage_v, "test voltage", "V"),
        ]:  # fmt: skip
            if value is not None:
                require_number(value, f"the meter's {what}", unit, above=0.0)
        if self.reading_pct == 0.0 and self.counts == 0.0:
            raise InputError("the meter states no accuracy; give % of reading, counts or both")
        if self.counts and self.resolution_ohm is None:
            raise InputError(
                f"{self.counts:g} counts have no size without resolution_ohm, "
                "the step of the last digit in ohms"
            )
        if (
            self.resolution_ohm
            and self.full_scale_ohm
            and self.resolution_ohm > self.full_scale_ohm
        ):
            raise InputError(
                f"the resolution of {self.resolution_ohm:g} Ω exceeds the full scale of "
                f"{self.full_scale_ohm:g} Ω; are they swapped?"
            )
        if self.test_current_a is not None and self.test_voltage_v is not None:
            raise InputError("a range has a test current or a test voltage; leave one out")

    def limit_ohm(self, shown_ohm: float) -> float:
        """Stated accuracy at a reading, ± in ohms."""
        return self.reading_pct / 100.0 * abs(shown_ohm) + self.counts * (
            self.resolution_ohm or 0.0
        )


def parse_range(
    text: str,
    whole: str,
    resolution_ohm: float | None,
    full_scale_ohm: float | None,
    test_current_a: float | None,
    test_voltage_v: float | None,
) -> MeterRange:
    """Read the accuracy of one range, "0.8%+3 @40k/10", out of a text of several."""
    body, k = take_k(text)
    accuracy, at, place = body.partition("@")
    if at:
        scale, slash, step = place.partition("/")
        if full_scale_ohm is not None or (slash and resolution_ohm is not None):
            raise InputError(f"{whole!r} states full scale or resolution, and so does an argument")
        full_scale_ohm = parse_resistance(scale)
        resolution_ohm = parse_resistance(step) if slash else resolution_ohm
    accuracy = accuracy.replace("±", "").replace("(", "").replace(")", "")
    percent, plus, counts = accuracy.partition("+")
    reading_pct = percentage(percent)
    if reading_pct is None:
        raise InputError(
            f'{whole!r} cannot be read as the accuracy of a meter; write "0.8%+3", '
            'or "0.8%+3 @40k/10" with full scale and resolution'
        )
    return MeterRange(
        reading_pct, parse_number(counts) if plus else 0.0, resolution_ohm, full_scale_ohm, k,
        test_current_a, test_voltage_v,
    )  # fmt: skip


def resolution_of(text: str) -> float:
    """Step of the last digit of a reading as it was written.

    Parameters
    ----------
    text : str
        "32.6k", "4k72", "1.870 kΩ".  Digits that the meter showed and the text leaves out
        make the step larger than it was.

    Returns
    -------
    float
        In ohms.

    Raises
    ------
    UnitError
        As `thermofit.units.parse_resistance`.

    Examples
    --------
    >>> resolution_of("32.6k"), resolution_of("1.870 kΩ"), resolution_of("4k7")
    (100.0, 1.0, 100.0)
    """
    parse_resistance(text)
    # One more digit, or one fewer, would do; the last digit as 1 and the others as 0 is the step.
    last = max(at for at, sign in enumerate(text) if sign.isdigit())
    step = "".join("0" if sign.isdigit() else sign for sign in text[:last]).replace("-", "")
    return parse_resistance(f"{step}1{text[last + 1 :]}")
