"""What a substitute does, in words: which way it errs, what runs then, and the caution."""

from __future__ import annotations

import math
from typing import Literal

__all__ = [
    "CAUTION",
    "NOT_VERIFIED",
    "RUNS",
    "Errs",
    "fault_words",
    "half_fault_words",
    "reads_words",
    "then_runs",
    "way",
]

Errs = Literal["colder", "warmer", "both", "right", "unknown"]

CAUTION = (
    "never for a sensor in a safety function (over-temperature cut-out, battery pack, gas or "
    "medical appliance) without the maker's approval. Follow local codes; leave licensed work to "
    "licensed people."
)
NOT_VERIFIED = "fault detection was not verified: the fault limits of the controller are not known"

RUNS = {
    "colder": "heating would run longer, cooling and vents would start later",
    "warmer": "cooling would run and vents open sooner, heating would run less",
}
_FAULT_RUNS = {
    "colder": "heating would run, cooling and vents would not",
    "warmer": "cooling would run and vents open, heating would not",
}

# Less than this is rounding.
_RIGHT_K = 1e-6
# An error that way is worth a word from this part of the larger one on, or from this size.
_WORTH_A_WORD, _WORTH_A_WORD_K = 0.1, 0.1


def way(low_k: float, high_k: float) -> Errs:
    """Which way the nominal reading errs, from its coldest and its warmest error."""
    largest = max(abs(low_k), abs(high_k))
    if not largest >= 0.0:
        return "unknown"
    if largest < _RIGHT_K:
        return "right"
    least = min(_WORTH_A_WORD * largest, _WORTH_A_WORD_K)
    colder, warmer = -low_k >= least, high_k >= least
    return "both" if colder and warmer else "colder" if colder else "warmer"


def reads_words(errs: Errs, low_at_c: float, high_at_c: float) -> str:
    """Which way the reading errs, and where if both ways."""
    if errs == "both":
        return f"colder at {low_at_c:g} °C, warmer at {high_at_c:g} °C"
    return errs


def then_runs(errs: Errs) -> str:
    """What a controller of heating and vents would do."""
    if errs == "both":
        return "; ".join(f"where it reads {way}, {runs}" for way, runs in RUNS.items())
    return RUNS.get(errs, "")


def fault_words(kind: str, reads_c: float, ends_c: tuple[float, float], *, known: bool) -> str:
    """What a fault does that the controller takes for a reading.

    Parameters
    ----------
    kind : {"open", "short"}
    reads_c : float
        What is read then, in °C; infinite beyond the curve.
    ends_c : (float, float)
        Range of true temperatures, in °C.
    known : bool
        Whether the fault limits are known, and miss it.
    """
    hides = f"{kind} {'is' if known else 'may be'} masked: the controller would read"
    if not math.isfinite(reads_c):
        errs = "warmer" if reads_c > 0.0 else "colder"
        return f"{hides} beyond its curve, which errs {errs}: {_FAULT_RUNS[errs]}"
    hides += f" {reads_c:.1f} °C whatever the temperature"
    if ends_c[0] < reads_c < ends_c[1]:
        return (
            f"{hides}; where it is colder than that, it errs warmer: {_FAULT_RUNS['warmer']}; "
            f"where it is warmer than that, it errs colder: {_FAULT_RUNS['colder']}"
        )
    errs = "colder" if reads_c <= ends_c[0] else "warmer"
    return f"{hides}, which errs {errs}: {_FAULT_RUNS[errs]}"


def half_fault_words(kind: str, least_k: float, most_k: float, *, known: bool) -> str:
    """What becomes of it when only one of two parts fails.

    Parameters
    ----------
    kind : {"open", "shorted"}
    least_k, most_k : float
        Coldest and warmest error then, in kelvin; NaN where it is not known.
    known : bool
        Whether the fault limits are known, and miss it.
    """
    hides = f"one of the two {kind} {'is' if known else 'may be'} masked"
    if math.isnan(least_k):
        return f"{hides}; what the controller would read is not known"
    ways = [way for way, there in (("colder", least_k < 0.0), ("warmer", most_k > 0.0)) if there]
    runs = "; ".join(f"where it reads {way}, {_FAULT_RUNS[way]}" for way in ways)
    finite = [end for end in (least_k, most_k) if math.isfinite(end)]
    reads = {
        0: "beyond its curve",
        1: f"from {sum(finite):+.1f} K off to beyond its curve",
        2: f"{least_k:+.1f} to {most_k:+.1f} K off",
    }[len(finite)]
    return f"{hides}: the controller would read {reads}: {runs}"
