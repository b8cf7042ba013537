"""Thermometers: ±°C, ±(% of reading + °C), platinum classes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from thermofit.budget import Budget, Contribution, require_number
from thermofit.errors import InputError
from thermofit.instruments.wording import (
    mean_and_scatter,
    percentage,
    resolution,
    stated_kind,
    take_k,
)
from thermofit.tolerance.platinum import platinum_limits_k
from thermofit.units import ZERO_C_K, parse_temperature_difference

__all__ = ["Thermometer"]


@dataclass(frozen=True)
class Thermometer:
    """A thermometer as its maker or its certificate describes it.

    Parameters
    ----------
    limit_k : float
        The fixed part of ±(% of reading + fixed), in kelvin.
    reading_pct : float
        The other part, in percent of the reading in °C.
    platinum_class : {"AA", "A", "B", "C"}, optional
        Tolerance class of IEC 60751 in place of both.
    resolution_k : float, optional
        Step of the display in kelvin.  None: the limit is taken to contain it.
    k : float, optional
        Coverage factor, where one is stated; else the limit is taken as rectangular.
    name : str
        What to call it; readings of one name share its error.

    Raises
    ------
    InputError
        Negative or missing limits, a class beside limits, or a resolution or k of zero.

    Examples
    --------
    >>> Thermometer(limit_k=0.3, reading_pct=0.5).limit_at_k(70.0)
    0.65
    """

    limit_k: float = 0.0
    reading_pct: float = 0.0
    platinum_class: str | None = None
    resolution_k: float | None = None
    k: float | None = None
    name: str = "thermometer"

    def __post_init__(self) -> None:
        require_number(self.limit_k, f"the limit of {self.name!r}", "K", least=0.0)
        require_number(self.reading_pct, f"the limit of {self.name!r}", "% of reading", least=0.0)
        if self.resolution_k is not None:
            require_number(self.resolution_k, f"the resolution of {self.name!r}", "K", above=0.0)
        if self.k is not None:
            require_number(self.k, f"the coverage factor k of {self.name!r}", "", above=0.0)
        stated = self.limit_k > 0.0 or self.reading_pct > 0.0
        if self.platinum_class is None and not stated:
            raise InputError(f"{self.name!r} states no accuracy; give limit_k or a platinum class")
        if self.platinum_class is not None:
            platinum_limits_k(self.platinum_class, 0.0)  # refuses an unknown class now
            if stated:
                raise InputError(
                    f"{self.name!r} states limits beside class {self.platinum_class}; keep one"
                )

    @classmethod
    def parse(
        cls, text: str, *, resolution_k: float | None = None, name: str = "thermometer"
    ) -> Thermometer:
        """Read a specification.

        Parameters
        ----------
        text : str
            "0.5C", "0.9F", "0.5%+0.3C", "class A"; "/0.1C" after it is the resolution and
            "k=2" at the end the coverage factor.
        resolution_k : float, optional
            Resolution in kelvin, where the text has none.
        name : str

        Returns
        -------
        Thermometer

        Raises
        ------
        InputError
            The text cannot be read, or states its resolution a second time.

        Examples
        --------
        >>> Thermometer.parse("0.5C").limit_k
        0.5
        >>> Thermometer.parse("±(0.5% + 0.3C)/0.1C k=2")
        Thermometer(limit_k=0.3, reading_pct=0.5, ..., resolution_k=0.1, k=2.0, name='thermometer')
        """
        body, k = take_k(text)
        body, slash, step = body.partition("/")
        if slash:
            if resolution_k is not None:
                raise InputError(f"{text!r} states the resolution, and so does resolution_k")
            resolution_k = parse_temperature_difference(step, default=None)
        body = body.replace("±", "").replace("(", "").replace(")", "").strip()
        if body.lower().startswith("class"):
            return cls(
                platinum_class=body[5:].strip().upper(), resolution_k=resolution_k, k=k, name=name
            )
        limits_k, percents = [], []
        for part in body.split("+"):
            pct = percentage(part)
            if pct is None:
                limits_k.append(parse_temperature_difference(part, default=None))
            else:
                percents.append(pct)
        if len(limits_k) > 1 or len(percents) > 1:
            raise InputError(f'{text!r} cannot be read; write "0.5C", "0.5%+0.3C" or "class A"')
        return cls(
            limit_k=sum(limits_k), reading_pct=sum(percents), resolution_k=resolution_k, k=k,
            name=name,
        )  # fmt: skip

    def limit_at_k(self, t_c: float) -> float:
        """Stated accuracy at a temperature, ± in kelvin.

        Parameters
        ----------
        t_c : float
            Temperature in °C.

        Returns
        -------
        float
        """
        if self.platinum_class is not None:
            return float(platinum_limits_k(self.platinum_class, t_c))
        return self.limit_k + self.reading_pct / 100.0 * abs(t_c)

    def measure(self, shown_c: float | Sequence[float]) -> Budget:
        """Take a reading, or the mean of several.

        Parameters
        ----------
        shown_c : float or sequence of float
            What the thermometer shows, in °C.

        Returns
        -------
        Budget
            Temperature in °C, uncertainty in kelvin.

        Raises
        ------
        InputError
            No number, or below absolute zero.

        Examples
        --------
        >>> round(Thermometer.parse("0.5C").measure(68.4).standard_uncertainty, 3)
        0.289
        """
        t_c, parts = mean_and_scatter(shown_c, "°C", self.name)
        require_number(t_c, f"the {self.name} reading", "°C", least=-ZERO_C_K)
        stated = (
            f"IEC 60751 class {self.platinum_class}"
            if self.platinum_class is not None
            else "its maker's statement"
        )
        accuracy = Contribution(
            f"{self.name} accuracy", self.limit_at_k(t_c), k=self.k, shared=f"{self.name} accuracy",
            note=f"{stated}, {stated_kind(self.k)}",
        )  # fmt: skip
        return Budget(t_c, "°C", [accuracy, *resolution(self.resolution_k, "K", self.name), *parts])
