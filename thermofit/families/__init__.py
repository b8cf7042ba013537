"""The registry of families: those that ship and those of other packages."""

from thermofit.families.registry import Families, families, family

__all__ = ["Families", "families", "family"]
