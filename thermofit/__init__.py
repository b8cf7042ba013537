"""thermofit: sensor curves for thermistors.

Fit a curve to measured points, know how well it is known, store it, read
temperatures from it.  The names below are the public interface; each is
imported when it is first used, so that ``import thermofit`` needs NumPy alone.

Examples
--------
>>> import thermofit as tf
>>> curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977)
>>> round(curve.temperature(32.6e3), 2)
0.74
"""

from __future__ import annotations

import importlib
import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

import numpy as _numpy  # noqa: F401  what every call needs, so that its cost is paid here

if TYPE_CHECKING:
    from thermofit import testing as testing
    from thermofit.baths import (
        Bath,
        back_to_ice,
        boiling_water,
        ice_point,
        room_air,
        stirred_bath,
        twin_bath,
    )
    from thermofit.curve import Curve
    from thermofit.curvesets import CurveSet, add_curve, read_curve_set, write_curve_set
    from thermofit.decide import (
        SpotReading,
        acceptance_limits,
        batch_tolerance,
        causes,
        check,
        identify,
        plan,
        substitutes,
    )
    from thermofit.errors import (
        ExtrapolationError,
        ExtrapolationWarning,
        FitError,
        InputError,
        NotMonotoneError,
        ThermofitError,
        ThermofitWarning,
    )
    from thermofit.estimate import Fit, ManyFits, ManyPoints, Prior, fit, fit_many
    from thermofit.families import bend_prior, characterise, characterise_many, families, family
    from thermofit.family import Family
    from thermofit.instruments import Meter, Thermometer
    from thermofit.interval import Interval
    from thermofit.logs import LogConversion, convert_log
    from thermofit.points import Points
    from thermofit.pointsfile import read_points
    from thermofit.readings import Reading
    from thermofit.report import Sheet, SheetRecord, bench_sheet, read_sheet
    from thermofit.tolerance import Band, Tolerance, tolerance_band

__version__ = "0.1.0"

__all__ = [
    "Band",
    "Bath",
    "Curve",
    "CurveSet",
    "ExtrapolationError",
    "ExtrapolationWarning",
    "Family",
    "Fit",
    "FitError",
    "InputError",
    "Interval",
    "LogConversion",
    "ManyFits",
    "ManyPoints",
    "Meter",
    "NotMonotoneError",
    "Points",
    "Prior",
    "Reading",
    "Sheet",
    "SheetRecord",
    "SpotReading",
    "ThermofitError",
    "ThermofitWarning",
    "Thermometer",
    "Tolerance",
    "acceptance_limits",
    "add_curve",
    "back_to_ice",
    "batch_tolerance",
    "bench_sheet",
    "bend_prior",
    "boiling_water",
    "causes",
    "characterise",
    "characterise_many",
    "check",
    "convert_log",
    "families",
    "family",
    "fit",
    "fit_many",
    "ice_point",
    "identify",
    "plan",
    "read_curve_set",
    "read_points",
    "read_sheet",
    "room_air",
    "stirred_bath",
    "substitutes",
    "tolerance_band",
    "twin_bath",
    "write_curve_set",
]

_HOME = {
    "Band": "thermofit.tolerance",
    "Bath": "thermofit.baths",
    "Curve": "thermofit.curve",
    "CurveSet": "thermofit.curvesets",
    "ExtrapolationError": "thermofit.errors",
    "ExtrapolationWarning": "thermofit.errors",
    "Family": "thermofit.family",
    "Fit": "thermofit.estimate",
    "FitError": "thermofit.errors",
    "InputError": "thermofit.errors",
    "Interval": "thermofit.interval",
    "LogConversion": "thermofit.logs",
    "ManyFits": "thermofit.estimate",
    "ManyPoints": "thermofit.estimate",
    "Meter": "thermofit.instruments",
    "NotMonotoneError": "thermofit.errors",
    "Points": "thermofit.points",
    "Prior": "thermofit.estimate",
    "Reading": "thermofit.readings",
    "Sheet": "thermofit.report",
    "SheetRecord": "thermofit.report",
    "SpotReading": "thermofit.decide",
    "ThermofitError": "thermofit.errors",
    "ThermofitWarning": "thermofit.errors",
    "Thermometer": "thermofit.instruments",
    "Tolerance": "thermofit.tolerance",
    "acceptance_limits": "thermofit.decide",
    "add_curve": "thermofit.curvesets",
    "back_to_ice": "thermofit.baths",
    "batch_tolerance": "thermofit.decide",
    "bench_sheet": "thermofit.report",
    "bend_prior": "thermofit.families",
    "boiling_water": "thermofit.baths",
    "causes": "thermofit.decide",
    "characterise": "thermofit.families",
    "characterise_many": "thermofit.families",
    "check": "thermofit.decide",
    "convert_log": "thermofit.logs",
    "families": "thermofit.families",
    "family": "thermofit.families",
    "fit": "thermofit.estimate",
    "fit_many": "thermofit.estimate",
    "ice_point": "thermofit.baths",
    "identify": "thermofit.decide",
    "plan": "thermofit.decide",
    "read_curve_set": "thermofit.curvesets",
    "read_points": "thermofit.pointsfile",
    "read_sheet": "thermofit.report",
    "room_air": "thermofit.baths",
    "stirred_bath": "thermofit.baths",
    "substitutes": "thermofit.decide",
    "tolerance_band": "thermofit.tolerance",
    "twin_bath": "thermofit.baths",
    "write_curve_set": "thermofit.curvesets",
}


class _Package(ModuleType):
    """The package, whose public calls win over sub-modules of the same name.

    ``thermofit.families`` and ``thermofit.family`` are calls, and modules as
    well; importing the modules would otherwise put them in place of the calls.
    """

    def __setattr__(self, name: str, value: object) -> None:
        if name in _HOME and isinstance(value, ModuleType):
            return
        super().__setattr__(name, value)

    def __getattr__(self, name: str) -> Any:
        if name in _HOME:
            value = getattr(importlib.import_module(_HOME[name]), name)
            setattr(self, name, value)
            return value
        if not name.startswith("_"):
            try:
                return importlib.import_module(f"{self.__name__}.{name}")
            except ModuleNotFoundError as error:
                if error.name != f"{self.__name__}.{name}":
                    raise
        raise AttributeError(f"module {self.__name__!r} has no attribute {name!r}")

    def __dir__(self) -> list[str]:
        return sorted({*super().__dir__(), *__all__})


sys.modules[__name__].__class__ = _Package
