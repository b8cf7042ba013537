"""Families: the registry, the prior they imply, and characterising with it."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from thermofit.families.registry import Families, families, family

if TYPE_CHECKING:
    from thermofit.families.bending import bend_prior
    from thermofit.families.characterising import characterise
    from thermofit.families.characterising_many import characterise_many

__all__ = [
    "Families",
    "bend_prior",
    "characterise",
    "characterise_many",
    "families",
    "family",
]

# Whoever looks up a family does not wait for the estimators.
_LATER = {
    "bend_prior": "thermofit.families.bending",
    "characterise": "thermofit.families.characterising",
    "characterise_many": "thermofit.families.characterising_many",
}


def __getattr__(name: str) -> Any:
    if name in _LATER:
        return getattr(importlib.import_module(_LATER[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
