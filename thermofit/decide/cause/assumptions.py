"""What is taken for granted of faults: spans of their sizes, and how parts are spread."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.budget import require_number
from thermofit.decide.identification.field import checked_span
from thermofit.errors import InputError
from thermofit.tolerance import Region

__all__ = ["Assumptions", "Drift", "drift_of"]

Array = npt.NDArray[np.float64]
Pair = tuple[float, float]

# Largest standard deviations of a sensor that has drifted; judgement, no source.
_FAR_GAMMA, _FAR_BETA = 0.5, 0.08
_STEPS = 4
# Of a sensor of few ohms, a contact of less than ten counts as well.
_LEAST_CONTACT = 0.01
_LEAST = 0.6  # of the half-width of the tolerance: near that of parts spread evenly


@dataclass(frozen=True)
class Assumptions:
    """Sizes of faults.

    Parameters
    ----------
    contact_ohm, leakage_ohm : (float, float)
        Span over which ln of it is even.
    controller_pct : float
        Standard uncertainty of a healthy controller's input, in percent of the resistance.
    gain : (float, float)
        Span of what a wrong input makes of the resistance, as a factor; ln of it is even.
    input_failed : float
        Probability that a wrong input reads open, and that it reads a short; each.
    clean : float
        Probability that an intermittent contact is good at a reading.
    loose_open : float
        Probability that it is open; else it has a resistance within `contact_ohm`.
    """

    contact_ohm: Pair = (10.0, 100e3)
    leakage_ohm: Pair = (1e3, 10e6)
    controller_pct: float = 1.0
    gain: Pair = (0.1, 10.0)
    input_failed: float = 0.15
    clean: float = 0.5
    loose_open: float = 0.15

    @classmethod
    def checked(
        cls, contact_ohm: Any, leakage_ohm: Any, controller_pct: Any, least_ohm: float
    ) -> Assumptions:
        """Take spans from a caller; `least_ohm` is the smallest resistance of the sensor."""
        if contact_ohm is None:
            low, high = cls.contact_ohm
            contact_ohm = (min(low, _LEAST_CONTACT * least_ohm), high)
        spans = []
        for name, pair in (("contact_ohm", contact_ohm), ("leakage_ohm", leakage_ohm)):
            low, high = checked_span(pair, name, "resistances in Ω above zero")
            if low <= 0.0:
                raise InputError(f"{name} must lie above zero, not from {low:g} Ω")
            spans.append((low, high))
        pct = require_number(controller_pct, "u_controller_pct", "%", above=0.0)
        return cls(spans[0], spans[1], pct)


@dataclass(frozen=True, eq=False)
class Drift:
    """How sensors out of tolerance are spread: normal distributions, cut off at the tolerance.

    Parameters
    ----------
    variance : array, shape (k, 2)
        Of γ and β, of each; their means are 0, and all weigh the same.
    outside : array, shape (k,)
        Part of each that lies outside the tolerance.
    """

    variance: Array
    outside: Array


def drift_of(region: Region) -> Drift:
    """Spread of sensors out of tolerance.

    Standard deviations of γ from six tenths of the tolerance to 0.5, of β to 0.08, four of each
    in equal ratios: small drifts are more probable than large ones, and none is excluded.
    """
    half = 0.5 * np.ptp(region.vertices, axis=0)
    gamma, beta = (
        np.geomspace(_LEAST * own, max(far, 2.0 * own), _STEPS)
        for own, far in zip(half, (_FAR_GAMMA, _FAR_BETA), strict=True)
    )
    sd = np.stack(np.meshgrid(gamma, beta, indexing="ij"), axis=-1).reshape(-1, 2)
    variance = sd**2
    spread = variance[:, :, np.newaxis] * np.eye(2)
    inside = np.asarray(region.normal_probability(np.zeros_like(sd), spread))
    return Drift(variance, 1.0 - inside)
