"""A family and an equation with names that thermofit-good has too."""

from thermofit import Curve, Family
from thermofit.equations import Beta

FAMILIES = [
    Family(Curve.beta(r25_ohm=10e3, b_k=3435, id=id, source="invented"))
    for id in ("good-1", "clash-own")
]


class AnotherPowerLaw(Beta):
    @property
    def name(self):
        return "power-law"
