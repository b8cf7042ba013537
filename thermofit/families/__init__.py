"""Families: the registry, the prior they imply, and characterising with it."""

from thermofit.families.bending import bend_prior
from thermofit.families.characterising import characterise
from thermofit.families.characterising_many import characterise_many
from thermofit.families.registry import Families, families, family

__all__ = ["Families", "bend_prior", "characterise", "characterise_many", "families", "family"]
