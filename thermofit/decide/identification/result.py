"""What an identification found out about one sensor."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array
from thermofit.curvesets.curveset import unknown_id
from thermofit.decide.identification.apart import Group
from thermofit.decide.identification.hypothesis import NONE
from thermofit.decide.identification.nextreading import NextReading
from thermofit.decide.identification.text import name_of, text_of
from thermofit.errors import InputError, UnknownNameError
from thermofit.notebook import ShownInNotebooks
from thermofit.points import Points
from thermofit.texttable import format_probability

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Candidate", "Identification", "OtherLevel", "credible"]


@dataclass(frozen=True)
class Candidate:
    """One answer, and how well it fits.

    Parameters
    ----------
    id : str
        Of the family, or "none of these".
    probability, prior : float
        After the readings, and before.
    dof : int
        Number of readings.
    chi2, p_value : float
        χ² of the part within the tolerance that fits the readings best, and the
        probability, at most, that a part within the tolerance has a larger one.
        NaN for "none of these".
    off_k : float
        Largest distance of the sensor from the nominal curve between the lowest and
        the highest temperature measured, in kelvin, with its sign: above zero where the
        nominal curve reads the sensor as too warm.
    outside_k : float
        Largest distance from the tolerance there, in kelvin; 0 within.
    r25_ohm, u_r25_ohm : float
        R25 if the sensor is of this family, with its standard uncertainty, where
        R25 is free; else NaN.
    tolerance : str
        In words.
    """

    id: str
    probability: float
    prior: float
    dof: int
    chi2: float
    p_value: float
    off_k: float
    outside_k: float
    r25_ohm: float
    u_r25_ohm: float
    tolerance: str


@dataclass(frozen=True)
class OtherLevel:
    """The family whose material fits in another R25, where none fits in its own.

    Parameters
    ----------
    id : str
    ids : tuple of str
        With those that cannot be told apart from it.
    probability : float
        Of all of these, with R25 free.
    r25_ohm, u_r25_ohm : float
        R25 of the sensor, with its standard uncertainty.
    """

    id: str
    ids: tuple[str, ...]
    probability: float
    r25_ohm: float
    u_r25_ohm: float


@dataclass(frozen=True, eq=False)
class Identification(ShownInNotebooks):
    """Which family a sensor is of.

    Made by `thermofit.identify`.

    Parameters
    ----------
    rows : tuple of Candidate
        All answers, "none of these" among them, the most probable first.
    another_ntc, no_curve : float
        The two parts of the probability of "none of these": an NTC of no family, and
        readings that follow no such curve at all.
    groups : tuple of Group
        Families that cannot be told apart.
    t_range_c : (float, float)
        Range that this, and the next reading, is about, in °C.
    next_reading : NextReading or None
        Which reading would tell the most, where the present ones leave a doubt.
    other_level : OtherLevel or None
        Where "none of these" leads: whose material fits in another R25.
    not_compared : mapping of str to str
        Families left out, and why.
    out_of_range : tuple of str
        Those of them that are not valid at all of the temperatures measured.
    r25 : {"listed", "free"}
    points : Points
        The readings.
    of_readings : tuple of str
        What was taken for granted of them.
    notes : tuple of str
        That, and all else that was taken for granted; not all of it is printed.
    """

    rows: tuple[Candidate, ...]
    another_ntc: float
    no_curve: float
    groups: tuple[Group, ...]
    t_range_c: tuple[float, float]
    next_reading: NextReading | None
    other_level: OtherLevel | None
    not_compared: Mapping[str, str]
    out_of_range: tuple[str, ...]
    r25: Literal["listed", "free"]
    points: Points
    of_readings: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def leading(self) -> str:
        """Id of the most probable answer; `group` says what cannot be told apart from it."""
        return self.rows[0].id

    @property
    def group(self) -> Group | None:
        """The group of the leading family, None where it stands alone."""
        own = [group for group in self.groups if self.leading in group.ids]
        return own[-1] if own else None

    @property
    def none_probability(self) -> float:
        """Probability that the sensor is of none of the families."""
        return self[NONE].probability

    def credible_set(self, coverage: float = 0.95) -> tuple[str, ...]:
        """Give the fewest answers that together have at least this probability.

        Parameters
        ----------
        coverage : float
            Above 0 and below 1.

        Returns
        -------
        tuple of str
            Ids, the most probable first; "none of these" may be one of them.

        Raises
        ------
        InputError
            The coverage is no probability between 0 and 1.
        """
        level = as_float_array(coverage, "coverage")
        if level.ndim or not 0.0 < level < 1.0:
            raise InputError(f"coverage must lie between 0 and 1, such as 0.95, not {coverage!r}")
        probabilities = np.array([row.probability for row in self.rows])
        return tuple(self.rows[place].id for place in credible(probabilities, float(level)))

    def __getitem__(self, id: str) -> Candidate:
        for row in self.rows:
            if row.id == id:
                return row
        if id in self.not_compared:
            raise UnknownNameError(f"no answer {id!r}: {self.not_compared[id]}")
        raise unknown_id(str(id), [row.id for row in self.rows], "no answer is called")

    def to_frame(self) -> pd.DataFrame:
        """Give the answers as a pandas frame, a row for each, ranked."""
        import pandas as pd

        return pd.DataFrame([dataclasses.asdict(row) for row in self.rows])

    def __str__(self) -> str:
        return text_of(self)

    def __repr__(self) -> str:
        lead, group = self.rows[0], self.group
        p = lead.probability if group is None else group.probability
        return f"<Identification: {name_of(self)}, {format_probability(p)}>"


def credible(probabilities: npt.NDArray[np.float64], coverage: float) -> list[int]:
    """Places of the fewest probabilities that sum to `coverage`, the largest first."""
    order = np.argsort(-probabilities, kind="stable")
    reached = np.cumsum(probabilities[order])
    # As many as there are where rounding keeps the sum below the coverage.
    count = min(int(np.searchsorted(reached, coverage - 1e-12)) + 1, len(order))
    return [int(place) for place in order[:count]]
