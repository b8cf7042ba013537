"""A family with an id that ships with thermofit, and one that is given twice."""

from thermofit import Curve, Family

FAMILIES = [
    Family(Curve.beta(r25_ohm=10e3, b_k=3977, id=id, source="invented"))
    for id in ("ntc-10k-3977", "twice", "twice", "shipped-own")
]
