"""What is told of readings at the bench beside the fit: how they were taken, what was assumed."""

from __future__ import annotations

from typing import Final

import thermofit as tf
from thermofit.baths import ReturnToIce
from thermofit.cli.bench import Bench, BenchOptions
from thermofit.cli.output import tell
from thermofit.estimate.prioruse import PriorUse

__all__ = [
    "NO_HEATING",
    "assumed_of",
    "conflict_of",
    "made_with_of",
    "returned_of",
    "tell_bare",
]

NO_HEATING: Final = "no warming of the sensor by the meter's current"


def tell_bare(options: BenchOptions) -> None:
    """Say which readings were taken as ohms since they have no unit."""
    for shown in options.shown:
        if shown.bare:
            tell("read", f"{shown.text} taken as Ω, since no unit is written")


def made_with_of(options: BenchOptions, bench: Bench) -> str:
    """What the readings were, for the note of a saved curve."""
    said = [one.option.removeprefix("--") for one in bench.measured]
    said.append(f"meter {options.meter.text}")
    if options.thermometer is not None:
        said.append(f"thermometer {options.thermometer.text}")
    return "; ".join(said)


def conflict_of(use: PriorUse) -> str:
    """Say by how much the prior was widened, where readings disagreed with it."""
    return f"conflict: prior widened {use.widened**0.5:.3g}-fold" if use.conflict else ""


def returned_of(bench: Bench | None, curve: tf.Curve) -> ReturnToIce | None:
    """Compare the ice before and after; None where it was not read twice."""
    if bench is None or bench.before is None or bench.after is None:
        return None
    # The slope at ice is that of the fit, which the first reading is a part of.
    return tf.back_to_ice(
        bench.before, bench.after, curve=curve, ice_difference_k=bench.ice_difference_k
    )


def assumed_of(bench: Bench | None, shared: bool) -> tuple[str, ...]:
    """List what was taken since nothing was said of it."""
    if bench is not None:
        return (*bench.assumed, NO_HEATING)
    independent = (
        "errors of the readings taken as independent; --shared-u-t and --shared-u-r say what one "
        "thermometer and one meter get wrong alike"
    )
    return (NO_HEATING,) if shared else (independent, NO_HEATING)
