"""Families as a list, from a callable, and one alone."""

from collections.abc import Iterator

from thermofit import Curve, Family

FAMILIES = [
    Family(
        Curve.beta(r25_ohm=10e3, b_k=3800 + 10 * number, id=f"good-{number}", source="invented"),
        r25_tol_pct=1.0,
    )
    for number in range(3)
]

ONE = Family(Curve.beta(r25_ohm=2252, b_k=3930, id="good-one", source="invented"))


def more() -> Iterator[Family]:
    yield Family(Curve.beta(r25_ohm=5e3, b_k=3900, id="good-called", source="invented"))
