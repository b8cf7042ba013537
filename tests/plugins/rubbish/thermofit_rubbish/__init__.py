"""Things of the wrong kind."""

from dataclasses import dataclass

from thermofit import Curve, Family
from thermofit.equations import Beta


def _family(id):
    return Family(Curve.beta(r25_ohm=1e3, b_k=3500, id=id, source="invented"))


NUMBER = 42
MIXED = [_family("rubbish-but-one"), "ntc-10k-3977", None]
MAPPING = {"rubbish-mapped": _family("rubbish-mapped")}
NO_FILE = "absent.csv"
BAD_FILE = "bad.csv"
PLAIN_ROWS = "plain.csv"
BAD_ID = [_family("rubbish/../id")]


def not_an_equation():
    return Beta()


@dataclass(frozen=True)
class Demanding(Beta):
    must: float


class SecondBeta(Beta):
    pass
