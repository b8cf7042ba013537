"""The pictures of the pages, drawn from the data in ``docs/demo`` when the pages are built.

``make_pictures(folder)`` writes them all as SVG; ``python docs/make_pictures.py`` into
``docs/_static/made``, where the pages look for them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import thermofit as tf
from thermofit.circuit import Converter, Divider, FaultLimits
from thermofit.report import (
    band_picture,
    curve_picture,
    divider_picture,
    plan_picture,
    plane_picture,
    residuals_picture,
    save_picture,
    step_picture,
    substitutes_picture,
)
from thermofit.thermal import fit_step, read_log

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["PICTURES", "make_pictures"]

DOCS: Final = Path(__file__).resolve().parent
DEMO: Final = DOCS / "demo"

_FAMILY: Final = "ntc-10k-3977"


def two_baths() -> Axes:
    """The curve of the tutorial's sensor, known from ice and one hot bath."""
    thermometer, meter = (
        tf.Thermometer.parse("0.5C"),
        tf.Meter.parse("0.8%+3 @4k/1; 0.8%+3 @40k/10"),
    )
    ice = tf.Reading(tf.ice_point(), meter.measure(32640))
    hot = tf.stirred_bath(68.4, thermometer, uniformity_k=0.2)
    return curve_picture(tf.characterise([ice, tf.Reading(hot, meter.measure(1862))]))


def six_baths() -> Axes:
    """Residuals of six readings about their curve."""
    points = tf.read_points(DEMO / "inlet-sensor.csv")
    known = tf.Points(points.t_c, points.r_ohm, u_t_k=0.1, u_r_ohm=0.005 * points.r_ohm)
    return residuals_picture(tf.fit(known))


def bath_plan() -> Axes:
    """What is gained by one bath more."""
    thermometer, meter = (
        tf.Thermometer.parse("0.5C"),
        tf.Meter.parse("0.8%+3 @4k/1; 0.8%+3 @40k/10"),
    )
    baths = [tf.stirred_bath(t_c, thermometer, uniformity_k=0.2) for t_c in (20, 45, 70)]
    return plan_picture(tf.plan([tf.ice_point(), *baths], meter, r25_ohm=10e3, t_range_c=(0, 70)))


def three_sensors() -> Axes:
    """Three sensors in the plane, against the tolerance of their family."""
    import pandas as pd

    readings = pd.read_csv(DEMO / "three-sensors.csv", comment="#")
    family = replace(tf.family(_FAMILY), r25_tol_pct=1.0)
    frame = tf.check(readings, family, u_t_k=0.1, u_r_pct=0.3)
    return plane_picture(frame, family)


def one_sensor() -> Axes:
    """One sensor in the plane: polygon, ellipse, and where verdicts change."""
    points = tf.read_points(DEMO / "bath-readings.csv")
    family = replace(tf.family(_FAMILY), r25_tol_pct=1.0)
    return plane_picture(tf.check(points, family, u_t_k=0.1, u_r_pct=0.3), family)


def allowed() -> Axes:
    """What a good part may read off by, over temperature."""
    t_c = [float(t_c) for t_c in range(-20, 81, 2)]
    band = tf.tolerance_band(tf.family(_FAMILY), t_c, r25_pct=1, b_pct=0.75)
    return band_picture(band, quantity="temperature")


def controller() -> Axes:
    """What a count of the controller's converter is worth."""
    divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    return divider_picture(divider, tf.family(_FAMILY), quantity="resolution", t_range_c=(-20, 60))


def fan_stopped() -> Axes:
    """The log of a fan box whose fan has stopped."""
    return step_picture(fit_step(read_log(DEMO / "fan-off-step.csv")))


def stand_ins() -> Axes:
    """What the bags in the drawer would read off by."""
    divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    found = tf.substitutes(
        _FAMILY, (0, 45), divider, candidates=tf.read_curve_set(DEMO / "drawer.csv"),
        limits=FaultLimits(low_counts=20, high_counts=1000),
    )  # fmt: skip
    return substitutes_picture(found)


PICTURES: Final[dict[str, Callable[[], Axes]]] = {
    "two-baths": two_baths,
    "six-baths": six_baths,
    "bath-plan": bath_plan,
    "three-sensors": three_sensors,
    "one-sensor": one_sensor,
    "allowed": allowed,
    "controller": controller,
    "fan-stopped": fan_stopped,
    "stand-ins": stand_ins,
}
"""Each picture by the name of its file."""


def make_pictures(folder: str | Path) -> list[Path]:
    """Draw all pictures.

    Parameters
    ----------
    folder : str or Path
        Where they go, ``<name>.svg``; made where it is missing.

    Returns
    -------
    list of Path
        What was written.
    """
    where = Path(folder)
    where.mkdir(parents=True, exist_ok=True)
    written = []
    for name, draw in PICTURES.items():
        path = where / f"{name}.svg"
        save_picture(draw(), path)
        written.append(path)
    return written


if __name__ == "__main__":
    make_pictures(DOCS / "_static" / "made")
