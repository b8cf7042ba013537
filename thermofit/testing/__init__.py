"""What the author of a plugin needs to test it: conformance checks and strategies.

`check_equation` and `check_family` tell all the rules that an equation or a
family breaks.  `curves`, `families` and `temperatures` are Hypothesis strategies;
they alone need the package ``hypothesis``.
"""

from thermofit.testing.equations import check_equation
from thermofit.testing.families import check_family
from thermofit.testing.strategies import curves, families, temperatures

__all__ = ["check_equation", "check_family", "curves", "families", "temperatures"]
