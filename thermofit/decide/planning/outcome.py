"""A plan: the choices of baths, the best first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from thermofit.baths.bath import Bath
from thermofit.budget import Budget
from thermofit.decide.planning.athand import AtHand
from thermofit.decide.planning.choice import Choice, choice_of, refuse_same, shown_of
from thermofit.decide.planning.extra import ExtraPoint
from thermofit.decide.planning.offered import BathLike, bath_like, bath_of
from thermofit.errors import InputError
from thermofit.estimate.prior import Prior
from thermofit.notebook import ShownInNotebooks
from thermofit.readings import Reading

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["By", "Plan"]

By = Literal["largest", "mean"]


@dataclass(frozen=True, eq=False)
class Plan(ShownInNotebooks):
    """Which baths to read a sensor in, and the band that is expected.

    Parameters
    ----------
    readings : tuple of Reading
        Expected in the baths at hand, from cold to hot.
    choices : tuple of Choice
        By the number of points, and for each number the best first.
    t_range_c : (float, float)
        The range that matters, in °C.
    by : {"largest", "mean"}
        Which half-width of the band they are ranked by.
    coverage : float
        Probability of the band.
    prior : Prior
        How the sensor is expected to bend.
    at_hand : AtHand
        Meter and sensor.
    also : Reading or None
        Expected in the extra bath that the text speaks of; None where the sensor or the meter
        do not reach 50 °C and no other was stated.
    also_like_c : float or None
        Temperature of the bath at hand that it is as uncertain as, if it was not stated.
    """

    readings: tuple[Reading, ...]
    choices: tuple[Choice, ...]
    t_range_c: tuple[float, float]
    by: By
    coverage: float
    prior: Prior
    at_hand: AtHand
    also: Reading | None
    also_like_c: float | None

    @property
    def counts(self) -> tuple[int, ...]:
        """Numbers of points that were compared."""
        return tuple(sorted({len(choice.readings) for choice in self.choices}))

    def best(self, points: int) -> Choice:
        """Give the best choice of so many points.

        Parameters
        ----------
        points : int

        Returns
        -------
        Choice

        Raises
        ------
        InputError
            So many were not compared.
        """
        for choice in self.choices:
            if len(choice.readings) == points:
                return choice
        compared = ", ".join(map(str, self.counts))
        raise InputError(
            f"no choice of {points!r} points was compared, but of {compared}; ask for it with "
            "counts=…"
        )

    def extra(
        self,
        bath: BathLike | float | None = None,
        u_t_k: float | None = None,
        *,
        choice: Choice | int | None = None,
    ) -> ExtraPoint:
        """Tell what one more bath would bring.

        Parameters
        ----------
        bath : Bath, Budget, (float, float) or float, optional
            A temperature alone, in °C, is as uncertain as `u_t_k` says.  By default `also`.
        u_t_k : float, optional
            Standard uncertainty in kelvin; without it that of the bath at hand that is
            nearest, with what it shares.
        choice : Choice or int, optional
            The choice it is added to, or the best of so many points; by default the best two,
            or the best of the fewest points that were compared.

        Returns
        -------
        ExtraPoint

        Raises
        ------
        InputError
            No bath, an uncertainty stated twice, or a bath that the choice has already.
        """
        if choice is None:
            choice = 2 if 2 in self.counts else self.counts[0]
        before = choice if isinstance(choice, Choice) else self.best(choice)
        reading = self._one_more(bath, u_t_k)
        together = in_order([*before.readings, reading])
        refuse_same(together)
        after = choice_of(together, self.prior, before.t_c, before.coverage)
        return ExtraPoint(reading, before, after)

    def _one_more(self, bath: BathLike | float | None, u_t_k: float | None) -> Reading:
        alone = not (bath is None or isinstance(bath, (Bath, Budget, tuple, list)))
        if u_t_k is not None and not alone:
            raise InputError(
                f"u_t_k = {u_t_k:g} K belongs to a temperature alone, as in extra(50, 0.2); a bath "
                "states its own uncertainty"
            )
        if bath is None:
            if self.also is None:
                raise InputError("say which bath is meant, such as extra(40) for one at 40 °C")
            return self.also
        if isinstance(bath, (Bath, Budget, tuple, list)):
            return self.at_hand.reading(bath_of(bath, self.prior))
        if u_t_k is not None:
            return self.at_hand.reading(bath_of((bath, u_t_k), self.prior))
        return self.at_hand.reading(as_nearest(self.readings, bath, self.prior)[0])

    def to_frame(self) -> pd.DataFrame:
        """Give the choices as a pandas frame, a row for each.

        Returns
        -------
        pandas.DataFrame
            ``points``, ``baths_c`` (a tuple), ``largest_k``, ``largest_at_c``, ``mean_k``,
            ``dominating``, and the half-width at five temperatures, ``at_0_c_k`` and so on.
        """
        import pandas as pd

        columns = {
            "points": [len(choice.readings) for choice in self.choices],
            "baths_c": [choice.baths_c for choice in self.choices],
            "largest_k": [choice.largest_k for choice in self.choices],
            "largest_at_c": [choice.largest_at_c for choice in self.choices],
            "mean_k": [choice.mean_k for choice in self.choices],
            "dominating": [choice.dominating for choice in self.choices],
        }
        for t_c in shown_of(self.choices[0].t_c).tolist():
            columns[f"at_{t_c:g}_c_k"] = [choice.half_width_at(t_c) for choice in self.choices]
        return pd.DataFrame(columns)

    def __str__(self) -> str:
        from thermofit.decide.planning.wording import plan_text

        return plan_text(self)

    def __repr__(self) -> str:
        low, high = self.t_range_c
        return f"<Plan of {len(self.choices)} choices for {low:g} to {high:g} °C>"


def as_nearest(readings: tuple[Reading, ...], t_c: float, prior: Prior) -> tuple[Budget, float]:
    """Bath at a temperature, as uncertain as the nearest at hand, and where that one is."""
    bath_of((t_c, 0.0), prior)  # refuses what is no temperature of a bath
    nearest = min(
        readings,
        key=lambda reading: (
            abs(reading.temperature.value - t_c), -reading.temperature.standard_uncertainty
        ),
    )  # fmt: skip
    return bath_like(nearest.bath, t_c), nearest.temperature.value


def in_order(readings: list[Reading]) -> list[Reading]:
    """Readings from cold to hot, so that the order in which baths were given is no matter."""
    return sorted(
        readings,
        key=lambda reading: (
            reading.temperature.value, reading.temperature.standard_uncertainty,
            str(reading.temperature),
        ),
    )  # fmt: skip
