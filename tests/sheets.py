"""Sheets that several tests share: invented readings of an air sensor of a glasshouse."""

from __future__ import annotations

import datetime
from functools import cache

import thermofit as tf
from thermofit.report.sheet import Sheet, bench_sheet

DATE = datetime.date(2026, 3, 21)
METER = tf.Meter.parse("0.8%+3", resolution_ohm=10)
THERMOMETER = tf.Thermometer.parse("0.5C")


@cache
def readings() -> tuple[tf.Reading, ...]:
    bath = tf.stirred_bath(68.4, THERMOMETER, uniformity_k=0.2)
    return (
        tf.Reading(tf.ice_point(), METER.measure(32600)),
        tf.Reading(bath, METER.measure([1870, 1880])),
    )


@cache
def characterised(*, pictures: bool = True) -> Sheet:
    fitted = tf.characterise(readings())
    curve = fitted.curve.replace(id="inlet", source="2 readings", licence="CC0-1.0", note="house 3")
    return bench_sheet(
        fitted.replace(curve=curve),
        title="House 3, inlet",
        family=tf.family("ntc-10k-3977"),
        readings=readings(),
        made_with={"meter": "0.8%+3", "thermometer": "0.5C"},
        assumed=["the bath uniform within ± 0.2 K"],
        remarks=["the leads are 12 m long"],
        t_range_c=(0, 60),
        step_k=1,
        date=DATE,
        pictures=pictures,
    )


def stored(curve: tf.Curve, *, pictures: bool = False, title: str = "") -> Sheet:
    return bench_sheet(curve, title=title, date=DATE, pictures=pictures)
