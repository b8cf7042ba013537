"""Fails when called, and while it is iterated."""

from thermofit import Curve, Family


def call():
    raise LookupError("the parts list is on another machine")


def iterate():
    yield Family(Curve.beta(r25_ohm=1e3, b_k=3500, id="raises-before", source="invented"))
    raise ZeroDivisionError("in the middle")
